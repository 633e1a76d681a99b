//! What the log says by itself: lines that contradict each other, lines that stand still, lines that never rest.

use super::witness::{Range, steps};
use crate::scenario::logger::hours;
use halfglass::reconcile::{Kind, Radar};

/// The upper needs the lower: places of supply, heater, transmit, motor.
const NEEDS: [(usize, usize); 4] = [(1, 0), (2, 0), (2, 1), (2, 3)];

#[derive(Debug)]
/// Between two points the upper line ran longer than the lower.
struct Breach {
    upper: usize,
    lower: usize,
    /// The lower line did not move.
    lower_still: bool,
    /// The upper line never rested.
    upper_full: bool,
    /// The upper line ran for half a day or more.
    upper_long: bool,
    from: f64,
    to: f64,
}

/// What the log contradicts itself in.
pub(super) struct Breaches(Vec<Breach>, Radar);

impl std::fmt::Debug for Breaches {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_list().entries(self.0.iter().take(4)).finish()
    }
}

/// Hours of a breach that mean something: beyond what cuts may cost.
const TOLERANCE_H: f64 = 0.03;

fn breaches(radar: &Radar, order: &[usize; 4]) -> Vec<Breach> {
    let mut found = Vec::new();
    for (a, b) in steps(&radar.log.points) {
        let moved = |line: usize| b.on_h[order[line]] - a.on_h[order[line]];
        let lit = hours(b.at.best_ms()) - hours(a.at.best_ms()) - b.dark_h;
        for (upper, lower) in NEEDS {
            let both = radar.log.wired[order[upper]] && radar.log.wired[order[lower]];
            if both && moved(upper) > moved(lower) + b.lost_h + TOLERANCE_H {
                found.push(Breach {
                    upper,
                    lower,
                    lower_still: moved(lower) < 1e-9,
                    upper_full: moved(upper) > 0.99 * lit,
                    upper_long: moved(upper) > 14.0,
                    from: hours(a.at.best_ms()),
                    to: hours(b.at.best_ms()),
                });
            }
        }
    }
    found
}

impl Breaches {
    pub(super) fn of(radar: &Radar) -> Breaches {
        Breaches(breaches(radar, &[0, 1, 2, 3]), radar.clone())
    }

    pub(super) fn any(&self) -> bool {
        !self.0.is_empty()
    }

    /// Whether this line fault explains them all.
    pub(super) fn explained_by(&self, kind: Kind, line: usize) -> bool {
        let weeks = match (self.0.first(), self.0.last()) {
            (Some(first), Some(last)) => (last.to - first.from) / 168.0,
            _ => return true,
        };
        let odd = |is: &dyn Fn(&Breach) -> bool| self.0.iter().filter(|breach| is(breach)).count();
        match kind {
            Kind::LineDead => {
                weeks < 12.5
                    && self.0.iter().all(|breach| breach.lower == line)
                    && odd(&|breach| !breach.lower_still) <= 2 * (1 + usize::from(line == 0))
            }
            Kind::LineIntermittent => {
                weeks < 8.5
                    && self.0.iter().all(|breach| breach.lower == line)
                    && odd(&|breach| breach.lower_still && breach.upper_long) <= 1
            }
            Kind::LineStuck => {
                weeks < 6.5
                    && self.0.iter().all(|breach| breach.upper == line)
                    && odd(&|breach| !breach.upper_full) <= 4
            }
            _ => false,
        }
    }

    /// Pairs of inputs whose exchange leaves none.
    pub(super) fn exchanges(&self) -> Vec<(usize, usize)> {
        let wired = self.1.log.wired;
        let mut found = Vec::new();
        for (a, b) in [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)] {
            let mut order = [0, 1, 2, 3];
            order.swap(a, b);
            if wired[a] && wired[b] && self.any() && breaches(&self.1, &order).is_empty() {
                found.push((a, b));
            }
        }
        found
    }
}

/// No fault of a line is shorter than this; its edges lie within a point's day.
const FAULT_H: f64 = 168.0 - 48.0;

/// Hours between two instants that a line may truly have run while it stood still for days, other lines allowing;
/// and hours in which it never rested for days.
pub(super) fn still_and_full(radar: &Radar, line: usize, from: f64, to: f64) -> (f64, f64) {
    let points = &radar.log.points;
    let (mut still, mut full) = (0.0, 0.0);
    let first = points.partition_point(|point| hours(point.at.hi_ms) < from - 1_000.0).saturating_sub(1);
    // How long it has been so, and how much of that lies between the instants.
    let (mut run_still, mut run_full) = ((0.0, 0.0), (0.0, 0.0));
    for (a, b) in steps(&points[first..]) {
        let (begins, ends) = (hours(a.at.best_ms()), hours(b.at.best_ms()));
        if begins > to + 1_000.0 {
            break;
        }
        let lit = (ends - begins - b.dark_h).max(0.0);
        let inside =
            if ends > begins { (ends.min(to) - begins.max(from)).max(0.0) / (ends - begins) } else { 0.0 };
        let moved = b.on_h[line] - a.on_h[line];
        let needs = NEEDS.iter().filter(|(upper, lower)| *upper == line && radar.log.wired[*lower]);
        let allowed = needs.map(|(_, lower)| b.on_h[*lower] - a.on_h[*lower]).fold(lit, f64::min);
        let add = |run: &mut (f64, f64), holds: bool, hours: f64, sum: &mut f64| {
            if holds {
                *run = (run.0 + ends - begins, run.1 + hours * inside);
            } else {
                if run.0 >= FAULT_H {
                    *sum += run.1;
                }
                *run = (0.0, 0.0);
            }
        };
        add(&mut run_still, moved < 1e-9, allowed, &mut still);
        add(&mut run_full, moved > 0.99 * lit, lit, &mut full);
    }
    for (run, sum) in [(run_still, &mut still), (run_full, &mut full)] {
        if run.0 >= FAULT_H {
            *sum += run.1;
        }
    }
    // A fault begins and ends within a day of points.
    let edge = |hours: f64| if hours > 0.0 { (hours + 48.0).min(to - from) } else { 0.0 };
    (edge(still), edge(full))
}

/// Whether the supply was on all the time, as far as the log shows it.
pub(super) fn supply_held(radar: &Radar, between: Range) -> bool {
    let covers = radar
        .log
        .supply_on
        .iter()
        .any(|span| hours(span.from.hi_ms) <= between.lo && hours(span.to.lo_ms) >= between.hi);
    radar.log.wired[0] && covers
}
