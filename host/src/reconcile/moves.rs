//! What can have moved between two instants, by each law that a counter may follow and each fault that a line may have.

use super::log::{Growth, Mark, Watch, needed_by};
use super::priors;
use crate::timeline::hours_between;
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
    /// What no line watches, at some ratio.
    AnyRatio,
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

impl Moves {
    pub(super) fn between(watch: &Watch, role: Role, laws: &[(Law, f64)], a: &Mark, b: &Mark) -> Moves {
        let own = watch.growth(role, a, b);
        let lines = laws.iter().filter_map(|(law, _)| match law {
            Law::Line(role) => Some((*role, watch.growth_or_bounds(*role, a, b))),
            _ => None,
        });
        let elapsed_h = hours_between(a.at.lo_ms, b.at.hi_ms);
        let needed = needed_by(role).iter().find(|role| watch.has(**role));
        let could_h = needed.map_or(elapsed_h, |needed| {
            let growth = watch.growth(*needed, a, b);
            growth.logged.high + growth.unseen_h
        });
        let shape = watch.shape(role, a, b);
        let watched = watch.has(role);
        Moves {
            own,
            others: lines.collect(),
            room_h: if watched { (could_h - own.logged.low).max(0.0) } else { 0.0 },
            steady_h: shape.steady_h,
            over_breach_h: shape.over_h,
            under_breach_h: shape.under_h,
            years: elapsed_h * 3_600_000.0 / priors::MS_PER_YEAR,
            elapsed_h,
            may_exchange: watch.supply_may_be_off(a, b),
            may_zero: !watch.has(Role::Supply) || {
                let supply = watch.growth(Role::Supply, a, b);
                supply.logged.high + supply.unseen_h + supply.dark_h > 0.0
            },
        }
    }

    /// By how much the bounds by a law stop short of what the totals at both ends leave, in hours.
    pub(super) fn cut_h(&self, law: Law) -> (f64, f64) {
        match law {
            Law::Line(role) => {
                self.others.iter().find(|(is, _)| *is == role).map_or((0.0, 0.0), |(_, g)| g.cut_h)
            }
            _ => self.own.cut_h,
        }
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
            (Fault::None, _) => {}
            // Of another line only its hours are at hand: it may have been on all the time, or never.
            (Fault::Under, Law::Line(_)) => high = high.max(self.elapsed_h),
            (Fault::Over, Law::Line(_)) => low = 0.0,
            (Fault::Under, _) => high += self.room_h,
            (Fault::Over, _) => low = (low - self.steady_h).max(0.0),
        }
        let (least, most) = match law {
            Law::Ratio(ratio) => (ratio, ratio),
            Law::AnyRatio => (1.0 / priors::RATIO_MAX, priors::RATIO_MAX),
            _ => (1.0, 1.0),
        };
        (low * least, (high * most).max(low * least))
    }

    /// Which line's total a law goes by, and how many hours of the counter one of it makes at least and at most.
    pub(super) fn follows(law: Law, own: Role) -> (Role, f64) {
        match law {
            Law::Line(role) => (role, 1.0),
            Law::Ratio(ratio) => (own, ratio),
            Law::Own | Law::AnyRatio => (own, 1.0),
        }
    }

    /// The likeliest movement by the line itself, in hours.
    pub(super) fn best_h(&self) -> f64 {
        self.own.logged.best
    }

    /// The room that the log leaves, in hours.
    pub(super) fn logged_width_h(&self) -> f64 {
        self.own.logged.high - self.own.logged.low + self.own.unseen_h
    }

    /// How much a counter can have moved that the line's total does not show, in hours.
    pub(super) fn free_h(&self, dark: bool) -> f64 {
        self.own.unseen_h + self.own.lost_h + if dark { self.own.dark_h } else { 0.0 }
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
