//! `halfglass add`: one fact by hand, checked by the same rules as a file.

use super::Outcome;
use crate::ship::Folder;
use crate::ship::facts::{self, Fields};
use crate::store::{Kind, Store};
use crate::{Error, Result};
use std::path::Path;

/// Arguments of `add`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass add reading --at 2026-03-01T08:00+00:00 --radar S-band --quantity transmit --hours 3121
  halfglass add fitting --at 2026-03-01T08:00+00:00 --radar S-band --part magnetron --serial B-2207 \\
      --counter-zeroed yes --removed-serial B-1950 --removed-because limit

A fact is never edited. To correct one, add the right one with --corrects and the wrong one's number,
which `halfglass show` lists.")]
pub struct Args {
    /// What to add
    #[command(subcommand)]
    pub what: What,
}

/// What can be added.
#[derive(Debug, clap::Subcommand)]
pub enum What {
    /// A figure read from a radar's own hour counter
    Reading(ReadingArgs),
    /// A part put in
    Fitting(FittingArgs),
}

/// Arguments of `add reading`.
#[derive(Debug, clap::Args)]
pub struct ReadingArgs {
    /// When it was read, with the offset from UTC
    #[arg(long, value_name = "TIME")]
    at: String,
    /// The radar, as in ship.toml
    #[arg(long, value_name = "NAME")]
    radar: String,
    /// Which counter: supply, heater, transmit or motor
    #[arg(long, value_name = "ROLE")]
    quantity: String,
    /// What it showed
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    hours: String,
    /// The transceiver that the display showed
    #[arg(long, value_name = "NAME")]
    source: Option<String>,
    /// Who read it
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// The number of the reading that this one corrects
    #[arg(long, value_name = "NUMBER")]
    corrects: Option<i64>,
}

/// Arguments of `add fitting`.
#[derive(Debug, clap::Args)]
pub struct FittingArgs {
    /// When it was put in, with the offset from UTC
    #[arg(long, value_name = "TIME")]
    at: String,
    /// The radar, as in ship.toml
    #[arg(long, value_name = "NAME")]
    radar: String,
    /// The part, as in ship.toml
    #[arg(long, value_name = "NAME")]
    part: String,
    /// Its serial
    #[arg(long, value_name = "SERIAL")]
    serial: String,
    /// Was the radar's own counter set back to zero: yes or no
    #[arg(long, value_name = "YES/NO")]
    counter_zeroed: String,
    /// When it was set back, if not at once
    #[arg(long, value_name = "TIME")]
    zeroed_at: Option<String>,
    /// What the counter showed before
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    counter_before: Option<String>,
    /// What it showed after
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    counter_after: Option<String>,
    /// Hours that the part had run before; needed for one that was in before the logger was
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    hours_at_fit: Option<String>,
    /// The serial of the part taken out
    #[arg(long, value_name = "SERIAL")]
    removed_serial: Option<String>,
    /// Why it was taken out: limit, failed, weak, damaged, moved or unknown
    #[arg(long, value_name = "REASON")]
    removed_because: Option<String>,
    /// Who did it
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// The number of the fitting that this one corrects
    #[arg(long, value_name = "NUMBER")]
    corrects: Option<i64>,
}

/// Runs it.
///
/// # Errors
/// A field is wrong, or the ship folder cannot be used; nothing was added.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let settings = folder.settings()?;
    match &args.what {
        What::Reading(args) => add(&folder, &facts::reading(args, &settings)?, args.corrects),
        What::Fitting(args) => {
            let fact = facts::fitting(args, &settings)?;
            add(&folder, &fact, args.corrects)?;
            explain(&fact);
            Ok(Outcome::Fine)
        }
    }
}

fn add<F: Kind>(folder: &Folder, fact: &F, corrects: Option<i64>) -> Result<Outcome> {
    let (number, new) = Store::open(&folder.store_path())?.add(fact, corrects)?;
    let state = if new { "kept" } else { "was here already" };
    println!("The {} {state}; its number is {number}.", F::NAME);
    Ok(Outcome::Fine)
}

/// A part that was not new when it was put in is the one thing that no record can tell later.
fn explain(fact: &facts::Fitting) {
    if fact.hours_at_fit.is_none() {
        println!(
            "It counts as new when put in. If it was not, add it again with --hours-at-fit and --corrects."
        );
    }
}

impl Fields for ReadingArgs {
    fn text(&self, field: &str) -> &str {
        match field {
            "at" => &self.at,
            "radar" => &self.radar,
            "quantity" => &self.quantity,
            "hours" => &self.hours,
            "source" => given(self.source.as_ref()),
            "by" => given(self.by.as_ref()),
            _ => "",
        }
    }

    fn error(&self, field: &str, what: &str) -> Error {
        wrong(field, what)
    }
}

impl Fields for FittingArgs {
    fn text(&self, field: &str) -> &str {
        match field {
            "at" => &self.at,
            "radar" => &self.radar,
            "part" => &self.part,
            "serial" => &self.serial,
            "counter_zeroed" => &self.counter_zeroed,
            "zeroed_at" => given(self.zeroed_at.as_ref()),
            "counter_before" => given(self.counter_before.as_ref()),
            "counter_after" => given(self.counter_after.as_ref()),
            "hours_at_fit" => given(self.hours_at_fit.as_ref()),
            "removed_serial" => given(self.removed_serial.as_ref()),
            "removed_because" => given(self.removed_because.as_ref()),
            "by" => given(self.by.as_ref()),
            _ => "",
        }
    }

    fn error(&self, field: &str, what: &str) -> Error {
        wrong(field, what)
    }
}

fn given(value: Option<&String>) -> &str {
    value.map_or("", String::as_str)
}

fn wrong(field: &str, what: &str) -> Error {
    Error::input(format!("--{}: {what}", field.replace('_', "-")), "Nothing was added.")
}
