//! The Weibull distribution of lives: survival to age t is exp(−(t/η)^β).
//!
//! η, the scale, is the age by which 63 % have failed. β, the shape, says how: below 1 young parts fail more often than old
//! ones, at 1 age does not matter, above 1 they wear out.

mod fit;
mod left;
pub mod stressed;

pub(super) use fit::around;
pub use fit::{Fit, fit};

use super::why::{Why, positive};
use statrs::function::gamma::{gamma_lr, ln_gamma};

/// A distribution of lives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weibull {
    eta_h: f64,
    beta: f64,
}

impl Weibull {
    /// The age by which 63 % have failed, and the shape.
    ///
    /// # Errors
    /// One of them is not positive and finite.
    pub fn new(eta_h: f64, beta: f64) -> Result<Weibull, Why> {
        Ok(Weibull { eta_h: positive("the scale eta", eta_h)?, beta: positive("the shape beta", beta)? })
    }

    /// The scale: the age by which 63 % have failed.
    #[must_use]
    pub const fn eta_h(&self) -> f64 {
        self.eta_h
    }

    /// The shape.
    #[must_use]
    pub const fn beta(&self) -> f64 {
        self.beta
    }

    /// −ln of the share still alive at this age; 0 before birth.
    #[must_use]
    pub fn cumulative_hazard(&self, age_h: f64) -> f64 {
        (age_h.max(0.0) / self.eta_h).powf(self.beta)
    }

    /// The share still alive at this age.
    #[must_use]
    pub fn survival(&self, age_h: f64) -> f64 {
        (-self.cumulative_hazard(age_h)).exp()
    }

    /// Failures per hour among those alive at this age.
    #[must_use]
    pub fn hazard_per_h(&self, age_h: f64) -> f64 {
        self.beta / self.eta_h * (age_h.max(0.0) / self.eta_h).powf(self.beta - 1.0)
    }

    /// The probability that a part alive at this age lives so many hours more.
    #[must_use]
    pub fn conditional_survival(&self, age_h: f64, more_h: f64) -> f64 {
        (self.cumulative_hazard(age_h) - self.cumulative_hazard(age_h + more_h.max(0.0))).exp()
    }

    /// The mean of what is left of the life of a part alive at this age.
    #[must_use]
    pub fn mean_residual_life_h(&self, age_h: f64) -> f64 {
        // The integral of the survival from here on, divided by the survival now.
        let shape = 1.0 / self.beta;
        self.eta_h * shape * left::scaled_upper_gamma(shape, self.cumulative_hazard(age_h))
    }

    /// The age by which this share has failed: 0.1 gives the B10 life. NaN for what is not between 0 and 1.
    #[must_use]
    pub fn b_life_h(&self, share: f64) -> f64 {
        self.eta_h * (-(-share).ln_1p()).powf(1.0 / self.beta)
    }

    /// The age by which half have failed.
    #[must_use]
    pub fn median_h(&self) -> f64 {
        self.b_life_h(0.5)
    }

    /// The mean life.
    #[must_use]
    pub fn mean_h(&self) -> f64 {
        self.eta_h * ln_gamma(1.0 + 1.0 / self.beta).exp()
    }

    /// The mean hours run by parts that are taken out at this age if they have not failed before.
    #[must_use]
    pub fn mean_until_h(&self, age_h: f64) -> f64 {
        // The integral of the survival from 0 to this age.
        let hazard = self.cumulative_hazard(age_h);
        if hazard <= 0.0 {
            return age_h.max(0.0);
        }
        self.mean_h() * if hazard.is_finite() { gamma_lr(1.0 / self.beta, hazard) } else { 1.0 }
    }

    /// The standard deviation of lives.
    #[must_use]
    pub fn sd_h(&self) -> f64 {
        let first = ln_gamma(1.0 + 1.0 / self.beta);
        let second = ln_gamma(1.0 + 2.0 / self.beta);
        // Γ(1+2/β) − Γ(1+1/β)², with the larger one taken out: for steep shapes the two are nearly equal.
        self.eta_h * (second.exp() * -(2.0 * first - second).exp_m1()).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, expected: f64, relative: f64) {
        assert!((got - expected).abs() <= relative * expected.abs(), "{got} for {expected}");
    }

    /// Source: the gamma function, evaluated outside (scipy 1.17.1).
    #[test]
    fn moments() {
        for (beta, eta_h, mean_h, b10_h, median_h) in [
            (2.0, 10_000.0, 8_862.269, 3_245.928, 8_325.546),
            (3.5, 12_000.0, 10_796.966, 6_308.794, 10_806.942),
        ] {
            let lives = Weibull::new(eta_h, beta).unwrap();
            near(lives.mean_h(), mean_h, 1e-6);
            near(lives.b_life_h(0.1), b10_h, 1e-6);
            near(lives.median_h(), median_h, 1e-6);
        }
    }

    /// By hand: at shape 1 age does not matter, and what is left is always the mean.
    #[test]
    fn without_wear_nothing_is_ever_used_up() {
        let lives = Weibull::new(500.0, 1.0).unwrap();
        near(lives.mean_h(), 500.0, 1e-14);
        near(lives.sd_h(), 500.0, 1e-14);
        for age_h in [0.0, 1.0, 499.0, 5_000.0, 1e6, 1e12] {
            near(lives.mean_residual_life_h(age_h), 500.0, 1e-12);
            near(lives.hazard_per_h(age_h), 1.0 / 500.0, 1e-14);
        }
    }

    /// The mean of a life is what is left at age 0; what is left, against steps of a thousandth of it (trapezoids).
    #[test]
    fn what_is_left_is_the_area_under_the_survival() {
        for (beta, age_h) in
            [(0.6, 30.0), (1.7, 0.0), (1.7, 400.0), (3.5, 900.0), (3.5, 9_000.0), (9.0, 2_000.0)]
        {
            let lives = Weibull::new(1_000.0, beta).unwrap();
            let left_h = lives.mean_residual_life_h(age_h);
            let step_h = left_h / 1_000.0;
            let mut area_h = step_h / 2.0;
            let mut at = 1;
            loop {
                let alive = lives.conditional_survival(age_h, f64::from(at) * step_h);
                area_h += step_h * alive;
                at += 1;
                if alive < 1e-12 {
                    break;
                }
            }
            near(left_h, area_h, 2e-5);
        }
        let lives = Weibull::new(1_000.0, 2.2).unwrap();
        near(lives.mean_residual_life_h(0.0), lives.mean_h(), 1e-13);
        // What is run until an age and, by those alive then, after it, makes up the mean.
        for age_h in [0.0, 1e-200, 3.0, 400.0, 2_000.0] {
            let after_h = lives.survival(age_h) * lives.mean_residual_life_h(age_h);
            near(lives.mean_until_h(age_h) + after_h, lives.mean_h(), 1e-13);
        }
        near(lives.mean_until_h(f64::INFINITY), lives.mean_h(), 1e-15);
    }

    #[test]
    fn impossible_shapes_are_refused() {
        for (eta_h, beta) in [(0.0, 1.0), (1.0, -1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
            assert!(matches!(Weibull::new(eta_h, beta), Err(Why::NotPositive { .. })));
        }
        assert!(Weibull::new(1.0, 1.0).unwrap().b_life_h(1.5).is_nan());
    }
}
