//! The legs: what the line runs in each mode, and the near future as it is planned.
//!
//! A plan is not kept to the hour. So each future has it slip, and may lose voyages from it; how much, nothing aboard tells:
//! the figures are common practice, no source.

use super::dice::Dice;
use super::history::{History, Quantity};
use super::usage::{DAY_MS, Day, Leg, Mode};

/// One stay in two that is not at sea takes longer than planned, by so many days on average.
const DELAY_CHANCE: f64 = 0.5;
const DELAY_DAYS: f64 = 0.5;

/// A passage takes so much longer or shorter than planned, in parts of it (one deviation): weather and orders.
const PASSAGE_UNREST: f64 = 0.08;

/// One voyage in so many is cancelled; she lies meanwhile.
const CANCELLED: f64 = 0.05;

/// A laid-up ship's date of return slips in one case of two, by so much of the time that it lies ahead, on average.
const RETURN_SLIP: f64 = 0.06;

/// Use in one stay, for each day of it.
#[derive(Clone, Copy, Debug)]
struct Rate {
    on_h: f64,
    starts: f64,
}

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
    /// She is laid up until then.
    laid_up: bool,
    /// The legs ahead: mode, and how many days of it are left.
    legs: Vec<(Mode, f64)>,
    /// What was run in each mode, stay by stay.
    sea: Vec<Rate>,
    port: Vec<Rate>,
    anchor: Vec<Rate>,
}

impl Ahead {
    /// `None`: no leg ahead is planned, or what the line runs on one is not known.
    pub(super) fn of(legs: &[Leg], days: &[Day], history: &History, as_of_ms: i64) -> Option<Ahead> {
        let mut ahead: Vec<&Leg> =
            legs.iter().filter(|leg| leg.to_ms > as_of_ms && leg.from_ms < leg.to_ms).collect();
        ahead.sort_by_key(|leg| leg.from_ms);
        let laid_up = history.laid_up_since_ms.is_some();
        if laid_up {
            // Lying in port goes on until she sails.
            let sails = ahead.iter().position(|leg| leg.mode == Mode::Sea)?;
            ahead.drain(..sails);
        }
        let first = ahead.first()?;
        let gap_days = days_between(as_of_ms, first.from_ms);
        let planned = |leg: &&Leg| (leg.mode, days_between(leg.from_ms.max(as_of_ms), leg.to_ms));
        let past: Vec<&Leg> = legs.iter().filter(|leg| leg.from_ms < as_of_ms).collect();
        let mut rates = [
            by_legs(&past, days, Mode::Sea),
            by_legs(&past, days, Mode::Port),
            by_legs(&past, days, Mode::Anchor),
        ];
        let (by_days_sea, by_days_port) = by_days(days);
        if rates[0].is_empty() {
            rates[0] = by_days_sea;
        }
        if rates[1].is_empty() {
            rates[1] = if rates[2].is_empty() { by_days_port } else { rates[2].clone() };
        }
        if rates[2].is_empty() {
            rates[2] = rates[1].clone();
        }
        let [sea, port, anchor] = rates;
        if sea.is_empty() || port.is_empty() {
            return None;
        }
        Some(Ahead { gap_days, laid_up, legs: ahead.iter().map(planned).collect(), sea, port, anchor })
    }

    /// Draws what comes of the plan.
    pub(super) fn draw(&self, history: &History, dice: &mut Dice, pieces: &mut Vec<Piece>) {
        let mut gap_days = self.gap_days;
        if self.laid_up {
            if dice.share() < 0.5 {
                gap_days += dice.wait(RETURN_SLIP * gap_days);
            }
            pieces.push(Piece { days: gap_days, on_h: 0.0, starts: 0.0 });
        } else if gap_days > 0.02 {
            let (on_h, starts) = (history.per_day(Quantity::Hours), history.per_day(Quantity::Starts));
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
            let rates = match mode {
                Mode::Sea => &self.sea,
                Mode::Port => &self.port,
                Mode::Anchor => &self.anchor,
            };
            let Some(rate) = rates.get(dice.below(rates.len())) else { continue };
            pieces.push(Piece { days, on_h: rate.on_h * days, starts: rate.starts * days });
        }
    }
}

/// What the line ran on each past leg of a mode that the days tell of. A day that was spent in two modes counts for each by
/// its share of it, and legs of which less than half a day is told are too short to say anything.
fn by_legs(legs: &[&Leg], days: &[Day], mode: Mode) -> Vec<Rate> {
    let mut rates = Vec::new();
    for leg in legs.iter().filter(|leg| leg.mode == mode) {
        let first = days.partition_point(|day| day.start_ms + DAY_MS <= leg.from_ms);
        let (mut told, mut on_h, mut starts) = (0.0, 0.0, 0.0);
        // Whole days first: only where there are none do days of two modes count.
        for whole in [true, false] {
            for day in days.iter().skip(first).take_while(|day| day.start_ms < leg.to_ms) {
                let share =
                    days_between(day.start_ms.max(leg.from_ms), (day.start_ms + DAY_MS).min(leg.to_ms));
                if whole && share < 0.95 {
                    continue;
                }
                told += share;
                on_h += share * day.on_h;
                starts += share * day.starts;
            }
            if told >= 0.5 {
                break;
            }
            (told, on_h, starts) = (0.0, 0.0, 0.0);
        }
        if told >= 0.5 {
            rates.push(Rate { on_h: on_h / told, starts: starts / told });
        }
    }
    rates
}

/// Where no past leg tells the mode: days of much use are taken for days at sea, the others for days in port.
fn by_days(days: &[Day]) -> (Vec<Rate>, Vec<Rate>) {
    let mut on_h: Vec<f64> = days.iter().map(|day| day.on_h).collect();
    on_h.sort_by(f64::total_cmp);
    let much = on_h.get(on_h.len() * 9 / 10).copied().unwrap_or(0.0) / 2.0;
    let rates = |sea: bool| {
        let own = days.iter().filter(|day| (day.on_h > much) == sea);
        own.map(|day| Rate { on_h: day.on_h, starts: day.starts }).collect::<Vec<Rate>>()
    };
    if much <= 0.0 { (Vec::new(), Vec::new()) } else { (rates(true), rates(false)) }
}

fn days_between(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / DAY_MS as f64
}
