//! How far a line's total moved between two instants, from what the logger saw.
//!
//! ```text
//!  total       high: all of it at once, as soon as the earlier point allows
//!    |     o----o   o known points
//!    |    /.../     low: all of it as late as the later point allows
//!    |   o---'      dark time and losses come on top, and are kept apart: they need not have been hours at all
//!    +-------------- UTC
//! ```

use super::facts::{Log, Point, ROLES, Span, When, place};
use super::finding::Interval;
use crate::timeline::{DRIFT, hours_between};
use halfglass_protocol::config::Role;

/// Movement of a total between two instants, in hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Growth {
    /// What the logger counted, with the room that the instants leave.
    pub(super) logged: Interval,
    /// At most so much more in time without the logger running.
    pub(super) dark_h: f64,
    /// At most so much more before the log begins or after it ends.
    pub(super) unseen_h: f64,
    /// At most so much of `logged` in losses at power cuts.
    pub(super) lost_h: f64,
    /// By how much `logged` stops short of what the totals at both ends leave, because no hour is negative, and none
    /// more than has passed.
    pub(super) cut_h: (f64, f64),
}

impl Growth {
    /// Nothing is known but the time that passed.
    fn unknown(elapsed_h: f64) -> Growth {
        Growth {
            logged: Interval { low: 0.0, best: 0.0, high: 0.0 },
            dark_h: 0.0,
            unseen_h: elapsed_h,
            lost_h: 0.0,
            cut_h: (0.0, 0.0),
        }
    }
}

/// An instant, looked up in the log once, so that any two can be compared at once.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    /// The instant.
    pub(super) at: When,
    /// Each role's total.
    total: [Interval; 5],
    /// Dark hours and losses up to here: at least and at most.
    dark: (f64, f64),
    lost: (f64, f64),
    /// What the shapes of the lines say up to here.
    shape: [Shape; 5],
}

/// Hours of a line, added up, that its fault could explain.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Shape {
    /// On without a break: it can have stuck.
    pub(super) steady_h: f64,
    /// On although a line that it needs was off.
    pub(super) over_h: f64,
    /// Off although a line that needs it was on.
    pub(super) under_h: f64,
}

impl Shape {
    fn towards(self, to: Shape, share: f64) -> Shape {
        let between = |a: f64, b: f64| a + (b - a) * share;
        Shape {
            steady_h: between(self.steady_h, to.steady_h),
            over_h: between(self.over_h, to.over_h),
            under_h: between(self.under_h, to.under_h),
        }
    }
}

/// Two lines' totals may differ by this much from point to point for want of resolution, in hours.
const BREACH_FREE_H: f64 = 0.02;

/// The lines that must be on whenever this one is, nearest first.
pub(super) const fn needed_by(role: Role) -> &'static [Role] {
    match role {
        Role::Transmit => &[Role::Heater, Role::Supply],
        Role::Heater | Role::Motor => &[Role::Supply],
        _ => &[],
    }
}

/// The lines that are never on without this one.
const fn needing(role: Role) -> &'static [Role] {
    match role {
        Role::Supply => &[Role::Heater, Role::Transmit],
        Role::Heater | Role::Motor => &[Role::Transmit],
        _ => &[],
    }
}

/// A log prepared for many questions.
#[derive(Debug)]
pub(super) struct Watch<'a> {
    log: &'a Log,
    /// The logger hangs on the radar's supply.
    fed: bool,
    /// Dark hours, losses and shapes up to each point.
    dark_cum_h: Vec<f64>,
    lost_cum_h: Vec<f64>,
    shape_cum: Vec<[Shape; 5]>,
    /// The usual share of time on, by role.
    rate: [f64; 5],
}

impl<'a> Watch<'a> {
    pub(super) fn new(log: &'a Log) -> Watch<'a> {
        let running = |value: fn(&Point) -> f64| {
            let mut sum = 0.0;
            let add = |point: &Point| {
                sum += value(point);
                sum
            };
            log.points.iter().map(add).collect::<Vec<f64>>()
        };
        let mut rate = [0.0; 5];
        if let (Some(first), Some(last)) = (log.points.first(), log.points.last()) {
            let elapsed_h = hours_between(first.at.best_ms(), last.at.best_ms());
            if elapsed_h > 0.0 {
                for (rate, (last, first)) in rate.iter_mut().zip(last.on_h.iter().zip(&first.on_h)) {
                    *rate = ((last - first) / elapsed_h).clamp(0.0, 1.0);
                }
            }
        }
        Watch {
            log,
            fed: false,
            dark_cum_h: running(|p| p.dark_h),
            lost_cum_h: running(|p| p.lost_h),
            shape_cum: shapes(log),
            rate,
        }
    }

    /// The same of a logger that hangs on the radar's supply.
    pub(super) fn fed(self, fed: bool) -> Watch<'a> {
        Watch { fed, ..self }
    }

    /// Whether a line is wired for this role.
    pub(super) fn has(&self, role: Role) -> bool {
        place(role).is_some_and(|at| self.log.wired[at]) && !self.log.points.is_empty()
    }

    /// The usual share of time on.
    pub(super) fn rate(&self, role: Role) -> f64 {
        place(role).map_or(0.0, |at| self.rate[at])
    }

    /// Looks an instant up.
    pub(super) fn mark(&self, at: When) -> Mark {
        let nothing = Interval { low: 0.0, best: 0.0, high: 0.0 };
        let mut mark = Mark {
            at,
            total: [nothing; 5],
            dark: (0.0, 0.0),
            lost: (0.0, 0.0),
            shape: [Shape::default(); 5],
        };
        let points = &self.log.points;
        if points.is_empty() {
            return mark;
        }
        // The last point surely before, and the first surely after.
        let before = points.partition_point(|p| p.at.hi_ms <= at.lo_ms).checked_sub(1);
        let after = points.partition_point(|p| p.at.lo_ms < at.hi_ms);
        let behind = points.partition_point(|p| p.at.best_ms() <= at.best_ms());
        for (place, total) in mark.total.iter_mut().enumerate().filter(|(place, _)| self.log.wired[*place]) {
            *total = self.total(place, at, before, after, behind);
        }
        let last = points.len() - 1;
        let run_up = |sum: &[f64]| (before.map_or(0.0, |i| sum[i]), sum[after.min(last)]);
        (mark.dark, mark.lost) = (run_up(&self.dark_cum_h), run_up(&self.lost_cum_h));
        mark.shape = match (behind.checked_sub(1), points.get(behind)) {
            (Some(i), Some(next)) => {
                let share = share_passed(&points[i], next, at.best_ms());
                std::array::from_fn(|r| self.shape_cum[i][r].towards(self.shape_cum[behind][r], share))
            }
            (Some(i), None) => self.shape_cum[i],
            (None, _) => self.shape_cum[0],
        };
        mark
    }

    /// How far the role's total moved from `a` to `b`.
    pub(super) fn growth(&self, role: Role, a: &Mark, b: &Mark) -> Growth {
        let points = &self.log.points;
        let elapsed_h = hours_between(a.at.lo_ms, b.at.hi_ms);
        let (Some(at), Some(first), Some(last)) = (place(role), points.first(), points.last()) else {
            return Growth::unknown(elapsed_h);
        };
        if !self.log.wired[at] || b.at.hi_ms <= first.at.lo_ms || a.at.lo_ms >= last.at.hi_ms {
            return Growth::unknown(elapsed_h);
        }
        let unseen_h = hours_between(a.at.lo_ms, first.at.best_ms().min(b.at.hi_ms))
            + hours_between(last.at.best_ms().max(a.at.lo_ms), b.at.hi_ms);
        let (from, to) = (a.total[at], b.total[at]);
        let lost_h = (b.lost.1 - a.lost.0).max(0.0);
        let dark_h = (b.dark.1 - a.dark.0).max(0.0).min(elapsed_h);
        let low = (to.low - from.high).max(0.0) * (1.0 - DRIFT);
        let high = ((to.high - from.low).max(0.0) * (1.0 + DRIFT) + lost_h).min(elapsed_h).max(low);
        let cut_h = ((from.high - to.low).max(0.0), (to.high - from.low - high).max(0.0));
        let best = ((to.best - from.best).max(0.0) + lost_h / 2.0).clamp(low, high);
        Growth {
            logged: Interval { low, best, high },
            dark_h,
            unseen_h: unseen_h.min(elapsed_h),
            lost_h,
            cut_h,
        }
    }

    /// The same for a role that no line watches, as far as other lines bound it: it was on while a line was that needs
    /// it, and off while one was that it needs.
    pub(super) fn growth_or_bounds(&self, role: Role, a: &Mark, b: &Mark) -> Growth {
        let known = self.growth(role, a, b);
        if self.has(role) || self.log.points.is_empty() {
            return known;
        }
        let of = |role: &Role| self.growth(*role, a, b);
        let wired = |role: &&Role| self.has(**role);
        let mut low = needing(role).iter().filter(wired).map(|role| of(role).logged.low).fold(0.0, f64::max);
        let mut high = hours_between(a.at.lo_ms, b.at.hi_ms);
        let mut dark_h = 0.0;
        for growth in needed_by(role).iter().filter(wired).map(of) {
            high = high.min(growth.logged.high + growth.unseen_h);
            dark_h = growth.dark_h;
        }
        // A logger that hangs on the radar has power when the radar has.
        let ends = self.log.points.first().zip(self.log.points.last());
        let inside =
            ends.is_some_and(|(first, last)| first.at.hi_ms <= a.at.lo_ms && b.at.hi_ms <= last.at.lo_ms);
        if self.fed && inside && !self.has(Role::Supply) {
            dark_h = (b.dark.1 - a.dark.0).max(0.0);
            high = high.min(hours_between(a.at.lo_ms, b.at.hi_ms) - (b.dark.0 - a.dark.1).max(0.0));
            if role == Role::Supply {
                low = low.max(hours_between(a.at.hi_ms, b.at.lo_ms) - dark_h);
            }
        }
        let high = high.max(low);
        let logged = Interval { low, best: f64::midpoint(low, high), high };
        Growth { logged, dark_h, unseen_h: 0.0, lost_h: 0.0, cut_h: (0.0, 0.0) }
    }

    /// A role's total at an instant, as far as the log tells; `None`: no line watches it.
    pub(super) fn total_at(&self, role: Role, at: &Mark) -> Option<(f64, f64)> {
        let known = place(role).filter(|_| self.has(role)).map(|place| at.total[place]);
        known.map(|total| (total.low, total.high))
    }

    /// How open the log leaves a role's total at an instant, in hours.
    pub(super) fn looseness_h(&self, role: Role, at: &Mark) -> f64 {
        place(role).filter(|_| self.has(role)).map_or(0.0, |place| at.total[place].high - at.total[place].low)
    }

    /// What the shape of a line says of the time between two instants.
    pub(super) fn shape(&self, role: Role, a: &Mark, b: &Mark) -> Shape {
        let Some(at) = place(role) else { return Shape::default() };
        let (from, to) = (a.shape[at], b.shape[at]);
        Shape {
            steady_h: to.steady_h - from.steady_h,
            over_h: to.over_h - from.over_h,
            under_h: to.under_h - from.under_h,
        }
    }

    /// The total at an instant that is itself uncertain: between which points it surely is, and the first behind its middle.
    fn total(&self, at: usize, when: When, before: Option<usize>, after: usize, behind: usize) -> Interval {
        let points = &self.log.points;
        let (before, after) = (before.map(|i| &points[i]), points.get(after));
        let reach = |from_ms: i64, to_ms: i64| hours_between(from_ms, to_ms) * (1.0 + DRIFT);
        let (first, last) = (&points[0], &points[points.len() - 1]);
        let floor = before.map_or(first.on_h[at], |p| p.on_h[at]);
        let ceiling = after.map_or(last.on_h[at], |p| p.on_h[at]);
        let low = after.map_or(floor, |p| floor.max(p.on_h[at] - reach(when.lo_ms, p.at.hi_ms)));
        let high = before.map_or(ceiling, |p| ceiling.min(p.on_h[at] + reach(p.at.lo_ms, when.hi_ms)));
        let (low, high) = (low.min(high), high.max(low));
        Interval { low, best: self.best(at, when.best_ms(), behind).clamp(low, high), high }
    }

    /// Straight between the points on either side.
    fn best(&self, at: usize, at_ms: i64, behind: usize) -> f64 {
        let points = &self.log.points;
        match (behind.checked_sub(1).and_then(|i| points.get(i)), points.get(behind)) {
            (Some(a), Some(b)) => a.on_h[at] + (b.on_h[at] - a.on_h[at]) * share_passed(a, b, at_ms),
            (Some(p), None) | (None, Some(p)) => p.on_h[at],
            (None, None) => 0.0,
        }
    }

    /// Whether a box can have been exchanged between two instants: supply off, dark or not watched.
    pub(super) fn supply_may_be_off(&self, a: &Mark, b: &Mark) -> bool {
        if !self.has(Role::Supply) {
            return true;
        }
        let growth = self.growth(Role::Supply, a, b);
        let elapsed_h = hours_between(a.at.lo_ms, b.at.hi_ms);
        growth.dark_h > 0.0 || growth.unseen_h > 0.0 || growth.logged.high < elapsed_h - 0.05
    }

    /// The neighbouring points that overlap a period, in pairs.
    pub(super) fn pairs(&self, a: When, b: When) -> impl Iterator<Item = (&'a Point, &'a Point)> {
        let points: &'a [Point] = &self.log.points;
        let from = points.partition_point(|p| p.at.best_ms() <= a.best_ms()).saturating_sub(1);
        let to = points.partition_point(|p| p.at.best_ms() < b.best_ms());
        let range = points.get(from..(to + 1).min(points.len())).unwrap_or(&[]);
        range.windows(2).filter_map(|pair| pair.first().zip(pair.get(1)))
    }
}

impl<'a> Watch<'a> {
    /// The pairs of neighbouring points before an instant, latest first.
    pub(super) fn before(&self, at_ms: i64) -> impl Iterator<Item = (&'a Point, &'a Point)> {
        let points: &'a [Point] = &self.log.points;
        let to = points.partition_point(|p| p.at.best_ms() <= at_ms);
        points.get(..to).unwrap_or(&[]).windows(2).rev().filter_map(|pair| pair.first().zip(pair.get(1)))
    }

    /// The pairs of neighbouring points behind an instant, earliest first.
    pub(super) fn after(&self, at_ms: i64) -> impl Iterator<Item = (&'a Point, &'a Point)> {
        let points: &'a [Point] = &self.log.points;
        let from = points.partition_point(|p| p.at.best_ms() < at_ms);
        points.get(from..).unwrap_or(&[]).windows(2).filter_map(|pair| pair.first().zip(pair.get(1)))
    }
}

/// The shapes of all lines, added up to each point.
fn shapes(log: &Log) -> Vec<[Shape; 5]> {
    let mut sum = [Shape::default(); 5];
    let mut all = Vec::with_capacity(log.points.len());
    all.extend(log.points.first().map(|_| sum));
    let places =
        |roles: &'static [Role]| roles.iter().filter_map(|role| place(*role)).filter(|at| log.wired[*at]);
    let pairs: Vec<(&Point, &Point)> = log.points.iter().zip(log.points.iter().skip(1)).collect();
    let steady: Vec<[bool; 5]> = pairs
        .iter()
        .map(|(before, after)| {
            let is_powered = powered_h(before, after) > 0.5;
            std::array::from_fn(|own| is_powered && is_steady(before, after, own))
        })
        .collect();
    for (at, (before, after)) in pairs.iter().enumerate() {
        let step = |at: usize| after.on_h[at] - before.on_h[at];
        let free_h = BREACH_FREE_H + after.lost_h;
        for (own, role) in ROLES.into_iter().enumerate().filter(|(own, _)| log.wired[*own]) {
            let over_h = places(needed_by(role)).map(|at| step(own) - step(at) - free_h).fold(0.0, f64::max);
            let under_h = places(needing(role)).map(|at| step(at) - step(own) - free_h).fold(0.0, f64::max);
            // A fault begins and ends within a day: so the days on either side may be parts of it.
            let near = at.saturating_sub(1)..(at + 2).min(steady.len());
            let is_near_steady = steady[near].iter().any(|steady| steady[own]);
            sum[own].steady_h += if is_near_steady { step(own) } else { over_h };
            sum[own].over_h += over_h;
            sum[own].under_h += under_h;
        }
        all.push(sum);
    }
    all
}

/// Isolations and other periods: for how long at least and at most, in hours.
pub(super) fn length_h(span: &Span) -> (f64, f64) {
    (hours_between(span.from.hi_ms, span.to.lo_ms), hours_between(span.from.lo_ms, span.to.hi_ms))
}

/// For how long the logger had power between two neighbouring points, in hours.
fn powered_h(before: &Point, after: &Point) -> f64 {
    (hours_between(before.at.best_ms(), after.at.best_ms()) - after.dark_h).max(0.0)
}

/// Whether a line was on all the time between two neighbouring points, as good as. `own`: its place in [`ROLES`].
pub(super) fn is_steady(before: &Point, after: &Point, own: usize) -> bool {
    after.on_h[own] - before.on_h[own] >= 0.98 * powered_h(before, after)
}

/// What share of the time between two points had passed at an instant.
fn share_passed(before: &Point, after: &Point, at_ms: i64) -> f64 {
    let whole_h = hours_between(before.at.best_ms(), after.at.best_ms()).max(1e-9);
    (hours_between(before.at.best_ms(), at_ms) / whole_h).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_MS: i64 = 3_600_000;

    fn at(hour: i64) -> When {
        When { lo_ms: hour * HOUR_MS, hi_ms: hour * HOUR_MS }
    }

    fn point(hour: i64, transmit_h: f64, dark_h: f64) -> Point {
        let on_h = [0.0, 0.0, transmit_h, 0.0, 0.0];
        Point { at: at(hour), on_h, dark_h, lost_h: 0.0, drop_outs: 0, short_warm_ups: 0 }
    }

    /// By hand: 6 of 24 h, then dark for 10 h, then 20 of 24 h.
    fn log() -> Log {
        Log {
            wired: [false, false, true, false, false],
            points: vec![point(0, 0.0, 0.0), point(24, 6.0, 0.0), point(34, 6.0, 10.0), point(58, 26.0, 0.0)],
            ..Log::default()
        }
    }

    #[test]
    fn growth_between_points_is_a_parallelogram_and_dark_time_stands_apart() {
        let log = log();
        let watch = Watch::new(&log);
        let round = |x: f64| (x * 10.0).round() / 10.0;
        let of = |a, b| {
            let g = watch.growth(Role::Transmit, &watch.mark(at(a)), &watch.mark(at(b)));
            [g.logged.low, g.logged.best, g.logged.high, g.dark_h, g.unseen_h].map(round)
        };
        assert_eq!(of(0, 24), [6.0, 6.0, 6.0, 0.0, 0.0]);
        assert_eq!(of(0, 12), [0.0, 3.0, 6.0, 0.0, 0.0]);
        assert_eq!(of(12, 58), [20.0, 23.0, 26.0, 10.0, 0.0]);
        assert_eq!(of(0, 68), [26.0, 26.0, 26.0, 10.0, 10.0]);
        assert_eq!(of(-20, -10), [0.0, 0.0, 0.0, 0.0, 10.0], "before the log nothing is known");
        let wide = When { lo_ms: 12 * HOUR_MS, hi_ms: 24 * HOUR_MS };
        let g = watch.growth(Role::Transmit, &watch.mark(at(0)), &watch.mark(wide));
        assert_eq!((round(g.logged.low), round(g.logged.high)), (0.0, 6.0));
    }
}
