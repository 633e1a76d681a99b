//! `halfglass card`: the work card for renewing a part, printable.

use super::Outcome;
use super::gather::{self, Page};
use crate::output::{self, html};
use crate::ship::settings::quoted;
use crate::{Error, Result, time};
use std::path::{Path, PathBuf};

/// Arguments of `card`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass card S-band magnetron                     writes card-s-band-magnetron-DATE.html into the ship folder
  halfglass card S-band 'scanner motor' --out c.html  writes it there
  halfglass card S-band magnetron --out -             prints it

A card to take along: why now, what to have ready, cautions and isolation in working order, renewal, run-up, restoring,
what to record, and lines to sign. It has blanks that only the set's own manual can fill. Halfglass advises, it does not
authorise: the maker's manual, the ship's safety management system and licensed persons come first.")]
pub struct Args {
    /// The radar, as in ship.toml
    #[arg(value_name = "RADAR")]
    pub radar: String,
    /// The part, as in ship.toml
    #[arg(value_name = "PART")]
    pub part: String,
    /// Where it goes, and for which date
    #[command(flatten)]
    pub page: Page,
}

/// Runs it.
///
/// # Errors
/// There is no such part, the ship folder cannot be read, the date is no date, or the file cannot be written.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    if let Some(path) = write(ship, args)? {
        output::print(&format!(
            "The work card is {}: print it, and fill its blanks from the set's manual before anyone goes aloft.",
            path.display()
        ))?;
    }
    Ok(Outcome::Fine)
}

/// Writes it; `None`: it was printed.
pub(super) fn write(ship: &Path, args: &Args) -> Result<Option<PathBuf>> {
    let book = gather::book(ship, &args.page.as_of)?;
    let Some(page) = html::card(&book, &args.radar, &args.part) else {
        let known = book.parts.iter().map(|part| format!("{} {}", part.settings.radar, part.settings.name));
        return Err(Error::input(
            format!("ship.toml has no part `{}` in a radar `{}`; nothing was written", args.part, args.radar),
            format!("Write radar and part as there, in quotes if a name has a space: {}.", quoted(known)),
        ));
    };
    let (radar, part) = (gather::file_name(&args.radar), gather::file_name(&args.part));
    let name = format!("card-{radar}-{part}-{}.html", time::date(book.as_of_ms));
    gather::deliver(ship, &args.page, &name, &page)
}
