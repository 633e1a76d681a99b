//! `halfglass setup`: tells a logger what is wired to it.

mod how;
mod wanted;

use super::Outcome;
use super::watch::names::{exchanges_in, radars_of};
use crate::link::ports::{self, Found};
use crate::link::setting;
use crate::output;
use crate::output::screen::Screen;
use crate::output::setup::{Setup, effects, side_by_side};
use crate::ship::settings::{Radar, quoted};
use crate::ship::{Folder, Settings};
use crate::{Error, Result};
use how::{How, Least};
use std::io::{BufRead, IsTerminal, Write};
use std::path::Path;
use std::time::Duration;
use wanted::Wanted;

/// Arguments of `setup`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass setup --dry-run                      what the logger has, and what ship.toml says, side by side
  halfglass setup                                the same, then asks, then writes while the button is held
  halfglass setup --line motor=pulsed,200ms      the motor line carries alternating current through an opto
  halfglass setup --line isolated=low            the switch aloft pulls its input down when it is open
  halfglass setup S-band X-band --yes            for two radars at one logger, without a question

Which input watches what, and the warm-up, come from ship.toml; how each line says that it is on comes from --line and
stays as it is at the logger where nothing is said. Totals are kept whatever changes.

A line's words, with commas between: contact or pulsed; a time in ms (how long a contact must stand still, or how long
after its last pulse a pulsed line still counts as on); high or low (the level that means on). Where nothing was ever
said: contact,50ms,high; pulsed has 200ms; or what the logger says that it needs, which is never undercut.")]
pub struct Args {
    /// The radars that the logger watches, as in ship.toml; without them, all that ship.toml gives to this logger
    #[arg(value_name = "RADAR")]
    pub radars: Vec<String>,
    /// The logger's port; without it, the likely ports are asked one by one
    #[arg(long, value_name = "PORT")]
    pub port: Option<String>,
    /// How a line says that it is on, for instance motor=pulsed,200ms or S-band/isolated=low
    #[arg(long = "line", value_name = "[RADAR/]ROLE=WORDS")]
    pub lines: Vec<String>,
    /// While anything runs, at most so many seconds of it are at risk in a power cut: 1 to 60
    #[arg(long = "heartbeat", value_name = "SECONDS")]
    pub heartbeat_s: Option<u16>,
    /// While nothing runs, a word is written every so many seconds: 10 to 800
    #[arg(long = "idle", value_name = "SECONDS")]
    pub idle_s: Option<u16>,
    /// Show what would change, write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Write without asking; the button at the logger must be held all the same
    #[arg(long)]
    pub yes: bool,
    /// How long to wait for the button to be held, in seconds
    #[arg(long = "wait", value_name = "SECONDS", default_value_t = 30)]
    pub wait_s: u32,
}

/// Runs it.
///
/// # Errors
/// ship.toml and the logger do not fit together, an option cannot be understood, the button was not held in time (exit code
/// 2), or no logger was reached (3). The message says in which state the logger is.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let settings = folder.settings()?;
    let hows: Vec<How> = args.lines.iter().map(|text| How::parse(text)).collect::<Result<_>>()?;
    let mut skipped = |error: &Error| eprintln!("Passed over: {}", error.what());
    let Found { port, hello, mut client } = ports::the_only(args.port.as_deref(), &mut skipped)?;
    let radars = radars(&settings, &folder, hello.device_id, &args.radars)?;
    let old = setting::read(&mut client)?;
    let totals = setting::totals(&mut client)?;
    let wanted = Wanted {
        radars: &radars,
        hows: &hows,
        heartbeat_s: args.heartbeat_s,
        idle_s: args.idle_s,
        inputs: hello.lines,
        least: Least::of(&hello),
    };
    let (new, notes) = wanted.config(&old)?;
    let names: Vec<&str> = radars.iter().map(|radar| radar.name.as_str()).collect();
    let setup = Setup { old: &old, new: &new, radars: &names, inputs: hello.lines, totals: &totals };
    let [major, minor, patch] = hello.firmware_version;
    let screen = Screen::of_stdout();
    output::print(&format!(
        "Logger {:016x} on {port}, firmware {major}.{minor}.{patch}\n\n{}\n",
        hello.device_id,
        side_by_side(&setup, screen)
    ))?;
    for note in &notes {
        output::print_text(&screen.paragraph(note))?;
    }
    if old == new {
        output::print("The logger is set up like this already; nothing was written.")?;
        return Ok(Outcome::Fine);
    }
    output::print_text(&format!("\n{}", effects(&setup, screen)))?;
    if args.dry_run {
        output::print("Dry run: nothing was written.")?;
        return Ok(Outcome::Fine);
    }
    if !args.yes && !confirmed()? {
        output::print("Nothing was written.")?;
        return Ok(Outcome::Fine);
    }
    let wait = Duration::from_secs(u64::from(args.wait_s));
    let mut not_held = || {
        // Standard output may be gone; the button is asked for all the same.
        let _ = output::print(&format!(
            "The button is not held. Hold it at the logger until this says that it is done;\nit is asked for {} s.",
            args.wait_s
        ));
    };
    setting::write(&mut client, &new, wait, &mut not_held)?;
    output::print(
        "\nDone: written, read back, and the same. Let the button go. Totals are kept.\n\
         Next: `halfglass watch --prove`, while somebody works each switch; then\n`halfglass pull`.",
    )?;
    Ok(Outcome::Fine)
}

/// The radars to set up, in ship.toml's order: all that this logger watches.
fn radars<'a>(
    settings: &'a Settings,
    folder: &Folder,
    device_id: u64,
    named: &[String],
) -> Result<Vec<&'a Radar>> {
    let own = radars_of(settings, &exchanges_in(folder), device_id);
    for name in named {
        let Some(radar) = settings.radar(name) else {
            return Err(Error::input(
                format!("ship.toml has no radar `{name}`; nothing was changed"),
                match settings.radars.as_slice() {
                    [] => "Write a [[radar]] block into it first.".to_owned(),
                    radars => format!("Its radars are: {}.", quoted(radars.iter().map(|radar| &radar.name))),
                },
            ));
        };
        if !own.iter().any(|one| one.name == *name) {
            return Err(not_its_logger(radar, device_id));
        }
    }
    if let Some(left_out) = own.iter().find(|radar| !named.is_empty() && !named.contains(&radar.name)) {
        return Err(Error::input(
            format!(
                "ship.toml gives this logger the lines of {} too, and a logger is set up as a whole; nothing was changed",
                left_out.name
            ),
            "Name all of its radars, or none.",
        ));
    }
    match (own.is_empty(), settings.radars.as_slice()) {
        (false, _) => Ok(own),
        (true, [only]) => Err(not_its_logger(only, device_id)),
        (true, _) => Err(Error::input(
            format!(
                "no radar in ship.toml has the logger {device_id:016x} that answers here; nothing was changed"
            ),
            fits(device_id),
        )),
    }
}

fn not_its_logger(radar: &Radar, device_id: u64) -> Error {
    Error::input(
        format!(
            "ship.toml gives the radar `{}` the logger {:016x}, but {device_id:016x} answers here; nothing was changed",
            radar.name, radar.logger
        ),
        fits(device_id),
    )
}

fn fits(device_id: u64) -> String {
    format!(
        "If this is its first logger, write logger = \"{device_id:016x}\" into its [[radar]] block. If it took another's \
         place,\nrecord that: `halfglass add logger --logger {device_id:016x}` with the radar, the time and the reason."
    )
}

/// Asks at the terminal; without one, nothing is asked and nothing written.
fn confirmed() -> Result<bool> {
    if !std::io::stdin().is_terminal() {
        return Err(Error::input(
            "there is no terminal to ask at; nothing was changed",
            "Look at the table above; --yes writes it without a question.",
        ));
    }
    let gone = |error: std::io::Error| {
        Error::input(
            format!("the terminal cannot be used ({error}); nothing was changed"),
            "Say it with --yes.",
        )
    };
    let mut out = std::io::stdout().lock();
    write!(out, "\nHold the button at the logger, type y and press Enter.\nAnything else writes nothing: ")
        .and_then(|()| out.flush())
        .map_err(gone)?;
    let mut answer = String::new();
    std::io::stdin().lock().read_line(&mut answer).map_err(gone)?;
    Ok(matches!(answer.trim(), "y" | "Y" | "yes"))
}
