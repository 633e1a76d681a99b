//! Failures of one repaired thing over its hours: whether they come at a constant rate, and the rate now if they do not.
//!
//! The model is the power law (Crow-AMSAA): a t^b failures are expected by t hours. With b below 1 failures become rarer, above 1 more
//! frequent. Source of the estimates and limits: NIST/SEMATECH e-Handbook 8.4.5.2; of the tests: MIL-HDBK-189.

use super::Limits;
use super::quantile::{chi_square_below, normal_beyond, normal_two_sided};
use super::why::{Why, positive};

/// Failures of one thing in its own hours, watched for a time that had nothing to do with them.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    count: f64,
    end_h: f64,
    sum_h: f64,
    /// Σ ln(T/t): the sum over failures of how long, in logarithms, before the end they came.
    sum_ln: f64,
}

/// What a test says of the rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// The test's figure.
    pub statistic: f64,
    /// How often a constant rate would give a figure at least as far out, to either side.
    pub probability: f64,
    /// Failures became more frequent, rather than rarer.
    pub growing: bool,
}

/// A power law.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerLaw {
    /// a: failures expected in the first hour.
    pub a: f64,
    /// b: below 1 failures become rarer, above 1 more frequent.
    pub b: f64,
}

impl PowerLaw {
    /// Failures expected by so many hours.
    #[must_use]
    pub fn failures_by(&self, at_h: f64) -> f64 {
        self.a * at_h.powf(self.b)
    }

    /// Failures per hour at so many hours.
    #[must_use]
    pub fn rate_per_h(&self, at_h: f64) -> f64 {
        self.a * self.b * at_h.powf(self.b - 1.0)
    }

    /// The growth of the hours between failures: 1 − b.
    #[must_use]
    pub fn growth(&self) -> f64 {
        1.0 - self.b
    }
}

/// Too few failures say nothing about a trend.
const FAILURES_MIN: usize = 3;

impl History {
    /// Failures at these hours, in order, in a watch that ended at `end_h`.
    ///
    /// # Errors
    /// Hours that are not positive, not in order, or behind the end; fewer than three failures.
    pub fn new(failures_h: &[f64], end_h: f64) -> Result<History, Why> {
        let end_h = positive("the end of the watch in hours", end_h)?;
        let in_order = failures_h.is_sorted() && failures_h.iter().all(|at_h| *at_h > 0.0 && *at_h <= end_h);
        if !in_order {
            return Err(Why::Times);
        }
        if failures_h.len() < FAILURES_MIN {
            return Err(Why::TooFewFailures { have: failures_h.len(), need: FAILURES_MIN });
        }
        let sum_ln: f64 = failures_h.iter().map(|at_h| (end_h / at_h).ln()).sum();
        if sum_ln <= 0.0 {
            return Err(Why::NoSpread);
        }
        Ok(History { count: failures_h.len() as f64, end_h, sum_h: failures_h.iter().sum(), sum_ln })
    }

    /// The maximum likelihood estimate. Its b is too great: by r/(r − 1) on the mean, with r failures.
    #[must_use]
    pub fn most_likely(&self) -> PowerLaw {
        self.with(self.count / self.sum_ln)
    }

    /// The modified estimate that the handbook prefers, with r − 1 in the place of r: its b is right on the mean.
    #[must_use]
    pub fn modified(&self) -> PowerLaw {
        self.with((self.count - 1.0) / self.sum_ln)
    }

    fn with(&self, b: f64) -> PowerLaw {
        PowerLaw { a: self.count / self.end_h.powf(b), b }
    }

    /// Hours per failure at the end of the watch, by the modified estimate.
    #[must_use]
    pub fn mtbf_now_h(&self) -> f64 {
        1.0 / self.modified().rate_per_h(self.end_h)
    }

    /// Approximate limits of these hours. Where so few failures cannot bear so high a confidence, the upper one is infinite.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn mtbf_now_limits_h(&self, confidence: f64) -> Result<Limits, Why> {
        let z = normal_two_sided(confidence)?;
        let (r, z2) = (self.count, z * z);
        let scaled_h = self.mtbf_now_h() * r * (r - 1.0);
        let below = r - z * (r / 2.0).sqrt();
        Ok(Limits {
            low: scaled_h / (r + z2 / 4.0 + (r * z2 / 2.0 + z2 * z2 / 16.0).sqrt()).powi(2),
            high: if below > 0.0 { scaled_h / below.powi(2) } else { f64::INFINITY },
        })
    }

    /// Laplace's test: whether failures came late or early in the watch on the mean. A standard normal figure under a
    /// constant rate.
    #[must_use]
    pub fn laplace(&self) -> Trend {
        let half_h = self.end_h / 2.0;
        let statistic = (self.sum_h / self.count - half_h) / (self.end_h / (12.0 * self.count).sqrt());
        Trend { statistic, probability: normal_beyond(statistic), growing: statistic > 0.0 }
    }

    /// MIL-HDBK-189's test, best against power laws: 2 Σ ln(T/t). A chi-square with twice as many degrees of freedom as there are
    /// failures under a constant rate; small when failures become more frequent.
    ///
    /// # Errors
    /// None that a history can cause.
    pub fn mil_hdbk_189(&self) -> Result<Trend, Why> {
        let statistic = 2.0 * self.sum_ln;
        let below = chi_square_below(statistic, 2.0 * self.count)?;
        Ok(Trend { statistic, probability: 2.0 * below.min(1.0 - below), growing: below < 0.5 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_history_is_refused() {
        for (failures_h, end_h) in [
            (&[1.0, 2.0, 9.0][..], 8.0),
            (&[2.0, 1.0, 3.0], 8.0),
            (&[0.0, 1.0, 2.0], 8.0),
            (&[1.0, f64::NAN, 2.0], 8.0),
        ] {
            assert_eq!(History::new(failures_h, end_h), Err(Why::Times), "{failures_h:?}");
        }
        assert_eq!(History::new(&[1.0, 2.0], 8.0), Err(Why::TooFewFailures { have: 2, need: 3 }));
        assert_eq!(History::new(&[8.0, 8.0, 8.0], 8.0), Err(Why::NoSpread));
        assert!(History::new(&[1.0, 2.0, 3.0], f64::INFINITY).is_err());
    }

    /// By hand: failures that crowd at the end grow, those that crowd at the beginning do not, and both tests see it.
    #[test]
    fn trends_have_a_direction() {
        let late = History::new(&[70.0, 80.0, 90.0, 95.0, 99.0], 100.0).unwrap();
        let early = History::new(&[1.0, 2.0, 3.0, 5.0, 20.0], 100.0).unwrap();
        for (history, growing) in [(late, true), (early, false)] {
            for trend in [history.laplace(), history.mil_hdbk_189().unwrap()] {
                assert_eq!(trend.growing, growing, "{trend:?}");
                assert!(trend.probability < 0.05, "{trend:?}");
            }
            assert_eq!(history.modified().growth() < 0.0, growing);
        }
    }

    /// By hand: the law counts the failures that it was fitted to.
    #[test]
    fn the_law_counts_its_failures() {
        let history = History::new(&[3.0, 20.0, 41.0, 90.0], 100.0).unwrap();
        for law in [history.most_likely(), history.modified()] {
            assert!((law.failures_by(100.0) - 4.0).abs() < 1e-12);
        }
        assert_eq!(history.mtbf_now_limits_h(0.999).unwrap().high, f64::INFINITY);
    }
}
