//! What a way stands for, and how likely each explanation is where the likeliest history has one.

use crate::reconcile::chain::{Aside, Edge};
use crate::reconcile::counters::Told;
use crate::reconcile::events::{Event, Scale};
use crate::reconcile::finding::{Instead, Kind};
use crate::reconcile::moves::{Fault, Law};
use halfglass_protocol::config::Role;

/// What an edge stands for: nothing, or its foremost irregularity.
fn label(told: &Told, edge: &Edge) -> Option<Kind> {
    let (from, to) = told.histories.states_of(edge);
    let by_event = match edge.event {
        Event::AsRecorded => None,
        Event::Zeroed => Some(Kind::ZeroedWithoutFitting),
        Event::Exchanged => Some(Kind::CounterExchanged),
        Event::NotZeroed(_) => Some(Kind::FittedWithoutZeroing),
        Event::Contradicted(_) => Some(Kind::RecordContradicted),
        Event::MisdatedHere(_) | Event::MisdatedAway(_) => Some(Kind::FittingMisdated),
        Event::RanInDark => Some(Kind::DarkGap),
    };
    let by_fault = match told.histories.fault_on(edge) {
        Fault::Under => Some(Kind::LineIntermittent),
        Fault::Over => Some(Kind::LineStuck),
        Fault::None => None,
    };
    let scaled = [from, to].into_iter().flatten().any(|state| state.scale != Scale::Hours);
    let by_scale = if scaled { Some(Kind::CounterUnits) } else { None };
    let swapped = [from, to].into_iter().flatten().any(|state| state.swap.is_some());
    let by_swap = if swapped { Some(Kind::ReadingsSwapped) } else { None };
    let by_aside = edge.aside.iter().find(|(_, why)| !why.is_sound()).map(|(_, why)| aside_kind(why));
    let by_law = from.or(to).and_then(|state| law_kind(told.counter.role, told.counter.laws[state.law].0));
    by_event.or(by_fault).or(by_swap).or(by_aside).or(by_scale).or(by_law)
}

/// What it means that a counter follows a law. No set counts the heater by the motor: there the logger's inputs are
/// exchanged.
pub(super) fn law_kind(counter: Role, law: Law) -> Option<Kind> {
    match law {
        Law::Own => None,
        Law::Line(Role::Motor) => Some(Kind::Wiring),
        Law::Line(Role::Transmit) if counter == Role::Heater => Some(Kind::Wiring),
        Law::Line(_) => Some(Kind::CountsOtherLine),
        Law::Ratio(_) | Law::AnyRatio => Some(Kind::CounterRate),
    }
}

pub(super) fn aside_kind(why: &Aside) -> Kind {
    let ranked = [
        (why.slip, Kind::Misread),
        (why.off, Kind::Misread),
        (why.impossible, Kind::ImpossibleReading),
        (why.other, Kind::ReadingsSwapped),
        (why.other_day, Kind::FittingMisdated),
    ];
    ranked.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).map_or(Kind::Misread, |(_, kind)| kind)
}

/// How likely each explanation is in the stretch before figure `gap`.
fn shares(told: &Told, gap: usize) -> Vec<(Option<Kind>, f64)> {
    let mut shares: Vec<(Option<Kind>, f64)> = Vec::new();
    for edge in told.histories.covering(gap) {
        let kind = label(told, edge);
        match shares.iter_mut().find(|(is, _)| *is == kind) {
            Some((_, sum)) => *sum += edge.share,
            None => shares.push((kind, edge.share)),
        }
    }
    shares
}

/// The probability of a kind before a figure, and the likeliest other explanation.
pub(super) fn judged(told: &Told, gap: usize, kind: Kind) -> (f64, Option<Instead>) {
    let all = shares(told, gap);
    let own = all.iter().filter(|(is, _)| *is == Some(kind)).map(|(_, share)| share).sum::<f64>();
    let other = all.iter().filter(|(is, _)| *is != Some(kind)).max_by(|a, b| a.1.total_cmp(&b.1));
    let instead = other
        .filter(|(_, share)| *share >= 0.005)
        .map(|(kind, probability)| Instead { kind: *kind, probability: probability.min(1.0) });
    (own.min(1.0), instead)
}

/// The same for an event somewhere from figure `j` to figure `i`: histories that count on from a figure between have it
/// before or behind that figure.
pub(super) fn judged_anywhere(told: &Told, j: usize, i: usize, kind: Kind) -> (f64, Option<Instead>) {
    let gaps = (j + 1..=i).map(|gap| judged(told, gap, kind));
    gaps.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, None))
}

/// How likely figure `k` is set aside for a reason of this kind, and the likeliest other explanation.
pub(super) fn judged_aside(told: &Told, k: usize, kind: Kind) -> (f64, Option<Instead>) {
    let mut own = 0.0;
    for edge in told.histories.covering(k) {
        for (_, why) in edge.aside.iter().filter(|(at, _)| *at == k) {
            let sum = why.sum().max(f64::MIN_POSITIVE);
            let part = match kind {
                Kind::Misread => why.slip + why.off,
                Kind::ImpossibleReading => why.impossible,
                Kind::FittingMisdated => why.other_day,
                _ => why.other,
            };
            own += edge.share * part / sum;
        }
    }
    let sides = [shares(told, k), shares(told, k + 1)].concat();
    let other = sides
        .iter()
        .filter(|(is, _)| *is != Some(kind))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, share)| *share >= 0.005);
    let left = (1.0 - own).max(0.0);
    let instead = other.map(|(kind, share)| Instead { kind: *kind, probability: share.min(left) });
    (own.min(1.0), instead.filter(|instead| instead.probability >= 0.005))
}
