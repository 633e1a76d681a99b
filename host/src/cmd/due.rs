//! `halfglass due`: which part is due when.

use super::Outcome;
use super::door::{self, AsOf, Asked};
use super::plan as cmd_plan;
use crate::Result;
use crate::due::{self, State};
use crate::output;
use crate::output::due::Around;
use crate::output::screen::Screen;
use crate::plan;
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
    /// The date to answer for
    #[command(flatten)]
    pub as_of: AsOf,
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
    let asked = Asked::open(ship, &args.as_of)?;
    let foreseen = asked.foreseen()?;
    // By when to order a spare hangs on the stay in which it is put in: that is asked where stays are weighed.
    let plan = plan::plan(&cmd_plan::problem(&asked, &foreseen)?);
    let around = door::around::around(&asked.settings, &foreseen, &plan, args.weak_failed);
    let answers = &foreseen.answers;
    if args.json {
        output::print(&output::due::json(asked.as_of_ms, answers, &around))?;
    } else {
        output::print_text(&text(&asked, answers, &around))?;
    }
    let overdue = answers.iter().any(|answer| answer.state == State::Overdue);
    Ok(if args.check && overdue { Outcome::Findings } else { Outcome::Fine })
}

fn text(asked: &Asked, answers: &[due::Answer], around: &Around) -> String {
    if asked.settings.parts.is_empty() {
        let path = asked.folder.settings_path();
        return format!(
            "{} names no part yet: write [[radar]] and [[part]] blocks into it, limits from the set's manual.\n",
            path.display()
        );
    }
    output::due::text(&asked.settings.ship, asked.as_of_ms, answers, around, Screen::of_stdout())
}
