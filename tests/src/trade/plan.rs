//! What an officer knew of the voyages ahead, and what he wrote of those behind: a legs file.
//!
//! The voyages are sailed already. So the plan is made backwards: what was lost on the way is taken from the truth, and a
//! voyage that was cancelled is in the plan still.

use super::voyages::{Mode, Stay};
use super::{bell, wait};
use fastrand::Rng;
use halfglass::due::usage;

/// A stretch in his file; hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leg {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) mode: usage::Mode,
}

fn written(mode: Mode) -> Option<usage::Mode> {
    match mode {
        Mode::Sea | Mode::Crossings => Some(usage::Mode::Sea),
        Mode::Port => Some(usage::Mode::Port),
        Mode::Anchor => Some(usage::Mode::Anchor),
        Mode::LaidUp => None,
    }
}

/// The file as of an instant, with so many hours of plans.
pub(super) fn legs(stays: &[Stay], since: f64, as_of: f64, ahead_h: f64, rng: &mut Rng) -> Vec<Leg> {
    let mut legs = Vec::new();
    let past = stays.iter().filter(|stay| stay.to > since && stay.from < as_of);
    for stay in past.filter(|stay| stay.to <= as_of) {
        legs.extend(written(stay.mode).map(|mode| Leg { from: stay.from.max(since), to: stay.to, mode }));
    }
    // How far the ship will be behind the plan, at each end of a stay.
    let mut behind = 0.0;
    let mut at: Option<f64> = None;
    for stay in stays.iter().filter(|stay| stay.to > as_of) {
        let length = stay.to - stay.from.max(as_of);
        behind += match stay.mode {
            // Weather on the way, a little found again by speed.
            Mode::Sea => bell(rng, 0.05) * length,
            Mode::Port if rng.f64() < 0.35 => wait(rng, 9.0).min(0.8 * length),
            Mode::Anchor => 0.4 * bell(rng, 1.0).abs() * length.min(60.0),
            // A date of return is put off once in three times.
            Mode::LaidUp if rng.f64() < 0.33 => wait(rng, 0.07 * length).min(0.5 * length),
            _ => 0.0,
        };
        let from = at.unwrap_or(if stay.from <= as_of { stay.from } else { as_of });
        let to = (stay.to - behind).max(from + 0.5).max(as_of + 0.5);
        at = Some(to);
        let mode = if stay.cancelled { Some(usage::Mode::Sea) } else { written(stay.mode) };
        legs.extend(mode.map(|mode| Leg { from, to, mode }));
        if to > as_of + ahead_h {
            break;
        }
    }
    legs
}
