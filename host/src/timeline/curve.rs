//! A total's likeliest course: straight between the instants at which it is known.

use super::dating::{Dating, When};
use super::{Point, Timeline};
use halfglass_protocol::record::Totals;

/// One known value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// When.
    pub when: When,
    /// The total.
    pub value: f64,
}

/// A total's course.
#[derive(Clone, Debug, Default)]
pub struct Curve {
    /// Known values, in order.
    pub known: Vec<Known>,
}

impl Curve {
    /// The course of what `value` picks out, from the records dated at or before `as_of_ms`.
    #[must_use]
    pub fn of(line: &Timeline, dating: &Dating, as_of_ms: i64, value: impl Fn(&Totals) -> f64) -> Curve {
        let known = line.points.iter().map(|Point { totals, .. }| Known {
            when: dating.when(totals.session, totals.uptime_tenths),
            value: value(totals),
        });
        Curve { known: known.filter(|known| known.when.best_ms() <= as_of_ms).collect() }
    }

    /// The first known value.
    #[must_use]
    pub fn first(&self) -> Option<&Known> {
        self.known.first()
    }

    /// The last known value.
    #[must_use]
    pub fn last(&self) -> Option<&Known> {
        self.known.last()
    }

    /// The likeliest total at an instant; before the first and behind the last known value it stands still.
    #[must_use]
    pub fn best_at(&self, at_ms: i64) -> f64 {
        let behind = self.known.partition_point(|known| known.when.best_ms() <= at_ms);
        let before = behind.checked_sub(1).and_then(|at| self.known.get(at));
        match (before, self.known.get(behind)) {
            (Some(a), Some(b)) => {
                let (from_ms, to_ms) = (a.when.best_ms(), b.when.best_ms());
                let share = (at_ms - from_ms) as f64 / (to_ms - from_ms).max(1) as f64;
                a.value + (b.value - a.value) * share
            }
            (Some(known), None) | (None, Some(known)) => known.value,
            (None, None) => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 6 h of 24, then nothing for 24.
    #[test]
    fn straight_between_what_is_known_and_still_outside() {
        let known = |hour: i64, value| Known {
            when: When { lo_ms: hour * 3_600_000, hi_ms: hour * 3_600_000 },
            value,
        };
        let curve = Curve { known: vec![known(0, 0.0), known(24, 6.0), known(48, 6.0)] };
        let at = |hour: i64| curve.best_at(hour * 3_600_000);
        assert_eq!([at(-5), at(12), at(24), at(40), at(99)], [0.0, 3.0, 6.0, 6.0, 6.0]);
        assert_eq!(Curve::default().best_at(0), 0.0);
    }
}
