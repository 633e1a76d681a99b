//! The legs: what the line runs in each mode, and the near future as it is planned.
//!
//! A plan is not kept to the hour. So each future has it slip, and may lose voyages from it; how much, nothing aboard tells:
//! the figures are common practice, no source.

use super::dice::Dice;
use super::history::{History, Quantity};
use super::modes::{Rate, Rates};
use super::spells::SPELL_DAYS;
use super::usage::{DAY_MS, Day, Leg, Mode};

/// One stay in three that is not at sea takes longer than planned, by so many days on average.
const DELAY_CHANCE: f64 = 0.33;
const DELAY_DAYS: f64 = 0.5;

/// A passage takes so much longer or shorter than planned, in parts of it (one deviation): weather and orders.
const PASSAGE_UNREST: f64 = 0.08;

/// One voyage in thirty is cancelled; she lies meanwhile.
const CANCELLED: f64 = 0.03;

/// A ship that lies: her date of return slips in one case of two, by so much of the time that it lies ahead, on average.
const RETURN_SLIP: f64 = 0.06;

/// A stretch of a future with even use.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub(super) days: f64,
    pub(super) on_h: f64,
    pub(super) starts: f64,
}

impl Piece {
    pub(super) fn of(&self, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Hours => self.on_h,
            Quantity::Starts => self.starts,
        }
    }
}

/// What is planned, and what the line runs meanwhile.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    /// Days from now to the first planned leg.
    gap_days: f64,
    /// She lies until then.
    pub(super) lies: bool,
    /// The legs ahead: mode, and how many days of it are left.
    legs: Vec<(Mode, f64)>,
    /// What is run in each mode.
    rates: Rates,
}

impl Ahead {
    /// `None`: no leg ahead is planned, or what the line runs on one is not known.
    pub(super) fn of(legs: &[Leg], days: &[Day], history: &History, as_of_ms: i64) -> Option<Ahead> {
        let mut ahead: Vec<&Leg> =
            legs.iter().filter(|leg| leg.to_ms > as_of_ms && leg.from_ms < leg.to_ms).collect();
        ahead.sort_by_key(|leg| leg.from_ms);
        if history.laid_up_since_ms.is_some() {
            // Lying in port goes on until she sails.
            let sails = ahead.iter().position(|leg| leg.mode == Mode::Sea)?;
            ahead.drain(..sails);
        }
        let first = ahead.first()?;
        let gap_days = days_between(as_of_ms, first.from_ms);
        // Without use of late and with nothing planned for as long as a spell lasts, she lies; else the plan has a hole.
        let lies =
            history.laid_up_since_ms.is_some() || (history.still_days > 0 && gap_days >= SPELL_DAYS as f64);
        let planned = |leg: &&Leg| (leg.mode, days_between(leg.from_ms.max(as_of_ms), leg.to_ms));
        let past: Vec<&Leg> = legs.iter().filter(|leg| leg.from_ms < as_of_ms).collect();
        let rates = Rates::of(&past, days)?;
        Some(Ahead { gap_days, lies, legs: ahead.iter().map(planned).collect(), rates })
    }

    /// Draws what comes of the plan.
    pub(super) fn draw(&self, history: &History, dice: &mut Dice, pieces: &mut Vec<Piece>) {
        let mut gap_days = self.gap_days;
        if self.lies {
            if dice.share() < 0.5 {
                gap_days += dice.wait(RETURN_SLIP * gap_days);
            }
            pieces.push(Piece { days: gap_days, on_h: 0.0, starts: 0.0 });
        } else if gap_days > 0.02 {
            let per_day = |quantity| history.elapsed_mean(history.per_day(quantity));
            let (on_h, starts) = (per_day(Quantity::Hours), per_day(Quantity::Starts));
            pieces.push(Piece { days: gap_days, on_h: on_h * gap_days, starts: starts * gap_days });
        }
        for (mode, planned_days) in &self.legs {
            let mut days = *planned_days;
            let mut mode = *mode;
            if mode == Mode::Sea {
                days *= (1.0 + PASSAGE_UNREST * dice.bell()).max(0.2);
                if dice.share() < CANCELLED {
                    mode = Mode::Anchor;
                }
            } else if dice.share() < DELAY_CHANCE {
                days += dice.wait(DELAY_DAYS);
            }
            // What a stay is off from the mode's usual use grows as chance does.
            let off = dice.bell() * days.sqrt();
            let drawn = |rate: &Rate, most: f64| (rate.of(mode) * days + rate.off * off).clamp(0.0, most);
            let on_h = drawn(&self.rates.on_h, 24.0 * days);
            pieces.push(Piece { days, on_h, starts: drawn(&self.rates.starts, f64::INFINITY) });
        }
    }
}

pub(super) fn days_between(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / DAY_MS as f64
}
