//! `halfglass import`: files into the ship folder, each wholly or not at all.

use super::Outcome;
use crate::ship::{Folder, facts};
use crate::store::{Kind, Store};
use crate::{Error, Result};
use std::path::{Path, PathBuf};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass import dump 3f9c11d2a07be458-0-812.hgd
  halfglass import readings readings.csv      at,radar,quantity,hours and, if wanted, source,by
  halfglass import fittings fittings.csv      at,radar,part,serial,counter_zeroed and, if wanted,
                                              zeroed_at,counter_before,counter_after,hours_at_fit,
                                              removed_serial,removed_because,by

Times carry their offset from UTC, for instance 2026-03-01T08:00+00:00. Importing twice changes nothing.")]
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
    Readings {
        /// A CSV file
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Parts put in
    Fittings {
        /// A CSV file
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

/// Runs it.
///
/// # Errors
/// The file, the ship folder or the database cannot be used; nothing was imported.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    match &args.what {
        What::Dump { file } => {
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
        }
        What::Readings { file } => add_all(&folder, &facts::readings(file, &folder.settings()?)?)?,
        What::Fittings { file } => add_all(&folder, &facts::fittings(file, &folder.settings()?)?)?,
    }
    Ok(Outcome::Fine)
}

fn add_all<F: Kind>(folder: &Folder, facts: &[F]) -> Result<()> {
    let new = Store::open(&folder.store_path())?.add_all(facts)?;
    println!("{} {}s in the file, {new} new.", facts.len(), F::NAME);
    Ok(())
}
