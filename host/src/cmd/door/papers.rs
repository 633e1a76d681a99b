//! What people wrote about one radar, as the room that reconciles is told it.

use crate::reconcile::{Fitting, Part, Reading, When, Work};
use crate::ship::{Settings, facts};
use crate::store::{Facts, Kept};
use crate::time::{self, Moment};
use crate::timeline::Logger;
use halfglass_protocol::config::Role;

/// A time of something that had happened by then.
fn when(moment: Moment, as_of_ms: i64) -> When {
    When { lo_ms: moment.lo_ms(), hi_ms: moment.hi_ms().min(as_of_ms).max(moment.lo_ms()) }
}

/// Figures copied from a radar's counters.
pub(super) fn readings(kept: &Facts, radar: &str, as_of_ms: i64) -> Vec<Reading> {
    let own = kept.readings.iter().filter(|kept| kept.fact.radar == radar);
    own.filter_map(|kept| reading(kept, as_of_ms)).collect()
}

/// One of them.
pub(in crate::cmd) fn reading(kept: &Kept<facts::Reading>, as_of_ms: i64) -> Option<Reading> {
    Some(Reading {
        id: kept.id,
        at: when(kept.fact.at, as_of_ms),
        quantity: Role::from_name(&kept.fact.quantity)?,
        hours: kept.fact.hours,
        source: kept.fact.source.clone(),
    })
}

/// Parts put into a radar.
pub(super) fn fittings(kept: &Facts, radar: &str, as_of_ms: i64) -> Vec<Fitting> {
    let own = kept.fittings.iter().filter(|kept| kept.fact.radar == radar);
    own.map(|kept| Fitting {
        id: kept.id,
        at: when(kept.fact.at, as_of_ms),
        part: kept.fact.part.clone(),
        serial: kept.fact.serial.clone(),
        counter_zeroed: kept.fact.counter_zeroed,
        // A zeroing that lies ahead has not happened yet.
        zeroed_at: kept.fact.zeroed_at.filter(|at| at.lo_ms() <= as_of_ms).map(|at| when(at, as_of_ms)),
        counter_before_h: kept.fact.counter_before,
        counter_after_h: kept.fact.counter_after,
        hours_at_fit_h: kept.fact.hours_at_fit,
    })
    .collect()
}

/// Work on a radar.
pub(super) fn works(kept: &Facts, radar: &str, as_of_ms: i64) -> Vec<Work> {
    let own = kept.works.iter().filter(|kept| kept.fact.radar == radar);
    own.map(|kept| Work {
        id: kept.id,
        from: when(kept.fact.from, as_of_ms),
        to: when(kept.fact.to, as_of_ms),
    })
    .collect()
}

/// The parts of a radar.
pub(super) fn parts(settings: &Settings, radar: &str) -> Vec<Part> {
    let own = settings.parts.iter().filter(|part| part.radar == radar);
    own.map(|part| Part { name: part.name.clone(), ages_by: part.ages_by, needs_aloft: part.needs_aloft })
        .collect()
}

/// When the oldest of the parts that are in a radar now was put in; `as_of_ms` if none is recorded.
pub(super) fn oldest_fitting_ms(kept: &Facts, radar: &str, as_of_ms: i64) -> i64 {
    let own = || kept.fittings.iter().map(|kept| &kept.fact).filter(|fitting| fitting.radar == radar);
    let replaced = |at_ms: i64, part: &str| own().any(|other| other.part == part && other.at_ms() > at_ms);
    let standing = own().filter(|fitting| !replaced(fitting.at_ms(), &fitting.part));
    standing.map(|fitting| fitting.at.lo_ms()).min().unwrap_or(as_of_ms)
}

/// What a logger's log lacks.
pub(super) fn log_notes(device_id: u64, logger: Option<&Logger>, as_of_ms: i64) -> Vec<String> {
    let Some(Logger { timeline, dating }) = logger else {
        return vec![format!("Nothing was pulled from logger {device_id:016x} yet: halfglass pull.")];
    };
    if !dating.is_anchored() {
        return vec![format!(
            "The clock of logger {device_id:016x} was never set against another, so its log cannot be placed: pull \
             it with a computer whose clock is right."
        )];
    }
    let mut notes = Vec::new();
    let first =
        timeline.points.first().map(|point| dating.when(point.totals.session, point.totals.uptime_tenths));
    if let Some(first) = first.filter(|first| first.best_ms() > as_of_ms) {
        notes.push(format!(
            "The log of logger {device_id:016x} begins later than that: on {} UTC.",
            time::minute(first.best_ms())
        ));
    }
    if !timeline.contradictions.is_empty() {
        let records: Vec<String> = timeline.contradictions.iter().map(ToString::to_string).collect();
        notes.push(format!(
            "The totals of logger {device_id:016x} fell at record {}: its memory is damaged or was changed. Keep it, \
             and do not trust its hours alone.",
            records.join(", ")
        ));
    }
    let at_ms = |utc_ms: u64| i64::try_from(utc_ms).unwrap_or(i64::MAX);
    for (a, b, apart_ms) in dating.contradictions() {
        if at_ms(a.utc_ms.min(b.utc_ms)) <= as_of_ms {
            notes.push(format!(
                "Clock: the settings of logger {device_id:016x} at {} and {} UTC contradict each other by {:.0} s or \
                 more; one computer's clock was wrong. Times near them are held as uncertain by that much.",
                time::minute(at_ms(a.utc_ms)),
                time::minute(at_ms(b.utc_ms)),
                apart_ms as f64 / 1000.0
            ));
        }
    }
    notes
}
