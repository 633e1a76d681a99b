//! Hours per failure at a constant rate (a homogeneous Poisson process), as in the NIST/SEMATECH e-Handbook, 8.4.5.1.
//!
//! A constant rate is a claim. [`power_law`](super::power_law) tests it.

use super::Limits;
use super::quantile::{chi_square, gamma};
use super::root::{self, Value};
use super::why::{Why, confidence, positive};

/// What ended the watch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// A time that had nothing to do with the failures, as in service.
    Time,
    /// The last failure itself, as in a test of all parts until none is left.
    Failure,
}

/// Hours run per failure; `None` if there was none.
///
/// # Errors
/// The hours are not positive.
pub fn mtbf_h(run_h: f64, failures: usize) -> Result<Option<f64>, Why> {
    let run_h = positive("the hours run", run_h)?;
    Ok((failures > 0).then(|| run_h / failures as f64))
}

/// Two-sided limits of the mean hours between failures. Without a failure there is no upper one (infinity), and the lower one
/// is two-sided still: for a one-sided one take [`mtbf_at_least_h`].
///
/// # Errors
/// The hours are not positive, the confidence is not a share, or a failure ended the watch and there is none.
pub fn mtbf_limits_h(run_h: f64, failures: usize, share: f64, ending: Ending) -> Result<Limits, Why> {
    let run_h = positive("the hours run", run_h)?;
    let tail = (1.0 - confidence(share)?) / 2.0;
    let freedom_low = 2.0 * most_failures(failures, ending)?;
    let low = 2.0 * run_h / chi_square(1.0 - tail, freedom_low)?;
    let high = match failures {
        0 => f64::INFINITY,
        failures => 2.0 * run_h / chi_square(tail, 2.0 * failures as f64)?,
    };
    Ok(Limits { low, high })
}

/// The mean hours between failures are at least this, at a one-sided confidence, also after no failure at all.
///
/// # Errors
/// The hours are not positive, the confidence is not a share, or a failure ended the watch and there is none.
pub fn mtbf_at_least_h(run_h: f64, failures: usize, share: f64, ending: Ending) -> Result<f64, Why> {
    let run_h = positive("the hours run", run_h)?;
    let freedom = 2.0 * most_failures(failures, ending)?;
    Ok(2.0 * run_h / chi_square(confidence(share)?, freedom)?)
}

/// If time ended the watch, the next failure may have been about to come.
fn most_failures(failures: usize, ending: Ending) -> Result<f64, Why> {
    match (ending, failures) {
        (Ending::Time, failures) => Ok(failures as f64 + 1.0),
        (Ending::Failure, 0) => Err(Why::TooFewFailures { have: 0, need: 1 }),
        (Ending::Failure, failures) => Ok(failures as f64),
    }
}

/// What is believed of a failure rate: a gamma distribution, which failures and hours run turn into another one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// The shape a: as much belief as after so many failures,
    pub shape: f64,
    /// b: in so many hours.
    pub hours_h: f64,
}

impl Belief {
    /// From two statements: the mean hours between failures are as likely above `even_h` as below; and above `surely_h` with 95 %.
    ///
    /// # Errors
    /// A figure is not positive, or the second is not below the first.
    pub fn from_mtbf_h(even_h: f64, surely_h: f64) -> Result<Belief, Why> {
        let even_h = positive("the even bet in hours", even_h)?;
        let surely_h = positive("the safe bet in hours", surely_h)?;
        let ratio =
            positive("the even bet less the safe bet", even_h - surely_h).map(|_| even_h / surely_h)?;
        // The greater the shape, the nearer the quantiles. In ln of the shape, from next to none to a near certainty.
        let excess = |ln_shape: f64| -> Result<f64, Why> {
            let shape = ln_shape.exp();
            Ok((gamma(0.95, shape)? / gamma(0.5, shape)?).ln() - ratio.ln())
        };
        let (low, high) = (0.05_f64.ln(), 1e5_f64.ln());
        if excess(low)? < 0.0 || excess(high)? > 0.0 {
            return Err(Why::NotPositive {
                what: "the even bet over the safe bet, which nothing fits,",
                value: ratio,
            });
        }
        let step = 1e-6;
        let ln_shape = root::between(low, high, 0.0, true, |at| {
            let value = excess(at).unwrap_or(f64::NAN);
            Value { value, slope: (excess(at + step).unwrap_or(f64::NAN) - value) / step }
        });
        let shape = ln_shape.exp();
        Ok(Belief { shape, hours_h: gamma(0.5, shape)? * even_h })
    }

    /// What is believed after so many failures in so many hours more.
    ///
    /// # Errors
    /// The hours are not positive.
    pub fn after(&self, run_h: f64, failures: usize) -> Result<Belief, Why> {
        let run_h = positive("the hours run", run_h)?;
        Ok(Belief { shape: self.shape + failures as f64, hours_h: self.hours_h + run_h })
    }

    /// The mean failures per hour.
    #[must_use]
    pub fn rate_per_h(&self) -> f64 {
        self.shape / self.hours_h
    }

    /// The mean hours between failures are believed to be at least this, with this probability.
    ///
    /// # Errors
    /// The probability is not a share, or the belief holds no positive figures.
    pub fn mtbf_at_least_h(&self, share: f64) -> Result<f64, Why> {
        Ok(positive("the belief's hours", self.hours_h)? / gamma(share, self.shape)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, expected: f64, relative: f64) {
        assert!((got - expected).abs() <= relative * expected.abs(), "{got} for {expected}");
    }

    /// Source: NIST/SEMATECH e-Handbook 8.4.5.1, its worked example (800 h, 2 failures, 90 %).
    #[test]
    fn handbook_example() {
        let limits = mtbf_limits_h(800.0, 2, 0.9, Ending::Time).unwrap();
        near(limits.low, 127.0690, 1e-6);
        near(limits.high, 2251.229, 1e-6);
        assert_eq!(mtbf_h(800.0, 2), Ok(Some(400.0)));
    }

    /// Source: NIST/SEMATECH e-Handbook 8.4.5.1, its tables of factors at 60, 80, 90 and 95 %.
    #[test]
    fn handbook_factors() {
        let table = [
            (1, [(0.3340, 4.4814), (0.2571, 9.4912), (0.2108, 19.4957), (0.1795, 39.4979)]),
            (2, [(0.4674, 2.4260), (0.3758, 3.7607), (0.3177, 5.6281), (0.2768, 8.2573)]),
            (5, [(0.6324, 1.6184), (0.5391, 2.0554), (0.4756, 2.5379), (0.4285, 3.0798)]),
        ];
        for (failures, row) in table {
            for (share, (low, high)) in [0.6, 0.8, 0.9, 0.95].into_iter().zip(row) {
                let limits =
                    mtbf_limits_h(f64::from(failures), failures as usize, share, Ending::Time).unwrap();
                assert!((limits.low - low).abs() < 1e-4, "{failures} {share}: {}", limits.low);
                assert!((limits.high - high).abs() < 1e-4, "{failures} {share}: {}", limits.high);
            }
        }
    }

    /// Source: NIST/SEMATECH e-Handbook 8.4.5.1: without failures, T / −ln(1 − confidence).
    #[test]
    fn no_failure_yet() {
        near(mtbf_at_least_h(1_000.0, 0, 0.95, Ending::Time).unwrap(), 333.8082, 1e-6);
        let limits = mtbf_limits_h(1_000.0, 0, 0.9, Ending::Time).unwrap();
        near(limits.low, 333.8082, 1e-6);
        assert_eq!(limits.high, f64::INFINITY);
        assert_eq!(mtbf_h(1_000.0, 0), Ok(None));
        let none = Err(Why::TooFewFailures { have: 0, need: 1 });
        assert_eq!(mtbf_limits_h(1_000.0, 0, 0.9, Ending::Failure), none);
    }

    /// Source: NIST/SEMATECH e-Handbook, section 8 (its R script for a gamma prior): 600 h evenly, 250 h with 95 %.
    #[test]
    fn handbook_belief() {
        let belief = Belief::from_mtbf_h(600.0, 250.0).unwrap();
        near(belief.shape, 2.863055, 1e-6);
        near(belief.hours_h, 1522.506, 1e-6);
        near(belief.mtbf_at_least_h(0.5).unwrap(), 600.0, 1e-9);
        near(belief.mtbf_at_least_h(0.95).unwrap(), 250.0, 1e-9);
        // By hand: shapes and hours add up.
        let after = belief.after(477.494, 2).unwrap();
        near(after.rate_per_h(), 4.863055 / 2_000.0, 1e-6);
    }

    #[test]
    fn beliefs_that_no_distribution_has_are_refused() {
        for (even_h, surely_h) in
            [(600.0, 600.0), (250.0, 600.0), (600.0, 599.999_999), (1e300, 1e-300), (f64::NAN, 1.0)]
        {
            assert!(Belief::from_mtbf_h(even_h, surely_h).is_err(), "{even_h} {surely_h}");
        }
    }

    #[test]
    fn impossible_questions_are_refused() {
        assert!(mtbf_limits_h(0.0, 1, 0.9, Ending::Time).is_err());
        for share in [0.0, 1.0, -0.5, 90.0, f64::NAN] {
            assert!(
                matches!(mtbf_limits_h(10.0, 1, share, Ending::Time), Err(Why::Confidence(_))),
                "{share}"
            );
        }
    }
}
