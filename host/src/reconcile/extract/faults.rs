//! Faults of the logger's line, as a counter tells of them: which, and when.

use super::judge::judged;
use super::{draft, path};
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Draft;
use crate::reconcile::facts::{When, place};
use crate::reconcile::finding::{Instead, Kind};
use crate::reconcile::moves::{Fault, Law};
use crate::reconcile::say;
use crate::timeline::hours_between;
use halfglass_protocol::config::Role;

/// Faults of the logger's line: neighbouring stretches with one fault are one finding.
pub(super) fn faults(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    let mut open: Option<(Fault, usize, usize, f64, Option<Instead>)> = None;
    let mut close = |open: &mut Option<(Fault, usize, usize, f64, Option<Instead>)>| {
        let Some((fault, j, i, probability, instead)) = open.take() else { return };
        let moves = counter.moves(j, i);
        let kind = match fault {
            Fault::Over => Kind::LineStuck,
            _ => under_kind(told, j, i),
        };
        let mut draft = draft(told, kind, counter.seen[j].at, counter.seen[i].at);
        // The fault is of the line that the counter follows.
        let law = path(told)
            .find(|edge| edge.to.0 == i)
            .and_then(|edge| told.histories.states_of(edge).1)
            .map_or(Law::Own, |state| counter.laws[state.law].0);
        if let Law::Line(role) = law {
            draft.line = Some(role);
        }
        if let Some((from_ms, to_ms)) = fault_span(told, kind, j, i) {
            draft.from_ms = from_ms.max(draft.from_ms);
            draft.to_ms = to_ms.min(draft.to_ms);
        }
        draft.probability = probability;
        draft.instead = instead;
        draft.provisional = i + 1 >= end && j + 1 >= i;
        draft.facts = vec![counter.seen[j].fact, counter.seen[i].fact];
        let expected = moves.range(Law::Own, Fault::None, !counter.fed);
        draft.evidence.push(say::moved(
            counter,
            (j, counter.seen[j].hours),
            (i, counter.seen[i].hours),
            expected,
        ));
        draft.evidence.push(say::fault(counter.role, kind, &moves));
        found.push(draft);
    };
    for edge in path(told) {
        let fault = told.histories.fault_on(edge);
        let (Some((j, _)), i) = (edge.from, edge.to.0.min(end - 1)) else { continue };
        if fault == Fault::None || edge.to.0 == end {
            close(&mut open);
            continue;
        }
        let kind = if fault == Fault::Over { Kind::LineStuck } else { Kind::LineIntermittent };
        let (probability, instead) = judged(told, i, kind);
        match &mut open {
            Some((is, _, last, likely, other)) if *is == fault && *last == j => {
                *last = i;
                if probability > *likely {
                    (*likely, *other) = (probability, instead);
                }
            }
            _ => {
                close(&mut open);
                open = Some((fault, j, i, probability, instead));
            }
        }
    }
    close(&mut open);
}

/// Whether a line that saw too little was dead: flat for as long as the missing hours need.
fn under_kind(told: &Told, j: usize, i: usize) -> Kind {
    let counter = &told.counter;
    let (a, b) = (counter.seen[j].at, counter.seen[i].at);
    let moves = counter.moves(j, i);
    let missing_h = counter.seen[i].hours - counter.seen[j].hours - moves.best_h();
    let (flat_h, of, _) = longest_flat(told, a, b);
    // By their usual shares of time: the other line may be on for fewer hours than this one. A fault's first and last day
    // are parts of days, and a week is short.
    let usual = |role: Role| counter.watch.rate(role).max(0.01);
    let flat = of.map_or(flat_h, |of| flat_h / usual(of));
    let share = flat / (missing_h / usual(counter.role)).max(f64::MIN_POSITIVE);
    // A line stands still in port too: a dead one for longer than that.
    let (before, after) =
        (When { lo_ms: i64::MIN, hi_ms: i64::MIN }, When { lo_ms: i64::MAX, hi_ms: i64::MAX });
    let elsewhere_h = longest_flat(told, before, a).0.max(longest_flat(told, b, after).0);
    let is_dead = share >= 0.5 && flat_h > elsewhere_h || share >= 0.8 && flat_h > 0.6 * elsewhere_h;
    if is_dead { Kind::LineDead } else { Kind::LineIntermittent }
}

/// When a line stood still: for how long, as the other line counts it, which that is, and from when to when.
type Flat = (f64, Option<Role>, Option<(i64, i64)>);

/// The longest stretch in which the line stood still while another that it hangs on was on: hours of that, and when.
fn longest_flat(told: &Told, a: When, b: When) -> Flat {
    let counter = &told.counter;
    let Some(own) = place(counter.role) else { return (0.0, None, None) };
    // A line that is never on without this one shows best that this one was dead.
    let other = match counter.role {
        Role::Transmit => [Role::Heater, Role::Supply],
        Role::Supply => [Role::Heater, Role::Transmit],
        _ => [Role::Transmit, Role::Supply],
    };
    let other = other.into_iter().find(|role| *role != counter.role && counter.watch.has(*role));
    let of = other;
    let other = other.and_then(place);
    let mut best = (0.0, of, None);
    let mut run = (0.0, a.lo_ms);
    for (before, after) in counter.watch.pairs(a, b) {
        if after.on_h[own] - before.on_h[own] > 0.02 {
            run = (0.0, after.at.lo_ms);
            continue;
        }
        run.0 += other.map_or_else(
            || hours_between(before.at.best_ms(), after.at.best_ms()),
            |other| after.on_h[other] - before.on_h[other],
        );
        if run.0 > best.0 {
            best = (run.0, of, Some((run.1, after.at.hi_ms)));
        }
    }
    best
}

/// When a fault was, as closely as the log says.
fn fault_span(told: &Told, kind: Kind, j: usize, i: usize) -> Option<(i64, i64)> {
    let (a, b) = (told.counter.seen[j].at, told.counter.seen[i].at);
    if kind == Kind::LineDead { longest_flat(told, a, b).2 } else { None }
}
