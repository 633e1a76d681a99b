//! `halfglass handover`: one page for the relief or the auditor.

use super::Outcome;
use super::gather::{self, Page};
use crate::output::{self, html};
use crate::{Result, time};
use std::path::{Path, PathBuf};

/// Arguments of `handover`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass handover                                  writes handover-DATE.html into the ship folder
  halfglass handover --out handover.html              writes it there
  halfglass handover --out -                          prints it
  halfglass handover --as-of 2026-03-01T00:00+00:00   as it stood then: later facts are not seen

What the next officer should do first, today's hours and due dates, open findings and what was answered, renewals put
off and by whose leave, measurements, spares, and lines to sign. Print it, walk through it together, sign it.")]
pub struct Args {
    /// Where it goes, and for which date
    #[command(flatten)]
    pub page: Page,
}

/// Runs it.
///
/// # Errors
/// The ship folder cannot be read, the date is no date, or the file cannot be written.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    if let Some(path) = write(ship, args)? {
        output::print(&format!("The handover is {}: open it in a browser and print it.", path.display()))?;
    }
    Ok(Outcome::Fine)
}

/// Writes it; `None`: it was printed.
pub(super) fn write(ship: &Path, args: &Args) -> Result<Option<PathBuf>> {
    let book = gather::book(ship, &args.page.as_of)?;
    let name = format!("handover-{}.html", time::date(book.as_of_ms));
    gather::deliver(ship, &args.page, &name, &html::handover(&book))
}
