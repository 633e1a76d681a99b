//! The share still alive at each age, with no shape assumed (Kaplan and Meier's product), and its limits.

use super::quantile::normal_two_sided;
use super::{Life, Limits, Why};

/// What happened at one age at which parts failed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The age.
    pub age_h: f64,
    /// Parts under watch and alive just before. Few of them early on, because most entered late, make all that follows
    /// uncertain.
    pub at_risk: usize,
    /// Parts that failed.
    pub failed: usize,
    /// The share still alive afterwards.
    pub survival: f64,
    /// Greenwood's sum up to here: the variance of ln of the share.
    greenwood: f64,
}

impl Step {
    /// Limits of the share, taken on the scale of ln(−ln); from 0 to 1 once none is left.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn limits(&self, confidence: f64) -> Result<Limits, Why> {
        let z = normal_two_sided(confidence)?;
        if self.survival <= 0.0 {
            return Ok(Limits { low: 0.0, high: 1.0 });
        }
        let ln = self.survival.ln();
        let width = (z * self.greenwood.sqrt() / -ln).exp();
        Ok(Limits { low: (ln * width).exp(), high: (ln / width).exp() })
    }
}

/// The share alive by age: 1 up to the first step.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// One step for each age at which parts failed, youngest first.
    pub steps: Vec<Step>,
}

/// The curve of these lives. A part that left alive at an age at which others failed was at risk then.
///
/// # Errors
/// An impossible life, or none that failed.
pub fn curve(lives: &[Life]) -> Result<Curve, Why> {
    Life::check(lives)?;
    let sorted = |mut ages_h: Vec<f64>| {
        ages_h.sort_by(f64::total_cmp);
        ages_h
    };
    let entries_h = sorted(lives.iter().map(|life| life.entered_h).collect());
    let leavings_h = sorted(lives.iter().map(|life| life.left_h).collect());
    let failures_h = sorted(lives.iter().filter(|life| life.failed).map(|life| life.left_h).collect());
    if failures_h.is_empty() {
        return Err(Why::TooFewFailures { have: 0, need: 1 });
    }
    let (mut survival, mut greenwood) = (1.0, 0.0);
    let steps = failures_h.chunk_by(|a, b| a == b).map(|tied| {
        let age_h = tied[0];
        let entered = entries_h.partition_point(|entry_h| *entry_h < age_h);
        let left = leavings_h.partition_point(|leaving_h| *leaving_h < age_h);
        let (at_risk, failed) = (entered - left, tied.len());
        let (among, lost) = (at_risk as f64, failed as f64);
        survival *= (among - lost) / among;
        greenwood += lost / (among * (among - lost));
        Step { age_h, at_risk, failed, survival, greenwood }
    });
    Ok(Curve { steps: steps.collect() })
}

impl Curve {
    /// The share still alive at an age.
    #[must_use]
    pub fn survival(&self, age_h: f64) -> f64 {
        let passed = self.steps.partition_point(|step| step.age_h <= age_h);
        passed.checked_sub(1).and_then(|at| self.steps.get(at)).map_or(1.0, |step| step.survival)
    }

    /// The first age by which half have failed; `None` if more were still alive at the last failure.
    #[must_use]
    pub fn median_h(&self) -> Option<f64> {
        self.steps.iter().find(|step| step.survival <= 0.5).map(|step| step.age_h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of four, one fails at 10 h, which leaves 3/4, and one leaves alive at 10 h too; one enters at 15 h, and of the
    /// three then watched one fails at 20 h, which leaves 2/3 of 3/4.
    #[test]
    fn by_hand() {
        let lives = [
            Life::failed_at(10.0),
            Life::alive_at(10.0),
            Life::failed_at(20.0),
            Life::alive_at(30.0),
            Life::alive_at(25.0).entered_at(15.0),
        ];
        let curve = curve(&lives).unwrap();
        let seen: Vec<_> = curve.steps.iter().map(|step| (step.age_h, step.at_risk, step.failed)).collect();
        assert_eq!(seen, [(10.0, 4, 1), (20.0, 3, 1)]);
        assert_eq!(curve.survival(9.9), 1.0);
        assert_eq!(curve.survival(10.0), 0.75);
        assert_eq!(curve.survival(99.0), 0.5);
        assert_eq!(curve.median_h(), Some(20.0));
    }

    #[test]
    fn nobody_left_has_no_limits() {
        let all = curve(&[Life::failed_at(5.0)]).unwrap();
        assert_eq!(all.steps[0].survival, 0.0);
        assert_eq!(all.steps[0].limits(0.9).unwrap(), Limits { low: 0.0, high: 1.0 });
        assert_eq!(curve(&[Life::alive_at(5.0)]), Err(Why::TooFewFailures { have: 0, need: 1 }));
    }
}
