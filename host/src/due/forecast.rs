//! When a limit will be reached, if the ship goes on as she did and as is planned.
//!
//! Many futures are drawn. Each begins with the planned legs, if there are any, and goes on with blocks of whole days of
//! the history, so that passages and stays keep together. What is not known is drawn too, once a future: the hours run so
//! far; which stretch of the history the future is like; how far use is off from what a history of that length shows; and by
//! how much the trade will drift. `docs/due.md` has the reasons and how well it does. The same seed gives the same answer.

use super::ahead::Ahead;
use super::dice::Dice;
use super::future::{Future, Model};
use super::history::{History, Quantity};
use super::notes;
use super::usage::{Day, Leg};
use super::{Interval, LimitedBy};
use crate::timeline::MS_PER_HOUR;
use crate::timeline::dating::When;

/// With less history than this, in days, no date is given.
pub const HISTORY_MIN_DAYS: usize = 14;

/// How many futures are drawn.
const FUTURES: usize = 1_000;

/// One limit of what grows with use.
#[derive(Clone, Copy)]
pub struct Limit<'a> {
    /// Where it stands now.
    pub now: Interval,
    /// Where it is due.
    pub limit: f64,
    /// How much of it came since the part was put in, likeliest, and in how many days: it may tell of longer than the log does.
    pub since_fitting: Option<(f64, f64)>,
    /// When it was passed, if the figure now is this one, above the limit. Without it: now, at the latest.
    pub passed_ms: Option<&'a dyn Fn(f64) -> i64>,
}

/// What is asked.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// Usage so far, oldest day first.
    pub days: &'a [Day],
    /// The ship's legs, sailed and planned.
    pub legs: &'a [Leg],
    /// The limit in hours.
    pub hours: Option<Limit<'a>>,
    /// The limit in starts.
    pub starts: Option<Limit<'a>>,
    /// The date that a limit in months comes to.
    pub expiry: Option<When>,
    /// Now.
    pub as_of_ms: i64,
    /// For the draws.
    pub seed: u64,
}

/// When the first limit is reached.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Forecast {
    /// One in ten futures is earlier.
    pub p10_ms: Option<i64>,
    /// Half of them are.
    pub p50_ms: Option<i64>,
    /// Nine in ten are.
    pub p90_ms: Option<i64>,
    /// By each instant one more of a hundred futures has reached it; those that do not within the horizon are missing.
    pub percentiles_ms: Vec<i64>,
    /// The limit that comes first, mostly.
    pub limited_by: Option<LimitedBy>,
    /// Why there is no date.
    pub why_not: Option<String>,
    /// What there is to say about the usage that it rests on, in sentences.
    pub notes: Vec<String>,
}

/// Draws the futures.
#[must_use]
pub fn forecast(ask: &Ask<'_>) -> Forecast {
    let grows = ask.hours.is_some() || ask.starts.is_some();
    let Some(expiry) = ask.expiry else {
        return if grows {
            by_use(ask)
        } else {
            Forecast { why_not: Some("no limit is entered".to_owned()), ..Forecast::default() }
        };
    };
    if grows {
        return by_use(ask);
    }
    let at = |share: i64| expiry.lo_ms + (expiry.hi_ms - expiry.lo_ms) / 100 * share;
    Forecast {
        p10_ms: Some(at(10)),
        p50_ms: Some(at(50)),
        p90_ms: Some(at(90)),
        percentiles_ms: (1..=100).map(at).collect(),
        limited_by: Some(LimitedBy::Months),
        ..Forecast::default()
    }
}

fn by_use(ask: &Ask<'_>) -> Forecast {
    let none = |why: String| Forecast { why_not: Some(why), ..Forecast::default() };
    let passed = |limit: Option<Limit<'_>>| limit.is_some_and(|limit| limit.now.low >= limit.limit);
    let certain = passed(ask.hours) || passed(ask.starts);
    let model = match model(ask) {
        Ok(model) => Some(model),
        Err(_) if certain => None,
        Err(why) => return none(why),
    };
    let mut dates = draw(ask, model.as_ref());
    dates.sort_by_key(|(at, _)| *at);
    // Futures in which no limit is reached come last.
    let quantile = |tenths: usize| dates.get((FUTURES * tenths / 10).saturating_sub(1)).map(|(at, _)| *at);
    let count = |by| dates.iter().filter(|(_, is)| *is == by).count();
    let limited_by = [LimitedBy::Hours, LimitedBy::Months, LimitedBy::Starts]
        .into_iter()
        .filter(|by| count(*by) > 0)
        .rev()
        .max_by_key(|by| count(*by));
    let p50_ms = quantile(5);
    let why_not =
        p50_ms.is_none().then(|| "at this usage the limit is not reached within 60 years".to_owned());
    let percentiles = (1..=100).map_while(|share| dates.get((FUTURES * share / 100).saturating_sub(1)));
    let percentiles_ms = percentiles.map(|(at, _)| *at).collect();
    let notes = match &model {
        Some(Model { history, ahead }) if !certain => {
            notes::usage(history, ahead.as_ref().is_some_and(|ahead| ahead.lies))
        }
        _ => Vec::new(),
    };
    Forecast { p10_ms: quantile(1), p50_ms, p90_ms: quantile(9), percentiles_ms, limited_by, why_not, notes }
}

/// `Err`: why there is nothing to draw from.
fn model(ask: &Ask<'_>) -> Result<Model, String> {
    let told = ask.days.len();
    if told < HISTORY_MIN_DAYS {
        return Err(format!(
            "the log tells of {told} whole days, and {HISTORY_MIN_DAYS} are needed to foresee a date"
        ));
    }
    if ask.days.iter().all(|day| day.on_h <= 0.0 && day.starts <= 0.0) {
        return Err(format!("it was not used on any of the {told} days that the log tells of"));
    }
    let history = History::of(ask.days);
    let ahead = Ahead::of(ask.legs, ask.days, &history, ask.as_of_ms);
    if let (Some(since_ms), None) = (history.laid_up_since_ms, &ahead) {
        return Err(notes::laid_up(since_ms));
    }
    if history.days < HISTORY_MIN_DAYS {
        return Err(format!(
            "the log tells of {} days on which she was not laid up, and {HISTORY_MIN_DAYS} are needed to foresee a date",
            history.days
        ));
    }
    Ok(Model { history, ahead })
}

/// The date of the first limit in each future that reaches one.
fn draw(ask: &Ask<'_>, model: Option<&Model>) -> Vec<(i64, LimitedBy)> {
    let mut dice = Dice(ask.seed);
    let mut dates = Vec::with_capacity(FUTURES);
    let mut future = Future::default();
    for _ in 0..FUTURES {
        if let Some(model) = model {
            future.draw(model, &mut dice);
        }
        let mut first = ask.expiry.map(|expiry| (dice.between(expiry), LimitedBy::Months));
        let limits = [
            (ask.hours, LimitedBy::Hours, Quantity::Hours),
            (ask.starts, LimitedBy::Starts, Quantity::Starts),
        ];
        for (limit, by, quantity) in limits {
            let Some(limit) = limit else { continue };
            let now = dice.near(limit.now);
            let at = if now >= limit.limit {
                Some(limit.passed_ms.map_or(ask.as_of_ms, |passed_ms| passed_ms(now)).min(ask.as_of_ms))
            } else {
                let reached =
                    model.and_then(|model| future.reached(model, &limit, limit.limit - now, quantity));
                reached.map(|days| later(ask.as_of_ms, days))
            };
            if let Some(at) = at
                && first.is_none_or(|(before, _)| at < before)
            {
                first = Some((at, by));
            }
        }
        dates.extend(first);
    }
    dates
}

fn later(from_ms: i64, days: f64) -> i64 {
    from_ms.saturating_add((days * 24.0 * MS_PER_HOUR) as i64)
}

#[cfg(test)]
#[path = "forecast_tests.rs"]
mod tests;
