//! `halfglass show`: what a dump, or the ship folder, holds.

use super::Outcome;
use crate::output;
use crate::output::screen::Screen;
use crate::output::show::{Contents, Held, Holdings, Listed};
use crate::ship::Folder;
use crate::ship::facts::{
    Answer, Condition, Deferral, Fitting, Leg, LoggerExchange, Reading, Window, Work, Zone,
};
use crate::ship::settings::parse_device;
use crate::store::{Kind, Store, read_dump};
use crate::time;
use crate::timeline::Timeline;
use crate::timeline::dating::Dating;
use crate::wear::Wear;
use crate::{Error, Result};
use halfglass_protocol::record::Record;
use std::path::{Path, PathBuf};

/// Arguments of `show`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass show dumps/3f9c11d2a07be458-0-812.hgd     what the dump holds
  halfglass show                                      what the ship folder holds, facts with their numbers")]
pub struct Args {
    /// A dump; without it, the ship folder is shown
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// Runs it.
///
/// # Errors
/// The dump is not sound, or the ship folder cannot be read.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    match &args.file {
        Some(file) => show_dump(file, args.json),
        None => show_folder(ship, args.json),
    }
}

fn show_dump(file: &Path, json: bool) -> Result<Outcome> {
    let bytes = std::fs::read(file).map_err(|error| Error::file("read", file, &error))?;
    let dump = read_dump(&bytes, &file.display().to_string())?;
    let records: Vec<_> = dump.records().filter_map(|(index, record)| Some((index, record?))).collect();
    let is_later = |(_, bytes): &(u32, &[u8])| Record::is_of_later_version(bytes);
    let later: Vec<u32> = dump.raw_records().filter(is_later).map(|(index, _)| index).collect();
    let timeline = Timeline::passing_over(&records, &later);
    let now_ms = timeline.anchors.iter().filter_map(|anchor| i64::try_from(anchor.utc_ms).ok()).max();
    let dating = Dating::new(&timeline.anchors, now_ms.unwrap_or(0).max(time::now_ms()));
    let lost = dump.raw_records().filter(|(_, bytes)| bytes.is_empty()).count();
    let not_known = later.len();
    let contents = Contents { header: dump.header, lost, not_known, timeline: &timeline, dating: &dating };
    if json {
        output::print(&output::show::dump_json(&contents))?;
    } else {
        output::print_text(&output::show::dump_text(&contents, Screen::of_stdout()))?;
    }
    Ok(Outcome::Fine)
}

fn show_folder(ship: &Path, json: bool) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let store = Store::open(&folder.store_path())?;
    let kinds = vec![
        listed::<Reading>(&store)?,
        listed::<Fitting>(&store)?,
        listed::<Work>(&store)?,
        listed::<Condition>(&store)?,
        listed::<Answer>(&store)?,
        listed::<Deferral>(&store)?,
        listed::<LoggerExchange>(&store)?,
        listed::<Leg>(&store)?,
        listed::<Window>(&store)?,
        listed::<Zone>(&store)?,
    ];
    let holdings = Holdings { loggers: held(&folder, &store)?, kinds };
    if json {
        output::print(&output::show::folder_json(&holdings))?;
    } else {
        output::print_text(&output::show::folder_text(&holdings, Screen::of_stdout()))?;
    }
    Ok(Outcome::Fine)
}

fn held(folder: &Folder, store: &Store) -> Result<Vec<Held>> {
    // What is held can be shown whatever is wrong with ship.toml.
    let settings = folder.settings().ok();
    let held = store.loggers()?.into_iter().map(|(device, dumps, records)| {
        let id = parse_device(&device).ok();
        let sightings = id.map(|id| store.sightings(id, i64::MAX)).transpose()?.unwrap_or_default();
        let erases_rated = settings.as_ref().zip(id).and_then(|(settings, id)| settings.erases_rated(id));
        Ok(Held { device, dumps, records, wear: Wear::of(&sightings), erases_rated })
    });
    held.collect()
}

fn listed<F: Kind>(store: &Store) -> Result<Listed> {
    Ok(Listed::of(&store.standing::<F>()?))
}
