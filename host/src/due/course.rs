//! How a part's line went, as its loggers saw it: one logger after another, totals going on.
//!
//! What the hours are is settled elsewhere, by all sources together. Here is only *when* they came: for the usage of each
//! day, and for the day on which a limit was passed.

use super::Interval;
use crate::timeline::dating::When;
use crate::timeline::{DRIFT, hours_between};

/// What was known of the line at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// When.
    pub at: When,
    /// On-time so far, in hours; where it begins is of no account.
    pub on_h: f64,
    /// How often it went on so far.
    pub starts: f64,
    /// How many of those starts were a line found on when the logger came up: they may be none of the radar's.
    pub found_on: f64,
    /// For how much of the time since the mark before the logger was without power, at most, in hours.
    pub dark_h: f64,
    /// How much can have been lost at power cuts since the mark before, in hours.
    pub lost_h: f64,
}

/// A line's course, by time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// What was known, by time.
    pub marks: Vec<Mark>,
    /// The logger is fed from the radar: dark time is time off.
    pub fed_from_radar: bool,
}

impl Course {
    /// The first mark and the last.
    #[must_use]
    pub fn ends(&self) -> Option<(&Mark, &Mark)> {
        self.marks.first().zip(self.marks.last())
    }

    /// The likeliest figure at an instant: straight between marks.
    pub(super) fn best_at(&self, at_ms: i64, of: fn(&Mark) -> f64) -> f64 {
        let behind = self.marks.partition_point(|mark| mark.at.best_ms() <= at_ms);
        match (behind.checked_sub(1).and_then(|at| self.marks.get(at)), self.marks.get(behind)) {
            (Some(a), Some(b)) => {
                let (from_ms, to_ms) = (a.at.best_ms(), b.at.best_ms());
                let share = (at_ms - from_ms) as f64 / (to_ms - from_ms).max(1) as f64;
                of(a) + (of(b) - of(a)) * share
            }
            (Some(mark), None) | (None, Some(mark)) => of(mark),
            (None, None) => 0.0,
        }
    }

    /// Hours that the line ran between two instants, likeliest. `None`: the log does not hold both, or was dark for more than
    /// a twentieth of what it saw run.
    #[must_use]
    pub fn run_h(&self, from_ms: i64, to_ms: i64) -> Option<f64> {
        let (first, last) = self.ends()?;
        // A logger put in together with the part begins with it, but for its clock.
        let held = hours_between(from_ms, first.at.best_ms()) <= 1.0 && to_ms <= last.at.best_ms();
        let run_h = self.best_at(to_ms, |mark| mark.on_h) - self.best_at(from_ms, |mark| mark.on_h);
        let between = |mark: &&Mark| mark.at.best_ms() > from_ms && mark.at.best_ms() <= to_ms;
        let dark_h: f64 = self.marks.iter().filter(between).map(|mark| mark.dark_h).sum();
        (held && run_h > 0.0 && (self.fed_from_radar || dark_h <= run_h / 20.0)).then_some(run_h)
    }

    /// The instant at which the on-time likeliest was this.
    pub(super) fn instant_of(&self, on_h: f64) -> Option<i64> {
        let behind = self.marks.partition_point(|mark| mark.on_h < on_h);
        let b = self.marks.get(behind).or(self.marks.last())?;
        let Some(a) = behind.checked_sub(1).and_then(|at| self.marks.get(at)) else {
            return Some(b.at.best_ms());
        };
        let share = ((on_h - a.on_h) / (b.on_h - a.on_h)).clamp(0.0, 1.0);
        let (from_ms, to_ms) = (a.at.best_ms(), b.at.best_ms());
        let share = if share.is_finite() { share } else { 1.0 };
        Some(from_ms + ((to_ms - from_ms) as f64 * share) as i64)
    }

    /// How open the marks leave the on-time at an instant, in hours: it never falls, and grows no faster than time.
    pub(super) fn bracket_h(&self, at: When) -> f64 {
        let before = self.marks.partition_point(|mark| mark.at.hi_ms <= at.lo_ms).checked_sub(1);
        let after = self.marks.partition_point(|mark| mark.at.lo_ms < at.hi_ms);
        let (Some(a), Some(b)) = (before.and_then(|at| self.marks.get(at)), self.marks.get(after)) else {
            return 0.0;
        };
        let reach_h = |from_ms: i64, to_ms: i64| hours_between(from_ms, to_ms) * (1.0 + DRIFT);
        let low = a.on_h.max(b.on_h - reach_h(at.lo_ms, b.at.hi_ms));
        let high = b.on_h.min(a.on_h + reach_h(a.at.lo_ms, at.hi_ms));
        (high - low).max(0.0)
    }

    /// Hours from the last mark to an instant; none that are dated are left then.
    pub(super) fn tail_h(&self, since_ms: i64, as_of_ms: i64) -> f64 {
        self.ends().map_or(0.0, |(_, last)| hours_between(last.at.best_ms().max(since_ms), as_of_ms))
    }

    /// Dark time and losses behind an instant, in hours at most.
    pub(super) fn unseen_since(&self, at: When) -> (f64, f64) {
        let behind = self.marks.iter().filter(|mark| mark.at.hi_ms > at.lo_ms);
        behind.fold((0.0, 0.0), |(dark_h, lost_h), mark| {
            let elapsed_h = hours_between(at.lo_ms, mark.at.hi_ms);
            (dark_h + mark.dark_h.min(elapsed_h), lost_h + mark.lost_h)
        })
    }

    /// How often the line went on since an instant. Time without marks has no bound on starts: there `high` is the busiest
    /// day that was logged, day after day. `None`: nothing was logged.
    #[must_use]
    pub fn starts_since(
        &self,
        from: When,
        as_of_ms: i64,
        per_day: f64,
        busiest_day: f64,
    ) -> Option<Interval> {
        let (first, last) = self.ends()?;
        let before = self.marks.partition_point(|mark| mark.at.hi_ms <= from.lo_ms).checked_sub(1);
        let before = before.and_then(|at| self.marks.get(at)).unwrap_or(first);
        let after = self.marks.partition_point(|mark| mark.at.lo_ms < from.hi_ms);
        let after = self.marks.get(after).unwrap_or(last);
        let best = self.best_at(from.best_ms(), |mark| mark.starts).clamp(before.starts, after.starts);
        let found_on = last.found_on - before.found_on;
        let before_days = hours_between(from.lo_ms, first.at.best_ms().min(as_of_ms)) / 24.0;
        let unseen_days = before_days + self.tail_h(from.lo_ms, as_of_ms) / 24.0;
        let low = (last.starts - after.starts - found_on).max(0.0);
        let high = (last.starts - before.starts + unseen_days * busiest_day).max(low);
        let best = last.starts - best - found_on + unseen_days * per_day;
        Some(Interval { low, best: best.clamp(low, high), high })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_MS: i64 = 3_600_000;

    fn when(hour: i64) -> When {
        When { lo_ms: hour * HOUR_MS, hi_ms: hour * HOUR_MS }
    }

    fn mark(hour: i64, on_h: f64, starts: f64, dark_h: f64) -> Mark {
        Mark { at: when(hour), on_h, starts, found_on: 0.0, dark_h, lost_h: 0.0 }
    }

    /// By hand: 6 of 24 h, nothing on the second day, 24 of the third.
    fn course() -> Course {
        let marks = vec![
            mark(0, 0.0, 0.0, 0.0),
            mark(24, 6.0, 1.0, 0.0),
            mark(48, 6.0, 2.0, 24.0),
            mark(72, 30.0, 3.0, 0.0),
        ];
        Course { marks, fed_from_radar: false }
    }

    #[test]
    fn instants_are_found_back() {
        let at = |on_h: f64| course().instant_of(on_h);
        assert_eq!(at(3.0), Some(12 * HOUR_MS));
        assert_eq!(at(18.0), Some(60 * HOUR_MS));
        assert_eq!(at(-1.0), Some(0));
        assert_eq!(at(99.0), Some(72 * HOUR_MS));
    }

    /// By hand: 3 h of the first day, 12 of the third; the second was dark.
    #[test]
    fn hours_between_two_instants_that_the_log_holds() {
        let run_h = |from: i64, to: i64| course().run_h(from * HOUR_MS, to * HOUR_MS);
        assert_eq!((run_h(12, 24), run_h(48, 60)), (Some(3.0), Some(12.0)));
        assert_eq!((run_h(0, 60), run_h(-5, 24), run_h(48, 73)), (None, None, None));
        assert_eq!(Course { fed_from_radar: true, ..course() }.run_h(0, 60 * HOUR_MS), Some(18.0));
    }

    /// By hand: at hour 12, 0 to 6 h; at hour 20, at least 6 - 4; at hour 24, known.
    #[test]
    fn between_marks_the_on_time_is_open_by_a_parallelogram() {
        let open = |hour| (course().bracket_h(when(hour)) * 10.0).round() / 10.0;
        assert_eq!([open(12), open(20), open(24)], [6.0, 4.0, 0.0]);
        let day = When { lo_ms: 0, hi_ms: 24 * HOUR_MS };
        assert!((course().bracket_h(day) - 6.0).abs() < 0.1);
    }

    /// By hand: 24 h of dark in all; behind hour 40 at most 8 of them. The tail is what passed since hour 72.
    #[test]
    fn what_nobody_saw_is_added_up() {
        assert_eq!(course().unseen_since(when(0)), (24.0, 0.0));
        assert_eq!(course().unseen_since(when(40)), (8.0, 0.0));
        assert_eq!((course().tail_h(0, 82 * HOUR_MS), course().tail_h(0, 70 * HOUR_MS)), (10.0, 0.0));
    }

    /// By hand: one start in each of three records. From hour 36, in the second record: 1, or 2. Two days without a record:
    /// nothing, one a day, four a day as on the busiest. One of them a line found on: it may be none.
    #[test]
    fn starts_are_bracketed() {
        let starts = |course: &Course, from, as_of| {
            let of = course.starts_since(when(from), as_of * HOUR_MS, 1.0, 4.0).unwrap();
            (of.low, of.best, of.high)
        };
        assert_eq!(starts(&course(), 24, 72), (2.0, 2.0, 2.0));
        assert_eq!(starts(&course(), 36, 72), (1.0, 1.5, 2.0));
        assert_eq!(starts(&course(), 36, 120), (1.0, 3.5, 10.0));
        let mut found = course();
        found.marks[3].found_on = 1.0;
        assert_eq!(starts(&found, 24, 72).0, 1.0);
        assert!(Course::default().starts_since(when(0), 0, 1.0, 1.0).is_none());
    }
}
