//! When a limit falls, as a distribution: how likely it has fallen by an instant.

const DAY_MS: f64 = 86_400_000.0;

/// When something happens, told by points: by this instant it has happened with this probability. Between two points
/// the probability grows evenly; before the first it is 0, behind the last it stays. What is missing to 1 never happens.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chance {
    points: Vec<(i64, f64)>,
}

impl Chance {
    /// From points (milliseconds since 1970 in UTC, probability from 0 to 1) in any order. A probability that would
    /// fall is held.
    #[must_use]
    pub fn new(mut points: Vec<(i64, f64)>) -> Chance {
        points.retain(|(_, probability)| probability.is_finite());
        points.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut highest: f64 = 0.0;
        for (_, probability) in &mut points {
            highest = highest.max(probability.clamp(0.0, 1.0));
            *probability = highest;
        }
        Chance { points }
    }

    /// It happens at this instant.
    #[must_use]
    pub fn certain(at_ms: i64) -> Chance {
        Chance { points: vec![(at_ms, 1.0)] }
    }

    /// From instants that are equally likely, oldest first, of `of` in all; those that are missing never come.
    #[must_use]
    pub fn of_equally_likely(instants_ms: &[i64], of: usize) -> Chance {
        let share = |count: usize| count as f64 / of.max(1) as f64;
        Chance::new((1..).zip(instants_ms).map(|(count, at_ms)| (*at_ms, share(count))).collect())
    }

    /// Nothing is known.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.points.is_empty()
    }

    /// How likely it has happened before an instant.
    #[must_use]
    pub fn before(&self, at_ms: i64) -> f64 {
        let next = self.points.partition_point(|(point_ms, _)| *point_ms < at_ms);
        let Some(&(low_ms, low)) = next.checked_sub(1).and_then(|last| self.points.get(last)) else {
            return 0.0;
        };
        let Some(&(high_ms, high)) = self.points.get(next) else { return low };
        low + (high - low) * (at_ms - low_ms) as f64 / (high_ms - low_ms) as f64
    }

    /// How likely it ever happens.
    #[must_use]
    pub fn ever(&self) -> f64 {
        self.points.last().map_or(0.0, |(_, probability)| *probability)
    }

    /// The first instant by which it has happened with this probability, if it ever does.
    #[must_use]
    pub fn by(&self, probability: f64) -> Option<i64> {
        // A share of a hundred is not exact in binary.
        self.points.iter().find(|(_, reached)| *reached >= probability - 1e-9).map(|(at_ms, _)| *at_ms)
    }

    /// How many days the instant lies behind it, on average over all that can be; 0 where it lies before.
    #[must_use]
    pub fn days_over(&self, at_ms: i64) -> f64 {
        self.steps().map(|(point_ms, share)| share * days(point_ms, at_ms)).sum()
    }

    /// How many days are left at an instant, on average over all that can be; 0 where none are.
    #[must_use]
    pub fn days_left(&self, at_ms: i64) -> f64 {
        let ever = self.ever();
        if ever <= 0.0 {
            return 0.0;
        }
        self.steps().map(|(point_ms, share)| share * days(at_ms, point_ms)).sum::<f64>() / ever
    }

    /// Each point, and how much likelier it made it.
    fn steps(&self) -> impl Iterator<Item = (i64, f64)> + '_ {
        let before = std::iter::once(0.0).chain(self.points.iter().map(|(_, probability)| *probability));
        self.points.iter().zip(before).map(|((at_ms, probability), before)| (*at_ms, probability - before))
    }
}

/// Days from one instant to a later one, else 0.
fn days(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / DAY_MS
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400_000;

    /// By hand: even chances of day 10, 20, 30 and never.
    #[test]
    fn three_dates_and_never() {
        let chance = Chance::of_equally_likely(&[10 * DAY, 20 * DAY, 30 * DAY], 4);
        assert_eq!(chance.before(10 * DAY), 0.0, "not before its instant");
        assert_eq!(chance.before(15 * DAY), 0.375);
        assert_eq!((chance.before(99 * DAY), chance.ever()), (0.75, 0.75));
        assert_eq!((chance.by(0.25), chance.by(0.5), chance.by(0.9)), (Some(10 * DAY), Some(20 * DAY), None));
        assert_eq!(chance.days_over(25 * DAY), (15.0 + 5.0) / 4.0);
        assert_eq!(chance.days_left(15 * DAY), (5.0 + 15.0) / 3.0, "of those that come");
    }

    #[test]
    fn one_instant_is_a_step() {
        let chance = Chance::certain(5);
        assert_eq!((chance.before(5), chance.before(6), chance.ever()), (0.0, 1.0, 1.0));
        // A date that a calendar limit sets stands in every hundredth.
        assert_eq!(Chance::of_equally_likely(&[5; 100], 100).before(5), 0.0);
        assert_eq!(Chance::of_equally_likely(&[5; 100], 100).before(6), 1.0);
    }

    #[test]
    fn disorder_is_put_in_order_and_nothing_known_is_nothing() {
        let chance = Chance::new(vec![(20, 0.3), (10, 0.5), (15, f64::NAN), (30, 7.0)]);
        assert_eq!((chance.before(20), chance.before(31)), (0.5, 1.0));
        let none = Chance::default();
        assert!(none.is_unknown());
        assert_eq!((none.before(0), none.ever(), none.by(0.1), none.days_left(0)), (0.0, 0.0, None, 0.0));
    }
}
