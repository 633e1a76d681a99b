//! `halfglass import`: files into the ship folder, each wholly or not at all.

use super::Outcome;
use crate::output;
use crate::ship::Folder;
use crate::ship::facts::{
    self, Answer, Condition, Deferral, Fitting, Known, Leg, LoggerExchange, Reading, Window, Work, Zone,
};
use crate::store::{Kind, Store};
use crate::time;
use crate::{Error, Result};
use clap::{ArgMatches, FromArgMatches};
use std::marker::PhantomData;
use std::path::{Path, PathBuf};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass import zones zones.csv            first of all, if the other files hold local times
  halfglass import dump 3f9c11d2a07be458-0-812.hgd
  halfglass import readings readings.csv
  halfglass import readings --help            the columns of the file, and what stands in them

Times carry their offset from UTC, for instance 2026-03-01T08:00+00:00. Once the zones are imported,
local times (2026-03-01T08:00) and bare dates (2026-03-01: some time on that day) are understood too;
so is a time that is only known to lie between two: 2026-03-01/2026-03-03. What was meant is kept in
UTC, so zones that are imported later change nothing that is here. Importing twice changes nothing.")]
pub struct Args {
    /// What the file is
    #[command(subcommand)]
    pub what: What,
}

/// What can be imported.
#[derive(Debug, clap::Subcommand)]
pub enum What {
    /// A dump of a logger, written by `pull` or `simulate`
    Dump {
        /// The dump
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Readings of the radars' own hour counters
    Readings(CsvFile<Reading>),
    /// Parts put in
    Fittings(CsvFile<Fitting>),
    /// Measurements of a part's state: tube current, performance monitor, tuning
    Conditions(CsvFile<Condition>),
    /// The ship's clock: which offset from UTC it had from when on
    Zones(CsvFile<Zone>),
    /// The voyage, past and planned: at sea, in port, at anchor
    Legs(CsvFile<Leg>),
    /// Stays in which work can be done
    Windows(CsvFile<Window>),
    /// Work without a renewal: paint, grease, an inspection
    Works(CsvFile<Work>),
    /// What was found out about findings
    Answers(CsvFile<Answer>),
    /// Renewals put off, with leave
    Deferrals(CsvFile<Deferral>),
    /// Loggers exchanged
    Loggers(CsvFile<LoggerExchange>),
}

/// A CSV file of one kind of fact. Its help lists the kind's columns.
#[derive(Debug)]
pub struct CsvFile<F> {
    file: PathBuf,
    kind: PhantomData<F>,
}

/// Runs it.
///
/// # Errors
/// The file, the ship folder or the database cannot be used; nothing was imported.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    match &args.what {
        What::Dump { file } => dump(&folder, file)?,
        What::Readings(file) => file.import(&folder)?,
        What::Fittings(file) => file.import(&folder)?,
        What::Conditions(file) => file.import(&folder)?,
        What::Zones(file) => file.import(&folder)?,
        What::Legs(file) => file.import(&folder)?,
        What::Windows(file) => file.import(&folder)?,
        What::Works(file) => file.import(&folder)?,
        What::Answers(file) => file.import(&folder)?,
        What::Deferrals(file) => file.import(&folder)?,
        What::Loggers(file) => file.import(&folder)?,
    }
    Ok(Outcome::Fine)
}

fn dump(folder: &Folder, file: &Path) -> Result<()> {
    let bytes = std::fs::read(file).map_err(|error| Error::file("read", file, &error))?;
    let mut store = Store::open(&folder.store_path())?;
    let imported = store.import_dump(&bytes, &file.display().to_string())?;
    let header = imported.header;
    if imported.known {
        println!("This dump was here already: nothing changed.");
    } else {
        println!(
            "Logger {:016x}: {} records, {} new.",
            header.device_id,
            header.to - header.from,
            imported.records_new
        );
    }
    if imported.not_known > 0 {
        println!("{}", output::not_known(imported.not_known as usize));
    }
    Ok(())
}

/// Whether a fact tells of something that cannot have been yet.
pub(super) fn lies_ahead<F: Kind>(fact: &F, now_ms: i64) -> bool {
    !F::MAY_LIE_AHEAD && fact.at().lo_ms() > now_ms
}

/// What to say of such a fact.
pub(super) fn ahead<F: Kind>(fact: &F) -> String {
    format!(
        "this {} lies ahead ({} UTC, by this computer's clock): it is kept, and not seen until then",
        F::NAME,
        fact.at().minute()
    )
}

impl<F: Kind> CsvFile<F> {
    fn import(&self, folder: &Folder) -> Result<()> {
        let settings = folder.settings()?;
        let mut store = Store::open(&folder.store_path())?;
        let known = Known { settings: &settings, clock: &store.clock()? };
        let lines = facts::read_lines::<F>(&self.file, &known)?;
        let now_ms = time::now_ms();
        for (line, fact) in lines.iter().filter(|(_, fact)| lies_ahead(fact, now_ms)) {
            eprintln!("halfglass: {}, line {line}: {}", self.file.display(), ahead(fact));
        }
        let facts: Vec<F> = lines.into_iter().map(|(_, fact)| fact).collect();
        let new = store.add_all(&facts)?;
        println!("{} {}s in the file, {new} new.", facts.len(), F::NAME);
        Ok(())
    }
}

impl<F: Kind> clap::Args for CsvFile<F> {
    fn augment_args(command: clap::Command) -> clap::Command {
        let file = clap::Arg::new("file")
            .value_name("FILE")
            .help("A CSV file with a header row (RFC 4180)")
            .required(true)
            .value_parser(clap::value_parser!(PathBuf));
        let width = F::COLUMNS.iter().map(|column| column.name.len()).max().unwrap_or(0);
        let mut columns = String::from("Columns, in any order:\n");
        for column in F::COLUMNS {
            let wanted = if column.needed { "" } else { " (optional)" };
            columns.push_str(&format!("  {:width$}  {}{wanted}\n", column.name, column.help));
        }
        command.arg(file).after_help(columns)
    }

    fn augment_args_for_update(command: clap::Command) -> clap::Command {
        Self::augment_args(command)
    }
}

impl<F: Kind> FromArgMatches for CsvFile<F> {
    fn from_arg_matches(matches: &ArgMatches) -> std::result::Result<Self, clap::Error> {
        let file = matches.get_one::<PathBuf>("file").cloned();
        let file = file.ok_or_else(|| clap::Error::new(clap::error::ErrorKind::MissingRequiredArgument))?;
        Ok(CsvFile { file, kind: PhantomData })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> std::result::Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}
