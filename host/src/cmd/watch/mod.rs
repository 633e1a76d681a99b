//! `halfglass watch`: the lines as they stand, live, while somebody works the switches.

pub(super) mod names;
mod seen;
mod show;
mod stop;

use super::Outcome;
use crate::link::live::{Live, Look};
use crate::link::ports::{self, Found};
use crate::link::setting;
use crate::output::screen::Screen;
use crate::output::watch::{Event, head};
use crate::time;
use crate::{Error, Result};
use names::Names;
use seen::Seen;
use show::Show;
use std::path::Path;
use std::time::{Duration, Instant};
use stop::Stop;

/// Arguments of `watch`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass watch                          a table that follows the switches; Ctrl-C ends it
  halfglass watch --prove                  the same, until every line was seen on and off
  halfglass watch --for 60 > lines.txt     one line for each change, for a minute
  halfglass watch --json                   one JSON object a line, for programs: `halfglass schema watch`

The isolated line is never proof of isolation. Halfglass advises, it does not authorise.

Exit codes: 0 fine, 1 under --prove if a line was not seen both on and off, 3 no logger, or lost and not found again.")]
pub struct Args {
    /// The logger's port; without it, the likely ports are asked one by one
    #[arg(long, value_name = "PORT")]
    pub port: Option<String>,
    /// End by itself after so many seconds
    #[arg(long = "for", value_name = "SECONDS")]
    pub for_s: Option<u32>,
    /// Check each line on and off; ends when all are proven, says at the end what is not
    #[arg(long)]
    pub prove: bool,
    /// One JSON object for each change
    #[arg(long)]
    pub json: bool,
}

/// How often the logger is looked at. A look costs it some milliseconds, and no flash.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// How soon Ctrl-C is noticed between two looks.
const STOP_LOOK: Duration = Duration::from_millis(20);

/// Runs it.
///
/// # Errors
/// No logger was reached, or it was away when the watch ended (exit code 3); several loggers and none named.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let stop = Stop::on_interrupt()?;
    let mut skipped = |error: &Error| eprintln!("Passed over: {}", error.what());
    let Found { port, hello, mut client } = ports::the_only(args.port.as_deref(), &mut skipped)?;
    let config = setting::read(&mut client)?;
    let names = Names::find(ship, hello.device_id, &config);
    let [major, minor, patch] = hello.firmware_version;
    let logger = format!("{:016x}", hello.device_id);
    let whom = format!("Logger {logger} on {port}, firmware {major}.{minor}.{patch}.");
    let mut watch = Watch {
        live: Live::new(Found { port, hello, client }, args.port.clone()),
        seen: Seen::new(&names.lines),
        show: Show::new(logger, args.json, args.prove),
        away: None,
        another: None,
        prove: args.prove,
    };
    watch.show.head(&head(&whom, &names.notes, args.prove, Screen::of_stdout()));
    watch.run(&stop, args.for_s.map(|s| Duration::from_secs(u64::from(s))))
}

struct Watch {
    live: Live,
    seen: Seen,
    show: Show,
    /// What to say while the logger is not there or not ready.
    away: Option<Event>,
    /// Another logger that answered in its place and was told.
    another: Option<u64>,
    prove: bool,
}

impl Watch {
    fn run(mut self, stop: &Stop, lasts: Option<Duration>) -> Result<Outcome> {
        let (began, began_ms) = (Instant::now(), time::now_ms());
        // A clock that is set meanwhile must not stretch or shrink what is measured.
        let now_ms = || began_ms + i64::try_from(began.elapsed().as_millis()).unwrap_or(0);
        let over = || lasts.is_some_and(|lasts| began.elapsed() >= lasts);
        let mut look_at = Instant::now();
        let all_proven = |seen: &Seen| !seen.lines.is_empty() && seen.unproven().is_empty();
        while !(stop.asked() || over() || self.show.is_gone() || self.prove && all_proven(&self.seen)) {
            if Instant::now() < look_at {
                std::thread::sleep(STOP_LOOK);
                continue;
            }
            look_at = Instant::now() + LOOK_EVERY;
            let events = self.look(now_ms());
            self.show.events(&events, now_ms());
            self.show.screen(&self.seen, self.away.as_ref(), now_ms());
        }
        let unproven = if self.prove { self.seen.unproven() } else { Vec::new() };
        let open = self.prove && (self.seen.lines.is_empty() || !unproven.is_empty());
        self.show.end(&self.seen, &Event::End { unproven }, now_ms(), stop.asked());
        match self.away {
            Some(Event::Lost(why)) => Err(Error::no_logger(
                format!("the watch ended while the logger was away: {why}"),
                "What it counted is safe in it. Check its power and the cable, then watch again.",
            )),
            _ if open => Ok(Outcome::Findings),
            _ => Ok(Outcome::Fine),
        }
    }

    /// Looks once; what is new.
    fn look(&mut self, at_ms: i64) -> Vec<Event> {
        match self.live.look() {
            Look::Status(status) => {
                self.away = None;
                self.seen.take(&status, at_ms)
            }
            Look::Starting if self.away == Some(Event::Starting) => Vec::new(),
            Look::Starting => {
                self.seen.lose();
                self.away = Some(Event::Starting);
                vec![Event::Starting]
            }
            Look::Lost(why) => {
                self.seen.lose();
                self.another = None;
                self.away = Some(Event::Lost(why.clone()));
                vec![Event::Lost(why)]
            }
            Look::Away => Vec::new(),
            Look::Another { device_id } if self.another == Some(device_id) => Vec::new(),
            Look::Another { device_id } => {
                self.another = Some(device_id);
                vec![Event::Another { device_id }]
            }
            Look::Back { port } => {
                self.away = None;
                vec![Event::Back { port }]
            }
        }
    }
}
