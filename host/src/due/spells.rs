//! Idle spells: dockings, waiting for orders, lay-ups. They are few, so that a block of the history holds one or none, and a
//! short history that happens to hold one would foresee nothing else. So they are taken out and drawn by themselves, as
//! often as they came, and where that is little known, as often as they come to ships on the whole.

use super::dice::Dice;
use super::usage::Day;

/// A day with less than this is a day of no use.
const IDLE_MAX_H: f64 = 0.25;

/// So many days of no use on end are a spell of their own. Fewer belong to a stay in port.
pub(super) const SPELL_DAYS: usize = 8;

/// So many, and she was laid up: no waiting and no docking lasts as long, mostly.
pub(super) const LAID_UP_DAYS: usize = 45;

/// At the end of the history fewer will do, if they are twice as many as ever before.
const LAID_UP_NOW_DAYS: usize = 30;

/// How often a spell comes in a year and how long it lasts, in days (common practice, no source); and how many years of
/// history that is worth.
const USUAL_A_YEAR: f64 = 0.7;
const USUAL_DAYS: f64 = 14.0;
const USUAL_WORTH_YEARS: f64 = 0.4;

/// A history taken apart: the days of use, and what lies between them.
#[derive(Debug, Default)]
pub(super) struct Apart {
    pub(super) used: Vec<Day>,
    /// Lengths of spells that are over, in days.
    idle: Vec<u32>,
    /// How long the one has lasted that is not, in days.
    idle_now: usize,
    /// Days of no use at the end, however few.
    pub(super) still_days: usize,
    pub(super) laid_up_days: usize,
    pub(super) laid_up_since_ms: Option<i64>,
}

pub(super) fn take_apart(all: &[Day]) -> Apart {
    let runs = runs(all);
    let length = |run: &(usize, usize)| run.1 - run.0;
    let is_over = |run: &&(usize, usize)| length(run) < LAID_UP_DAYS && run.1 < all.len();
    let longest = runs.iter().filter(is_over).map(length).max().unwrap_or(0);
    let still_days = runs.last().filter(|run| run.1 == all.len()).map_or(0, length);
    let mut apart = Apart { still_days, ..Apart::default() };
    let mut at = 0;
    for run in runs.iter().filter(|run| length(run) >= SPELL_DAYS) {
        let days = length(run);
        let is_last = run.1 == all.len();
        let laid_up_now = is_last && days >= LAID_UP_NOW_DAYS.max(2 * longest).min(LAID_UP_DAYS);
        apart.used.extend(all.get(at..run.0).unwrap_or(&[]));
        at = run.1;
        if laid_up_now {
            apart.laid_up_since_ms = all.get(run.0).map(|day| day.start_ms);
        }
        if laid_up_now || days >= LAID_UP_DAYS {
            apart.laid_up_days += days;
        } else if is_last {
            apart.idle_now = days;
        } else {
            apart.idle.push(days as u32);
        }
    }
    apart.used.extend(all.get(at..).unwrap_or(&[]));
    apart
}

/// Runs of no use: first day, one past the last.
fn runs(all: &[Day]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, _) in all.iter().enumerate().filter(|(_, day)| day.on_h < IDLE_MAX_H) {
        match runs.last_mut() {
            Some((_, end)) if *end == at => *end += 1,
            _ => runs.push((at, at + 1)),
        }
    }
    runs
}

/// How idle spells come.
#[derive(Clone, Debug)]
pub(super) struct Spells {
    /// For each day of use.
    a_day: f64,
    mean_days: f64,
    /// Those that came.
    seen: Vec<u32>,
    /// One drawn is like those that came in this share of cases.
    like_seen: f64,
    /// How long the one has lasted that is not over, in days.
    now_days: f64,
}

impl Spells {
    pub(super) fn of(apart: &Apart) -> Spells {
        let years = apart.used.len() as f64 / 365.25;
        let count = apart.idle.len() as f64 + if apart.idle_now > 0 { 1.0 } else { 0.0 };
        let usual = USUAL_A_YEAR * USUAL_WORTH_YEARS;
        let a_year = (count + usual) / (years + USUAL_WORTH_YEARS);
        let seen_days: f64 = apart.idle.iter().map(|days| f64::from(*days)).sum();
        let seen = apart.idle.len() as f64;
        Spells {
            a_day: a_year / 365.25,
            mean_days: (seen_days + USUAL_DAYS) / (seen + 1.0),
            like_seen: seen / (seen + 1.0),
            seen: apart.idle.clone(),
            now_days: apart.idle_now as f64,
        }
    }

    /// Days of no use to one of use.
    pub(super) fn idle_per_day(&self) -> f64 {
        self.a_day * self.mean_days
    }

    /// How much longer the one lasts that is not over: about as long as it has lasted, for who waits long waits longer.
    pub(super) fn rest_days(&self, dice: &mut Dice) -> f64 {
        if self.now_days > 0.0 { dice.wait(0.7 * self.now_days.max(USUAL_DAYS / 2.0)) } else { 0.0 }
    }

    /// Days lost to spells in so many days of use.
    pub(super) fn days_in(&self, used_days: f64, dice: &mut Dice) -> f64 {
        let mut lost = 0.0;
        let mut at = dice.wait(1.0 / self.a_day);
        // More than one in ten days of use is no spell any more: the loop ends whatever the figures.
        let most = (used_days / 10.0) as usize + 1;
        for _ in 0..most {
            if at > used_days {
                break;
            }
            lost += if dice.share() < self.like_seen {
                self.seen.get(dice.below(self.seen.len())).map_or(0.0, |days| f64::from(*days))
            } else {
                SPELL_DAYS as f64 + dice.wait(USUAL_DAYS - SPELL_DAYS as f64)
            };
            at += dice.wait(1.0 / self.a_day);
        }
        lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(spells: &[(usize, f64)]) -> Vec<Day> {
        let all = spells.iter().flat_map(|(count, on_h)| std::iter::repeat_n(*on_h, *count));
        (0..).zip(all).map(|(at, on_h)| Day { start_ms: at * 86_400_000, on_h, starts: 0.0 }).collect()
    }

    #[test]
    fn short_stays_remain_and_spells_and_lay_ups_are_taken_out() {
        let apart = take_apart(&days(&[
            (30, 12.0),
            (7, 0.0),
            (30, 12.0),
            (20, 0.0),
            (30, 12.0),
            (60, 0.0),
            (9, 12.0),
        ]));
        assert_eq!((apart.used.len(), apart.idle.as_slice(), apart.idle_now), (106, [20].as_slice(), 0));
        assert_eq!((apart.laid_up_days, apart.laid_up_since_ms), (60, None));
    }

    #[test]
    fn the_last_spell_is_a_lay_up_when_it_is_long_for_this_ship() {
        let now = |last| {
            let apart = take_apart(&days(&[(30, 12.0), (16, 0.0), (30, 12.0), (last, 0.0)]));
            (apart.idle_now, apart.laid_up_since_ms.map(|ms| ms / 86_400_000))
        };
        assert_eq!([now(10), now(31), now(32)], [(10, None), (31, None), (0, Some(76))]);
    }

    /// By hand: two spells of 20 and 30 days in a year of use, and 0.28 in 0.4 more: 1.63 a year; their mean with a usual one
    /// of 14: 21.3 days.
    #[test]
    fn spells_come_as_often_as_they_came() {
        let apart = take_apart(&days(&[(100, 9.0), (20, 0.0), (165, 9.0), (30, 0.0), (100, 9.0)]));
        let spells = Spells::of(&apart);
        assert!((spells.a_day * 365.25 - 2.28 / (365.0 / 365.25 + 0.4)).abs() < 1e-9);
        assert!((spells.mean_days - 64.0 / 3.0).abs() < 1e-9);
        let mut dice = Dice(1);
        let lost: f64 = (0..20_000).map(|_| spells.days_in(365.25, &mut dice)).sum::<f64>() / 20_000.0;
        assert!((lost / (365.25 * spells.idle_per_day()) - 1.0).abs() < 0.03, "{lost}");
        assert_eq!(spells.rest_days(&mut dice), 0.0);
    }
}
