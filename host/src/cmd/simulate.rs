//! `halfglass simulate`: the real firmware crate on a timeline of lines.

use super::Outcome;
use crate::output;
use crate::output::screen::Screen;
use crate::output::table::Sheet;
use crate::ship::settings::parse_device;
use crate::simulate::lines::{Lines, ROLES};
use crate::simulate::{Geometry, Options, Pulled, Simulation};
use crate::{Error, Result};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The logger of the examples.
const DEVICE: u64 = 0x3f9c_11d2_a07b_e458;

/// Arguments of `simulate`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
LINES is a CSV file with the header at,line,on, in time order:
  2026-03-01T08:00Z,heater,1      a line: supply, heater, transmit, motor or isolated; on is 0 or 1
  2026-03-01T09:30Z,power,0       the logger's own feed; what it had not written is lost
  2026-03-01T12:00Z,pull,         a host pulls and appends a clock anchor
  2026-03-01T13:00Z,speed,12.5    knots over ground that it hears from here on; empty: nobody says them
Lines start off and power starts on. The last row's time ends the run, with a final pull.

Example:
  halfglass simulate lines.csv --out lines.hgd")]
pub struct Args {
    /// The timeline: a CSV file `at,line,on`
    #[arg(value_name = "LINES")]
    pub lines: PathBuf,
    /// The dump to write: what `pull --all` would have brought at the end
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// The logger's device id, 16 hexadecimal digits
    #[arg(long, value_name = "ID")]
    pub device: Option<String>,
    /// The flash chip: nrf51 (unless named), small, qspi, ecc8 or ecc16
    #[arg(long, value_name = "NAME")]
    pub flash: Option<String>,
    /// Decides how a power cut leaves the flash word that was being written at that very instant
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
}

/// Runs it.
///
/// # Errors
/// The timeline has a fault (file, line, what to do), or the dump cannot be written.
pub fn run(args: &Args) -> Result<Outcome> {
    let geometry = args.flash.as_deref().map_or_else(|| Ok(Geometry::default()), Geometry::named)?;
    let device_id = match &args.device {
        Some(text) => parse_device(text).map_err(|what| {
            Error::input(
                format!("{what}; nothing was simulated"),
                "Leave --device away to use the example's.",
            )
        })?,
        None => DEVICE,
    };
    let lines = Lines::read(&args.lines)?;
    let options = Options { device_id, geometry, seed: args.seed, warm_up_s: 0 };
    let started = Instant::now();
    let mut bar = Bar::new(&lines);
    let mut simulation = Simulation::run(&lines, &options, &mut |at_ms| bar.at(at_ms))?;
    bar.end();
    let pulled = simulation.pull(0)?;
    std::fs::write(&args.out, &pulled.dump).map_err(|error| Error::file("write", &args.out, &error))?;
    let mut text = summary(&lines, &mut simulation, &pulled, geometry);
    text.push_str(&format!(
        "Wrote {} ({} bytes, {} records) after {:.1} s.\n",
        args.out.display(),
        pulled.dump.len(),
        pulled.header.to - pulled.header.from,
        started.elapsed().as_secs_f64()
    ));
    text.push_str(&next(&args.out));
    output::print_text(&text)?;
    Ok(Outcome::Fine)
}

fn summary(lines: &Lines, simulation: &mut Simulation, pulled: &Pulled, geometry: Geometry) -> String {
    const HOUR_TENTHS: f64 = 36_000.0;
    let totals = &pulled.status.totals;
    let hours = |tenths: u64| format!("{:.2}", tenths as f64 / HOUR_TENTHS);
    let mut rows = vec![vec!["uptime".to_owned(), hours(totals.uptime_tenths), String::new()]];
    for ((role, on_tenths), starts) in ROLES.iter().zip(totals.on_tenths).zip(totals.starts) {
        rows.push(vec![role.name().to_owned(), hours(on_tenths), starts.to_string()]);
    }
    let days = (lines.end_ms() - lines.start_ms()) as f64 / 86_400_000.0;
    let plural =
        |count: usize, one: &str, many: &str| format!("{count} {}", if count == 1 { one } else { many });
    let mut text = format!(
        "Simulated {days:.1} days: {}, {}, {}.\n\n{}\n\n",
        plural(simulation.power_cuts() as usize, "power cut", "power cuts"),
        plural(totals.session as usize, "session", "sessions"),
        plural(simulation.pulls.len() + 1, "pull", "pulls"),
        Sheet::new(&["line", "hours", "starts"], &["hours", "starts"], rows).on(Screen::of_stdout())
    );
    let health = pulled.status.health;
    text.push_str(&format!(
        "Flash `{}`: {} pages turned over for totals, {} for history; the most worn page was erased {}.\n",
        geometry.name,
        health.journal_turns,
        health.history_turns,
        plural(simulation.erases_max() as usize, "time", "times")
    ));
    if pulled.oldest > 0 {
        text.push_str(&format!(
            "The first {} records were overwritten: the totals are exact all the same, but how those hours fell on \
             days is no longer in the logger.\n",
            pulled.oldest
        ));
    }
    text
}

fn next(out: &Path) -> String {
    let out = out.display();
    format!(
        "Next:  halfglass show {out}\n       \
         halfglass --ship DIR import dump {out}      (DIR: a ship folder, made by `halfglass init DIR`)\n"
    )
}

/// Progress on a terminal, by simulated days.
struct Bar {
    bar: Option<ProgressBar>,
    start_ms: i64,
}

impl Bar {
    fn new(lines: &Lines) -> Bar {
        let start_ms = lines.start_ms();
        let days = u64::try_from((lines.end_ms() - start_ms) / 86_400_000).unwrap_or(0);
        let bar = std::io::stderr().is_terminal().then(|| {
            let bar = ProgressBar::new(days);
            if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos} of {len} days") {
                bar.set_style(style);
            }
            bar
        });
        Bar { bar, start_ms }
    }

    fn at(&mut self, at_ms: i64) {
        if let Some(bar) = &self.bar {
            bar.set_position(u64::try_from((at_ms - self.start_ms) / 86_400_000).unwrap_or(0));
        }
    }

    fn end(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}
