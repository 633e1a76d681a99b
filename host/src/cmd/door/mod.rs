//! The door to the room that reconciles: what is kept becomes what that room is told.
//!
//! ```text
//!  store     records ──> timeline, dating ──> watched::log   what the loggers saw of each radar
//!            facts   ──────────────────────> papers          what people wrote about it
//!  ship.toml lines, parts
//!
//!  all of it, and what that room says ──> foreseen           what the room that foresees is asked
//!                                         └──> answers      what it says, deferrals beside it
//!                                                └──> around  spares, lives, conditions beside that
//! ```

mod answers;
pub(super) mod around;
mod asked;
mod conditions;
mod deferrals;
mod foreseen;
pub(super) mod lives;
mod papers;
mod spans;
pub(super) mod spares;
pub(super) mod stock;
mod watched;
pub(super) mod wiring;

pub(super) use asked::AsOf;
pub(super) use asked::{Asked, Foreseen, Reconciled};
pub(super) use papers::reading;

use crate::Result;
use crate::reconcile;
use crate::ship::Settings;
use crate::ship::settings::Radar;
use crate::store::{self, Store};
use crate::timeline::dating::Dating;
use crate::timeline::{Logger, Timeline, way};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use watched::{Starts, Stretch, Watched};
use wiring::Disagreement;

/// What the room is told, and what it need not know.
#[derive(Debug, Default)]
pub(super) struct Told {
    /// For the room.
    pub(super) facts: reconcile::Facts,
    /// Beside it, in the order of the radars.
    pub(super) beside: Vec<Beside>,
    /// Stretches in which she made way or made none, as her loggers tell them.
    pub(super) way: Vec<way::Stretch>,
    /// What people wrote, as it is kept.
    pub(super) kept: store::Facts,
    /// The logs of all loggers that ever watched a radar; `None` where nothing was pulled.
    pub(super) loggers: BTreeMap<u64, Option<Logger>>,
}

/// What is known of a radar's log beside the totals.
#[derive(Debug, Default)]
pub(super) struct Beside {
    /// Isolations by their beginning as the room names it, in milliseconds: the logger and its uptime at the time, in
    /// tenths. Unlike the date, those do not move when the clock is set again.
    pub(super) isolations: BTreeMap<i64, (u64, u64)>,
    /// How often its lines went on, for each point of its log.
    pub(super) starts: Vec<Starts>,
    /// Where ship.toml and the logger's own configuration differ.
    pub(super) wiring: Vec<Disagreement>,
    /// What is missing or was set aside, in sentences.
    pub(super) notes: Vec<String>,
}

/// Gathers everything as of an instant. `now_ms`: nothing recorded is younger.
///
/// # Errors
/// The ship's database cannot be read.
pub(super) fn told(settings: &Settings, store: &Store, as_of_ms: i64, now_ms: i64) -> Result<Told> {
    let kept = store.facts(as_of_ms)?;
    let watches = settings.radars.iter().flat_map(|radar| kept.watches(&radar.name, radar.logger));
    let loggers = loggers(store, watches.map(|watch| watch.logger), now_ms.max(as_of_ms))?;
    let mut told = Told {
        facts: reconcile::Facts { as_of_ms, radars: Vec::new() },
        beside: Vec::new(),
        way: Vec::new(),
        kept: store::Facts::default(),
        loggers: BTreeMap::new(),
    };
    for radar in &settings.radars {
        let watches = kept.watches(&radar.name, radar.logger);
        let stretches: Vec<Stretch<'_>> = watches
            .iter()
            .enumerate()
            .filter_map(|(at, watch)| {
                let logger = loggers.get(&watch.logger).and_then(Option::as_ref)?;
                let to = watches.get(at + 1).and_then(|next| next.from);
                Some(Stretch { device_id: watch.logger, logger, from: watch.from, to })
            })
            .collect();
        for stretch in &stretches {
            let told_way = way::stretches(&stretch.logger.timeline, &stretch.logger.dating);
            told.way.extend(told_way.into_iter().filter(|way| stretch.holds(way.from.best_ms())));
        }
        let Watched { log, starts, isolations, unwatched_h } =
            watched::log(&stretches, &radar.lines, as_of_ms);
        let mut beside = Beside { isolations, starts, ..Beside::default() };
        for watch in &watches {
            let logger = loggers.get(&watch.logger).and_then(Option::as_ref);
            beside.notes.extend(papers::log_notes(watch.logger, logger, as_of_ms));
        }
        if let Some(stretch) = stretches.last() {
            check_wiring(radar, stretch, &kept, as_of_ms, &mut beside);
        }
        // While no logger was there, the radar may have run, whatever fed the loggers.
        let fed_from_radar = radar.fed_from_radar && unwatched_h < UNWATCHED_MAX_H;
        told.facts.radars.push(reconcile::Radar {
            name: radar.name.clone(),
            step_h: radar.counter_step_h.unwrap_or(0.0),
            fed_from_radar,
            log,
            readings: papers::readings(&kept, &radar.name, as_of_ms),
            fittings: papers::fittings(&kept, &radar.name, as_of_ms),
            works: papers::works(&kept, &radar.name, as_of_ms),
            parts: papers::parts(settings, &radar.name),
        });
        told.beside.push(beside);
    }
    (told.kept, told.loggers) = (kept, loggers);
    Ok(told)
}

/// An exchange of loggers takes no longer than this, in hours; else what ran in between is unknown.
const UNWATCHED_MAX_H: f64 = 24.0;

/// Sets ship.toml against the logger's own configuration, for as long as the parts fitted now have been in.
fn check_wiring(
    radar: &Radar,
    stretch: &Stretch<'_>,
    kept: &store::Facts,
    as_of_ms: i64,
    beside: &mut Beside,
) {
    let since_ms = papers::oldest_fitting_ms(kept, &radar.name, as_of_ms);
    let Logger { timeline, dating } = stretch.logger;
    let when = |point: &crate::timeline::Point| dating.when(point.totals.session, point.totals.uptime_tenths);
    let seen = timeline.points.partition_point(|point| when(point).best_ms() <= as_of_ms);
    let before = timeline.points[..seen].iter().rfind(|point| when(point).hi_ms <= since_ms);
    let from_index = before.map_or(0, |point| point.index);
    let to_index = timeline.points.get(seen).map_or(u32::MAX, |point| point.index);
    match wiring::disagreements(timeline, &radar.lines, from_index, to_index) {
        Ok(found) => beside.wiring = found,
        Err(sentence) => beside.notes.push(format!("Wiring: {sentence}.")),
    }
}

/// The logs of loggers, each read once.
///
/// # Errors
/// The ship's database cannot be read.
fn loggers(
    store: &Store,
    device_ids: impl Iterator<Item = u64>,
    now_ms: i64,
) -> Result<BTreeMap<u64, Option<Logger>>> {
    let mut loggers = BTreeMap::new();
    for device_id in device_ids {
        if let Entry::Vacant(entry) = loggers.entry(device_id) {
            entry.insert(logger(store, device_id, now_ms)?);
        }
    }
    Ok(loggers)
}

/// A logger's log; `None` if nothing was pulled from it yet.
fn logger(store: &Store, device_id: u64, now_ms: i64) -> Result<Option<Logger>> {
    let records = store.records_and_later(device_id)?;
    if records.known.is_empty() {
        return Ok(None);
    }
    let timeline = Timeline::passing_over(&records.known, &records.later);
    // A record can be younger than this computer's clock says, but not younger than an anchor behind it.
    let anchors = timeline.anchors.iter().map(|anchor| anchor.utc_ms + u64::from(anchor.uncertainty_ms));
    let latest_ms = anchors.max().and_then(|ms| i64::try_from(ms).ok()).unwrap_or(now_ms);
    let dating = Dating::new(&timeline.anchors, now_ms.max(latest_ms));
    Ok(Some(Logger { timeline, dating }))
}
