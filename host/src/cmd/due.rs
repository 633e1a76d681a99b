//! `halfglass due`: which part is due when.

use super::{Outcome, door};
use crate::Result;
use crate::due::{self, State};
use crate::output;
use crate::output::due::Around;
use crate::reconcile;
use crate::ship::{Folder, Settings};
use crate::store::Store;
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
overdue (surely over it); deferred (put off with leave, and the end of that not reached); unknown (the notes say
what is missing).")]
pub struct Args {
    /// The date to answer for, with the offset from UTC; without it, now
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Count parts taken out as weak as failed, in what removals tell of lives
    #[arg(long)]
    pub weak_failed: bool,
    /// Exit with code 1 if a part is overdue
    #[arg(long)]
    pub check: bool,
}

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
    let told = door::told(&settings, &store, as_of_ms, now_ms)?;
    let accounts = reconcile::reconcile(&told.facts);
    let questions = door::foreseen::questions(&settings, &told, &accounts);
    let answers = door::answers::answers(&questions, &told.kept, as_of_ms);
    let known = door::around::Known { questions: &questions, answers: &answers };
    let around = door::around::around(&settings, &told, &accounts, &known, args.weak_failed);
    output::print(&if args.json {
        output::due::json(as_of_ms, &answers, &around)
    } else {
        text(&settings, &folder, as_of_ms, &answers, &around)
    })?;
    let overdue = answers.iter().any(|answer| answer.state == State::Overdue);
    Ok(if args.check && overdue { Outcome::Findings } else { Outcome::Fine })
}

fn text(
    settings: &Settings,
    folder: &Folder,
    as_of_ms: i64,
    answers: &[due::Answer],
    around: &Around,
) -> String {
    if settings.parts.is_empty() {
        let path = folder.settings_path();
        return format!(
            "{} names no part yet: write [[radar]] and [[part]] blocks into it, limits from the set's manual.\n",
            path.display()
        );
    }
    output::due::text(&settings.ship, as_of_ms, answers, around)
}
