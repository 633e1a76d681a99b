//! How many spares a stretch of time takes, and by when to order: planned renewals, and early failures at a rate that was
//! counted.
//!
//! The rate is failures over hours watched, its limits Garwood's (chi-square). Nothing is taken for a rate that nobody counted:
//! with no part ever taken out there is none, and the answer says so.

use super::spares::{self, Demand, Need, Shortage};
use super::why::confidence;
use super::{Limits, Why};

/// What is asked about one kind of part.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// Planned renewals, in days from now; those of the past are taken as of now.
    pub renewals_in_days: Vec<f64>,
    /// Failures counted, and the hours that parts of this kind were watched for; `None`: none was ever taken out.
    pub counted: Option<(usize, f64)>,
    /// Hours a day of all parts of this kind together; `None`: not known.
    pub use_h_per_day: Option<f64>,
    /// From ordering to having it aboard; `None`: nobody said.
    pub lead_time_days: Option<f64>,
    /// Spares that are there.
    pub in_stock: u32,
    /// Up to when, in days from now.
    pub horizon_days: f64,
    /// The stock must last with this probability; also for the limits of the rate.
    pub confidence: f64,
}

/// A rate that was counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Failures per hour.
    pub per_h: f64,
    /// Its limits.
    pub limits: Limits,
}

/// What is missing for a full answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// No part of this kind was ever recorded as taken out, so there is no failure rate.
    Removals,
    /// How many hours a day it runs.
    Use,
    /// How long a spare takes to come.
    LeadTime,
}

/// The answer about one kind of part.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// What the stretch takes; early failures are 0 where no rate is known.
    pub need: Need,
    /// Early failures to be ready for if the rate is as high as its upper limit; `None`: no rate is known.
    pub early_at_most: Option<u64>,
    /// Failures.
    pub rate: Option<Rate>,
    /// How likely what is there covers the early failures, after the planned renewals; `None`: no rate is known, or it does not
    /// cover the renewals.
    pub covered: Option<f64>,
    /// How many are to be ordered.
    pub order: u64,
    /// When the stock runs short if nothing is ordered; `None`: not within the stretch.
    pub shortage: Option<Shortage>,
    /// What is missing.
    pub missing: Vec<Missing>,
}

/// Answers for one kind of part.
///
/// # Errors
/// A figure that is negative or none, or a confidence that is not a share.
pub fn stock(ask: &Ask) -> Result<Stock, Why> {
    confidence(ask.confidence)?;
    let mut missing = Vec::new();
    let rate = match ask.counted.filter(|(_, watched_h)| *watched_h > 0.0) {
        Some((failures, watched_h)) => Some(counted(failures, watched_h, ask.confidence)?),
        None => {
            missing.push(Missing::Removals);
            None
        }
    };
    if ask.use_h_per_day.is_none() {
        missing.push(Missing::Use);
    }
    if ask.lead_time_days.is_none() {
        missing.push(Missing::LeadTime);
    }
    let use_h_per_day = ask.use_h_per_day.unwrap_or(0.0);
    let known = rate.filter(|_| ask.use_h_per_day.is_some());
    let demand = Demand {
        renewals_in_days: &ask.renewals_in_days,
        early_per_day: known.map_or(0.0, |rate| rate.per_h * use_h_per_day),
        lead_time_days: ask.lead_time_days.unwrap_or(0.0),
        in_stock: ask.in_stock,
        confidence: ask.confidence,
    };
    let need = demand.until(ask.horizon_days)?;
    let early_at_most = known
        .map(|rate| spares::stock(rate.limits.high * use_h_per_day * ask.horizon_days, ask.confidence))
        .transpose()?;
    let left = u64::from(ask.in_stock).checked_sub(need.renewals);
    let covered = known
        .zip(left)
        .map(|(rate, left)| spares::covered(rate.per_h * use_h_per_day * ask.horizon_days, left))
        .transpose()?;
    let within = |shortage: &Shortage| shortage.short_in_days <= ask.horizon_days;
    Ok(Stock {
        need,
        early_at_most,
        rate,
        covered,
        order: (need.renewals + need.early).saturating_sub(u64::from(ask.in_stock)),
        shortage: demand.shortage()?.filter(within),
        missing,
    })
}

fn counted(failures: usize, watched_h: f64, share: f64) -> Result<Rate, Why> {
    let limits = spares::mean_limits(failures as u64, share)?;
    Ok(Rate {
        per_h: failures as f64 / watched_h,
        limits: Limits { low: limits.low / watched_h, high: limits.high / watched_h },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask() -> Ask {
        Ask {
            renewals_in_days: vec![100.0],
            counted: Some((2, 20_000.0)),
            use_h_per_day: Some(10.0),
            lead_time_days: Some(45.0),
            in_stock: 1,
            horizon_days: 1_000.0,
            confidence: 0.95,
        }
    }

    /// Rates by hand: 2 in 20,000 h at 10,000 h are 1 failure. Stock: scipy 1.17.1, `poisson.ppf(0.95, 1)` = 3, `poisson.cdf(0, 1)`
    /// = 0.367879. Limits of 2 at 95 %: Garwood's 0.242209 to 7.224688 by `chi2.ppf`; `poisson.ppf(0.95, 7.224688 / 2)` = 7.
    #[test]
    fn renewals_and_early_failures_add_up() {
        let told = stock(&ask()).unwrap();
        assert_eq!((told.need.renewals, told.need.early, told.order), (1, 3, 3));
        assert_eq!(told.early_at_most, Some(7));
        let rate = told.rate.unwrap();
        assert!((rate.limits.low * 20_000.0 - 0.242_209).abs() < 1e-6, "{rate:?}");
        assert!((rate.limits.high * 20_000.0 - 7.224_688).abs() < 1e-6, "{rate:?}");
        assert!((told.covered.unwrap() - 0.367_879).abs() < 1e-6);
        assert_eq!(told.missing, []);
    }

    #[test]
    fn no_rate_is_invented() {
        let none = stock(&Ask { counted: None, ..ask() }).unwrap();
        assert_eq!((none.need.early, none.early_at_most, none.rate, none.covered), (0, None, None, None));
        assert_eq!(none.missing, [Missing::Removals]);
        assert_eq!((none.order, none.shortage), (0, None), "one renewal and one spare");
        let bare = Ask { use_h_per_day: None, lead_time_days: None, in_stock: 0, ..ask() };
        let bare = stock(&bare).unwrap();
        assert_eq!(bare.missing, [Missing::Use, Missing::LeadTime]);
        assert_eq!(bare.shortage.unwrap().short_in_days, 100.0, "the renewal finds none");
    }

    #[test]
    fn no_failure_yet_still_has_an_upper_limit() {
        let told = stock(&Ask { counted: Some((0, 20_000.0)), ..ask() }).unwrap();
        assert_eq!((told.need.early, told.rate.unwrap().per_h), (0, 0.0));
        // Garwood's 3.688879 at 95 %, halved: `poisson.ppf(0.95, 1.8444395)` = 4.
        assert_eq!(told.early_at_most, Some(4));
    }
}
