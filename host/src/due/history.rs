//! The usage so far, made ready for drawing from: sums of any stretch at once, how its level moves, and the days that the
//! ship was alike to now. Idle spells are taken out of it and drawn by themselves.

use super::change::{self, Change};
use super::dice::Dice;
use super::spells::{self, Spells};
use super::usage::Day;

/// A quantity that grows with use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quantity {
    Hours,
    Starts,
}

/// The days of use.
#[derive(Clone, Debug)]
pub(super) struct History {
    /// How many days.
    pub(super) days: usize,
    /// Sums up to each day, twice over: so a block may go round the end.
    on_h: Vec<f64>,
    starts: Vec<f64>,
    /// Sums of those sums, for means over blocks.
    on_h_twice: Vec<f64>,
    starts_twice: Vec<f64>,
    /// All days that the log tells of, and what ran on them.
    pub(super) told_days: usize,
    told_on_h: f64,
    told_starts: f64,
    /// Idle spells between the days of use.
    pub(super) spells: Spells,
    /// Days that were left out, since she was laid up on them.
    pub(super) laid_up_days: usize,
    /// Days of no use at the end, however few.
    pub(super) still_days: usize,
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
        let apart = spells::take_apart(all);
        let used = &apart.used;
        let sums = |of: fn(&Day) -> f64| {
            let mut sum = 0.0;
            let mut sums = Vec::with_capacity(2 * used.len() + 1);
            sums.push(0.0);
            for day in used.iter().chain(used) {
                sum += of(day);
                sums.push(sum);
            }
            sums
        };
        let (on_h, starts) = (sums(|day| day.on_h), sums(|day| day.starts));
        History {
            days: used.len(),
            on_h_twice: summed(&on_h),
            starts_twice: summed(&starts),
            on_h,
            starts,
            told_days: all.len(),
            told_on_h: all.iter().map(|day| day.on_h).sum(),
            told_starts: all.iter().map(|day| day.starts).sum(),
            change: change::find(used),
            unrest: unrest(used),
            alike: alike(used),
            spells: Spells::of(&apart),
            still_days: apart.still_days,
            laid_up_days: apart.laid_up_days,
            laid_up_since_ms: apart.laid_up_since_ms,
        }
    }

    pub(super) fn sums(&self, quantity: Quantity) -> &[f64] {
        match quantity {
            Quantity::Hours => &self.on_h,
            Quantity::Starts => &self.starts,
        }
    }

    /// How much of it there is on a day of blocks of so many days that begin on any of `room` days from one on: days near an end that
    /// blocks do not go beyond are in fewer of them.
    pub(super) fn per_day_of_blocks(
        &self,
        quantity: Quantity,
        from: usize,
        room: usize,
        block_days: usize,
    ) -> f64 {
        let twice = match quantity {
            Quantity::Hours => &self.on_h_twice,
            Quantity::Starts => &self.starts_twice,
        };
        let of =
            |from: usize| twice.get(from + room).zip(twice.get(from)).map_or(0.0, |(to, from)| to - from);
        (of(from + block_days) - of(from)) / (room * block_days).max(1) as f64
    }

    /// How much of it there was on a day of use, on the whole.
    pub(super) fn per_day(&self, quantity: Quantity) -> f64 {
        self.sums(quantity).get(self.days).map_or(0.0, |sum| sum / self.days.max(1) as f64)
    }

    /// What ran on all days that the log tells of.
    pub(super) fn told(&self, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Hours => self.told_on_h,
            Quantity::Starts => self.told_starts,
        }
    }

    /// How far use drifts from one stretch of months to the next, in parts of it (one deviation): as far as it did, beyond what
    /// voyages by chance make of it; and the shorter the history, the more as ships do on the whole.
    pub(super) fn slow(&self, quantity: Quantity, long: f64, long_days: f64) -> f64 {
        let sums = self.sums(quantity);
        let usual = USUAL_DRIFT * USUAL_DRIFT;
        let (mut square, mut count) = (USUAL_WORTH * usual, USUAL_WORTH);
        let by_chance = |days: f64| self.unrest * self.unrest * 14.0 / days;
        let mean = |at: usize| {
            let to = self.days - STRETCH_DAYS * at;
            sums.get(to).zip(sums.get(to - STRETCH_DAYS)).map_or(0.0, |(to, from)| to - from)
        };
        for at in 1..self.days / STRETCH_DAYS {
            let (later, earlier) = (mean(at - 1), mean(at));
            if later > 0.0 && earlier > 0.0 {
                square += (later / earlier).ln().powi(2) - 2.0 * by_chance(STRETCH_DAYS as f64);
                count += 1.0;
            }
        }
        if long_days > 0.0 && long > 0.0 {
            let step = (long / self.elapsed_mean(self.per_day(quantity))).ln();
            square += step * step - by_chance(self.days as f64);
            count += 1.0;
        }
        (square / count).max(0.1 * usual).sqrt().min(DRIFT_MAX)
    }

    /// What a mean of the days of use comes to over all time, idle spells included.
    pub(super) fn elapsed_mean(&self, used_mean: f64) -> f64 {
        used_mean / (1.0 + self.spells.idle_per_day())
    }

    /// A day on which the ship was about as she is now.
    pub(super) fn day_alike(&self, dice: &mut Dice) -> Option<usize> {
        self.alike.get(dice.below(self.alike.len())).map(|at| *at as usize)
    }
}

/// Sums of what stands before each place.
fn summed(all: &[f64]) -> Vec<f64> {
    let before = all.iter().scan(0.0, |sum, one| {
        *sum += one;
        Some(*sum)
    });
    std::iter::once(0.0).chain(before).collect()
}

/// How far the use of ships drifts on the whole (one deviation), and how many steps seen that is worth; and the most.
const USUAL_DRIFT: f64 = 0.06;
const USUAL_WORTH: f64 = 2.0;
const DRIFT_MAX: f64 = 0.5;

/// The stretches that are compared with each other to see use drift, in days.
const STRETCH_DAYS: usize = 56;

/// How much a fortnight differs from the next, in parts of the mean: the long-run deviation, since a passage that goes on
/// for weeks makes more of it and a rotation that returns makes less. Few weeks say little: then as ships on the whole.
fn unrest(days: &[Day]) -> f64 {
    let weeks: Vec<f64> =
        days.rchunks_exact(7).map(|week| week.iter().map(|day| day.on_h).sum::<f64>()).collect();
    let count = weeks.len() as f64;
    let mean = weeks.iter().sum::<f64>() / count.max(1.0);
    if weeks.len() < 3 || mean <= 0.0 {
        return USUAL_UNREST;
    }
    let off: Vec<f64> = weeks.iter().map(|week| week - mean).collect();
    let week_square = if weeks.len() < MEMORY_MIN_WEEKS {
        off.iter().map(|off| off * off).sum::<f64>() / (count - 1.0)
    } else {
        change::long_run_variance(&off)
    };
    let square = week_square / 2.0 / (mean * mean);
    let blended =
        (square * count + USUAL_UNREST * USUAL_UNREST * USUAL_UNREST_WEEKS) / (count + USUAL_UNREST_WEEKS);
    blended.sqrt().min(1.0)
}

/// The unrest of ships on the whole, and how many weeks of history that is worth.
const USUAL_UNREST: f64 = 0.35;
const USUAL_UNREST_WEEKS: f64 = 3.0;

/// With fewer weeks the memory of usage does not show.
const MEMORY_MIN_WEEKS: usize = 8;

/// How many of the last days are looked at to find days alike.
const LOOK_BACK_DAYS: usize = 6;

/// The days of which the days before were most like the last ones.
fn alike(days: &[Day]) -> Vec<u32> {
    let Some(end) = days.len().checked_sub(1) else { return Vec::new() };
    let mut found: Vec<(f64, u32)> = Vec::with_capacity(days.len());
    // Behind it there must be something to go on with.
    for at in LOOK_BACK_DAYS..(days.len() + 1).saturating_sub(7) {
        let mut apart = 0.0;
        for back in 0..LOOK_BACK_DAYS {
            let (Some(then), Some(now)) = (days.get(at - 1 - back), days.get(end - back)) else { break };
            apart += (then.on_h - now.on_h).abs() / (1.0 + back as f64);
        }
        found.push((apart, at as u32));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.truncate((days.len() / 8).clamp(4, 40));
    found.into_iter().map(|(_, at)| at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 2, 4, 6 and 8 h. Blocks of two days that begin on the second or the third day: 10 h and 14 h, 6 h a day. On any
    /// day, round the end: 5 h a day, as on the whole.
    #[test]
    fn days_near_an_end_are_in_fewer_blocks() {
        let days: Vec<Day> =
            (0..4).map(|at| Day { start_ms: 0, on_h: 2.0 * f64::from(at + 1), starts: 1.0 }).collect();
        let history = History::of(&days);
        assert_eq!(history.per_day_of_blocks(Quantity::Hours, 1, 2, 2), 6.0);
        assert_eq!(history.per_day_of_blocks(Quantity::Hours, 0, 4, 2), 5.0);
        assert_eq!(history.per_day_of_blocks(Quantity::Starts, 1, 2, 2), 1.0);
    }
}
