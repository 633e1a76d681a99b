//! How far a total had grown at an instant: a band between what is proved and what cannot be excluded.
//!
//! A total never falls and grows no faster than time passes. So each point bounds the total at every other
//! instant, and the band is what all of them leave:
//!
//! ```text
//!  total      . high      o known points; between them the total lies in the parallelogram of 'late, then
//!    |     ../|o          steadily' and 'steadily at once, then idle'. A dark time is flat: nothing was logged.
//!    |    o/...
//!    +------------ UTC
//! ```

use super::dating::{Dating, When};
use super::{DRIFT, Point, Timeline};
use halfglass_protocol::record::Totals;

/// One known value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// When.
    pub when: When,
    /// Which record says so.
    pub index: u32,
    /// In which session.
    pub session: u32,
    /// The logger's uptime.
    pub uptime_tenths: u64,
    /// The total.
    pub value: f64,
}

/// A total's course, in tenths of a second of the logger's clock.
#[derive(Clone, Debug, Default)]
pub struct Curve {
    /// Known values, in order.
    pub known: Vec<Known>,
}

/// A value between bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Not below.
    pub low: f64,
    /// Most likely.
    pub best: f64,
    /// Not above.
    pub high: f64,
}

impl Curve {
    /// The course of what `value` picks out, from the records dated at or before `as_of_ms`.
    #[must_use]
    pub fn of(line: &Timeline, dating: &Dating, as_of_ms: i64, value: impl Fn(&Totals) -> f64) -> Curve {
        let known = line.points.iter().map(|Point { index, totals }| Known {
            when: dating.when(totals.session, totals.uptime_tenths),
            index: *index,
            session: totals.session,
            uptime_tenths: totals.uptime_tenths,
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

    /// The total at an instant. Before the first and behind the last known value it may have grown all
    /// the time or not at all; `best` is then the known value itself. `None`: nothing is known.
    #[must_use]
    pub fn at(&self, at_ms: i64) -> Option<Band> {
        self.first()?;
        let reach = |ms: i64| ms.max(0) as f64 / 100.0 * (1.0 + DRIFT);
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for known in &self.known {
            low = low.max(known.value - reach(known.when.hi_ms.saturating_sub(at_ms)));
            high = high.min(known.value + reach(at_ms.saturating_sub(known.when.lo_ms)));
        }
        // Contradicting anchors can cross the bounds: then what either says is possible.
        let (low, high) = (low.min(high), high.max(low));
        Some(Band { low, best: self.best_at(at_ms).clamp(low, high), high })
    }

    /// The likeliest total at an instant: straight between known values.
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

    /// The instant at which the total likeliest was `value`.
    #[must_use]
    pub fn instant_of(&self, value: f64) -> Option<i64> {
        let behind = self.known.partition_point(|known| known.value < value);
        let b = self.known.get(behind).or(self.known.last())?;
        let Some(a) = behind.checked_sub(1).and_then(|at| self.known.get(at)) else {
            return Some(b.when.best_ms());
        };
        let share = ((value - a.value) / (b.value - a.value)).clamp(0.0, 1.0);
        let (from_ms, to_ms) = (a.when.best_ms(), b.when.best_ms());
        let share = if share.is_finite() { share } else { 1.0 };
        Some(from_ms + ((to_ms - from_ms) as f64 * share) as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_MS: i64 = 3_600_000;

    fn known(hour: i64, value_h: f64) -> Known {
        let when = When { lo_ms: hour * HOUR_MS, hi_ms: hour * HOUR_MS };
        Known { when, index: 0, session: 1, uptime_tenths: hour as u64 * 36_000, value: value_h * 36_000.0 }
    }

    fn at_h(curve: &Curve, hour: i64) -> (f64, f64, f64) {
        let band = curve.at(hour * HOUR_MS).unwrap();
        let round = |tenths: f64| (tenths / 3_600.0).round() / 10.0;
        (round(band.low), round(band.best), round(band.high))
    }

    /// By hand: 6 h of 24 between hours 0 and 24. At hour 12: if they all came first, 6; if last, 0; straight, 3.
    /// At hour 20: at least 6 - 4 = 2, at most 6. At hour 2: at least 0, at most 2.
    #[test]
    fn between_points_the_band_is_a_parallelogram() {
        let curve = Curve { known: vec![known(0, 0.0), known(24, 6.0)] };
        assert_eq!(at_h(&curve, 12), (0.0, 3.0, 6.0));
        assert_eq!(at_h(&curve, 20), (2.0, 5.0, 6.0));
        assert_eq!(at_h(&curve, 2), (0.0, 0.5, 2.0));
        assert_eq!(at_h(&curve, 24), (6.0, 6.0, 6.0));
        assert_eq!(at_h(&curve, 34), (6.0, 6.0, 16.0), "behind the end: nothing, or all of the time");
        assert_eq!(at_h(&curve, -5), (-5.0, 0.0, 0.0), "before the start: likewise");
    }

    #[test]
    fn instants_are_found_back() {
        let curve = Curve { known: vec![known(0, 0.0), known(24, 6.0), known(48, 6.0), known(72, 30.0)] };
        assert_eq!(curve.instant_of(3.0 * 36_000.0), Some(12 * HOUR_MS));
        assert_eq!(curve.instant_of(18.0 * 36_000.0), Some(60 * HOUR_MS));
        assert_eq!(curve.instant_of(-1.0), Some(0));
        assert_eq!(curve.instant_of(99.0 * 36_000.0), Some(72 * HOUR_MS));
    }
}
