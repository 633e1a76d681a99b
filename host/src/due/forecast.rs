//! When a limit will be reached, if the ship goes on as she did.
//!
//! The history of daily usage is cut into blocks of whole days, so that stays in port and passages keep together,
//! and blocks are drawn from it at random to make a future, many times over (a moving-block bootstrap). Each future
//! first draws a history of its own from the real one, of the same length: so a short history, which may not be like
//! the future, gives a wide band. The hours run so far are drawn too, between low and high. The same seed gives
//! the same answer.

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
    if ask.days.len() < HISTORY_MIN_DAYS && !certain {
        return none(format!(
            "the log tells of {} whole days, and {HISTORY_MIN_DAYS} are needed to foresee a date",
            ask.days.len()
        ));
    }
    let used = |by: fn(&Day) -> f64| ask.days.iter().map(by).sum::<f64>() > 0.0;
    if !certain && !used(|day| day.on_h) && !used(|day| day.starts) {
        return none(format!("it was not used on any of the {} days that the log tells of", ask.days.len()));
    }
    let mut dice = Dice(ask.seed);
    let mut dates: Vec<(i64, LimitedBy)> = Vec::with_capacity(FUTURES);
    for _ in 0..FUTURES {
        let mut future = Future::draw(ask.days, &mut dice);
        let mut first = ask.expiry.map(|expiry| (dice.between(expiry), LimitedBy::Months));
        let limits = [
            (ask.hours, LimitedBy::Hours, (|day: &Day| day.on_h) as fn(&Day) -> f64),
            (ask.starts, LimitedBy::Starts, |day: &Day| day.starts),
        ];
        for (limit, by, of) in limits {
            let Some(limit) = limit else { continue };
            let now = dice.near(limit.now);
            let at = if now >= limit.limit {
                Some(limit.passed_ms.map_or(ask.as_of_ms, |passed_ms| passed_ms(now)).min(ask.as_of_ms))
            } else {
                future.reached(ask.days, limit.limit - now, of).map(|days| later(ask.as_of_ms, days))
            };
            if let Some(at) = at
                && first.is_none_or(|(before, _)| at < before)
            {
                first = Some((at, by));
            }
        }
        dates.extend(first);
    }
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
    Forecast {
        p10_ms: quantile(1),
        p50_ms,
        p90_ms: quantile(9),
        percentiles_ms,
        limited_by,
        why_not,
        notes: Vec::new(),
    }
}

fn later(from_ms: i64, days: f64) -> i64 {
    from_ms.saturating_add((days * 24.0 * MS_PER_HOUR) as i64)
}

/// One future: blocks of real days, drawn as far as they are asked for.
struct Future {
    block_days: usize,
    /// Where in the real history the blocks of this future's own history begin.
    history: Vec<usize>,
    /// Where in the real history each block of the future begins.
    blocks: Vec<usize>,
    dice: Dice,
}

impl Future {
    fn draw(days: &[Day], dice: &mut Dice) -> Future {
        // Long enough to hold a passage and the stay behind it, if the history is long enough to draw from.
        let block_days = (days.len() / 6).clamp(2, 28);
        let count = days.len().div_ceil(block_days);
        let history = (0..count).map(|_| dice.below(days.len())).collect();
        Future { block_days, history, blocks: Vec::new(), dice: Dice(dice.next()) }
    }

    /// Where the block of this number begins.
    fn block(&mut self, number: usize) -> Option<usize> {
        while self.blocks.len() <= number {
            let drawn = self.history.get(self.dice.below(self.history.len()))?;
            self.blocks.push(*drawn);
        }
        self.blocks.get(number).copied()
    }

    /// After how many days so much more is used up.
    fn reached(&mut self, days: &[Day], more: f64, of: fn(&Day) -> f64) -> Option<f64> {
        let mut used = 0.0;
        let mut passed = 0.0;
        for number in 0..HORIZON_DAYS / self.block_days {
            let block = self.block(number)?;
            for at in block..block + self.block_days {
                // The history goes round, so that every day is drawn as often as any other.
                let today = of(days.get(at % days.len())?);
                if used + today >= more && today > 0.0 {
                    return Some(passed + (more - used) / today);
                }
                used += today;
                passed += 1.0;
            }
        }
        None
    }
}

/// A small generator of even draws (splitmix64): repeatable on every machine.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        let end = u64::try_from(end).unwrap_or(u64::MAX).max(1);
        usize::try_from(self.next() % end).unwrap_or(0)
    }

    /// From 0 up to, not including, 1.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Any instant of an interval, evenly.
    fn between(&mut self, of: When) -> i64 {
        of.lo_ms + ((of.hi_ms - of.lo_ms) as f64 * self.share()) as i64
    }

    /// Between low and high, mostly near best, and as often below it as above.
    fn near(&mut self, of: Interval) -> f64 {
        let share = self.share();
        if share < 0.5 {
            of.low + (of.best - of.low) * (2.0 * share).sqrt()
        } else {
            of.high - (of.high - of.best) * (2.0 * (1.0 - share)).sqrt()
        }
    }
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
        let hours = Some(Limit { now, limit: limit_h, passed_ms: None });
        Ask { days, legs: &[], hours, starts: None, expiry: None, as_of_ms: 0, seed: 7 }
    }

    /// By hand: 10 h every day, 100 h left: 10 days, whichever way the blocks fall.
    #[test]
    fn even_usage_gives_one_date() {
        let history = days(|_| 10.0, 60);
        let forecast = forecast(&ask(&history, 900.0, 1_000.0));
        let ten = Some(10 * DAY_MS);
        assert_eq!((forecast.p10_ms, forecast.p50_ms, forecast.p90_ms), (ten, ten, ten));
        assert_eq!(forecast.limited_by, Some(LimitedBy::Hours));
        assert_eq!(forecast.percentiles_ms, [10 * DAY_MS; 100]);
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
        assert!(band(36) > 2 * band(360), "{} {}", band(36), band(360));
    }

    /// Passages of 5 to 20 days at 16 to 24 h and stays of 1 to 6 days at up to 3 h: a history is drawn, then what really
    /// followed. The band that is promised to hold 8 in 10 must hold about that many of 300 (no source outside: this is
    /// arithmetic against draws).
    #[test]
    fn the_band_holds_about_as_many_as_it_promises() {
        for (history_days, least, most) in [(90, 0.70, 0.97), (360, 0.72, 0.92)] {
            let mut dice = Dice(11);
            let mut inside = 0;
            for _ in 0..300 {
                let mut usage = Vec::new();
                while usage.len() < history_days + 400 {
                    let (sea, port) = (5 + dice.below(16), 1 + dice.below(6));
                    usage.extend((0..sea).map(|_| 16.0 + 8.0 * dice.share()));
                    usage.extend((0..port).map(|_| 3.0 * dice.share()));
                }
                let history = days(|at| usage[at], history_days);
                let mut left = 1_500.0;
                let mut reached = 0.0;
                for today in &usage[history_days..] {
                    if left <= *today {
                        reached += left / today;
                        break;
                    }
                    left -= today;
                    reached += 1.0;
                }
                let forecast = forecast(&ask(&history, 0.0, 1_500.0));
                let day = |at: Option<i64>| at.unwrap() as f64 / DAY_MS as f64;
                inside += usize::from((day(forecast.p10_ms)..=day(forecast.p90_ms)).contains(&reached));
            }
            let share = inside as f64 / 300.0;
            assert!((least..=most).contains(&share), "{history_days} days of history: {share}");
        }
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
        let starts = Some(Limit { now: eight, limit: 100.0, passed_ms: None });
        let both = Ask {
            starts,
            expiry: Some(When { lo_ms: 7 * DAY_MS, hi_ms: 7 * DAY_MS }),
            ..ask(&history, 900.0, 1_000.0)
        };
        let all = forecast(&both);
        assert_eq!((all.p50_ms, all.limited_by), (Some(4 * DAY_MS), Some(LimitedBy::Starts)));
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
