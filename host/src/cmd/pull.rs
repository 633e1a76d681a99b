//! `halfglass pull`: from a logger into the ship folder.

use super::Outcome;
use crate::link::ports::{self, Found};
use crate::link::pull::{Event, Options, Pull};
use crate::output;
use crate::output::progress::Progress;
use crate::ship::Folder;
use crate::ship::facts::LoggerExchange;
use crate::store::Store;
use crate::time;
use crate::{Error, Result};
use std::path::Path;

/// Arguments of `pull`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass pull                        find the logger by itself
  halfglass pull --port /dev/ttyACM0    this port and no other
  halfglass pull --all                  everything that the logger keeps, not only what is new

A pull that was cut short goes on where it stopped. Pulling twice changes nothing.")]
pub struct Args {
    /// The logger's port; without it, the likely ports are asked one by one
    #[arg(long, value_name = "PORT")]
    pub port: Option<String>,
    /// Everything that the logger keeps, not only what is new
    #[arg(long)]
    pub all: bool,
}

/// Runs it by this computer's clock.
///
/// # Errors
/// As [`run_at`].
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    run_at(ship, args, &time::now_ms)
}

/// Runs it with a clock (UTC now, in milliseconds since 1970): an invented ship lives at another time.
///
/// # Errors
/// No logger was reached or it was lost on the way (exit code 3), or the folder cannot be used.
pub fn run_at(ship: &Path, args: &Args, clock: &dyn Fn() -> i64) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let mut store = Store::open(&folder.store_path())?;
    let found = match &args.port {
        Some(port) => vec![ports::connect(port)?],
        None => ports::discover(&mut |error: &Error| eprintln!("Passed over: {}", error.what()))?,
    };
    for logger in found {
        pull_one(&folder, &mut store, logger, args.all, clock)?;
    }
    Ok(Outcome::Fine)
}

fn pull_one(
    folder: &Folder,
    store: &mut Store,
    found: Found,
    all: bool,
    clock: &dyn Fn() -> i64,
) -> Result<()> {
    let Found { port, hello, mut client } = found;
    let [major, minor, patch] = hello.firmware_version;
    println!(
        "Logger {:016x} on {port}: firmware {major}.{minor}.{patch}, session {}, {} h of uptime.",
        hello.device_id,
        hello.session,
        hello.uptime_s / 3600
    );
    // A ship.toml with a mistake in it must not keep the log from being saved.
    match folder.settings() {
        Ok(settings) if settings.radars.iter().any(|radar| radar.logger == hello.device_id) => {}
        Ok(_) if took_another_s_place(store, hello.device_id) => {}
        Ok(_) => println!(
            "No radar in ship.toml has this logger yet: write logger = \"{0:016x}\" into its [[radar]] block; or, if it \
             took another's place, `halfglass add logger --logger {0:016x}` with the radar, the time and the reason.",
            hello.device_id
        ),
        Err(error) => eprintln!("ship.toml wants attention (the pull goes on): {error}"),
    }
    let mut progress = Progress::new();
    Pull {
        client: &mut client,
        hello,
        folder,
        store,
        clock,
        watch: &mut |event| tell(&event, &mut progress),
    }
    .run(Options { all })?;
    Ok(())
}

/// Whether an exchange is recorded that brought this logger to a radar. A database that cannot tell stops the pull later.
fn took_another_s_place(store: &Store, device_id: u64) -> bool {
    let exchanges = store.standing::<LoggerExchange>().unwrap_or_default();
    exchanges.iter().any(|kept| kept.fact.logger == device_id)
}

fn tell(event: &Event, progress: &mut Progress) {
    match event {
        Event::Anchored { uncertainty_ms } => progress.say(&format!(
            "Clock: set against this computer's, right to {:.1} s.",
            f64::from(*uncertainty_ms) / 1000.0
        )),
        Event::NotAnchored(why) => progress.say(&format!("Clock: not set this time: {why}.")),
        Event::Begin { records, had } => {
            if *had > 0 {
                progress
                    .say(&format!("Going on with an unfinished pull: {had} of {records} records are here."));
            }
            progress.begin(*records, *had);
        }
        Event::Progress { records } => progress.at(*records),
        Event::Done(pulled) => {
            progress.end();
            let imported = &pulled.imported;
            let range = imported.header.to - imported.header.from;
            progress.say(&format!(
                "{} records read, {} new; kept as {}.",
                range,
                imported.records_new,
                pulled.path.display()
            ));
            if imported.not_known > 0 {
                progress.say(&output::not_known(imported.not_known as usize));
            }
        }
        Event::Overwritten { records } => progress.say(&format!(
            "{records} records were overwritten before they were pulled: the totals are exact all the same, \
             but how the hours fell on the days of that time is lost. Pull more often."
        )),
        Event::PartLost => progress.say(
            "The unfinished pull cannot be finished, its records have been overwritten; a new one begins.",
        ),
    }
}
