//! `halfglass due`: which part is due when.

use super::{Outcome, door};
use crate::Result;
use crate::due::{self, Fitted, Question, State};
use crate::output;
use crate::ship::facts::Fitting;
use crate::ship::settings::{Part, Radar};
use crate::ship::{Folder, Settings};
use crate::store::{Kept, Store};
use crate::time;
use std::path::Path;

/// Arguments of `due`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass due
  halfglass due --as-of 2026-03-01T00:00+00:00     as it stood then: later facts are not seen
  halfglass due --json                             for programs
  halfglass due --check || echo look at the radar  exit code 1 if something is overdue

States: ok; soon (within warn_h of the limit or lead_time_days of the date); due (may be over the limit);
overdue (surely over it); unknown (the notes say what is missing).")]
pub struct Args {
    /// The date to answer for, with the offset from UTC; without it, now
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Exit with code 1 if a part is overdue
    #[arg(long)]
    pub check: bool,
}

/// Which futures are drawn. Any number does; the same number gives the same dates every time.
pub(super) const SEED: u64 = 1;

/// Runs it.
///
/// # Errors
/// The ship folder cannot be read, or the date is no date.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let settings = folder.settings()?;
    let now_ms = time::now_ms();
    let as_of_ms = door::as_of_ms(args.as_of.as_ref(), now_ms)?;
    let store = Store::open(&folder.store_path())?;
    let fittings: Vec<Kept<Fitting>> = store.standing()?;
    let watching = settings.radars.iter().map(|radar| radar.logger);
    let loggers = door::loggers(&store, watching, now_ms.max(as_of_ms))?;
    let mut answers = Vec::new();
    for part in &settings.parts {
        let Some(radar) = settings.radar(&part.radar) else { continue };
        let question = question(radar, part, &fittings, as_of_ms);
        let log = loggers.get(&radar.logger).and_then(Option::as_ref);
        answers.push(due::answer(&question, log, as_of_ms, SEED));
    }
    output::print(&if args.json {
        output::due::json(as_of_ms, &answers)
    } else {
        text(&settings, &folder, as_of_ms, &answers)
    })?;
    let overdue = answers.iter().any(|answer| answer.state == State::Overdue);
    Ok(if args.check && overdue { Outcome::Findings } else { Outcome::Fine })
}

fn text(settings: &Settings, folder: &Folder, as_of_ms: i64, answers: &[due::Answer]) -> String {
    if settings.parts.is_empty() {
        let path = folder.settings_path();
        return format!(
            "{} names no part yet: write [[radar]] and [[part]] blocks into it, limits from the set's manual.\n",
            path.display()
        );
    }
    output::due::text(&settings.ship, as_of_ms, answers)
}

pub(super) fn question(radar: &Radar, part: &Part, fittings: &[Kept<Fitting>], as_of_ms: i64) -> Question {
    let own = |fit: &&Fitting| fit.radar == part.radar && fit.part == part.name && fit.at.lo_ms() <= as_of_ms;
    let fitting = fittings.iter().map(|kept| &kept.fact).filter(own).max_by_key(|fit| fit.at_ms());
    Question {
        radar: radar.name.clone(),
        part: part.name.clone(),
        role: part.ages_by,
        // A part whose radar lacks the line is refused when ship.toml is read.
        input: radar.input_of(part.ages_by).map_or(usize::MAX, usize::from),
        lines: radar.lines.clone(),
        logger: radar.logger,
        fed_from_radar: radar.fed_from_radar,
        limit_h: part.limit_h,
        limit_months: part.limit_months,
        limit_starts: part.limit_starts,
        warn_h: part.warn_h,
        lead_time_days: part.lead_time_days,
        fitting: fitting.map(|fit| Fitted {
            at_ms: fit.at.best_ms_by(as_of_ms),
            serial: fit.serial.clone(),
            hours_at_fit: fit.hours_at_fit,
        }),
    }
}
