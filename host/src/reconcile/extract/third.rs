//! Whose clock is off where a counter and the logger run at a steady ratio: of two that differ neither can say, a third
//! witness can. That is another counter of the same radar, held against the same logger.
//!
//! ```text
//!   counter A : its line   1.03      counter B : its line   1.00    the logger is right, A runs fast
//!                                                           1.03    both agree against the logger: its clock is off
//!                                                           none    nobody says
//! ```

use super::path;
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Whose;
use crate::reconcile::events::{Event, Scale};
use crate::reconcile::moves::{Fault, Law};
use crate::reconcile::say;

/// Two ratios closer than this are one.
const SAME: f64 = 0.003;

/// How far a counter moved against its line, over the runs of figures between two instants in which nothing happened.
pub(in crate::reconcile) struct Moved {
    /// By its figures, in hours.
    pub(in crate::reconcile) counter_h: f64,
    /// By its line, at least and at most, in hours.
    pub(in crate::reconcile) line_h: (f64, f64),
    /// How far rounding down can falsify the figures, in hours.
    rounding_h: f64,
}

impl Moved {
    /// Between which ratios the counter runs.
    fn ratio(&self) -> (f64, f64) {
        let (low, high) = self.line_h;
        let most = if low > 0.0 { (self.counter_h + self.rounding_h) / low } else { f64::INFINITY };
        ((self.counter_h - self.rounding_h) / high.max(f64::MIN_POSITIVE), most)
    }

    /// Whether it can run at a ratio.
    fn may_be(&self, ratio: f64) -> bool {
        let (low, high) = self.ratio();
        low - SAME <= ratio && ratio <= high + SAME
    }

    /// Whether it runs with the logger and not at this ratio.
    fn is_with_logger(&self, ratio: f64) -> bool {
        self.may_be(1.0) && !self.may_be(ratio)
    }

    /// Whether it runs at this ratio and not with the logger. Two that are off alike prove more than one that is right, so
    /// its ratio must be known as closely as the two are apart.
    fn is_off_by(&self, ratio: f64) -> bool {
        let (low, high) = self.ratio();
        self.may_be(ratio) && !self.may_be(1.0) && high - low < (ratio - 1.0).abs()
    }
}

/// Whose clock is off, and a sentence on what says so if anything does, where a counter runs at this ratio from figure `first` to `last`.
pub(super) fn whose(
    one: &Told,
    all: &[Told],
    ratio: f64,
    first: usize,
    last: usize,
) -> (Whose, Option<String>) {
    let role = one.counter.role;
    let seen = &one.counter.seen;
    let (from_ms, to_ms) = (seen[first].at.best_ms(), seen[last].at.best_ms());
    let is_witness = |other: &&Told| {
        let beside = other.radar == one.radar && other.counter.role != role;
        beside && one.stranger.is_none() && other.stranger.is_none()
    };
    let heard: Vec<_> = all
        .iter()
        .filter(is_witness)
        .filter_map(|other| moved(other, from_ms, to_ms).map(|moved| (other.counter.role, moved)))
        .collect();
    // Whoever agrees with the logger proves its clock, whatever the others do.
    if let Some((other, moved)) = heard.iter().find(|(_, moved)| moved.is_with_logger(ratio)) {
        return (Whose::Counter, Some(say::agrees_with_logger(role, *other, moved, ratio)));
    }
    if let Some((other, moved)) = heard.iter().find(|(_, moved)| moved.is_off_by(ratio)) {
        return (Whose::Logger, Some(say::off_alike(role, *other, moved, ratio)));
    }
    (Whose::Open, None)
}

/// How far a counter moved between two instants; `None`: nothing of that is sure.
fn moved(told: &Told, from_ms: i64, to_ms: i64) -> Option<Moved> {
    let counter = &told.counter;
    if !counter.watch.has(counter.role) {
        return None;
    }
    let inside = |k: usize| {
        let at_ms = counter.seen[k].at.best_ms();
        from_ms <= at_ms && at_ms <= to_ms
    };
    // Runs of figures in which the counter went on by its own line, as recorded.
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for edge in path(told).filter(|edge| edge.to.0 < counter.seen.len()) {
        let (Some((j, _)), i) = (edge.from, edge.to.0) else { continue };
        let (from, to) = told.histories.states_of(edge);
        let plain = from.into_iter().chain(to).all(|state| {
            let own = matches!(counter.laws[state.law].0, Law::Own | Law::Ratio(_));
            own && state.scale == Scale::Hours && state.swap.is_none()
        });
        let calm = edge.event == Event::AsRecorded
            && told.histories.fault_on(edge) == Fault::None
            && counter.since_zeroing(j, i).is_none();
        if !(plain && calm && inside(j) && inside(i)) {
            continue;
        }
        match runs.last_mut() {
            Some((_, last)) if *last == j => *last = i,
            _ => runs.push((j, i)),
        }
    }
    let mut sum = Moved { counter_h: 0.0, line_h: (0.0, 0.0), rounding_h: 0.0 };
    for (j, i) in runs.iter().copied() {
        let (low, high) = counter.moves(j, i).range(Law::Own, Fault::None, !counter.fed);
        sum.counter_h += counter.seen[i].hours - counter.seen[j].hours;
        sum.line_h = (sum.line_h.0 + low, sum.line_h.1 + high);
        sum.rounding_h += counter.step_h;
    }
    (!runs.is_empty()).then_some(sum)
}

#[cfg(test)]
#[path = "third_tests.rs"]
mod tests;
