//! The usage so far, made ready for drawing from: sums of any stretch at once, the stretches that the future may be like,
//! and the days on which she was laid up.

use super::change::{self, Change};
use super::dice::Dice;
use super::usage::Day;

/// A day with less than this is a day of no use.
const IDLE_MAX_H: f64 = 0.25;

/// So many days of no use on end, and she was laid up: no waiting at anchor and no docking lasts as long, mostly.
const LAID_UP_DAYS: usize = 45;

/// At the end of the history fewer days will do, if they are twice as many as ever before.
const LAID_UP_NOW_DAYS: usize = 30;

/// A quantity that grows with use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quantity {
    Hours,
    Starts,
}

/// The days on which she was not laid up.
#[derive(Clone, Debug)]
pub(super) struct History {
    /// How many days.
    pub(super) days: usize,
    /// Sums up to each day, twice over: so a block may go round the end.
    on_h: Vec<f64>,
    starts: Vec<f64>,
    /// Days that were left out, since she was laid up on them.
    pub(super) laid_up_days: usize,
    /// She has been laid up since this instant.
    pub(super) laid_up_since_ms: Option<i64>,
    /// A change of use that shows in it.
    pub(super) change: Option<Change>,
    /// How much a fortnight differs from the next, in parts of the mean.
    pub(super) unrest: f64,
    /// Where in it the ship was about as she is now, best first.
    alike: Vec<u32>,
}

impl History {
    pub(super) fn of(all: &[Day]) -> History {
        let (kept, laid_up_since_ms) = without_lay_ups(all);
        let laid_up_days = all.len() - kept.len();
        let change = change::find(&kept);
        let sums = |of: fn(&Day) -> f64| {
            let mut sum = 0.0;
            let mut sums = Vec::with_capacity(2 * kept.len() + 1);
            sums.push(0.0);
            for day in kept.iter().chain(&kept) {
                sum += of(day);
                sums.push(sum);
            }
            sums
        };
        let (on_h, starts) = (sums(|day| day.on_h), sums(|day| day.starts));
        let unrest = unrest(&kept);
        let alike = alike(&kept);
        History { days: kept.len(), on_h, starts, laid_up_days, laid_up_since_ms, change, unrest, alike }
    }

    pub(super) fn sums(&self, quantity: Quantity) -> &[f64] {
        match quantity {
            Quantity::Hours => &self.on_h,
            Quantity::Starts => &self.starts,
        }
    }

    /// How much of it there was, a day, on the whole.
    pub(super) fn per_day(&self, quantity: Quantity) -> f64 {
        self.sums(quantity).get(self.days).map_or(0.0, |sum| sum / self.days.max(1) as f64)
    }

    /// A day on which the ship was about as she is now.
    pub(super) fn day_alike(&self, dice: &mut Dice) -> Option<usize> {
        self.alike.get(dice.below(self.alike.len())).map(|at| *at as usize)
    }
}

/// The days of use, and since when she is laid up if she is.
fn without_lay_ups(all: &[Day]) -> (Vec<Day>, Option<i64>) {
    // Runs of no use: first day, one past the last.
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, day) in all.iter().enumerate() {
        if day.on_h >= IDLE_MAX_H {
            continue;
        }
        match runs.last_mut() {
            Some((_, end)) if *end == at => *end += 1,
            _ => runs.push((at, at + 1)),
        }
    }
    let ordinary = |run: &&(usize, usize)| run.1 - run.0 < LAID_UP_DAYS && run.1 < all.len();
    let longest = runs.iter().filter(ordinary).map(|run| run.1 - run.0).max().unwrap_or(0);
    let now = |run: &(usize, usize)| {
        let days = run.1 - run.0;
        run.1 == all.len() && (days >= LAID_UP_DAYS || days >= LAID_UP_NOW_DAYS.max(2 * longest))
    };
    let since_ms = runs.last().filter(|run| now(run)).and_then(|run| all.get(run.0)).map(|day| day.start_ms);
    let left_out = |at: usize| {
        runs.iter().any(|run| (run.0..run.1).contains(&at) && (run.1 - run.0 >= LAID_UP_DAYS || now(run)))
    };
    let kept = all.iter().enumerate().filter(|(at, _)| !left_out(*at)).map(|(_, day)| *day);
    (kept.collect(), since_ms)
}

/// How much a fortnight differs from the next, in parts of the mean.
fn unrest(days: &[Day]) -> f64 {
    let sums: Vec<f64> =
        days.rchunks_exact(14).map(|chunk| chunk.iter().map(|day| day.on_h).sum::<f64>()).collect();
    if sums.len() < 3 {
        return 0.5;
    }
    let mean = sums.iter().sum::<f64>() / sums.len() as f64;
    let square = sums.iter().map(|sum| (sum - mean).powi(2)).sum::<f64>() / (sums.len() - 1) as f64;
    if mean > 0.0 { (square.sqrt() / mean).min(1.0) } else { 0.0 }
}

/// How many of the last days are looked at to find days alike.
const LOOK_BACK_DAYS: usize = 6;

/// The days of which the days before were most like the last ones.
fn alike(days: &[Day]) -> Vec<u32> {
    let Some(end) = days.len().checked_sub(1) else { return Vec::new() };
    let mut found: Vec<(f64, u32)> = Vec::with_capacity(days.len());
    for at in LOOK_BACK_DAYS..days.len() {
        // Behind it there must be something to go on with.
        if at + 7 > days.len() {
            break;
        }
        let mut apart = 0.0;
        for back in 0..LOOK_BACK_DAYS {
            let (Some(then), Some(now)) = (days.get(at - 1 - back), days.get(end - back)) else { break };
            apart += (then.on_h - now.on_h).abs() / (1.0 + back as f64);
        }
        // Whole days only: not across what was left out.
        found.push((apart, at as u32));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.truncate((days.len() / 8).clamp(4, 40));
    found.into_iter().map(|(_, at)| at).collect()
}
