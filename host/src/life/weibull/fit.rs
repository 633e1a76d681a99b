//! The Weibull distribution that makes what was seen the most likely: right-censored, left-truncated maximum likelihood.
//!
//! A life watched from age s to age t adds −(t/η)^β + (s/η)^β to the logarithm of the likelihood, and ln of the hazard at t
//! if it failed then. For a given shape the best scale is known, η^β = Σ(t^β − s^β)/r with r failures; what remains is one
//! equation in the shape alone. Where no life entered late it has one solution at most, and its left side falls throughout.
//! With late entries it may have several, or none: the whole range is looked through, and the highest likelihood taken.

use super::Weibull;
use crate::life::quantile::normal_two_sided;
use crate::life::root::{self, Value};
use crate::life::{Life, Limits, Why};

/// Two figures are estimated, from two failures at the least.
pub(super) const FAILURES_MIN: usize = 2;

/// Shapes that are looked through. Lives that are flatter or steeper than this are no lives.
const BETA_MIN: f64 = 1.0 / 128.0;
const BETA_MAX: f64 = 1_024.0;

/// With late entries: shapes tried in each doubling.
const TRIED_PER_DOUBLING: i32 = 4;

/// The most likely distribution, and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The distribution.
    pub weibull: Weibull,
    /// Lives that it rests on.
    pub lives: usize,
    /// How many of them failed.
    pub failures: usize,
    /// The logarithm of the greatest likelihood.
    pub log_likelihood: f64,
    /// Covariances of ln η and β, from the observed information.
    var_ln_eta: f64,
    var_beta: f64,
    cov: f64,
}

/// Fits a distribution.
///
/// # Errors
/// An impossible life, fewer than two failures, or data that leave the shape open.
pub fn fit(lives: &[Life]) -> Result<Fit, Why> {
    Life::check(lives)?;
    let logs = Logs::of(lives);
    if logs.failures < FAILURES_MIN {
        return Err(Why::TooFewFailures { have: logs.failures, need: FAILURES_MIN });
    }
    let beta = if logs.late.is_empty() { logs.only_shape()? } else { logs.best_shape()? };
    let sums = logs.sums(beta);
    let failures = logs.failures as f64;
    let ln_eta = logs.ln_eta(beta, &sums);
    // About the scale: with L = ln(t/η), Σ(w) is r, and the sums of wL and wL² follow from those about the longest life.
    let shift = logs.ln_longest - ln_eta;
    let to_scale = failures / sums.plain;
    let with_log = to_scale * sums.log + shift * failures;
    let with_square = to_scale * (sums.square + 2.0 * shift * sums.log) + shift * shift * failures;
    let (ln_eta2, cross, beta2) =
        (beta * beta * failures, -beta * with_log, failures / (beta * beta) + with_square);
    let determinant = ln_eta2 * beta2 - cross * cross;
    if determinant.is_nan() || determinant <= 0.0 {
        return Err(Why::NoShape);
    }
    Ok(Fit {
        weibull: Weibull::new(ln_eta.exp(), beta)?,
        lives: lives.len(),
        failures: logs.failures,
        log_likelihood: logs.log_likelihood(beta, &sums),
        var_ln_eta: beta2 / determinant,
        var_beta: ln_eta2 / determinant,
        cov: -cross / determinant,
    })
}

impl Fit {
    /// Akaike's criterion: smaller is better among distributions fitted to the same lives.
    #[must_use]
    pub fn aic(&self) -> f64 {
        4.0 - 2.0 * self.log_likelihood
    }

    /// Standard error of the scale.
    #[must_use]
    pub fn eta_se_h(&self) -> f64 {
        self.weibull.eta_h() * self.var_ln_eta.sqrt()
    }

    /// Standard error of the shape.
    #[must_use]
    pub fn beta_se(&self) -> f64 {
        self.var_beta.sqrt()
    }

    /// Covariance of the scale and the shape.
    #[must_use]
    pub fn eta_beta_covariance_h(&self) -> f64 {
        self.weibull.eta_h() * self.cov
    }

    /// Limits of the scale, taken on the logarithmic scale.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn eta_limits_h(&self, confidence: f64) -> Result<Limits, Why> {
        around(self.weibull.eta_h(), self.var_ln_eta, confidence)
    }

    /// Limits of the shape, taken on the logarithmic scale.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn beta_limits(&self, confidence: f64) -> Result<Limits, Why> {
        let beta = self.weibull.beta();
        around(beta, self.var_beta / (beta * beta), confidence)
    }

    /// Limits of the age by which a share has failed, taken on the logarithmic scale.
    ///
    /// # Errors
    /// The confidence is not a share, or `share` is not one.
    pub fn b_life_limits_h(&self, share: f64, confidence: f64) -> Result<Limits, Why> {
        if !(share > 0.0 && share < 1.0) {
            return Err(Why::NotPositive {
                what: "the share that has failed, or what it leaves",
                value: share,
            });
        }
        // ln of the age is ln η + c/β, with c fixed by the share.
        let c = (-(-share).ln_1p()).ln();
        around(self.weibull.b_life_h(share), self.var_of_ln(-c / self.weibull.beta().powi(2)), confidence)
    }

    /// Limits of the share still alive at an age, taken on the scale of ln(−ln).
    ///
    /// # Errors
    /// The confidence is not a share, or the age is not positive.
    pub fn survival_limits(&self, age_h: f64, confidence: f64) -> Result<Limits, Why> {
        let age_h = crate::life::why::positive("the age in hours", age_h)?;
        // ln of the cumulative hazard is β(ln t − ln η): β times a figure of the same form as ln of a B-life.
        let beta = self.weibull.beta();
        let var = beta * beta * self.var_of_ln(-(age_h / self.weibull.eta_h()).ln() / beta);
        let hazard = around(self.weibull.cumulative_hazard(age_h), var, confidence)?;
        Ok(Limits { low: (-hazard.high).exp(), high: (-hazard.low).exp() })
    }

    /// The variance of a figure that changes by 1 with ln η and by `by_beta` with β.
    pub(in crate::life) fn var_of_ln(&self, by_beta: f64) -> f64 {
        self.var_ln_eta + 2.0 * by_beta * self.cov + by_beta * by_beta * self.var_beta
    }
}

/// Limits about a positive figure whose logarithm has this variance.
pub(in crate::life) fn around(best: f64, var_of_ln: f64, confidence: f64) -> Result<Limits, Why> {
    let factor = (normal_two_sided(confidence)? * var_of_ln.sqrt()).exp();
    Ok(Limits { low: best / factor, high: best * factor })
}

/// Logarithms of ages, from that of the longest life down, so that no power of them overflows.
struct Logs {
    ln_longest: f64,
    /// Ages at leaving of lives watched from new.
    new: Vec<f64>,
    /// Ages at leaving and at entry of those that entered late, and the difference.
    late: Vec<(f64, f64, f64)>,
    failures: usize,
    /// Mean of the logarithms of the ages at failure.
    failed_mean: f64,
    /// Their standard deviation.
    failed_sd: f64,
}

/// Sums over lives of w, wu and wu², w = e^(βu): at leaving, less at entry.
struct Sums {
    plain: f64,
    log: f64,
    square: f64,
}

impl Logs {
    fn of(lives: &[Life]) -> Logs {
        let longest_h = lives.iter().map(|life| life.left_h).fold(0.0, f64::max);
        let mut logs = Logs {
            ln_longest: longest_h.ln(),
            new: Vec::with_capacity(lives.len()),
            late: Vec::new(),
            failures: 0,
            failed_mean: 0.0,
            failed_sd: 0.0,
        };
        let (mut sum, mut squares) = (0.0, 0.0);
        for life in lives {
            let left = (life.left_h / longest_h).ln();
            let watched = ((life.left_h - life.entered_h) / life.entered_h).ln_1p();
            // Infinite for a part that was new, and for one so nearly new that a double cannot tell.
            if watched.is_finite() {
                logs.late.push((left, left - watched, watched));
            } else {
                logs.new.push(left);
            }
            if life.failed {
                logs.failures += 1;
                sum += left;
                squares += left * left;
            }
        }
        let count = logs.failures.max(1) as f64;
        logs.failed_mean = sum / count;
        logs.failed_sd = (squares / count - logs.failed_mean.powi(2)).max(0.0).sqrt();
        logs
    }

    fn sums(&self, beta: f64) -> Sums {
        let mut sums = Sums { plain: 0.0, log: 0.0, square: 0.0 };
        for left in &self.new {
            let weight = (beta * left).exp();
            sums.plain += weight;
            sums.log += weight * left;
            sums.square += weight * left * left;
        }
        for (left, entered, watched) in &self.late {
            let before = (beta * entered).exp();
            let gained = -(beta * left).exp() * (-beta * watched).exp_m1();
            sums.plain += gained;
            sums.log += gained * left + before * watched;
            sums.square += gained * left * left + before * watched * (left + entered);
        }
        sums
    }

    /// The slope of the likelihood's logarithm in β, per failure, at the best scale for each β; and that slope's own slope.
    fn slope(&self, beta: f64) -> Value {
        let sums = self.sums(beta);
        let mean = sums.log / sums.plain;
        Value {
            value: 1.0 / beta + self.failed_mean - mean,
            slope: -1.0 / (beta * beta) - (sums.square / sums.plain - mean * mean),
        }
    }

    fn ln_eta(&self, beta: f64, sums: &Sums) -> f64 {
        self.ln_longest + (sums.plain / self.failures as f64).ln() / beta
    }

    fn log_likelihood(&self, beta: f64, sums: &Sums) -> f64 {
        let failures = self.failures as f64;
        let ln_eta = self.ln_eta(beta, sums);
        let failed_mean = self.failed_mean + self.ln_longest;
        failures * (beta.ln() - beta * ln_eta + (beta - 1.0) * failed_mean - 1.0)
    }

    /// Nobody entered late: the slope falls throughout, and a bracket grows from a guess.
    fn only_shape(&self) -> Result<f64, Why> {
        // The standard deviation of ln of a Weibull variable is π/√6 divided by β.
        let guess = (1.28 / self.failed_sd).clamp(BETA_MIN * 2.0, BETA_MAX / 2.0);
        let (mut low, mut high) = (guess, guess);
        if self.slope(guess).value > 0.0 {
            while self.slope(high).value > 0.0 {
                if high >= BETA_MAX {
                    return Err(Why::NoSpread);
                }
                low = high;
                high = (high * 2.0).min(BETA_MAX);
            }
        } else {
            while self.slope(low).value <= 0.0 {
                if low <= BETA_MIN {
                    return Err(Why::NoShape);
                }
                high = low;
                low = (low / 2.0).max(BETA_MIN);
            }
        }
        let start = if low == guess { low * 1.1 } else { high * 0.9 };
        Ok(root::between(low, high, start, true, |beta| self.slope(beta)))
    }

    /// Some entered late: every shape at which the slope turns from rising to falling, and the best of them.
    fn best_shape(&self) -> Result<f64, Why> {
        let likelihood = |beta: f64| self.log_likelihood(beta, &self.sums(beta));
        let step = 2.0_f64.powf(1.0 / f64::from(TRIED_PER_DOUBLING));
        let mut best: Option<(f64, f64)> = None;
        let (mut low, mut rising) = (BETA_MIN, self.slope(BETA_MIN).value > 0.0);
        let flattest = (!rising).then(|| likelihood(BETA_MIN));
        while low < BETA_MAX {
            let high = low * step;
            let rises = self.slope(high).value > 0.0;
            if rising && !rises {
                let beta = root::between(low, high, low * step.sqrt(), true, |beta| self.slope(beta));
                let value = likelihood(beta);
                if best.is_none_or(|(_, before)| value > before) {
                    best = Some((beta, value));
                }
            }
            (low, rising) = (high, rises);
        }
        let steepest = rising.then(|| likelihood(BETA_MAX));
        match best {
            Some((_, value)) if steepest.is_some_and(|end| end > value) => Err(Why::NoSpread),
            Some((_, value)) if flattest.is_some_and(|end| end > value) => Err(Why::NoShape),
            Some((beta, _)) => Ok(beta),
            None if rising => Err(Why::NoSpread),
            None => Err(Why::NoShape),
        }
    }
}

#[cfg(test)]
#[path = "fit_tests.rs"]
mod tests;
