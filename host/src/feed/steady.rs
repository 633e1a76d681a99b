//! A meter as a planner takes it: it never falls, and it never moves by more than the time that passed.
//!
//! What Halfglass holds to be true can fall when more becomes known: a reading corrected, a zeroing found. A planner
//! that is told a smaller figure than last month's, or 25 hours in one day, refuses the file or raises an alarm. So what
//! is given out is the likeliest figure, held between what was given out before and that plus the time since:
//!
//! ```text
//!  hours |              .· given + time passed
//!        |           .·     x  likeliest, too high: held at the slope until it is caught up with
//!        |        given
//!        |         '-------------  likeliest, too low: held level until it has risen to there
//!        +-----------------------------> time
//! ```
//!
//! What is held back is said beside the figure. Figures are in tenths of an hour and instants in whole tenths too
//! ([`instant`]): so no rounding breaks the promise, in whatever order dates are asked for.

/// Tenths of an hour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Tenths(pub i64);

const MS_PER_TENTH: i64 = 360_000;

/// The last instant at or before this one for which a figure can be given out: every six minutes there is one.
#[must_use]
pub fn instant(at_ms: i64) -> i64 {
    at_ms.div_euclid(MS_PER_TENTH) * MS_PER_TENTH
}

impl Tenths {
    /// The nearest to a figure in hours.
    #[must_use]
    pub fn nearest(hours: f64) -> Tenths {
        Tenths((hours * 10.0).round() as i64)
    }

    /// In hours.
    #[must_use]
    pub fn hours(self) -> f64 {
        self.0 as f64 / 10.0
    }
}

/// A figure that was given out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Given {
    /// For which instant.
    pub at_ms: i64,
    /// The figure.
    pub meter: Tenths,
}

/// Why a figure that is given out is not the likeliest one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// The likeliest is lower, by so much.
    Lower(Tenths),
    /// The likeliest is higher, by so much.
    Higher(Tenths),
}

/// The figure to give out for an instant, given the likeliest in hours and all that was given out for the same meter, in
/// any order; and why it is another one, if it is.
///
/// `at_ms` is an [`instant`]. One before others that were given out already is held between its neighbours; `given` is what
/// this function gave, so that some figure always fits.
#[must_use]
pub fn steady(best_h: f64, at_ms: i64, given: &[Given]) -> (Tenths, Option<Held>) {
    let best = Tenths::nearest(best_h).max(Tenths(0));
    let mut least = 0;
    let mut most = i64::MAX;
    for earlier in given {
        let passed = (at_ms - earlier.at_ms).abs() / MS_PER_TENTH;
        let meter = earlier.meter.0;
        if earlier.at_ms <= at_ms {
            least = least.max(meter);
            most = most.min(meter.saturating_add(passed));
        }
        if earlier.at_ms >= at_ms {
            least = least.max(meter - passed);
            most = most.min(meter);
        }
    }
    // Never falling counts more, should a file of another hand contradict itself.
    let meter = Tenths(best.0.min(most).max(least));
    let held = match best.cmp(&meter) {
        std::cmp::Ordering::Less => Some(Held::Lower(Tenths(meter.0 - best.0))),
        std::cmp::Ordering::Equal => None,
        std::cmp::Ordering::Greater => Some(Held::Higher(Tenths(best.0 - meter.0))),
    };
    (meter, held)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const DAY_MS: i64 = 86_400_000;

    fn given(day: i64, hours: f64) -> Given {
        Given { at_ms: day * DAY_MS, meter: Tenths::nearest(hours) }
    }

    #[test]
    fn the_first_figure_is_the_likeliest() {
        assert_eq!(steady(1234.56, 0, &[]), (Tenths(12_346), None));
    }

    #[test]
    fn a_meter_never_falls() {
        let before = [given(0, 2713.0)];
        assert_eq!(steady(2173.0, 31 * DAY_MS, &before), (Tenths(27_130), Some(Held::Lower(Tenths(5_400)))));
    }

    #[test]
    fn a_meter_moves_by_no_more_than_a_day_has() {
        let before = [given(0, 100.0)];
        assert_eq!(steady(200.0, 2 * DAY_MS, &before), (Tenths(1_480), Some(Held::Higher(Tenths(520)))));
    }

    #[test]
    fn a_day_given_out_before_keeps_its_figure() {
        let before = [given(3, 50.0), given(5, 70.0)];
        assert_eq!(steady(60.0, 3 * DAY_MS, &before).0, Tenths(500));
        assert_eq!(steady(10.0, 4 * DAY_MS, &before).0, Tenths(500));
        assert_eq!(steady(90.0, 4 * DAY_MS, &before).0, Tenths(700));
    }

    proptest! {
        /// The promise, whatever is asked in whatever order.
        #[test]
        fn whatever_is_asked(asked in prop::collection::vec((0_i64..400 * DAY_MS, 0.0_f64..20_000.0), 1..60)) {
            let mut known: Vec<Given> = Vec::new();
            for (at_ms, best_h) in asked {
                let at_ms = instant(at_ms);
                let (meter, _) = steady(best_h, at_ms, &known);
                known.push(Given { at_ms, meter });
            }
            known.sort_by_key(|given| (given.at_ms, given.meter));
            for pair in known.windows(2) {
                let moved = pair[1].meter.0 - pair[0].meter.0;
                let passed_h = (pair[1].at_ms - pair[0].at_ms) as f64 / 3_600_000.0;
                prop_assert!(moved >= 0, "{pair:?}");
                prop_assert!(moved as f64 / 10.0 <= passed_h + 1e-9, "{pair:?}");
            }
        }
    }
}
