//! Which port. What the user names is used as named; only without a name are likely ports looked for.

use super::client::{Client, Fault, Patience};
use super::transport::Serial;
use crate::{Error, Result};
use halfglass_protocol::hello::{Hello, PROTOCOL_VERSION};
use std::io;
use std::path::Path;
use std::time::Duration;

/// Bits per second, where a real serial line is used; USB takes no notice.
pub const BAUD: u32 = 115_200;

/// A port on which a logger answered.
pub struct Found {
    /// The port's name.
    pub port: String,
    /// Who answered.
    pub hello: Hello,
    /// The conversation.
    pub client: Client<Serial>,
}

/// Opens the named port and greets.
///
/// # Errors
/// The port cannot be opened, or nobody there speaks as a logger does: each case its own message.
pub fn connect(port: &str) -> Result<Found> {
    greet(port, Patience::GREETING)
}

/// Opens the named port and greets, for a logger that was there a moment ago: it answers at once or is still away.
///
/// # Errors
/// As [`connect`].
pub fn connect_again(port: &str) -> Result<Found> {
    greet(port, Patience { reply: Duration::from_millis(500), tries: 2, ..Patience::GREETING })
}

/// The logger on the named port; without a name, the only one that there is.
///
/// # Errors
/// No logger, as [`connect`] and [`discover`]; or several, and none was named.
pub fn the_only(port: Option<&str>, skipped: &mut dyn FnMut(&Error)) -> Result<Found> {
    let mut found = match port {
        Some(port) => return connect(port),
        None => discover(skipped)?,
    };
    match (found.pop(), found.len()) {
        (Some(only), 0) => Ok(only),
        (last, others) => {
            let each =
                |found: &Found| format!("--port {} is logger {:016x}", found.port, found.hello.device_id);
            let list: Vec<String> = found.iter().chain(&last).map(each).collect();
            Err(Error::input(
                format!(
                    "{} loggers are there, and this is done with one at a time; nothing was asked of them",
                    others + 1
                ),
                format!("Name one:\n{}", list.join("\n")),
            ))
        }
    }
}

/// Greets every likely port. Ports on which there is no logger are told to `skipped`.
///
/// # Errors
/// No logger anywhere; the message says what each port did.
pub fn discover(skipped: &mut dyn FnMut(&Error)) -> Result<Vec<Found>> {
    let ports = likely();
    let mut found: Vec<Found> = Vec::new();
    let mut failures = Vec::new();
    for port in &ports {
        match greet(port, Patience { reply: Duration::from_millis(700), tries: 2, ..Patience::GREETING }) {
            Ok(logger) if found.iter().any(|other| other.hello.device_id == logger.hello.device_id) => {}
            Ok(logger) => found.push(logger),
            Err(error) => failures.push(error),
        }
    }
    if !found.is_empty() {
        failures.iter().for_each(skipped);
        return Ok(found);
    }
    if ports.is_empty() {
        return Err(Error::no_logger(
            "no serial port was found on this computer, so no logger was reached",
            format!("{CABLE}\nThen try again, or name the port with --port."),
        ));
    }
    let list = failures.iter().map(|error| format!("- {}", error.what())).collect::<Vec<_>>().join("\n");
    let mut advice = list;
    // A port that may not be opened is the likeliest place for the logger, and the only mendable one here.
    match failures.iter().find(|error| error.advice().contains("usermod")) {
        Some(denied) => advice = format!("{advice}\n{}", denied.advice()),
        None => advice = format!("{advice}\n{CABLE}\nThen try again, or name the port with --port."),
    }
    Err(Error::no_logger(format!("no logger answered on any of {} ports", ports.len()), advice))
}

const CABLE: &str = "Cable: it must carry data (some only charge) and sit firmly at both ends.\n\
                     Power: the logger must be fed. Driver: after plugging in, a new port must appear.";

/// Ports on which a logger may be. On Linux by name, so that no system library is needed.
fn likely() -> Vec<String> {
    if !cfg!(target_os = "linux") {
        let ports = serialport::available_ports().unwrap_or_default();
        return ports.into_iter().map(|port| port.port_name).collect();
    }
    let mut names = Vec::new();
    for entry in std::fs::read_dir("/dev").into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with("ttyACM") || name.starts_with("ttyUSB") {
            names.push(format!("/dev/{name}"));
        }
    }
    for entry in std::fs::read_dir("/dev/serial/by-id").into_iter().flatten().flatten() {
        // Links to ports that mostly have been listed already.
        let target = std::fs::canonicalize(entry.path()).unwrap_or_else(|_| entry.path());
        names.push(target.display().to_string());
    }
    names.sort();
    names.dedup();
    names
}

fn greet(port: &str, patience: Patience) -> Result<Found> {
    let open = serialport::new(port, BAUD).timeout(Duration::from_secs(1)).dtr_on_open(true).open();
    let serial = open.map_err(|error| cannot_open(port, &error))?;
    let mut client = Client::new(Serial(serial), patience);
    let hello = client.hello().map_err(|fault| no_greeting(port, &fault))?;
    if hello.protocol_version != PROTOCOL_VERSION {
        return Err(Error::no_logger(
            format!(
                "the logger {:016x} on {port} speaks protocol version {}, this program speaks {PROTOCOL_VERSION}; \
                 nothing was read",
                hello.device_id, hello.protocol_version
            ),
            if hello.protocol_version > PROTOCOL_VERSION {
                "Install a newer Halfglass on this computer."
            } else {
                "Update the logger's firmware; its totals and history are kept."
            },
        ));
    }
    client.patience = Patience::USUAL;
    Ok(Found { port: port.to_owned(), hello, client })
}

fn cannot_open(port: &str, error: &serialport::Error) -> Error {
    let path = Path::new(port);
    let refused = |what: String, advice: String| Error::no_logger(what, advice);
    // The system's own answer is asked for again: the library folds several into one.
    let kind = match error.kind() {
        serialport::ErrorKind::Io(kind) => kind,
        serialport::ErrorKind::NoDevice if path.exists() => io::ErrorKind::ResourceBusy,
        serialport::ErrorKind::NoDevice => io::ErrorKind::NotFound,
        _ => io::ErrorKind::Other,
    };
    match kind {
        io::ErrorKind::NotFound => {
            let there = likely();
            let there = if there.is_empty() {
                "No serial port is there at the moment.".to_owned()
            } else {
                format!("Ports that are there: {}.", there.join(", "))
            };
            let advice = format!("{there}\n{CABLE}\nWithout --port, the logger's port is looked for.");
            refused(format!("there is no port {port}"), advice)
        }
        io::ErrorKind::PermissionDenied => {
            let (owner, advice) = permission(path);
            refused(format!("your user may not open the port {port}{owner}"), advice)
        }
        io::ErrorKind::ResourceBusy => refused(
            format!("the port {port} is in use by another program"),
            format!(
                "Close that program (a terminal, or another pull) and try again; `fuser {port}` names it.\n\
                 Just after plugging in, the system itself may hold a port for half a minute."
            ),
        ),
        _ if path.exists() => refused(
            format!("{port} cannot be used as a serial port ({error})"),
            format!("Check the name. {CABLE}"),
        ),
        _ => refused(format!("the port {port} cannot be opened ({error})"), CABLE.to_owned()),
    }
}

#[cfg(unix)]
fn permission(port: &Path) -> (String, String) {
    use std::os::unix::fs::MetadataExt;
    let group = std::fs::metadata(port).ok().and_then(|meta| group_name(meta.gid()));
    match group {
        Some(group) if group != "root" => (
            format!(", which belongs to the group {group}"),
            format!("Run `sudo usermod -aG {group} $USER`, then log out and in again."),
        ),
        _ => {
            let port = port.display();
            (
                String::new(),
                format!(
                    "`ls -l {port}` shows who may. On most systems serial ports belong to a group: \
                     `sudo usermod -aG dialout $USER`, then log out and in again."
                ),
            )
        }
    }
}

#[cfg(not(unix))]
fn permission(_port: &Path) -> (String, String) {
    (String::new(), "Close every other program that may use the port, then try again.".to_owned())
}

#[cfg(unix)]
fn group_name(gid: u32) -> Option<String> {
    let groups = std::fs::read_to_string("/etc/group").ok()?;
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)?.parse() == Ok(gid)).then(|| name.to_owned())
    })
}

fn no_greeting(port: &str, fault: &Fault) -> Error {
    match fault {
        Fault::Silent { waited } => Error::no_logger(
            format!(
                "nothing answered on {port} within {:.0} s: is a logger there, and does it have power?",
                waited.as_secs_f64()
            ),
            format!(
                "{CABLE}\nThe logger's lamp shows that it runs. If this is another device's port, name the right one."
            ),
        ),
        Fault::Garbled { echo: true, .. } => Error::no_logger(
            format!("{port} only sends back what is sent: no logger answered"),
            "A loop-back plug, a terminal program or a shell is at the other end. Name the logger's port.",
        ),
        Fault::Garbled { bytes, .. } => Error::no_logger(
            format!(
                "what answers on {port} is not a Halfglass logger: {bytes} bytes came, none of them a greeting"
            ),
            "Another device may be on this port: name the logger's port, or leave --port away to have it found.\n\
             If it is the logger, the cable is bad or much too long.",
        ),
        Fault::Broken(error) => Error::no_logger(
            format!("the connection on {port} broke before the logger answered ({error})"),
            "The cable was pulled or the logger lost its power. Plug it in firmly and try again.",
        ),
        Fault::Refused(_) | Fault::NotUnderstood => Error::no_logger(
            format!("what answers on {port} could not be understood"),
            "Install a newer Halfglass on this computer.",
        ),
    }
}
