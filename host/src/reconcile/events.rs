//! What can have happened to a counter between two readings that are taken as sound, and how likely the later figure
//! then is.

use super::moves::{Fault, Law, Moves};
use super::priors;
use super::surprise::{height, in_range_or_less, log_sum};

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Event {
    /// What the records say, and nothing else.
    AsRecorded,
    /// Zeroed, and no fitting says so.
    Zeroed,
    /// The box was exchanged.
    Exchanged,
    /// The fitting of this number is recorded with zeroing; the counter went on.
    NotZeroed(usize),
    /// The fitting of this number is recorded without zeroing; it was zeroed.
    Contradicted(usize),
    /// The zeroing of this fitting was done in here, on another day than recorded.
    MisdatedHere(usize),
    /// The zeroing of this fitting is recorded in here, but was done in a neighbouring stretch.
    MisdatedAway(usize),
    /// The radar ran while its logger was dark, although one hangs on the other.
    RanInDark,
}

/// A zeroing on another day than its fitting's, with figures between the two: one half was seen, the other must follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Owed {
    /// It was zeroed before the recorded day; on that day it will not be.
    Early(usize),
    /// It was not zeroed on the recorded day; it will be within seven days.
    Late(usize),
    /// Of the fitting only the day is known, and a figure lies on that day: the fitting came after the figure.
    Pending(usize),
}

/// From where the counter goes on.
#[derive(Clone, Debug)]
pub(super) enum From {
    /// From the figure before.
    Figure,
    /// From zero, at a known time: how far it moved since.
    Zero(Box<Moves>),
    /// From zero, between two times: how far it moved since the earlier, and since the later.
    ZeroBetween(Box<Moves>, Box<Moves>),
    /// From zero, at any time in the stretch.
    ZeroAnywhere,
    /// From any figure.
    Anything,
}

/// One possibility.
#[derive(Clone, Debug)]
pub(super) struct Possible {
    /// What happened.
    pub(super) event: Event,
    /// How likely, before the figure is seen: a natural logarithm.
    pub(super) log_prior: f64,
    /// From where the counter goes on.
    pub(super) from: From,
    /// It may have moved in dark time.
    pub(super) dark: bool,
    /// What must be owed before, and what is owed after.
    pub(super) owed: (Option<Owed>, Option<Owed>),
}

/// A figure and how it was shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shown {
    /// What it means, in hours, rounded down.
    pub(super) hours: f64,
    /// How far rounding down can have gone.
    pub(super) width_h: f64,
    /// Which figures can be shown at all: multiples of this.
    pub(super) grid_h: f64,
}

impl Shown {
    /// A figure as written, on a counter with this step, taken for ten, one or a tenth of an hour a unit.
    pub(super) fn new(written: f64, step_h: f64, scale: Scale) -> Shown {
        match scale {
            Scale::Hours => Shown { hours: written, width_h: step_h, grid_h: step_h },
            // What was written as hours were tenths: ten times too much.
            Scale::Tenths => Shown { hours: written / 10.0, width_h: step_h, grid_h: step_h / 10.0 },
            Scale::Tens => Shown { hours: written * 10.0, width_h: 10.0 * step_h, grid_h: 10.0 * step_h },
        }
    }
}

/// In which unit the figure was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Scale {
    /// As it should be.
    Hours,
    /// Tenths of hours.
    Tenths,
    /// Tens of hours.
    Tens,
}

impl Scale {
    pub(super) const ALL: [Scale; 3] = [Scale::Hours, Scale::Tenths, Scale::Tens];

    /// What is written for so many hours.
    pub(super) fn written(self, hours: f64) -> f64 {
        match self {
            Scale::Hours => hours,
            Scale::Tenths => hours * 10.0,
            Scale::Tens => hours / 10.0,
        }
    }
}

/// Two figures, and by how much those before narrow what lies between.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair {
    /// The earlier.
    pub(super) earlier: Shown,
    /// The later.
    pub(super) later: Shown,
    /// By how much the figures before raise the least and lower the most that can have moved, where the log alone leaves
    /// the earlier instant open.
    pub(super) narrowed: (f64, f64),
}

/// The chance of a later figure, given the earlier, as a natural logarithm; what is less than `least` may come out as
/// nothing.
pub(super) fn log_likelihood(
    possible: &Possible,
    moves: &Moves,
    law: Law,
    fault: Fault,
    Pair { earlier, later, narrowed }: Pair,
    least: f64,
) -> f64 {
    let zero_or_less = |low: f64, high: f64, least: f64| {
        in_range_or_less(later.hours, (low, high), (later.width_h, 0.0), later.grid_h, least)
    };
    let zero = |low: f64, high: f64| zero_or_less(low, high, least);
    match &possible.from {
        From::Figure => {
            let (low, high) = moves.range(law, fault, possible.dark);
            let (low, high) = (low + narrowed.0, (high - narrowed.1).max(low + narrowed.0));
            let moved = later.hours - earlier.hours;
            in_range_or_less(moved, (low, high), (later.width_h, earlier.width_h), later.grid_h, least)
        }
        From::Zero(since) => {
            let (low, high) = since.range(law, fault, possible.dark);
            zero(low, high)
        }
        From::ZeroBetween(earliest, latest) => {
            zero(latest.range(law, fault, possible.dark).0, earliest.range(law, fault, possible.dark).1)
        }
        From::ZeroAnywhere => zero(0.0, moves.range(law, fault, true).1),
        From::Anything => {
            let high = moves.range(law, fault, true).1;
            let sound = (0.0..priors::COUNTER_MAX_H * 2.0).contains(&later.hours);
            let flat = if sound { later.grid_h / priors::COUNTER_MAX_H } else { 0.0 };
            let to_zero = priors::EXCHANGED_TO_ZERO;
            let at_most = to_zero * height(0.0, high, later.width_h, later.grid_h) + (1.0 - to_zero) * flat;
            if at_most.ln() < least {
                return f64::NEG_INFINITY;
            }
            let from_zero = zero_or_less(0.0, high, f64::NEG_INFINITY);
            log_sum([to_zero.ln() + from_zero, (1.0 - to_zero).ln() + flat.ln()].into_iter())
        }
    }
}
