//! How many spares to keep, and by when to order.
//!
//! Two things take a spare: a planned renewal, whose date is foreseen, and an early failure, which comes at random at a mean
//! rate (Poisson). A failure also puts off the renewal planned for that part; it is counted all the same, so the stock errs on
//! the safe side.

use super::Limits;
use super::quantile::gamma;
use super::weibull::Weibull;
use super::why::{Why, confidence, positive, within};
use statrs::distribution::{DiscreteCDF, Poisson};

/// More failures than this in one question are a slip of the units.
const MEAN_MAX: f64 = 1e6;

/// The smallest stock that covers failures of this mean number with this confidence.
///
/// # Errors
/// The mean is negative or absurd, or the confidence is not a share.
pub fn stock(mean: f64, share: f64) -> Result<u64, Why> {
    let share = confidence(share)?;
    Ok(poisson(mean)?.map_or(0, |failures| failures.inverse_cdf(share)))
}

/// The probability that so many spares cover failures of this mean number.
///
/// # Errors
/// The mean is negative or absurd.
pub fn covered(mean: f64, stock: u64) -> Result<f64, Why> {
    Ok(poisson(mean)?.map_or(1.0, |failures| failures.cdf(stock)))
}

/// `None`: none are expected.
fn poisson(mean: f64) -> Result<Option<Poisson>, Why> {
    const WHAT: &str = "the mean number of failures";
    let mean = within(WHAT, mean, 0.0, MEAN_MAX)?;
    if mean == 0.0 {
        return Ok(None);
    }
    Poisson::new(mean).map(Some).map_err(|_| Why::NotPositive { what: WHAT, value: mean })
}

/// Limits of the mean number of failures, so many having been counted (Garwood's, which never promise too much).
///
/// # Errors
/// The confidence is not a share.
pub fn mean_limits(count: u64, share: f64) -> Result<Limits, Why> {
    let tail = (1.0 - confidence(share)?) / 2.0;
    let low = if count == 0 { 0.0 } else { gamma(tail, count as f64)? };
    Ok(Limits { low, high: gamma(1.0 - tail, count as f64 + 1.0)? })
}

/// Early failures per hour, in the long run, of parts that are renewed at a limit.
///
/// # Errors
/// The limit is not positive.
pub fn early_failures_per_h(lives: &Weibull, limit_h: f64) -> Result<f64, Why> {
    let limit_h = positive("the limit in hours", limit_h)?;
    // Each part ends by failing or at its limit: failures per part over hours per part.
    Ok(-(-lives.cumulative_hazard(limit_h)).exp_m1() / lives.mean_until_h(limit_h))
}

/// What takes spares, and how they come.
#[derive(Clone, Copy, Debug)]
pub struct Demand<'a> {
    /// Planned renewals, in days from now; those of the past are taken as of now.
    pub renewals_in_days: &'a [f64],
    /// Early failures per day, over all parts that this spare fits.
    pub early_per_day: f64,
    /// From ordering to having it aboard.
    pub lead_time_days: f64,
    /// Spares that are there and usable.
    pub in_stock: u32,
    /// The stock must last with this probability.
    pub confidence: f64,
}

/// What a stretch of time takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Need {
    /// Planned renewals.
    pub renewals: u64,
    /// Early failures to be ready for.
    pub early: u64,
}

/// When the stock runs short.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shortage {
    /// The stock covers everything before, with the confidence asked for; in days from now.
    pub short_in_days: f64,
    /// An order by then comes in time; negative: so many days too late already.
    pub order_in_days: f64,
}

impl Demand<'_> {
    /// What the days up to the horizon take.
    ///
    /// # Errors
    /// A figure that is negative or none.
    pub fn until(&self, horizon_days: f64) -> Result<Need, Why> {
        self.check()?;
        let horizon_days = within("the horizon in days", horizon_days, 0.0, f64::MAX)?;
        let renewals = self.renewals_in_days.iter().filter(|at| **at <= horizon_days).count() as u64;
        Ok(Need { renewals, early: stock(self.early_per_day * horizon_days, self.confidence)? })
    }

    /// When the stock runs short if nothing is ordered; `None`: never.
    ///
    /// # Errors
    /// A figure that is negative or none.
    pub fn shortage(&self) -> Result<Option<Shortage>, Why> {
        self.check()?;
        let mut renewals_in_days = self.renewals_in_days.to_vec();
        renewals_in_days.sort_by(f64::total_cmp);
        let mut from_days: f64 = 0.0;
        // Between two renewals, what is left in stock covers early failures up to a mean number, and so up to a day.
        for (taken, next_days) in (0_u64..).zip(renewals_in_days.into_iter().map(Some).chain([None])) {
            let Some(left) = u64::from(self.in_stock).checked_sub(taken) else {
                return Ok(Some(self.short(from_days)));
            };
            let lasts_days = if self.early_per_day > 0.0 {
                gamma(1.0 - self.confidence, left as f64 + 1.0)? / self.early_per_day
            } else {
                f64::INFINITY
            };
            if next_days.is_none_or(|next_days| lasts_days < next_days) {
                let short_days = lasts_days.max(from_days);
                return Ok(short_days.is_finite().then(|| self.short(short_days)));
            }
            from_days = next_days.unwrap_or(from_days).max(from_days);
        }
        Ok(None)
    }

    fn short(&self, short_in_days: f64) -> Shortage {
        Shortage { short_in_days, order_in_days: short_in_days - self.lead_time_days }
    }

    fn check(&self) -> Result<(), Why> {
        confidence(self.confidence)?;
        within("the early failures per day", self.early_per_day, 0.0, MEAN_MAX)?;
        within("the lead time in days", self.lead_time_days, 0.0, f64::MAX)?;
        for at in self.renewals_in_days {
            within("a renewal's day", *at, f64::MIN, f64::MAX)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Demand<'_> = Demand {
        renewals_in_days: &[],
        early_per_day: 0.0,
        lead_time_days: 45.0,
        in_stock: 0,
        confidence: 0.9,
    };

    /// Source: scipy 1.17.1, `poisson.ppf` and `poisson.cdf`.
    #[test]
    fn stock_by_mean_and_confidence() {
        let table = [
            (0.5, [1, 1, 2, 3]),
            (1.0, [2, 2, 3, 4]),
            (2.0, [3, 4, 5, 6]),
            (3.0, [4, 5, 6, 8]),
            (5.0, [7, 8, 9, 11]),
        ];
        for (mean, row) in table {
            for (share, expected) in [0.80, 0.90, 0.95, 0.99].into_iter().zip(row) {
                assert_eq!(stock(mean, share), Ok(expected), "{mean} {share}");
            }
        }
        for (mean, stock, expected) in [(1.0, 3, 0.981012), (2.0, 5, 0.983436), (5.0, 9, 0.968172)] {
            assert!((covered(mean, stock).unwrap() - expected).abs() < 1e-6);
        }
        assert_eq!((stock(0.0, 0.99), covered(0.0, 0)), (Ok(0), Ok(1.0)));
    }

    /// Source: Garwood's limits by chi-square quantiles (scipy 1.17.1), 95 %.
    #[test]
    fn limits_of_a_count() {
        for (count, low, high) in [
            (0, 0.0, 3.688879),
            (1, 0.025318, 5.571643),
            (2, 0.242209, 7.224688),
            (5, 1.623486, 11.668332),
            (10, 4.795389, 18.390356),
        ] {
            let limits = mean_limits(count, 0.95).unwrap();
            assert!(
                (limits.low - low).abs() < 1e-6 && (limits.high - high).abs() < 1e-6,
                "{count}: {limits:?}"
            );
        }
    }

    /// By hand: without early failures, the third renewal finds two spares gone.
    #[test]
    fn planned_renewals_alone() {
        let demand = Demand { renewals_in_days: &[400.0, 100.0, 250.0], in_stock: 2, ..NONE };
        let shortage = demand.shortage().unwrap().unwrap();
        assert_eq!(shortage, Shortage { short_in_days: 400.0, order_in_days: 355.0 });
        assert_eq!(demand.until(250.0), Ok(Need { renewals: 2, early: 0 }));
        assert_eq!(Demand { in_stock: 3, ..demand }.shortage(), Ok(None));
        let overdue = Demand { renewals_in_days: &[-3.0], ..NONE };
        assert_eq!(overdue.shortage().unwrap().unwrap().order_in_days, -45.0);
        assert_eq!(overdue.until(0.0), Ok(Need { renewals: 1, early: 0 }));
    }

    /// By hand: with nothing in stock, 90 % that none fails lasts −ln 0.9 mean lives: 105.36 days at one in 1,000 days.
    #[test]
    fn early_failures_alone() {
        let demand = Demand { early_per_day: 1e-3, ..NONE };
        let shortage = demand.shortage().unwrap().unwrap();
        assert!((shortage.short_in_days - 105.360_515_657_826).abs() < 1e-6, "{shortage:?}");
        assert!((shortage.order_in_days - 60.360_515_657_826).abs() < 1e-6);
    }

    /// On the day before the shortage stock and confidence are enough; on the day after, one of them is not.
    #[test]
    fn a_shortage_is_where_the_need_passes_the_stock() {
        for in_stock in 0..8 {
            for early_per_day in [1e-4, 1e-3, 1e-2] {
                let renewals_in_days = [30.0, 200.0, 210.0, 500.0, 900.0];
                let demand = Demand { renewals_in_days: &renewals_in_days, early_per_day, in_stock, ..NONE };
                let short_in_days = demand.shortage().unwrap().unwrap().short_in_days;
                let enough = |days: f64| {
                    let need = demand.until(days).unwrap();
                    need.renewals + need.early <= u64::from(in_stock)
                };
                assert!(enough((short_in_days - 0.01).max(0.0)), "{demand:?} {short_in_days}");
                assert!(!enough(short_in_days + 0.01), "{demand:?} {short_in_days}");
            }
        }
    }

    /// By hand: without wear the limit makes no difference. With wear, renewing early lowers the rate.
    #[test]
    fn early_failures_of_renewed_parts() {
        let worn_not = Weibull::new(5_000.0, 1.0).unwrap();
        for limit_h in [1.0, 5_000.0, 1e6] {
            assert!((early_failures_per_h(&worn_not, limit_h).unwrap() * 5_000.0 - 1.0).abs() < 1e-9);
        }
        let wearing = Weibull::new(5_000.0, 3.0).unwrap();
        let rate = |limit_h| early_failures_per_h(&wearing, limit_h).unwrap();
        assert!(rate(1_000.0) < rate(4_000.0) / 10.0);
        assert!((rate(1e9) * wearing.mean_h() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn impossible_questions_are_refused() {
        assert!(stock(-1.0, 0.9).is_err());
        assert!(stock(f64::NAN, 0.9).is_err());
        assert!(stock(1e12, 0.9).is_err());
        assert_eq!(stock(1.0, 90.0), Err(Why::Confidence(90.0)));
        assert!(Demand { lead_time_days: -1.0, ..NONE }.shortage().is_err());
        assert!(Demand { renewals_in_days: &[f64::NAN], ..NONE }.shortage().is_err());
        assert!(NONE.until(f64::INFINITY).is_err());
    }
}
