//! What can have moved between two instants, by each law that a counter may follow and each fault that a line may have.

use super::facts::{When, place};
use super::log::{Growth, Watch, hours};
use super::priors;
use halfglass_protocol::config::Role;

/// What makes a counter move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Law {
    /// Its own line, hour for hour.
    Own,
    /// Another line.
    Line(Role),
    /// Its own line, at a steady ratio.
    Ratio(f64),
}

/// What is wrong with the logger's line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Fault {
    /// Nothing.
    None,
    /// It sees too little: dead or intermittent.
    Under,
    /// It stays on: stuck.
    Over,
}

/// What is known of a stretch of time, for one counter.
#[derive(Clone, Debug)]
pub(super) struct Moves {
    own: Growth,
    others: Vec<(Role, Growth)>,
    /// Hours in which the line was off but could have been on, as other lines show.
    room_h: f64,
    /// Hours in which the line was on without a break, so that it can have stuck.
    steady_h: f64,
    /// Hours in which the line was on although a line that it needs was off.
    pub(super) over_breach_h: f64,
    /// Hours in which the line was off although a line that needs it was on.
    pub(super) under_breach_h: f64,
    /// Its length.
    pub(super) years: f64,
    /// Its length, in hours, at most.
    pub(super) elapsed_h: f64,
    /// A box can have been exchanged in it.
    pub(super) may_exchange: bool,
    /// A service menu can have been opened in it.
    pub(super) may_zero: bool,
}

/// The lines that must be on whenever this one is, nearest first.
const fn needed_by(role: Role) -> &'static [Role] {
    match role {
        Role::Transmit => &[Role::Heater, Role::Supply],
        Role::Heater | Role::Motor => &[Role::Supply],
        _ => &[],
    }
}

/// The lines that are never on without this one.
const fn needing(role: Role) -> &'static [Role] {
    match role {
        Role::Supply => &[Role::Heater, Role::Transmit],
        Role::Heater | Role::Motor => &[Role::Transmit],
        _ => &[],
    }
}

/// Two lines' totals may differ by this much from point to point for want of resolution, in hours.
const BREACH_FREE_H: f64 = 0.02;

impl Moves {
    pub(super) fn between(watch: &Watch, role: Role, laws: &[(Law, f64)], a: When, b: When) -> Moves {
        let own = watch.growth(role, a, b);
        let lines = laws.iter().filter_map(|(law, _)| match law {
            Law::Line(role) => Some((*role, watch.growth(*role, a, b))),
            _ => None,
        });
        let elapsed_h = hours(a.lo_ms, b.hi_ms);
        let needed = needed_by(role).iter().find(|role| watch.has(**role));
        let could_h = needed.map_or(elapsed_h, |needed| {
            let growth = watch.growth(*needed, a, b);
            growth.logged.high + growth.unseen_h
        });
        let mut moves = Moves {
            own,
            others: lines.collect(),
            room_h: (could_h - own.logged.low).max(0.0),
            steady_h: 0.0,
            over_breach_h: 0.0,
            under_breach_h: 0.0,
            years: elapsed_h * 3_600_000.0 / priors::MS_PER_YEAR,
            elapsed_h,
            may_exchange: watch.supply_may_be_off(a, b),
            may_zero: !watch.has(Role::Supply) || {
                let supply = watch.growth(Role::Supply, a, b);
                supply.logged.high + supply.unseen_h + supply.dark_h > 0.0
            },
        };
        if watch.has(role) {
            moves.look_inside(watch, role, a, b);
        } else {
            moves.room_h = 0.0;
        }
        moves
    }

    fn look_inside(&mut self, watch: &Watch, role: Role, a: When, b: When) {
        let Some(own) = place(role) else { return };
        let places = |roles: &'static [Role]| {
            roles.iter().filter(|role| watch.has(**role)).filter_map(|role| place(*role))
        };
        for (before, after) in watch.pairs(a, b) {
            let step = |at: usize| after.on_h[at] - before.on_h[at];
            let whole_h = hours(before.at.best_ms(), after.at.best_ms());
            let inside_h = hours(before.at.best_ms().max(a.best_ms()), after.at.best_ms().min(b.best_ms()));
            let share = if whole_h > 0.0 { (inside_h / whole_h).min(1.0) } else { 0.0 };
            let powered_h = (whole_h - after.dark_h).max(0.0);
            if powered_h > 0.5 && step(own) >= 0.98 * powered_h {
                self.steady_h += step(own) * share;
            }
            let free_h = BREACH_FREE_H + after.lost_h;
            let over_h = places(needed_by(role)).map(|at| step(own) - step(at) - free_h).fold(0.0, f64::max);
            let under_h = places(needing(role)).map(|at| step(at) - step(own) - free_h).fold(0.0, f64::max);
            self.over_breach_h += over_h * share;
            self.under_breach_h += under_h * share;
        }
        // A line that is on against the rules is stuck, steady or not.
        self.steady_h = self.steady_h.max(self.over_breach_h);
    }

    /// How far the counter can have moved, in hours. `dark`: it may have moved while the logger was dark.
    pub(super) fn range(&self, law: Law, fault: Fault, dark: bool) -> (f64, f64) {
        let growth = match law {
            Law::Line(role) => self.others.iter().find(|(is, _)| *is == role).map_or(&self.own, |(_, g)| g),
            _ => &self.own,
        };
        let mut low = growth.logged.low;
        let mut high = growth.logged.high + growth.unseen_h + if dark { growth.dark_h } else { 0.0 };
        match (fault, law) {
            (Fault::None, _) | (_, Law::Line(_)) => {}
            (Fault::Under, _) => high += self.room_h,
            (Fault::Over, _) => low = (low - self.steady_h).max(0.0),
        }
        let ratio = if let Law::Ratio(ratio) = law { ratio } else { 1.0 };
        (low * ratio, (high * ratio).max(low * ratio))
    }

    /// The likeliest movement by the line itself, in hours.
    pub(super) fn best_h(&self) -> f64 {
        self.own.logged.best
    }

    /// The room that the log leaves, in hours.
    pub(super) fn logged_width_h(&self) -> f64 {
        self.own.logged.high - self.own.logged.low + self.own.unseen_h
    }

    /// At most so much without the logger running, in hours.
    pub(super) fn dark_h(&self) -> f64 {
        self.own.dark_h
    }

    /// Hours in which the line can have stuck.
    pub(super) fn steady_h(&self) -> f64 {
        self.steady_h
    }

    /// Hours in which the line can have missed something.
    pub(super) fn room_h(&self) -> f64 {
        self.room_h
    }
}
