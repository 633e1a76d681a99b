//! A small generator of draws (splitmix64): repeatable on every machine.

use super::Interval;
use crate::timeline::dating::When;

#[derive(Clone, Copy, Debug)]
pub(super) struct Dice(pub(super) u64);

impl Dice {
    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A whole number from 0 up to, not including, `end`.
    pub(super) fn below(&mut self, end: usize) -> usize {
        // The high half of a product: as even as a remainder, and quicker.
        ((u128::from(self.next()) * end.max(1) as u128) >> 64) as usize
    }

    /// From 0 up to, not including, 1.
    pub(super) fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Close to a bell of mean 0 and deviation 1: the sum of four even draws, scaled.
    pub(super) fn bell(&mut self) -> f64 {
        let sum = self.share() + self.share() + self.share() + self.share();
        (sum - 2.0) * 3.0_f64.sqrt()
    }

    /// A wait of this mean that knows no age.
    pub(super) fn wait(&mut self, mean: f64) -> f64 {
        -(1.0 - self.share()).ln() * mean
    }

    /// Any instant of an interval, evenly.
    pub(super) fn between(&mut self, of: When) -> i64 {
        of.lo_ms + ((of.hi_ms - of.lo_ms) as f64 * self.share()) as i64
    }

    /// Between low and high, mostly near best, and as often below it as above.
    pub(super) fn near(&mut self, of: Interval) -> f64 {
        let share = self.share();
        if share < 0.5 {
            of.low + (of.best - of.low) * (2.0 * share).sqrt()
        } else {
            of.high - (of.high - of.best) * (2.0 * (1.0 - share)).sqrt()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means and deviations that the names promise, over 100,000 draws: five standard errors.
    #[test]
    fn draws_are_as_they_are_called() {
        let mut dice = Dice(1);
        let mut of = |draw: fn(&mut Dice) -> f64| {
            let all: Vec<f64> = (0..100_000).map(|_| draw(&mut dice)).collect();
            let mean = all.iter().sum::<f64>() / 1e5;
            (mean, (all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 1e5).sqrt())
        };
        let near = |(mean, deviation): (f64, f64), to: (f64, f64)| {
            assert!(
                (mean - to.0).abs() < 0.02 * to.1.max(1.0) && (deviation / to.1 - 1.0).abs() < 0.02,
                "{mean} {deviation}"
            );
        };
        near(of(Dice::bell), (0.0, 1.0));
        near(of(|dice| dice.wait(3.0)), (3.0, 3.0));
        near(of(|dice| dice.below(12) as f64), (5.5, (143.0_f64 / 12.0).sqrt()));
        let of_hours = Interval { low: 0.0, best: 9.0, high: 10.0 };
        let below = (0..10_000).filter(|_| dice.near(of_hours) < 9.0).count();
        assert!((4_750..5_250).contains(&below), "{below}");
    }
}
