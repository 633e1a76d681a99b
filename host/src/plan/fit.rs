//! Whether a window can hold a work, and several works together; if not, why.
//!
//! Only the time in which the ship is surely there counts: from the latest instant at which the stay may begin to the
//! earliest at which it may end. Works on one radar are done one after the other under one isolation, so their hours add up.
//! Two radars are opened one after the other, so theirs add up too: the ship is never without both. A work aloft ends on
//! the day on which it began: the hours aloft of one radar fit into one day's light.

use super::{Spare, Window, Work};
use std::cmp::Reverse;

pub(super) const HOUR_MS: f64 = 3_600_000.0;
const DAY_MS: i64 = 86_400_000;

/// Why a window cannot hold a work.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// The call was cancelled: its chance is 0.
    Cancelled,
    /// Nobody may go aloft there.
    NoAloft,
    /// The set may not transmit there, so it cannot be run up.
    NoTransmission,
    /// Nobody said whether it may.
    TransmissionUnknown,
    /// Nobody said how long the work takes.
    WorkHoursUnknown,
    /// The time is shorter than the work; both in hours.
    TooShort {
        /// What the ship surely lies there for, from now and from the spare's coming on.
        there_h: f64,
        /// What the work takes.
        needed_h: f64,
    },
    /// Nobody said how long it is light.
    DaylightUnknown,
    /// The light of a day is shorter than the work.
    NoDaylight {
        /// The most light of one day that falls into the time, in hours.
        light_h: f64,
        /// What the work takes.
        needed_h: f64,
    },
    /// No spare is aboard, and none can be delivered there.
    NoSpare,
    /// No spare is aboard, and nobody said how long one takes to come.
    LeadTimeUnknown,
    /// The spare comes only when the ship has left.
    SpareTooLate {
        /// When it can be there.
        there_ms: i64,
    },
}

/// How a spare gets to a work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Source {
    /// It is aboard by then.
    Aboard,
    /// It is delivered in the window of this index.
    Delivered(usize),
}

/// What one radar takes of a window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Load {
    pub(super) radar: usize,
    pub(super) ready_ms: i64,
    pub(super) work_ms: i64,
    pub(super) aloft_ms: i64,
}

/// A work in a window that can hold it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Usable {
    /// The first instant at which it can begin.
    pub(super) ready_ms: i64,
    pub(super) source: Source,
}

pub(super) fn hours_to_ms(hours: f64) -> i64 {
    (hours * HOUR_MS).round() as i64
}

/// Whether a window holds a work on its own; all reasons if not.
pub(super) fn usable(windows: &[Window], at: usize, work: &Work, as_of_ms: i64) -> Result<Usable, Vec<Why>> {
    let Some(window) = windows.get(at) else { return Err(vec![Why::Cancelled]) };
    let mut why = Vec::new();
    if window.chance.is_some_and(|chance| chance <= 0.0) {
        why.push(Why::Cancelled);
    }
    if work.needs_aloft && !window.aloft {
        why.push(Why::NoAloft);
    }
    match window.transmit {
        Some(true) => {}
        Some(false) => why.push(Why::NoTransmission),
        None => why.push(Why::TransmissionUnknown),
    }
    let begin_ms = window.sure_from_ms.max(as_of_ms);
    let spare = spare(windows, at, work, as_of_ms);
    let (ready_ms, source) = match &spare {
        Ok((there_ms, source)) => (begin_ms.max(*there_ms), Some(*source)),
        Err(_) => (begin_ms, None),
    };
    why.extend(spare.err());
    match work.work_h {
        None => why.push(Why::WorkHoursUnknown),
        Some(work_h) => why.extend(too_short(window, ready_ms, work_h, work.needs_aloft)),
    }
    match source {
        Some(source) if why.is_empty() => Ok(Usable { ready_ms, source }),
        _ => Err(why),
    }
}

fn too_short(window: &Window, ready_ms: i64, work_h: f64, needs_aloft: bool) -> Option<Why> {
    let work_ms = hours_to_ms(work_h);
    let there_ms = window.sure_to_ms.saturating_sub(ready_ms).max(0);
    if there_ms < work_ms {
        return Some(Why::TooShort { there_h: there_ms as f64 / HOUR_MS, needed_h: work_h });
    }
    if !needs_aloft {
        return None;
    }
    let Some(daylight_h) = window.daylight_h else { return Some(Why::DaylightUnknown) };
    let longest_ms = light(window, daylight_h, ready_ms).into_iter().max().unwrap_or(0);
    (longest_ms < work_ms).then(|| Why::NoDaylight { light_h: longest_ms as f64 / HOUR_MS, needed_h: work_h })
}

/// When a spare is there, and how. From aboard, or delivered in the window itself, or in an earlier one that is sure.
fn spare(windows: &[Window], at: usize, work: &Work, as_of_ms: i64) -> Result<(i64, Source), Why> {
    let Some(window) = windows.get(at) else { return Err(Why::NoSpare) };
    if let Some(Spare { from_ms, .. }) = work.spare
        && from_ms < window.sure_to_ms
    {
        return Ok((from_ms, Source::Aboard));
    }
    let Some(lead_days) = work.lead_time_days else { return Err(Why::LeadTimeUnknown) };
    let there_ms = as_of_ms.saturating_add(i64::from(lead_days) * DAY_MS);
    let delivers = |(from, window): &(usize, &Window)| {
        let before = window.sure_to_ms <= windows.get(at).map_or(i64::MIN, |own| own.sure_from_ms);
        let sure = window.chance.is_none_or(|chance| chance >= 1.0);
        window.deliver == Some(true) && there_ms < window.sure_to_ms && (*from == at || before && sure)
    };
    // Of those that let the work begin first the latest, so that the order can wait longest.
    let begin_ms = window.sure_from_ms.max(as_of_ms);
    let first = windows.iter().enumerate().filter(delivers).min_by_key(|(from, deliverer)| {
        (deliverer.sure_from_ms.max(there_ms).max(begin_ms), Reverse(deliverer.sure_from_ms), *from)
    });
    match first.map(|(from, deliverer)| (deliverer.sure_from_ms.max(there_ms), from)) {
        Some((there_ms, from)) => Ok((there_ms, Source::Delivered(from))),
        None if window.deliver == Some(true) => Err(Why::SpareTooLate { there_ms }),
        None => Err(Why::NoSpare),
    }
}

/// Whether a window holds what several radars, or several works on one, take of it.
pub(super) fn holds(window: &Window, loads: &[Load]) -> bool {
    let mut radars: Vec<Load> = Vec::with_capacity(loads.len());
    for load in loads {
        match radars.iter_mut().find(|radar| radar.radar == load.radar) {
            Some(radar) => {
                radar.ready_ms = radar.ready_ms.max(load.ready_ms);
                radar.work_ms = radar.work_ms.saturating_add(load.work_ms);
                radar.aloft_ms = radar.aloft_ms.saturating_add(load.aloft_ms);
            }
            None => radars.push(*load),
        }
    }
    // One after the other, first what is ready first: no other order is done earlier.
    radars.sort_by_key(|radar| radar.ready_ms);
    let done_ms = radars
        .iter()
        .fold(i64::MIN, |done_ms, radar| done_ms.max(radar.ready_ms).saturating_add(radar.work_ms));
    if done_ms > window.sure_to_ms {
        return false;
    }
    let mut aloft: Vec<i64> = radars.iter().map(|radar| radar.aloft_ms).filter(|ms| *ms > 0).collect();
    if aloft.is_empty() {
        return true;
    }
    let Some(daylight_h) = window.daylight_h else { return false };
    let ready_ms = radars.iter().filter(|radar| radar.aloft_ms > 0).map(|radar| radar.ready_ms).max();
    let mut days = light(window, daylight_h, ready_ms.unwrap_or(window.sure_from_ms));
    aloft.sort_unstable_by_key(|ms| Reverse(*ms));
    days.sort_unstable_by_key(|ms| Reverse(*ms));
    // More days than works help no more than as many: the longest are the ones to take.
    days.truncate(aloft.len());
    packs(&aloft, &mut days)
}

/// How long it is light on each day between an instant and the window's end, in milliseconds.
fn light(window: &Window, daylight_h: f64, from_ms: i64) -> Vec<i64> {
    let (light_ms, to_ms) = (hours_to_ms(daylight_h), window.sure_to_ms);
    let span_ms = to_ms.saturating_sub(from_ms).max(0);
    if light_ms >= DAY_MS {
        return vec![span_ms];
    }
    match &window.noons_ms {
        Some(noons_ms) => {
            let day = |noon_ms: &i64| {
                let dawn_ms = noon_ms.saturating_sub(light_ms / 2);
                dawn_ms.saturating_add(light_ms).min(to_ms).saturating_sub(dawn_ms.max(from_ms)).max(0)
            };
            noons_ms.iter().map(day).collect()
        }
        // Which hours are light is not known: the officer is told to look.
        None => {
            let whole = usize::try_from(span_ms / DAY_MS).unwrap_or(0).min(LIGHT_DAYS_MAX);
            let mut days = vec![light_ms; whole];
            days.push(light_ms.min(span_ms % DAY_MS));
            days
        }
    }
}

/// More days than this are never needed: nobody opens more radars in one stay.
const LIGHT_DAYS_MAX: usize = 400;

/// Whether pieces, longest first, go into bins, each into one.
fn packs(pieces: &[i64], bins: &mut [i64]) -> bool {
    let Some((piece, rest)) = pieces.split_first() else { return true };
    if pieces.iter().sum::<i64>() > bins.iter().sum() {
        return false;
    }
    for at in 0..bins.len() {
        let room = bins.get(at).copied().unwrap_or(0);
        // A bin as full as one before it gives nothing new.
        if room < *piece || bins.iter().take(at).any(|before| *before == room) {
            continue;
        }
        if let Some(bin) = bins.get_mut(at) {
            *bin -= piece;
        }
        let done = packs(rest, bins);
        if let Some(bin) = bins.get_mut(at) {
            *bin += piece;
        }
        if done {
            return true;
        }
    }
    false
}
