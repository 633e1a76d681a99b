//! `halfglass report`: everything on one page.

use super::Outcome;
use super::gather::{self, Page};
use crate::output::{self, html};
use crate::{Result, time};
use std::path::{Path, PathBuf};

/// Arguments of `report`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass report                                  writes report-DATE.html into the ship folder
  halfglass report --out calder-sound.html          writes it there
  halfglass report --out - | less                   prints it
  halfglass report --as-of 2026-03-01T00:00+00:00   as it stood then: later facts are not seen

One HTML file that needs no network and no script: what to do first, each part's hours and due date, a figure of
each radar, findings, trends, the loggers' health and what is missing. Any browser opens it and prints it on A4.")]
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
        output::print(&format!("The report is {}: open it in a browser, or print it.", path.display()))?;
    }
    Ok(Outcome::Fine)
}

/// Writes it; `None`: it was printed.
pub(super) fn write(ship: &Path, args: &Args) -> Result<Option<PathBuf>> {
    let book = gather::book(ship, &args.page.as_of)?;
    let name = format!("report-{}.html", time::date(book.as_of_ms));
    gather::deliver(ship, &args.page, &name, &html::report(&book))
}
