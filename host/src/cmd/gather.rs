//! The door to the pages: every room's answer for one instant, gathered into one book.
//!
//! Report, card and handover know nothing but the book; where an answer comes from is decided here alone.

use super::door::lives::Hours;
use super::door::{self, AsOf, Asked, Foreseen};
use super::{plan as cmd_plan, reconcile as cmd_reconcile};
use crate::output::html::{Book, Health, Part, Renewal, Seen};
use crate::plan;
use crate::ship::Settings;
use crate::ship::facts::Fitting;
use crate::ship::settings::{self, Radar};
use crate::timeline::{Logger, Timeline};
use crate::wear::Wear;
use crate::{Error, Result};
use halfglass_protocol::record::{Cause, Damage};
use std::fs;
use std::path::{Path, PathBuf};

/// Gathers everything as of an instant.
///
/// # Errors
/// The ship folder cannot be read, or the date is no date.
pub(super) fn book(ship: &Path, as_of: &AsOf) -> Result<Book> {
    let asked = Asked::open(ship, as_of)?;
    let foreseen = asked.foreseen()?;
    let problem = cmd_plan::problem(&asked, &foreseen)?;
    let plan = plan::plan(&problem);
    let renewals = renewals(&asked.settings, &foreseen);
    let Foreseen { told, accounts, questions, answers } = foreseen;
    let (settings, as_of_ms) = (&asked.settings, asked.as_of_ms);
    let series = door::around::conditions(settings, &told, &door::around::limits_ms(&answers));

    let parts = questions.into_iter().zip(answers).map(|((part, question), due)| Part {
        settings: part.clone(),
        fitted_ms: question.fitting.map(|fitted| fitted.at.best_ms()),
        due,
        spares: door::spares::left(settings, &told.kept.fittings, part).into_iter().cloned().collect(),
    });
    let parts = parts.collect();

    let reconciled = cmd_reconcile::report(ship, &asked, accounts, &told);
    let watches = |radar: &Radar| told.kept.watches(&radar.name, radar.logger);
    let mut seen = Vec::new();
    for (radar, facts) in settings.radars.iter().zip(told.facts.radars) {
        let mut loggers = Vec::new();
        for watch in watches(radar) {
            let log = told.loggers.get(&watch.logger).and_then(Option::as_ref);
            loggers.push(Health {
                wear: Wear::of(&asked.store.sightings(watch.logger, as_of_ms)?),
                erases_rated: settings.erases_rated(watch.logger),
                ..health(watch.logger, log, as_of_ms)
            });
        }
        seen.push(Seen { told: facts, warm_up_s: radar.warm_up_s, loggers });
    }
    Ok(Book {
        ship: settings.ship.clone(),
        as_of_ms,
        reconciled,
        seen,
        parts,
        problem,
        plan,
        deferrals: told.kept.deferrals.iter().map(|kept| kept.fact.clone()).collect(),
        renewals,
        works: told.kept.works.iter().map(|kept| (kept.id, kept.fact.clone())).collect(),
        conditions: told.kept.conditions.iter().map(|kept| kept.fact.clone()).collect(),
        series,
    })
}

/// Each part put in, with the final hours of the one before it.
fn renewals(settings: &Settings, foreseen: &Foreseen<'_>) -> Vec<Renewal> {
    let fittings = &foreseen.told.kept.fittings;
    let same = |one: &Fitting, other: &Fitting| one.radar == other.radar && one.part == other.part;
    let old_h = |at: usize, fitting: &Fitting| {
        let is_of = |part: &settings::Part| part.radar == fitting.radar && part.name == fitting.part;
        let part = settings.parts.iter().position(is_of)?;
        let before = fittings.get(..at)?.iter().rev().find(|before| same(&before.fact, fitting))?;
        foreseen.at_removal(part, &before.fact, fitting.at_ms())
    };
    let all = fittings.iter().enumerate();
    all.map(|(at, kept)| Renewal {
        number: kept.id,
        old_h: old_h(at, &kept.fact),
        fitting: kept.fact.clone(),
    })
    .collect()
}

fn health(device_id: u64, logger: Option<&Logger>, as_of_ms: i64) -> Health {
    let mut health = Health { device_id, ..Health::default() };
    let Some(Logger { timeline, dating }) = logger else { return health };
    let pulled = dating.anchors().iter().filter_map(|anchor| i64::try_from(anchor.utc_ms).ok());
    health.pulled_ms = pulled.filter(|at_ms| *at_ms <= as_of_ms).max();
    let seen = |session: u32, uptime: u64| dating.when(session, uptime).best_ms() <= as_of_ms;
    for start in &timeline.sessions {
        if seen(start.session.session, start.session.uptime_tenths) {
            health.sessions += 1;
            health.too_short += start.skipped;
            health.faults += u32::from(matches!(start.session.cause, Cause::Watchdog | Cause::Fault));
        }
    }
    let before = |points: usize| point_seen(timeline, points, &seen);
    for (_, points, damage) in &timeline.damage {
        if !before(*points) {
            continue;
        }
        match damage {
            Damage::PageRetired { .. } => health.pages_retired += 1,
            Damage::HeadInvalid { .. } => health.heads_invalid += 1,
            Damage::WordsLost { words } => health.words_lost += u32::from(*words),
            Damage::ConfigLost => health.configs_lost += 1,
        }
    }
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    health.coalesced = count(timeline.coalesced.len());
    health.gaps = count(timeline.gaps.len());
    health.contradictions = count(timeline.contradictions.len());
    health
}

/// Whether the point before a record was made by then.
fn point_seen(timeline: &Timeline, points: usize, seen: &dyn Fn(u32, u64) -> bool) -> bool {
    let before = points.checked_sub(1).and_then(|at| timeline.points.get(at));
    before.is_none_or(|point| seen(point.totals.session, point.totals.uptime_tenths))
}

/// Where a page goes, and for which date it is.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct Page {
    /// Where to write it; `-` prints it; without it, into the ship folder
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// The date to answer for
    #[command(flatten)]
    pub as_of: AsOf,
}

/// Writes a page where it was asked for: into a file, into the ship folder under `name`, or to standard output (`-`).
/// `None`: it was printed.
///
/// # Errors
/// It cannot be written.
pub(super) fn deliver(ship: &Path, asked: &Page, name: &str, page: &str) -> Result<Option<PathBuf>> {
    let path = match &asked.out {
        Some(path) if path.as_os_str() == "-" => return crate::output::print(page).map(|()| None),
        Some(path) => path.clone(),
        None => ship.join(name),
    };
    fs::write(&path, page).map_err(|error| Error::file("write", &path, &error))?;
    Ok(Some(path))
}

/// A name as part of a file's: letters and digits, dashes between, and not too long for any system.
pub(super) fn file_name(name: &str) -> String {
    let mut plain = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_alphanumeric() {
            plain.push(c);
        } else if !plain.ends_with('-') {
            plain.push('-');
        }
        if plain.len() > 40 {
            break;
        }
    }
    let plain = plain.trim_matches('-');
    if plain.is_empty() { "unnamed".to_owned() } else { plain.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_s_name_is_plain_whatever_the_part_is_called() {
        assert_eq!(file_name("X-band"), "x-band");
        assert_eq!(file_name("../../etc/passwd"), "etc-passwd");
        assert_eq!(file_name("<script>alert('1')</script>"), "script-alert-1-script");
        assert_eq!(file_name("\u{202e}///"), "unnamed");
        assert!(file_name(&"ö".repeat(200)).len() <= 42);
    }
}
