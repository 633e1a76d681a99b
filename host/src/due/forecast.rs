//! When a limit will be reached, if the ship goes on as she did and as is planned.
//!
//! Many futures are drawn. Each begins with the planned legs, if there are any, and goes on with blocks of whole days of
//! the history, so that passages and stays keep together. What is not known is drawn too, once a future: the hours run so
//! far; which stretch of the history the future is like; which history it might have been instead, of the same length; and
//! by how much the trade will drift. `docs/due.md` has the reasons and how well it does. The same seed gives the same answer.

use super::ahead::{Ahead, Piece};
use super::dice::Dice;
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

/// How far they go, in days: 60 years. What is not reached by then is not dated.
const HORIZON_DAYS: usize = 21_915;

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

/// Blocks of the history, in days: whole weeks, so that a weekly timetable keeps its days apart, and long enough to hold a
/// passage and the stay behind it.
const BLOCK_WEEKS: [usize; 4] = [2, 3, 4, 6];

/// But no longer than this part of the history that is drawn from.
const BLOCKS_MIN: usize = 4;

// The figures from here on were chosen by backtests on seeds other than those whose outcome is told in `docs/due.md`.

/// What a history hides, in parts of its unrest over a fortnight, for one fortnight of it (one deviation).
const HIDDEN: f64 = 1.1;

/// Use has drifted as far as it does from one stretch of months to the next after so many days.
const DRIFT_DAYS: f64 = 100.0;

/// What a lay-up leaves open of the use behind it, since the trade may be another one: now laid up, or lately (one deviation).
const NEW_TRADE: f64 = 0.06;
const NEW_TRADE_LATELY: f64 = 0.03;

/// The use before the log began, of which only the sum since fitting is known, counts for so many days at most; and for the
/// less, the further it is from that in the log: so far by its logarithm, and it counts for a third.
const BEFORE_DAYS_MAX: f64 = 150.0;
const BEFORE_APART: f64 = 0.5;

/// Where a change shows, it counts for so much of that.
const BEFORE_CHANGED: f64 = 0.3;

/// With fewer days before the log, their sum says too little.
const BEFORE_DAYS_MIN: f64 = 30.0;

/// How often a future is like the whole history, or like the later half of it; else it is like the last quarter.
const LIKE_WHOLE: f64 = 0.7;
const LIKE_HALF: f64 = 0.2;

/// A part of the history is drawn from only if the history has so many days.
const HALF_MIN_DAYS: usize = 60;
const QUARTER_MIN_DAYS: usize = 120;

/// What is drawn from for every future.
struct Model {
    history: History,
    ahead: Option<Ahead>,
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

/// One future: what comes of the plan, then blocks of real days, drawn as far as they are asked for.
#[derive(Default)]
struct Future {
    planned: Vec<Piece>,
    block_days: usize,
    /// How many days of the history it is like, and whether those are the ones since a change.
    days: usize,
    changed: bool,
    /// Where in the real history the blocks of this future's own history begin.
    history: Vec<u32>,
    /// Where in the real history each block of the future begins.
    blocks: Vec<u32>,
    /// Deviations by which use differs from what the history shows.
    off: f64,
    dice: Option<Dice>,
}

impl Future {
    fn draw(&mut self, model: &Model, dice: &mut Dice) {
        let days = model.history.days;
        self.planned.clear();
        if let Some(ahead) = &model.ahead {
            ahead.draw(&model.history, dice, &mut self.planned);
        }
        let (from, to, changed) = window(&model.history, dice);
        (self.days, self.changed) = (to - from, changed);
        let weeks = BLOCK_WEEKS.get(dice.below(BLOCK_WEEKS.len())).copied().unwrap_or(2);
        self.block_days = (7 * weeks).min((to - from) / BLOCKS_MIN).max(2);
        // A whole history goes round, so that every day is drawn as often as any other; a part of it does not.
        let room = if to - from == days { days } else { to - from - self.block_days + 1 };
        let count = (to - from).div_ceil(self.block_days);
        self.history.clear();
        self.history.extend((0..count).map(|_| (from + dice.below(room)) as u32));
        self.blocks.clear();
        // Where no plan says how she goes on, she does as she did when she last was as she is now.
        if model.ahead.is_none() {
            self.blocks.extend(model.history.day_alike(dice).map(|at| at as u32));
        }
        self.off = dice.bell();
        self.dice = Some(Dice(dice.next()));
    }

    /// Where the block of this number begins.
    fn block(&mut self, number: usize) -> Option<usize> {
        while self.blocks.len() <= number {
            let drawn = self.dice.as_mut()?.below(self.history.len());
            self.blocks.push(*self.history.get(drawn)?);
        }
        self.blocks.get(number).map(|at| *at as usize)
    }

    /// After how many days so much more is used up.
    fn reached(&mut self, model: &Model, limit: &Limit<'_>, more: f64, quantity: Quantity) -> Option<f64> {
        let history = &model.history;
        let more = more * self.level(history, limit, more, quantity);
        let (mut used, mut passed) = (0.0, 0.0);
        for piece in &self.planned {
            let grows = piece.of(quantity);
            if used + grows >= more && grows > 0.0 {
                return Some(passed + piece.days * (more - used) / grows);
            }
            used += grows;
            passed += piece.days;
        }
        // Days of use from here on; idle spells come on top. A ship whose plans are known is not waiting for orders.
        let (planned_days, mut spells) = (passed, self.dice.unwrap_or(Dice(0)));
        let idle_days = if self.planned.is_empty() { history.spells.rest_days(&mut spells) } else { 0.0 };
        let sums = history.sums(quantity);
        for number in 0..HORIZON_DAYS / self.block_days {
            let from = self.block(number)?;
            // A block goes round the end; that of a day alike may lie so near the second end that it is cut short.
            let to = (from + self.block_days).min(2 * history.days);
            let (first, last) = (*sums.get(from)?, *sums.get(to)?);
            if used + last - first < more {
                used += last - first;
                passed += (to - from) as f64;
                continue;
            }
            let block = sums.get(from..=to)?;
            let day = block.partition_point(|sum| used + sum - first < more).max(1);
            let before = used + block.get(day - 1)? - first;
            let today = block.get(day)? - block.get(day - 1)?;
            let share = if today > 0.0 { ((more - before) / today).clamp(0.0, 1.0) } else { 1.0 };
            let used_days = passed + (day - 1) as f64 + self.time_of_day(share, today, quantity);
            let idle_days = idle_days + history.spells.days_in(used_days - planned_days, &mut spells);
            return Some(used_days + idle_days);
        }
        None
    }

    /// By how much more than by the drawn days of history the rest is: what the time since fitting says of use before the
    /// log began, what a short history hides, and how the trade will drift.
    fn level(&self, history: &History, limit: &Limit<'_>, more: f64, quantity: Quantity) -> f64 {
        let sums = history.sums(quantity);
        let of_block = |from: &u32| {
            let from = *from as usize;
            sums.get(from + self.block_days).zip(sums.get(from)).map_or(0.0, |(to, from)| to - from)
        };
        let days = (self.history.len() * self.block_days) as f64;
        let drawn = self.history.iter().map(of_block).sum::<f64>() / days;
        let drawn = drawn.max(1e-3 * history.per_day(quantity)).max(1e-9);
        let (long, long_days) = self.long(history, limit, quantity);
        let drawn = history.elapsed_mean(drawn);
        let mean = (drawn * self.days as f64 + long * long_days) / (self.days as f64 + long_days);
        let ahead_days = more / mean.max(1e-9);
        let fortnights = (self.days as f64 + long_days) / 14.0;
        let hidden = HIDDEN * history.unrest / fortnights.sqrt();
        let drift = history.slow(quantity, long, long_days) * (ahead_days / DRIFT_DAYS).sqrt().min(1.0);
        let new_trade = if history.laid_up_since_ms.is_some() {
            NEW_TRADE
        } else if history.laid_up_days > 0 {
            NEW_TRADE_LATELY
        } else {
            0.0
        };
        let deviation = (hidden * hidden + drift * drift + new_trade * new_trade).sqrt();
        drawn / mean * (self.off * deviation).exp()
    }

    /// The use of each day before the log began, by what ran since fitting; and how many days it counts for.
    fn long(&self, history: &History, limit: &Limit<'_>, quantity: Quantity) -> (f64, f64) {
        let Some((run, days)) = limit.since_fitting else { return (0.0, 0.0) };
        let before_days = days - history.told_days as f64;
        let before = run - history.told(quantity);
        if before_days < BEFORE_DAYS_MIN || before <= 0.0 {
            return (0.0, 0.0);
        }
        let long = before / before_days;
        let apart = (long / history.elapsed_mean(history.per_day(quantity))).ln() / BEFORE_APART;
        let worth = if self.changed { BEFORE_CHANGED } else { 1.0 };
        (long, worth * before_days.min(BEFORE_DAYS_MAX) * (-apart * apart).exp())
    }

    /// At which time of the day a share of its use is reached: totals of days do not tell when in them it ran. With 8 h of
    /// use, a half of it can be reached after 4 h, or after 20.
    fn time_of_day(&mut self, share: f64, today: f64, quantity: Quantity) -> f64 {
        if quantity != Quantity::Hours {
            return share;
        }
        let on = (today / 24.0).min(1.0);
        let (earliest, latest) = (share * on, 1.0 - (1.0 - share) * on);
        let drawn = self.dice.as_mut().map_or(0.5, Dice::share);
        earliest + (latest - earliest) * drawn
    }
}

/// Which days of the history the future is like: all of them, or the later half, or the last quarter; and where a change
/// shows, those since it, as often as it is likely.
fn window(history: &History, dice: &mut Dice) -> (usize, usize, bool) {
    let days = history.days;
    if let Some(change) = &history.change
        && dice.share() < change.probability
    {
        return (days - change.days_since, days, true);
    }
    let share = dice.share();
    let from = if share < LIKE_WHOLE || days < HALF_MIN_DAYS {
        0
    } else if share < LIKE_WHOLE + LIKE_HALF || days < QUARTER_MIN_DAYS {
        days / 2
    } else {
        days - days / 4
    };
    (from, days, false)
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY_MS: i64 = 86_400_000;

    fn days(on_h: impl Fn(usize) -> f64, count: usize) -> Vec<Day> {
        (0..count).map(|at| Day { start_ms: at as i64 * DAY_MS, on_h: on_h(at), starts: 2.0 }).collect()
    }

    fn ask<'a>(days: &'a [Day], now_h: f64, limit_h: f64) -> Ask<'a> {
        let now = Interval { low: now_h, best: now_h, high: now_h };
        let hours = Some(Limit { now, limit: limit_h, since_fitting: None, passed_ms: None });
        Ask { days, legs: &[], hours, starts: None, expiry: None, as_of_ms: 0, seed: 7 }
    }

    /// By hand: 10 h every day, 100 h left: 10 days, whichever way the blocks fall; but sixty days do not show how use drifts,
    /// nor when in a day it comes.
    #[test]
    fn even_usage_gives_a_narrow_band_around_one_date() {
        let history = days(|_| 10.0, 60);
        let forecast = forecast(&ask(&history, 900.0, 1_000.0));
        let day = |at: Option<i64>| at.unwrap() as f64 / DAY_MS as f64;
        let (p10, p50, p90) = (day(forecast.p10_ms), day(forecast.p50_ms), day(forecast.p90_ms));
        assert!((9.5..10.5).contains(&p50) && p50 - p10 < 2.0 && p90 - p50 < 2.0, "{p10} {p50} {p90}");
        assert_eq!((forecast.limited_by, forecast.percentiles_ms.len()), (Some(LimitedBy::Hours), 100));
        assert_eq!(forecast.notes, Vec::<String>::new());
    }

    /// By hand: 20 days at sea of 24 h, 10 in port of 0 h: 16 h a day on the whole, 1,600 h are 100 days.
    #[test]
    fn uneven_usage_gives_a_band_around_the_mean() {
        let history = days(|at| if at % 30 < 20 { 24.0 } else { 0.0 }, 360);
        let forecast = forecast(&ask(&history, 0.0, 1_600.0));
        let day = |at: Option<i64>| at.unwrap() as f64 / DAY_MS as f64;
        assert!((day(forecast.p50_ms) - 100.0).abs() < 10.0, "{}", day(forecast.p50_ms));
        let percentile = |share: usize| Some(forecast.percentiles_ms[share - 1]);
        assert_eq!(
            (percentile(10), percentile(50), percentile(90)),
            (forecast.p10_ms, forecast.p50_ms, forecast.p90_ms)
        );
        let band = day(forecast.p90_ms) - day(forecast.p10_ms);
        assert!(band > 5.0 && band < 60.0, "{band}");
    }

    #[test]
    fn a_shorter_history_gives_a_wider_band() {
        let usage = |at: usize| if at % 12 < 8 { 24.0 } else { 0.0 };
        let band = |count| {
            let history = days(usage, count);
            let forecast = forecast(&ask(&history, 0.0, 5_000.0));
            forecast.p90_ms.unwrap() - forecast.p10_ms.unwrap()
        };
        assert!(2 * band(36) > 3 * band(360), "{} {}", band(36), band(360));
    }

    #[test]
    fn too_little_history_or_no_usage_gives_no_date_and_says_why() {
        let short = forecast(&ask(&days(|_| 10.0, 13), 0.0, 100.0));
        assert_eq!(short.p50_ms, None);
        assert!(short.why_not.unwrap().contains("13 whole days"));
        let mut idle = days(|_| 0.0, 60);
        idle.iter_mut().for_each(|day| day.starts = 0.0);
        let idle = forecast(&ask(&idle, 0.0, 100.0));
        assert_eq!(idle.p50_ms, None);
        assert!(idle.why_not.unwrap().contains("not used on any of the 60 days"));
    }

    #[test]
    fn the_limit_that_comes_first_counts() {
        let history = days(|_| 10.0, 60);
        // Hours: day 10. Starts, 2 a day with 8 left: day 4. Months: day 7.
        let eight = Interval { low: 92.0, best: 92.0, high: 92.0 };
        let starts = Some(Limit { now: eight, limit: 100.0, since_fitting: None, passed_ms: None });
        let both = Ask {
            starts,
            expiry: Some(When { lo_ms: 7 * DAY_MS, hi_ms: 7 * DAY_MS }),
            ..ask(&history, 900.0, 1_000.0)
        };
        let all = forecast(&both);
        let day = all.p50_ms.unwrap() as f64 / DAY_MS as f64;
        assert!((3.5..4.5).contains(&day) && all.limited_by == Some(LimitedBy::Starts), "{day}");
        let months = forecast(&Ask { starts: None, ..both });
        assert_eq!((months.p50_ms, months.limited_by), (Some(7 * DAY_MS), Some(LimitedBy::Months)));
        let only = forecast(&Ask { hours: None, starts: None, ..both });
        assert_eq!((only.p10_ms, only.limited_by), (Some(7 * DAY_MS), Some(LimitedBy::Months)));
    }

    #[test]
    fn a_limit_passed_is_dated_in_the_past() {
        let history = days(|_| 10.0, 60);
        let mut passed = ask(&history, 1_010.0, 1_000.0);
        passed.as_of_ms = 60 * DAY_MS;
        passed.hours.as_mut().unwrap().passed_ms =
            Some(&|now_h| 60 * DAY_MS - ((now_h - 1_000.0) / 10.0) as i64 * DAY_MS);
        assert_eq!(forecast(&passed).p50_ms, Some(59 * DAY_MS));
    }

    #[test]
    fn the_same_seed_gives_the_same_answer() {
        let history = days(|at| (at % 7) as f64 * 3.0, 100);
        let once = forecast(&ask(&history, 0.0, 3_000.0));
        assert_eq!(once, forecast(&ask(&history, 0.0, 3_000.0)));
        assert_ne!(once, forecast(&Ask { seed: 8, ..ask(&history, 0.0, 3_000.0) }));
    }
}
