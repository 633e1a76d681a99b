//! The age at which renewing a part costs least in the long run, for a cost of a planned renewal and a dearer one of a failure.
//!
//! Barlow and Proschan's age replacement: a part is renewed at an age or when it fails, whichever comes first. Renewing early
//! wastes life, renewing late lets parts fail; between them the hazard h satisfies h(t) ∫R − F(t) = planned / (failed − planned).
//! Parts that do not wear (shape 1 or less) are never renewed early: a new one would be no better.
//!
//! The answer is shown beside the maker's limit, never instead of it.

use super::Limits;
use super::root::{self, Value};
use super::weibull::{Fit, Weibull, around};
use super::why::{Why, positive, within};

/// From fewer failures no age is advised.
pub const FAILURES_MIN: usize = 5;

/// Beyond this cumulative hazard nothing is alive in a double's arithmetic.
const NONE_ALIVE: f64 = 700.0;

/// What a renewal costs, in any unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Costs {
    /// Planned.
    pub planned: f64,
    /// After a failure, all its consequences included.
    pub failed: f64,
    /// By how much, per hour run, a later cost counts less; 0 for none.
    pub discount_per_h: f64,
}

impl Costs {
    /// Costs that count the same whenever they come.
    #[must_use]
    pub const fn new(planned: f64, failed: f64) -> Costs {
        Costs { planned, failed, discount_per_h: 0.0 }
    }

    fn check(&self) -> Result<(), Why> {
        let planned = positive("the cost of a planned renewal", self.planned)?;
        let failed = positive("the cost of a failure", self.failed)?;
        within("the discount per hour", self.discount_per_h, 0.0, f64::MAX)?;
        if failed > planned { Ok(()) } else { Err(Why::FailureNotDearer { planned, failed }) }
    }
}

/// The cheapest policy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Optimum {
    /// Renew at this age; `None`: never before it fails.
    pub age_h: Option<f64>,
    /// What that costs per hour.
    pub cost_per_h: f64,
    /// What it costs per hour to wait for each failure.
    pub unplanned_cost_per_h: f64,
}

/// The cheapest policy, from lives that were seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Advice {
    /// For the likeliest distribution.
    pub optimum: Optimum,
    /// Limits of the age; the upper one is infinite where wear is not shown. `None`: the optimum has no age.
    pub age_limits_h: Option<Limits>,
    /// The limits of the shape, at the same confidence, lie above 1: the parts wear.
    pub wear_shown: bool,
}

/// The cheapest policy for a known distribution.
///
/// # Errors
/// Costs that are not positive, or a failure that costs no more than a planned renewal.
pub fn optimum(lives: &Weibull, costs: Costs) -> Result<Optimum, Why> {
    costs.check()?;
    let unplanned_cost_per_h = cost_per_h(lives, costs, f64::INFINITY)?;
    let age_h = age_h(lives, costs);
    let cost_per_h = age_h.map_or(Ok(unplanned_cost_per_h), |age_h| cost_per_h(lives, costs, age_h))?;
    Ok(Optimum { age_h, cost_per_h, unplanned_cost_per_h })
}

/// The cheapest policy for the parts whose lives were fitted.
///
/// # Errors
/// Fewer than five failures, impossible costs, or a confidence that is not a share.
pub fn advise(fit: &Fit, costs: Costs, confidence: f64) -> Result<Advice, Why> {
    if fit.failures < FAILURES_MIN {
        return Err(Why::TooFewFailures { have: fit.failures, need: FAILURES_MIN });
    }
    let optimum = optimum(&fit.weibull, costs)?;
    let wear_shown = fit.beta_limits(confidence)?.low > 1.0;
    let age_limits_h = match optimum.age_h {
        None => None,
        Some(age_h) => {
            let by_beta = slope_of_ln_age(&fit.weibull, costs).unwrap_or(f64::INFINITY);
            let limits = around(age_h, fit.var_of_ln(by_beta), confidence)?;
            Some(if wear_shown { limits } else { Limits { high: f64::INFINITY, ..limits } })
        }
    };
    Ok(Advice { optimum, age_limits_h, wear_shown })
}

/// What renewing at an age costs per hour: for an infinite one, what waiting for each failure does. So the maker's limit can be
/// set beside the optimum.
///
/// # Errors
/// The age is not positive, or the costs are impossible.
pub fn cost_per_h(lives: &Weibull, costs: Costs, age_h: f64) -> Result<f64, Why> {
    costs.check()?;
    let age_h = within("the age in hours", age_h, f64::MIN_POSITIVE, f64::INFINITY)?;
    let Cycle { hours_h, failed } = Cycle::of(lives, age_h, costs.discount_per_h);
    let planned = (-lives.cumulative_hazard(age_h)).exp()
        * if costs.discount_per_h > 0.0 { (-costs.discount_per_h * age_h).exp() } else { 1.0 };
    Ok((costs.failed * failed + costs.planned * planned) / hours_h)
}

/// The cheapest age, if what fails in between is only mended to the state it was in, and every part is renewed at that age:
/// and what it costs per hour. `costs.failed` is then the cost of mending, which may be the lower one; it is not discounted.
///
/// # Errors
/// Costs that are not positive.
pub fn optimum_with_mending(lives: &Weibull, planned: f64, mending: f64) -> Result<Optimum, Why> {
    let planned = positive("the cost of a planned renewal", planned)?;
    let mending = positive("the cost of mending", mending)?;
    let beta = lives.beta();
    if beta <= 1.0 {
        // Mended for ever, a thing that does not wear costs ever less, or the same, per hour.
        let cost_per_h = if beta < 1.0 { 0.0 } else { mending / lives.eta_h() };
        return Ok(Optimum { age_h: None, cost_per_h, unplanned_cost_per_h: cost_per_h });
    }
    let age_h = lives.eta_h() * (planned / (mending * (beta - 1.0))).powf(1.0 / beta);
    let cost_per_h = planned * beta / ((beta - 1.0) * age_h);
    Ok(Optimum { age_h: Some(age_h), cost_per_h, unplanned_cost_per_h: f64::INFINITY })
}

/// One part's time, discounted: the mean hours it runs, and the mean number of failures (0 or 1) it ends in.
struct Cycle {
    hours_h: f64,
    failed: f64,
}

impl Cycle {
    fn of(lives: &Weibull, age_h: f64, discount_per_h: f64) -> Cycle {
        let hazard = lives.cumulative_hazard(age_h);
        if discount_per_h == 0.0 {
            return Cycle { hours_h: lives.mean_until_h(age_h), failed: -(-hazard).exp_m1() };
        }
        let none_alive_h = lives.eta_h() * NONE_ALIVE.powf(1.0 / lives.beta());
        let end_h = age_h.min(none_alive_h);
        let hours_h = integral(end_h, |at_h| (-lives.cumulative_hazard(at_h) - discount_per_h * at_h).exp());
        // By parts: what is neither alive at the end, nor discounted on the way, failed.
        let gone = -(-hazard - discount_per_h * age_h).exp_m1();
        Cycle { hours_h, failed: gone - discount_per_h * hours_h }
    }
}

fn age_h(lives: &Weibull, costs: Costs) -> Option<f64> {
    let beta = lives.beta();
    if beta <= 1.0 {
        return None;
    }
    let sought = costs.planned / (costs.failed - costs.planned);
    // In ln of the age. The slope is exact, and the left side grows throughout.
    let excess = |ln_age: f64| {
        let age_h = ln_age.exp();
        let Cycle { hours_h, failed } = Cycle::of(lives, age_h, costs.discount_per_h);
        let hazard_per_h = lives.hazard_per_h(age_h);
        Value {
            value: hazard_per_h * hours_h - failed - sought,
            slope: (beta - 1.0) * hazard_per_h * hours_h,
        }
    };
    let none_alive = (lives.eta_h() * NONE_ALIVE.powf(1.0 / beta)).ln();
    // Where few fail before it, the answer is that for mending instead of renewal; otherwise it lies further out.
    let guess = (lives.eta_h() * (sought / (beta - 1.0)).powf(1.0 / beta)).ln().min(none_alive);
    let (mut low, mut high, mut reach) = (guess, guess, 0.5);
    while excess(low).value > 0.0 {
        high = low;
        low -= reach;
        reach *= 2.0;
    }
    while excess(high).value <= 0.0 {
        if high >= none_alive {
            // Nothing lives to see that age.
            return None;
        }
        low = high;
        high = (high + reach).min(none_alive);
        reach *= 2.0;
    }
    Some(root::between(low, high, guess, false, excess).exp())
}

/// How ln of the cheapest age changes with the shape.
fn slope_of_ln_age(lives: &Weibull, costs: Costs) -> Option<f64> {
    let step = 1e-4 * (lives.beta() - 1.0);
    let ln_age = |beta| age_h(&Weibull::new(lives.eta_h(), beta).ok()?, costs).map(f64::ln);
    Some((ln_age(lives.beta() + step)? - ln_age(lives.beta() - step)?) / (2.0 * step))
}

/// The integral from 0 to `end`, by the double exponential rule: exact to the last digits also where the function bends at 0, as
/// a survival does.
fn integral(end: f64, f: impl Fn(f64) -> f64) -> f64 {
    const STEPS: i32 = 120;
    const STEP: f64 = 1.0 / 32.0;
    let mut sum = 0.0;
    for at in -STEPS..=STEPS {
        let at = f64::from(at) * STEP;
        let along = std::f64::consts::PI * at.sinh();
        let share = 1.0 / (1.0 + (-along).exp());
        sum += f(end * share) * share * (1.0 - share) * at.cosh();
    }
    sum * std::f64::consts::PI * STEP * end
}

#[cfg(test)]
#[path = "age_replacement_tests.rs"]
mod tests;
