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

/// What a short history hides: so much of its unrest for each fortnight, less the more there are (one deviation).
const HIDDEN: f64 = 0.5;

/// How far use drifts in a year, in parts of it (one deviation): seasons and trades that thirteen months cannot show.
const DRIFT_A_YEAR: f64 = 0.14;

/// And not more than this.
const DRIFT_MAX: f64 = 0.35;

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
        Some(Model { history, ahead }) if !certain => notes::usage(history, ahead.is_some()),
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
                let reached = model.and_then(|model| future.reached(model, limit.limit - now, quantity));
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
        let (from, to) = window(&model.history, dice);
        let weeks = BLOCK_WEEKS.get(dice.below(BLOCK_WEEKS.len())).copied().unwrap_or(2);
        self.block_days = (7 * weeks).min((to - from) / 4).max(2);
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
    fn reached(&mut self, model: &Model, more: f64, quantity: Quantity) -> Option<f64> {
        let history = &model.history;
        let more = more * self.level(history, more, quantity);
        let (mut used, mut passed) = (0.0, 0.0);
        for piece in &self.planned {
            let grows = piece.of(quantity);
            if used + grows >= more && grows > 0.0 {
                return Some(passed + piece.days * (more - used) / grows);
            }
            used += grows;
            passed += piece.days;
        }
        let sums = history.sums(quantity);
        for number in 0..HORIZON_DAYS / self.block_days {
            let from = self.block(number)?;
            // The first goes on from a day alike, and that may lie near the end.
            let block = sums.get(from..=(from + self.block_days).min(2 * history.days))?;
            let (first, last) = (*block.first()?, *block.last()?);
            if used + last - first < more {
                used += last - first;
                passed += (block.len() - 1) as f64;
                continue;
            }
            let day = block.partition_point(|sum| used + sum - first < more).max(1);
            let before = used + block.get(day - 1)? - first;
            let today = block.get(day)? - block.get(day - 1)?;
            let share = if today > 0.0 { ((more - before) / today).clamp(0.0, 1.0) } else { 1.0 };
            return Some(passed + (day - 1) as f64 + self.time_of_day(share, today, quantity));
        }
        None
    }

    /// By how much more than the history shows the rest is.
    fn level(&self, history: &History, more: f64, quantity: Quantity) -> f64 {
        let per_day = history.per_day(quantity).max(1e-6);
        let years = (more / per_day / 365.25).min(10.0);
        let hidden = HIDDEN * history.unrest / (history.days as f64 / 14.0).sqrt();
        let drift = (DRIFT_A_YEAR * years).min(DRIFT_MAX);
        (self.off * (hidden * hidden + drift * drift).sqrt()).exp()
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
fn window(history: &History, dice: &mut Dice) -> (usize, usize) {
    let days = history.days;
    if let Some(change) = &history.change
        && dice.share() < change.probability
    {
        return (days - change.days_since, days);
    }
    let share = dice.share();
    let from = if share < 0.5 || days < 60 {
        0
    } else if share < 0.8 || days < 120 {
        days / 2
    } else {
        days - days / 4
    };
    (from, days)
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

    /// By hand: 10 h every day, 100 h left: 10 days, whichever way the blocks fall. The future may differ from the history a
    /// little all the same: a day to either side.
    #[test]
    fn even_usage_gives_one_date() {
        let history = days(|_| 10.0, 60);
        let forecast = forecast(&ask(&history, 900.0, 1_000.0));
        let off_days = |at_ms: i64| (at_ms - 10 * DAY_MS) as f64 / DAY_MS as f64;
        assert!(off_days(forecast.p50_ms.unwrap()).abs() < 0.1, "{forecast:?}");
        for at_ms in [forecast.p10_ms, forecast.p90_ms] {
            assert!(off_days(at_ms.unwrap()).abs() < 1.0, "{forecast:?}");
        }
        assert_eq!(forecast.limited_by, Some(LimitedBy::Hours));
        assert!(forecast.percentiles_ms.iter().all(|at_ms| off_days(*at_ms).abs() < 2.0), "{forecast:?}");
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
        assert_eq!(all.limited_by, Some(LimitedBy::Starts));
        assert!((all.p50_ms.unwrap() - 4 * DAY_MS).abs() < DAY_MS / 10, "{all:?}");
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
