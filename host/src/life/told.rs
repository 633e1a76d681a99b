//! What removals tell of the next part: shown beside the maker's limit, never in its place.
//!
//! Below five failures nothing is told but how many there are. A cheapest age needs what a failure costs beside a planned
//! renewal; nobody can guess that, so without it there is none.

use super::age_replacement::{self, Advice, Costs, FAILURES_MIN};
use super::power_law::Trend;
use super::removals::Removals;
use super::weibull::{self, Fit};
use super::{Limits, Why};

/// What is asked of the removals of one kind of part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask {
    /// For all limits, two-sided.
    pub confidence: f64,
    /// What a failure costs, a planned renewal being 1.
    pub cost_ratio: Option<f64>,
    /// The maker's limit.
    pub limit_h: Option<f64>,
    /// The hours of the part that is in now.
    pub age_h: Option<f64>,
    /// The hours that it is to live on.
    pub more_h: Option<f64>,
}

/// A figure and its limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Likeliest.
    pub best: f64,
    /// Its limits.
    pub limits: Limits,
}

/// A place's trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceTrend {
    /// Its number.
    pub place: usize,
    /// Failures that it rests on.
    pub failures: usize,
    /// Laplace's figure.
    pub laplace: Trend,
    /// MIL-HDBK-189's.
    pub mil_hdbk_189: Trend,
    /// The power of the hours that failures grow with, by the modified estimate: 1 at a constant rate.
    pub power: f64,
}

impl PlaceTrend {
    /// A constant rate would rarely look like this: a view that takes it as constant is wrong.
    #[must_use]
    pub fn is_shown(&self, confidence: f64) -> bool {
        self.mil_hdbk_189.probability < 1.0 - confidence
    }
}

/// The answer, if there are enough failures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lives {
    /// The distribution and how well it is known.
    pub fit: Fit,
    /// Its scale: the age by which 63 % have failed.
    pub scale_h: Known,
    /// Its shape.
    pub shape: Known,
    /// The age by which one in ten has failed.
    pub b10_h: Known,
    /// The age by which half have failed.
    pub median_h: Known,
    /// The share that reaches the maker's limit.
    pub reach_limit: Option<Known>,
    /// The chance that the part that is in now lives on for the hours asked for.
    pub lives_on: Option<f64>,
    /// The cheapest age, if the cost ratio is known.
    pub advice: Option<Advice>,
    /// What renewing at the maker's limit costs per hour, in planned renewals.
    pub limit_cost_per_h: Option<f64>,
}

/// What removals tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// What it rests on.
    pub removals: Removals,
    /// Lives; or why nothing is told of them.
    pub lives: Result<Lives, Why>,
    /// The trend at each place that has enough failures.
    pub trends: Vec<PlaceTrend>,
}

/// What removals tell.
///
/// # Errors
/// The confidence is not a share.
pub fn told(removals: Removals, ask: &Ask) -> Result<Told, Why> {
    super::why::confidence(ask.confidence)?;
    let lives = lives(&removals, ask);
    let trends = removals.places.iter().filter_map(|(place, failures_h, end_h)| {
        let history = Removals::history(failures_h, *end_h).ok()?;
        Some(PlaceTrend {
            place: *place,
            failures: failures_h.iter().filter(|at_h| *at_h < end_h).count(),
            laplace: history.laplace(),
            mil_hdbk_189: history.mil_hdbk_189().ok()?,
            power: history.modified().b,
        })
    });
    let trends = trends.collect();
    Ok(Told { removals, lives, trends })
}

fn lives(removals: &Removals, ask: &Ask) -> Result<Lives, Why> {
    if removals.failures < FAILURES_MIN {
        return Err(Why::TooFewFailures { have: removals.failures, need: FAILURES_MIN });
    }
    let fit = weibull::fit(&removals.lives)?;
    let known = |best: f64, limits: Result<Limits, Why>| Ok(Known { best, limits: limits? });
    let share_at =
        |age_h: f64| known(fit.weibull.survival(age_h), fit.survival_limits(age_h, ask.confidence));
    let costs = ask.cost_ratio.map(|ratio| Costs::new(1.0, ratio));
    let b_life = |share: f64| known(fit.weibull.b_life_h(share), fit.b_life_limits_h(share, ask.confidence));
    Ok(Lives {
        fit,
        scale_h: known(fit.weibull.eta_h(), fit.eta_limits_h(ask.confidence))?,
        shape: known(fit.weibull.beta(), fit.beta_limits(ask.confidence))?,
        b10_h: b_life(0.1)?,
        median_h: b_life(0.5)?,
        reach_limit: ask.limit_h.map(share_at).transpose()?,
        lives_on: ask.age_h.zip(ask.more_h).map(|(age, more)| fit.weibull.conditional_survival(age, more)),
        advice: costs.map(|costs| age_replacement::advise(&fit, costs, ask.confidence)).transpose()?,
        limit_cost_per_h: ask
            .limit_h
            .zip(costs)
            .map(|(limit_h, costs)| age_replacement::cost_per_h(&fit.weibull, costs, limit_h))
            .transpose()?,
    })
}

#[cfg(test)]
mod tests {
    use super::super::Life;
    use super::*;

    const ASK: Ask =
        Ask { confidence: 0.95, cost_ratio: None, limit_h: Some(500.0), age_h: None, more_h: None };

    fn removals(failures: usize) -> Removals {
        let lives = (0..failures).map(|at| Life::failed_at(400.0 + 100.0 * at as f64));
        Removals { lives: lives.collect(), failures, ..Removals::default() }
    }

    #[test]
    fn below_five_failures_nothing_is_told_but_how_many_there_are() {
        let few = told(removals(4), &ASK).unwrap();
        assert_eq!(few.lives, Err(Why::TooFewFailures { have: 4, need: 5 }));
        assert!(told(removals(5), &ASK).unwrap().lives.is_ok());
    }

    #[test]
    fn without_a_cost_ratio_there_is_no_cheapest_age() {
        let without = told(removals(6), &ASK).unwrap().lives.unwrap();
        assert_eq!((without.advice, without.limit_cost_per_h, without.lives_on), (None, None, None));
        let with = Ask { cost_ratio: Some(5.0), age_h: Some(0.0), more_h: Some(500.0), ..ASK };
        let with = told(removals(6), &with).unwrap().lives.unwrap();
        let advice = with.advice.unwrap();
        // Renewing at any other age, the maker's included, costs no less.
        assert!(advice.optimum.cost_per_h <= with.limit_cost_per_h.unwrap());
        // A new part lives to the limit as often as any.
        assert!((with.lives_on.unwrap() - with.reach_limit.unwrap().best).abs() < 1e-12);
        assert!(told(removals(6), &Ask { cost_ratio: Some(0.5), ..ASK }).unwrap().lives.is_err());
    }
}
