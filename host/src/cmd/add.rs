//! `halfglass add`: one fact by hand, checked by the same rules as a file.

use super::Outcome;
use super::import::{ahead, lies_ahead};
use crate::ship::Folder;
use crate::ship::facts::{
    Answer, Condition, Deferral, Fields, Fitting, Known, Leg, LoggerExchange, Reading, Window, Work, Zone,
};
use crate::store::{Kind, Store};
use crate::time;
use crate::{Error, Result};
use clap::{Arg, ArgMatches, Command, FromArgMatches};
use std::collections::BTreeMap;
use std::marker::PhantomData;
use std::path::Path;

/// Arguments of `add`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass add reading --at 2026-03-01T08:00+00:00 --radar S-band --quantity transmit --hours 3121
  halfglass add fitting --at 2026-03-01T08:00+00:00 --radar S-band --part magnetron --serial B-2207 \\
      --counter-zeroed yes --removed-serial B-1950 --removed-because limit
  halfglass add work --help                   an example of each kind stands in its own help

Times are written as in the files: with their offset from UTC, or by the ship's clock once that is
known (`halfglass import zones FILE`), also as a bare date, or as two times with a slash between.

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
    Reading(Written<Reading>),
    /// A part put in
    Fitting(Written<Fitting>),
    /// Work without a renewal: paint, grease, an inspection
    Work(Written<Work>),
    /// A renewal put off, with leave
    Deferral(Written<Deferral>),
    /// What was found out about a finding: it stays closed until there is new evidence
    Answer(Written<Answer>),
    /// A measurement of a part's state: tube current, performance monitor, tuning
    Condition(Written<Condition>),
    /// A logger exchanged: from then on another one watches the radar
    Logger(Written<LoggerExchange>),
    /// The offset from UTC that the ship's clock had from some instant on
    Zone(Written<Zone>),
    /// A stretch of the voyage, past or planned
    Leg(Written<Leg>),
    /// A stay in which work can be done
    Window(Written<Window>),
}

/// One kind of fact as written on the command line: an option for each of its columns, and --corrects.
#[derive(Debug)]
pub struct Written<F> {
    texts: BTreeMap<&'static str, String>,
    corrects: Option<i64>,
    kind: PhantomData<F>,
}

/// Runs it.
///
/// # Errors
/// A field is wrong, or the ship folder cannot be used; nothing was added.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    match &args.what {
        What::Reading(written) => written.add(&folder).map(drop)?,
        What::Fitting(written) => explain(&written.add(&folder)?),
        What::Work(written) => written.add(&folder).map(drop)?,
        What::Deferral(written) => written.add(&folder).map(drop)?,
        What::Answer(written) => written.add(&folder).map(drop)?,
        What::Condition(written) => written.add(&folder).map(drop)?,
        What::Logger(written) => written.add(&folder).map(drop)?,
        What::Zone(written) => written.add(&folder).map(drop)?,
        What::Leg(written) => written.add(&folder).map(drop)?,
        What::Window(written) => written.add(&folder).map(drop)?,
    }
    Ok(Outcome::Fine)
}

/// A part that was not new when it was put in is the one thing that no record can tell later.
fn explain(fact: &Fitting) {
    if fact.hours_at_fit.is_none() {
        println!(
            "It counts as new when put in. If it was not, add it again with --hours-at-fit and --corrects."
        );
    }
}

impl<F: Kind> Written<F> {
    fn add(&self, folder: &Folder) -> Result<F> {
        let settings = folder.settings()?;
        let mut store = Store::open(&folder.store_path())?;
        let fact = F::check(self, &Known { settings: &settings, clock: &store.clock()? })?;
        let (number, new) = store.add(&fact, self.corrects)?;
        let state = if new { "kept" } else { "was here already" };
        println!("The {} {state}; its number is {number}.", F::NAME);
        if !fact.at().is_exact() {
            println!("Its time is kept as {} UTC.", fact.at().minute());
        }
        if lies_ahead(&fact, time::now_ms()) {
            eprintln!("halfglass: {}.", ahead(&fact));
        }
        Ok(fact)
    }
}

impl<F> Fields for Written<F> {
    fn text(&self, field: &str) -> &str {
        self.texts.get(field).map_or("", |text| text.trim())
    }

    fn error(&self, field: &str, what: &str) -> Error {
        Error::input(format!("--{}: {what}", option(field)), "Nothing was added.")
    }
}

/// A column's name as an option.
fn option(column: &str) -> String {
    column.replace('_', "-")
}

impl<F: Kind> clap::Args for Written<F> {
    fn augment_args(command: Command) -> Command {
        let options = F::COLUMNS.iter().map(|column| {
            Arg::new(column.name)
                .long(option(column.name))
                .value_name(column.takes)
                .help(column.help)
                .required(column.needed)
                .allow_hyphen_values(column.signed)
        });
        let corrects = Arg::new("corrects")
            .long("corrects")
            .value_name("NUMBER")
            .help(format!("The number of the {} that this one corrects", F::NAME))
            .value_parser(clap::value_parser!(i64));
        command.args(options).arg(corrects).after_help(format!("Example:\n  halfglass {}", F::EXAMPLE))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl<F: Kind> FromArgMatches for Written<F> {
    fn from_arg_matches(matches: &ArgMatches) -> std::result::Result<Self, clap::Error> {
        let texts = F::COLUMNS.iter().filter_map(|column| {
            matches.get_one::<String>(column.name).map(|text| (column.name, text.clone()))
        });
        let corrects = matches.get_one::<i64>("corrects").copied();
        Ok(Written { texts: texts.collect(), corrects, kind: PhantomData })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> std::result::Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}
