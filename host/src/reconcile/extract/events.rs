//! What happened between figures: zeroings, exchanges, fittings that went otherwise than recorded, dark time.

use super::judge::judged_anywhere;
use super::{draft, path};
use crate::reconcile::chain::shown;
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Draft;
use crate::reconcile::events::{Event, Scale};
use crate::reconcile::facts::When;
use crate::reconcile::finding::{FactId, Kind};
use crate::reconcile::moves::{Fault, Law};
use crate::reconcile::say;

/// What happened between figures.
pub(super) fn events(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    for edge in path(told).filter(|edge| edge.to.0 < end && edge.event != Event::AsRecorded) {
        let Some((from, _)) = edge.from else { continue };
        // A figure that was passed over as sound still stood on the course before the event. What concerns a fitting lies
        // where the fitting does.
        let free = matches!(edge.event, Event::Zeroed | Event::Exchanged | Event::RanInDark);
        let passed = edge.aside.iter().rev().find(|(_, why)| free && why.is_sound()).map(|(k, _)| *k);
        let j = passed.unwrap_or(from);
        let i = edge.to.0;
        let kind = match edge.event {
            Event::AsRecorded => continue,
            Event::Zeroed => Kind::ZeroedWithoutFitting,
            Event::Exchanged => Kind::CounterExchanged,
            Event::NotZeroed(_) => Kind::FittedWithoutZeroing,
            Event::Contradicted(_) => Kind::RecordContradicted,
            Event::MisdatedHere(_) | Event::MisdatedAway(_) => Kind::FittingMisdated,
            Event::RanInDark => Kind::DarkGap,
        };
        let mut draft = draft(told, kind, counter.seen[j].at, counter.seen[i].at);
        (draft.probability, draft.instead) = judged_anywhere(told, from, i, kind);
        if edge.event == Event::RanInDark {
            // Where the log cannot place a figure, it may have run in the dark before it or behind it.
            let (first, last, probability) = dark_between(told, from, i);
            (draft.from_ms, draft.to_ms) = (counter.seen[first].at.lo_ms, counter.seen[last].at.hi_ms);
            draft.probability = probability.max(draft.probability);
        }
        draft.fitting = match edge.event {
            Event::NotZeroed(at)
            | Event::Contradicted(at)
            | Event::MisdatedHere(at)
            | Event::MisdatedAway(at) => counter.fits.get(at).map(|fit| fit.id),
            _ => None,
        };
        draft.provisional = i + 1 == end && kind != Kind::DarkGap;
        draft.facts = vec![counter.seen[j].fact, counter.seen[i].fact];
        draft.facts.extend(draft.fitting.map(FactId::Fitting));
        let (from, to) = told.histories.states_of(edge);
        if let (Some(from), Some(to)) = (from, to) {
            let before = if passed.is_some() {
                shown(counter, j, Scale::Hours, None)
            } else {
                shown(counter, j, from.scale, from.swap)
            };
            let after = shown(counter, i, to.scale, to.swap);
            let moves = counter.moves(j, i);
            let law = counter.laws[from.law].0;
            let expected = moves.range(law, Fault::None, !counter.fed);
            draft.evidence.push(say::moved(counter, (j, before.hours), (i, after.hours), expected));
            let zeroed = matches!(kind, Kind::ZeroedWithoutFitting | Kind::CounterExchanged)
                && law == Law::Own
                && after.hours <= moves.range(law, Fault::None, true).1 + 0.5;
            draft.from_zero_ms =
                if zeroed { zeroed_between(told, j, i, after.hours, after.width_h) } else { None };
            if kind == Kind::ZeroedWithoutFitting
                && let Some((from_ms, to_ms)) = draft.from_zero_ms
            {
                draft.from_ms = from_ms.max(draft.from_ms);
                draft.to_ms = to_ms.min(draft.to_ms);
                draft.evidence.push(say::zeroed_between(draft.from_ms, draft.to_ms));
            }
            if kind == Kind::DarkGap {
                draft.evidence.push(say::dark(moves.dark_h()));
            }
        }
        found.push(draft);
    }
}

/// Less than this is not worth a wider window.
const MAYBE: f64 = 0.05;

/// From which figure to which a radar may have run in the dark, around the stretch from `j` to `i`, and how likely it did.
fn dark_between(told: &Told, j: usize, i: usize) -> (usize, usize, f64) {
    let in_dark = |gap: usize| {
        let ways = told.histories.covering(gap).filter(|edge| edge.event == Event::RanInDark);
        ways.map(|edge| edge.share).sum::<f64>()
    };
    let (mut first, mut last) = (j, i);
    while first > 0 && in_dark(first) > MAYBE {
        first -= 1;
    }
    while last + 1 < told.counter.seen.len() && in_dark(last + 1) > MAYBE {
        last += 1;
    }
    let ways = told.histories.leading_to(first + 1..=last);
    let sum: f64 = ways.iter().filter(|edge| edge.event == Event::RanInDark).map(|edge| edge.share).sum();
    (first, last, sum.min(1.0))
}

/// Between which instants a counter must have been zeroed to show `after_h` at figure `i`.
fn zeroed_between(told: &Told, j: usize, i: usize, after_h: f64, width_h: f64) -> Option<(i64, i64)> {
    let counter = &told.counter;
    let (from_ms, to_ms) = (counter.seen[j].at.lo_ms, counter.seen[i].at.hi_ms);
    let moved = |at_ms: i64| {
        let at = When { lo_ms: at_ms, hi_ms: at_ms };
        counter.watch.growth(counter.role, &counter.watch.mark(at), &counter.seen[i].mark)
    };
    // The later it was, the less it has moved since: halve until the bounds stand.
    let search = |reached: &dyn Fn(i64) -> bool| {
        let (mut low, mut high) = (from_ms, to_ms);
        while high - low > 60_000 {
            let middle = low + (high - low) / 2;
            if reached(middle) { low = middle } else { high = middle }
        }
        low
    };
    let earliest = search(&|at| {
        let growth = moved(at);
        growth.logged.low > after_h + width_h + 0.5
    });
    let latest = search(&|at| {
        let growth = moved(at);
        growth.logged.high + growth.dark_h + growth.unseen_h > after_h - 0.5
    });
    (latest >= earliest).then_some((earliest, latest + 60_000))
}
