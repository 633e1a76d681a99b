//! How well dates were foreseen: by trade and horizon, beside the rules of thumb.

use super::Trade;
use super::backtest::{Case, HORIZONS_DAYS};

/// Of one trade at one horizon.
#[derive(Clone, Debug)]
pub struct Row {
    /// What the ships do.
    pub trade: Trade,
    /// How far ahead the limit truly was.
    pub horizon_days: u32,
    /// Cases with a date.
    pub cases: usize,
    /// Cases without one.
    pub no_date: usize,
    /// The share of true instants inside p10 to p90, and its limits at 95 % (Wilson's).
    pub inside: [f64; 3],
    /// The share before p10, and behind p90.
    pub outside: [f64; 2],
    /// The width of the band in days, in the middle of all cases.
    pub width_days: f64,
    /// Of ours, of the average since fitting, of the last month's rate.
    pub rules: [Rule; 3],
}

/// One way to foresee.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// How far off its date is, in days, in the middle of all cases.
    pub off_days: f64,
    /// The mean pinball loss over p10, p50 and p90 in days; a rule without a band has its one date for all three.
    pub pinball_days: f64,
}

/// A rule that never reaches the limit is taken to be off by so many days in the loss.
const NEVER_DAYS: f64 = 3_650.0;

/// Scores cases.
#[must_use]
pub fn rows(cases: &[Case]) -> Vec<Row> {
    let mut rows = Vec::new();
    for trade in Trade::ALL {
        for horizon_days in HORIZONS_DAYS {
            let own = |case: &&Case| case.trade == trade && case.horizon_days == horizon_days;
            let own: Vec<&Case> = cases.iter().filter(own).collect();
            rows.extend(row(trade, horizon_days, &own));
        }
    }
    rows
}

/// Scores cases of one kind. `None`: none of them has a date.
#[must_use]
pub fn row(trade: Trade, horizon_days: u32, own: &[&Case]) -> Option<Row> {
    let dated: Vec<(&Case, [f64; 3])> =
        own.iter().filter_map(|case| case.band_days.map(|band| (*case, band))).collect();
    if dated.is_empty() {
        return None;
    }
    let count = dated.len();
    let share = |test: &dyn Fn(f64, [f64; 3]) -> bool| {
        dated.iter().filter(|(case, band)| test(f64::from(case.horizon_days), *band)).count()
    };
    let inside = share(&|truth, [p10, _, p90]| (p10..=p90).contains(&truth));
    let (low, high) = wilson(inside, count);
    let early = share(&|truth, [p10, _, _]| truth < p10) as f64 / count as f64;
    let late = share(&|truth, [_, _, p90]| truth > p90) as f64 / count as f64;
    let rule = |dates: &dyn Fn(&Case, [f64; 3]) -> [f64; 3]| {
        let of = dated.iter().map(|(case, band)| (f64::from(case.horizon_days), dates(case, *band)));
        let off = of.clone().map(|(truth, [_, p50, _])| (p50 - truth).abs());
        let loss = of.map(|(truth, dates)| pinball(truth, dates)).sum::<f64>() / count as f64;
        Rule { off_days: median(off.collect()), pinball_days: loss }
    };
    Some(Row {
        trade,
        horizon_days,
        cases: count,
        no_date: own.len() - count,
        inside: [inside as f64 / count as f64, low, high],
        outside: [early, late],
        width_days: median(dated.iter().map(|(_, [p10, _, p90])| p90 - p10).collect()),
        rules: [
            rule(&|_, band| band),
            rule(&|case, _| [case.by_average_days; 3]),
            rule(&|case, _| [case.by_month_days; 3]),
        ],
    })
}

fn pinball(truth: f64, dates: [f64; 3]) -> f64 {
    let loss = |level: f64, date: f64| {
        let off = truth - date.min(NEVER_DAYS);
        if off >= 0.0 { level * off } else { (level - 1.0) * off }
    };
    [0.1, 0.5, 0.9].iter().zip(dates).map(|(level, date)| loss(*level, date)).sum::<f64>() / 3.0
}

fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Wilson's limits of a share at 95 %.
#[must_use]
pub fn wilson(hits: usize, of: usize) -> (f64, f64) {
    let (n, z) = (of as f64, 1.959_963_985);
    let share = hits as f64 / n;
    let middle = share + z * z / (2.0 * n);
    let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + z * z / n;
    ((middle - half) / whole, (middle + half) / whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 81 of 263: 0.2553 to 0.3662 (Newcombe, Statistics in Medicine 17 (1998), table I, method 3; from memory).
    #[test]
    fn wilsons_limits_are_those_of_the_paper() {
        let (low, high) = wilson(81, 263);
        assert!((low - 0.2553).abs() < 5e-5 && (high - 0.3662).abs() < 5e-5, "{low} {high}");
    }

    /// By hand: truth 30; p10 20 is 10 early: 0.1 * 10; p50 40 is 10 late: 0.5 * 10; p90 50 is 20 late: 0.1 * 20. Sum 8.
    #[test]
    fn pinball_by_hand() {
        assert!((pinball(30.0, [20.0, 40.0, 50.0]) - 8.0 / 3.0).abs() < 1e-12);
    }
}
