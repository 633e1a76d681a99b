//! One cause, one finding: drafts of several counters, fittings and isolations that tell of one thing become one.

use super::draft::{Draft, Whose};
use super::finding::{FactId, Instead, Kind};

/// A zeroing this close to a fitting or an isolation belongs to it, in milliseconds.
pub(super) const NEAR_MS: i64 = 7 * 86_400_000;

/// Merges the drafts of one ship.
pub(super) fn merge(mut drafts: Vec<Draft>) -> Vec<Draft> {
    misdated(&mut drafts);
    zeroed_apart(&mut drafts);
    exchanged(&mut drafts);
    swapped(&mut drafts);
    other_source(&mut drafts);
    off_alike(&mut drafts);
    wired(&mut drafts);
    dark(&mut drafts);
    units(&mut drafts);
    drafts
}

fn overlap(a: &Draft, b: &Draft, slack_ms: i64) -> bool {
    a.from_ms <= b.to_ms + slack_ms && b.from_ms <= a.to_ms + slack_ms
}

/// Joins `other` into `into`: its figures become evidence.
pub(super) fn join(into: &mut Draft, other: Draft) {
    into.evidence.extend(other.evidence);
    into.facts.extend(other.facts);
    into.facts.sort_unstable();
    into.facts.dedup();
    into.provisional &= other.provisional;
}

/// Lets each draft take in those that tell of the same thing, until none is left. `same`: what the first has to take in.
fn absorb(
    drafts: &mut Vec<Draft>,
    same: impl Fn(&Draft, &Draft) -> bool,
    take_in: impl Fn(&mut Draft, Draft),
) {
    let mut at = 0;
    while at < drafts.len() {
        let one = &drafts[at];
        let other = (0..drafts.len()).find(|other| *other != at && same(one, &drafts[*other]));
        let Some(other) = other else {
            at += 1;
            continue;
        };
        let two = drafts.remove(other);
        at -= usize::from(other < at);
        take_in(&mut drafts[at], two);
    }
}

/// Of two that tell of one thing, the surer one's word counts.
fn surer(one: &mut Draft, two: &Draft) {
    if two.probability > one.probability {
        (one.probability, one.instead) = (two.probability, two.instead);
    }
}

/// A fitting whose zeroing happened on another day: seen as two halves, or as not zeroed here and zeroed near by.
fn misdated(drafts: &mut Vec<Draft>) {
    let halves = |one: &Draft, two: &Draft| {
        let misdated = matches!(one.kind, Kind::FittingMisdated | Kind::FittedWithoutZeroing);
        let same_counter = two.radar == one.radar && two.line == one.line;
        let same_fitting = two.kind == Kind::FittingMisdated && two.fitting == one.fitting;
        let zeroed_near = two.kind == Kind::ZeroedWithoutFitting && overlap(one, two, NEAR_MS);
        misdated && same_counter && (same_fitting || zeroed_near)
    };
    absorb(drafts, halves, |one, two| {
        one.kind = Kind::FittingMisdated;
        one.probability = one.probability.min(two.probability);
        (one.from_ms, one.to_ms) = (one.from_ms.min(two.from_ms), one.to_ms.max(two.to_ms));
        join(one, two);
    });
}

/// Two counters that both went on from zero, but not from one instant, were zeroed each for itself: a new box begins at
/// zero for all of them at once.
fn zeroed_apart(drafts: &mut [Draft]) {
    for at in 0..drafts.len() {
        let one = &drafts[at];
        let apart = |two: &Draft| {
            let shifted = matches!(two.kind, Kind::CounterExchanged | Kind::ZeroedWithoutFitting);
            let zeros = one.from_zero_ms.zip(two.from_zero_ms);
            let never_together = zeros.is_some_and(|(a, b)| a.1 < b.0 || b.1 < a.0);
            shifted
                && two.radar == one.radar
                && two.line != one.line
                && overlap(one, two, 0)
                && never_together
        };
        let used = |two: &Draft| {
            two.kind == Kind::CounterExchanged
                && two.from_zero_ms.is_none()
                && two.radar == one.radar
                && overlap(one, two, 0)
        };
        let one_box = drafts.iter().any(used);
        if one.kind == Kind::CounterExchanged && !one_box && drafts.iter().any(apart) {
            let one = &mut drafts[at];
            one.kind = Kind::ZeroedWithoutFitting;
            one.instead = one.instead.filter(|instead| instead.kind != Some(Kind::ZeroedWithoutFitting));
            if let Some((from_ms, to_ms)) = one.from_zero_ms {
                (one.from_ms, one.to_ms) = (one.from_ms.max(from_ms), one.to_ms.min(to_ms));
            }
        }
    }
}

/// Counters of one radar that shifted together.
fn exchanged(drafts: &mut Vec<Draft>) {
    let mut at = 0;
    while at < drafts.len() {
        if drafts[at].kind == Kind::CounterExchanged {
            let mut other = at + 1;
            while other < drafts.len() {
                let two = &drafts[other];
                let shifted = matches!(two.kind, Kind::CounterExchanged | Kind::ZeroedWithoutFitting);
                if shifted
                    && two.radar == drafts[at].radar
                    && two.line != drafts[at].line
                    && overlap(&drafts[at], two, 0)
                {
                    let two = drafts.remove(other);
                    let one = &mut drafts[at];
                    one.from_ms = one.from_ms.max(two.from_ms);
                    one.to_ms = one.to_ms.min(two.to_ms).max(one.from_ms);
                    one.probability = one.probability.max(two.probability);
                    one.line = None;
                    join(one, two);
                } else {
                    other += 1;
                }
            }
        }
        at += 1;
    }
}

/// Counters of one radar that run off alike against the logger's clock.
fn off_alike(drafts: &mut Vec<Draft>) {
    let by_logger = |draft: &Draft| draft.ratio.is_some_and(|(_, whose)| whose == Whose::Logger);
    let alike = |one: &Draft, two: &Draft| {
        by_logger(one) && by_logger(two) && two.radar == one.radar && overlap(one, two, 0)
    };
    absorb(drafts, alike, |one, two| {
        one.line = None;
        (one.from_ms, one.to_ms) = (one.from_ms.min(two.from_ms), one.to_ms.max(two.to_ms));
        surer(one, &two);
        join(one, two);
    });
}

/// Exchanged inputs make two counters follow each other's lines.
fn wired(drafts: &mut Vec<Draft>) {
    let crossed = |one: &Draft, two: &Draft| {
        let follows = matches!(two.kind, Kind::CountsOtherLine | Kind::CounterRate | Kind::Wiring);
        let crossed = one.kind == Kind::CountsOtherLine
            && two.kind == Kind::CountsOtherLine
            && (one.follows, one.line) == (two.line, two.follows);
        let by_wiring = follows && two.radar == one.radar && overlap(one, two, 0);
        by_wiring && (one.kind == Kind::Wiring || crossed)
    };
    absorb(drafts, crossed, |one, two| {
        one.kind = Kind::Wiring;
        join(one, two);
    });
}

/// A radar that ran while its logger was dark moved all of its counters, on both sides of a figure in between.
fn dark(drafts: &mut Vec<Draft>) {
    let same = |one: &Draft, two: &Draft| {
        let other_word = two.instead.is_some_and(|instead| instead.kind == Some(Kind::DarkGap))
            && matches!(two.kind, Kind::Misread | Kind::LineIntermittent | Kind::LineDead);
        one.kind == Kind::DarkGap
            && two.radar == one.radar
            && (two.kind == Kind::DarkGap || other_word)
            && overlap(one, two, 0)
    };
    absorb(drafts, same, |one, two| {
        if one.line != two.line {
            one.line = None;
        }
        if two.kind == Kind::DarkGap {
            (one.from_ms, one.to_ms) = (one.from_ms.min(two.from_ms), one.to_ms.max(two.to_ms));
            surer(one, &two);
        }
        join(one, two);
    });
}

/// Figures copied within this time are of one look at the display, in milliseconds.
const ONE_LOOK_MS: i64 = 1_800_000;

/// A display that showed another transceiver showed all of its counters: one finding for all figures of that look.
fn other_source(drafts: &mut Vec<Draft>) {
    let is_other = |draft: &Draft| draft.kind == Kind::ReadingsSwapped && draft.partner.is_none();
    let same_look = |one: &Draft, two: &Draft| {
        let figure = matches!(two.kind, Kind::Misread | Kind::ImpossibleReading) || is_other(two);
        is_other(one) && figure && two.radar == one.radar && overlap(one, two, ONE_LOOK_MS)
    };
    absorb(drafts, same_look, |one, two| {
        one.line = None;
        if is_other(&two) {
            one.probability = one.probability.max(two.probability);
        }
        join(one, two);
    });
}

/// Figures of one counter in another unit, with some between that fit either: whoever copies them does it in his way.
fn units(drafts: &mut Vec<Draft>) {
    let same = |one: &Draft, two: &Draft| {
        let both = one.kind == Kind::CounterUnits && two.kind == Kind::CounterUnits;
        both && two.radar == one.radar && two.line == one.line
    };
    absorb(drafts, same, |one, two| {
        (one.from_ms, one.to_ms) = (one.from_ms.min(two.from_ms), one.to_ms.max(two.to_ms));
        surer(one, &two);
        join(one, two);
    });
}

/// Two figures that stand in each other's place: both sides must say so, and say it once.
fn swapped(drafts: &mut Vec<Draft>) {
    let mut at = 0;
    while at < drafts.len() {
        if drafts[at].kind == Kind::ReadingsSwapped && drafts[at].partner.is_some() {
            let one = drafts[at].clone();
            let partner = (at + 1..drafts.len()).find(|other| {
                let two = &drafts[*other];
                two.kind == Kind::ReadingsSwapped
                    && two.partner.is_some()
                    && (two.from_ms - one.from_ms).abs() <= 86_400_000
                    && (two.radar == one.radar || two.line == one.line)
            });
            if let Some(other) = partner {
                let two = drafts.remove(other);
                let one = &mut drafts[at];
                one.probability = one.probability.min(two.probability);
                if one.radar == two.radar {
                    one.line = None;
                }
                join(one, two);
            }
        }
        at += 1;
    }
}

/// What a fitting notes of a counter was read on the day on which it truly was: wrong on the recorded day, it is the
/// misdating's evidence.
pub(super) fn absorb_noted(drafts: &mut Vec<Draft>) {
    let noted = |one: &Draft, two: &Draft| {
        let misdated = one.kind == Kind::FittingMisdated && one.fitting.is_some();
        let off = matches!(two.kind, Kind::Misread | Kind::ImpossibleReading);
        let other_day = two.instead.is_some_and(|instead| instead.kind == Some(Kind::FittingMisdated));
        misdated && off && other_day && two.radar == one.radar && two.fitting == one.fitting
    };
    absorb(drafts, noted, join);
}

/// Turns a zeroing near an unrecorded isolation into its evidence.
pub(super) fn absorb_zeroings(drafts: &mut Vec<Draft>) {
    let mut at = 0;
    while at < drafts.len() {
        if drafts[at].kind == Kind::WorkUnrecorded {
            let one = drafts[at].clone();
            let zeroed = (0..drafts.len()).find(|other| {
                let two = &drafts[*other];
                two.kind == Kind::ZeroedWithoutFitting && two.radar == one.radar && overlap(&one, two, 0)
            });
            if let Some(other) = zeroed {
                let two = drafts.remove(other);
                if other < at {
                    at -= 1;
                }
                let one = &mut drafts[at];
                one.line = two.line;
                one.instead = Some(Instead { kind: Some(two.kind), probability: 1.0 - one.probability });
                one.provisional = false;
                join(one, two);
            }
        }
        at += 1;
    }
}

/// Whether a draft rests on this fitting.
pub(super) fn rests_on(draft: &Draft, fitting: i64) -> bool {
    draft.fitting == Some(fitting) || draft.facts.contains(&FactId::Fitting(fitting))
}
