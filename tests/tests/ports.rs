//! The built program at a port: every way in which no logger is there has its own message, and a pull over a bad
//! cable loses nothing.

use halfglass::simulate::{Geometry, Lines, Options, Simulation};
use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use std::fs::File;
use std::io::{Read, Write};
use std::process::Command;
use std::thread::JoinHandle;

/// A pseudo-terminal: the logger's end, and the port's name. (Closed on exec: a cable end that the program under
/// test inherited would never be pulled.)
fn cable() -> (File, File, String) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let logger = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&logger).unwrap();
    unlockpt(&logger).unwrap();
    let name = ptsname(&logger, Vec::new()).unwrap().into_string().unwrap();
    // Held open, or the logger's end reads errors until the program opens the port.
    let port = File::options().read(true).write(true).open(&name).unwrap();
    (File::from(logger), port, name)
}

/// A port at whose other end `answer` sees what came and says what goes back. It is there while the file is.
fn port(mut answer: impl FnMut(&[u8]) -> Vec<u8> + Send + 'static) -> (File, String) {
    let (mut logger, port, name) = cable();
    std::thread::spawn(move || {
        let mut buffer = [0; 256];
        while let Ok(count) = logger.read(&mut buffer) {
            if logger.write_all(&answer(&buffer[..count])).is_err() {
                return;
            }
        }
    });
    (port, name)
}

#[test]
fn no_such_port() {
    let place = Place::with_ship(SHIP);
    place
        .ship(&["pull", "--port", "/dev/ttyACM77"])
        .fails(3, &["there is no port /dev/ttyACM77", "Cable:", "Power:", "Driver:"]);
    assert_eq!((place.rows(), place.files("ship/dumps").len()), (0, 0));
}

#[test]
fn no_permission_on_the_port() {
    let root = Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout == b"0\n");
    let setpriv = Command::new("setpriv").arg("--version").output().is_ok();
    if !(root && setpriv) {
        eprintln!("skipped: becoming another user needs root and setpriv");
        return;
    }
    let place = Place::with_ship(SHIP);
    // Another user must be able to reach the program and the folder.
    let open = |name: &str| {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(place.path(name), std::fs::Permissions::from_mode(0o777)).unwrap();
    };
    std::fs::copy(halfglass(), place.path("halfglass")).unwrap();
    open("");
    open("halfglass");
    open("ship");
    let (_slave, name) = port(|_| Vec::new());
    // As a real port on most systems.
    assert!(Command::new("chgrp").args(["dialout", &name]).status().unwrap().success());
    let mut command = Command::new("setpriv");
    command.args(["--reuid=65534", "--regid=65534", "--clear-groups", "./halfglass", "--ship", "ship"]);
    let run = place.run_command(command.args(["pull", "--port", &name]));
    let words =
        ["your user may not open the port", &name, "the group dialout", "sudo usermod -aG dialout $USER"];
    run.fails(3, &words);
    assert_eq!((place.rows(), place.files("ship/dumps").len()), (0, 0));
}

#[test]
fn a_port_that_is_not_a_logger() {
    let place = Place::with_ship(SHIP);
    type Answer = fn(&[u8]) -> Vec<u8>;
    let cases: [(Answer, &str, &str); 3] = [
        (|_| b"\r\nlogin: ".to_vec(), "is not a Halfglass logger", "Another device"),
        (|_| Vec::new(), "nothing answered on", "Power:"),
        (<[u8]>::to_vec, "only sends back what is sent", "loop-back"),
    ];
    for (answer, what, advice) in cases {
        let (_slave, name) = port(answer);
        place.ship(&["pull", "--port", &name]).fails(3, &[what, advice, &name]);
        assert_eq!((place.rows(), place.files("ship/dumps").len()), (0, 0));
    }
    // A file is no port either.
    place.write("log.txt", "hello");
    place.ship(&["pull", "--port", "log.txt"]).fails(3, &["log.txt cannot be used as a serial port"]);
}

#[test]
fn a_port_in_use() {
    let place = Place::with_ship(SHIP);
    let (_slave, name) = port(|_| Vec::new());
    let _held = serialport::new(&name, 115_200).open_native().unwrap();
    place
        .ship(&["pull", "--port", &name])
        .fails(3, &["is in use by another program", &format!("fuser {name}")]);
}

#[test]
fn a_cable_pulled_before_the_greeting() {
    let place = Place::with_ship(SHIP);
    let (mut logger, _port, name) = cable();
    let thread = std::thread::spawn(move || {
        logger.read_exact(&mut [0]).unwrap();
        // Here the logger's end goes away, as a USB port does.
    });
    place
        .ship(&["pull", "--port", &name])
        .fails(3, &["broke before the logger answered", "cable was pulled"]);
    thread.join().unwrap();
}

/// Sixty days of one session with transmission from 6 to 18 h, by the real firmware.
fn simulated_logger() -> Simulation {
    let mut text = String::from("at,line,on\n");
    for day in 0..60 {
        let date = jiff::civil::date(2026, 1, 1) + jiff::Span::new().days(day);
        for (time, on) in [("06:00", 1), ("18:00", 0)] {
            text.push_str(
                &["supply", "heater", "transmit"]
                    .map(|role| format!("{date}T{time}Z,{role},{on}\n"))
                    .concat(),
            );
        }
    }
    let lines = Lines::parse(text.as_bytes(), "lines.csv").unwrap();
    let options = Options { device_id: DEVICE, geometry: Geometry::default(), seed: 1, warm_up_s: 0 };
    Simulation::run(&lines, &options, &mut |_| {}).unwrap()
}

/// Serves a logger until the other end goes away, or until it has sent `cut_after` bytes: then the cable is pulled.
/// The bytes at `flipped` arrive garbled. The logger comes back.
fn serve(
    mut logger: Simulation,
    cut_after: usize,
    flipped: &'static [usize],
) -> (String, JoinHandle<Simulation>) {
    let (mut end, port, name) = cable();
    let thread = std::thread::spawn(move || {
        let (mut buffer, mut answer, mut sent) = ([0; 256], Vec::new(), 0);
        let mut port = Some(port);
        while let Ok(count) = end.read(&mut buffer) {
            logger.receive(&buffer[..count], &mut answer);
            for byte in answer.drain(..) {
                let byte = if flipped.contains(&sent) { byte ^ 0x21 } else { byte };
                sent += 1;
                if end.write_all(&[byte]).is_err() || sent == cut_after {
                    return logger;
                }
            }
            // From the greeting on, the program itself holds the port open: when it ends, reading ends.
            port.take();
        }
        logger
    });
    (name, thread)
}

#[test]
fn a_pull_over_a_noisy_cable_that_is_pulled_midway_goes_on_where_it_stopped() {
    let place = Place::with_ship(SHIP);
    let (name, thread) = serve(simulated_logger(), 3_000, &[700, 1_600]);
    place.ship(&["pull", "--port", &name]).fails(
        3,
        &[
            "the connection broke after",
            "nothing is half-imported",
            "The cable was pulled",
            "goes on from there",
        ],
    );
    assert_eq!(place.rows(), 1, "what the logger says of its flash, and nothing half-imported");
    assert_eq!(place.files("ship/dumps"), ["3f9c11d2a07be458.part"]);
    let logger = thread.join().unwrap();

    let (name, thread) = serve(logger, usize::MAX, &[400]);
    let run = place.ship(&["pull", "--port", &name]);
    run.fine().says(&[
        "Logger 3f9c11d2a07be458 on",
        "Going on with an unfinished pull",
        "new; kept as ship/dumps/",
    ]);
    let dumps = place.files("ship/dumps");
    assert!(dumps.iter().all(|file| file.ends_with(".hgd")), "{dumps:?}");
    let before = place.rows();
    let logger = thread.join().unwrap();

    // By hand: 60 days of 12 h.
    let last = dumps.last().unwrap();
    let json = place.run(&["show", &format!("ship/dumps/{last}"), "--json"]).fine().json();
    let on_h = json["lines"][2]["on_tenths"].as_f64().unwrap() / 36_000.0;
    assert!((on_h - 720.0).abs() < 0.01, "{on_h}");

    // Everything once more: the simulated clock stands still, so it is the same dump, byte for byte.
    let (name, thread) = serve(logger, usize::MAX, &[]);
    place.ship(&["pull", "--port", &name, "--all"]).fine();
    thread.join().unwrap();
    assert_eq!((place.rows(), place.files("ship/dumps")), (before, dumps));
}
