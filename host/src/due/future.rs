//! One future of a line: what comes of the plan, then blocks of the history, and by how much the level is off.

use super::ahead::{Ahead, Piece};
use super::dice::Dice;
use super::forecast::Limit;
use super::history::{History, Quantity};

/// How far they go, in days: 60 years. What is not reached by then is not dated.
const HORIZON_DAYS: usize = 21_915;

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
pub(super) struct Model {
    pub(super) history: History,
    pub(super) ahead: Option<Ahead>,
}

/// One future: what comes of the plan, then blocks of real days, drawn as far as they are asked for.
#[derive(Default)]
pub(super) struct Future {
    planned: Vec<Piece>,
    block_days: usize,
    /// Which days of the history it is like: the first, and how many; and whether those are the ones since a change.
    from: usize,
    days: usize,
    changed: bool,
    /// On how many of them a block may begin.
    room: usize,
    /// Where in the history each block begins.
    blocks: Vec<u32>,
    /// Deviations by which use differs from what the history shows.
    off: f64,
    dice: Option<Dice>,
}

impl Future {
    pub(super) fn draw(&mut self, model: &Model, dice: &mut Dice) {
        let days = model.history.days;
        self.planned.clear();
        if let Some(ahead) = &model.ahead {
            ahead.draw(&model.history, dice, &mut self.planned);
        }
        let (from, to, changed) = window(&model.history, dice);
        (self.from, self.days, self.changed) = (from, to - from, changed);
        let weeks = BLOCK_WEEKS.get(dice.below(BLOCK_WEEKS.len())).copied().unwrap_or(2);
        self.block_days = (7 * weeks).min((to - from) / BLOCKS_MIN).max(2);
        // A whole history goes round, so that every day is drawn as often as any other; a part of it does not.
        self.room = if self.days == days { days } else { self.days - self.block_days + 1 };
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
            let drawn = self.dice.as_mut()?.below(self.room);
            self.blocks.push((self.from + drawn) as u32);
        }
        self.blocks.get(number).map(|at| *at as usize)
    }

    /// After how many days so much more is used up.
    pub(super) fn reached(
        &mut self,
        model: &Model,
        limit: &Limit<'_>,
        more: f64,
        quantity: Quantity,
    ) -> Option<f64> {
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
        let drawn = history.per_day_of_blocks(quantity, self.from, self.room, self.block_days);
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
