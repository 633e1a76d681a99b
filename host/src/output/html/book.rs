//! All that a page is made of: the answers of the other rooms, gathered at the door, for one instant.

use crate::output::{condition, reconcile};
use crate::ship::facts::{Condition, Deferral, Fitting, Work};
use crate::ship::settings;
use crate::wear::Wear;
use crate::{due, plan, reconcile as room};

/// A ship at an instant.
#[derive(Clone, Debug)]
pub struct Book {
    /// Her name.
    pub ship: String,
    /// The instant (milliseconds since 1970 in UTC, as all instants here).
    pub as_of_ms: i64,
    /// Which count is true: one entry a radar, in the order of ship.toml.
    pub reconciled: reconcile::Report,
    /// What was seen and written of each radar, in the same order.
    pub seen: Vec<Seen>,
    /// Her parts, in the order of ship.toml.
    pub parts: Vec<Part>,
    /// What was planned with; its works are in the order of the parts.
    pub problem: plan::Problem,
    /// Where each part is renewed, in the same order.
    pub plan: plan::Answer,
    /// Renewals put off, by time.
    pub deferrals: Vec<Deferral>,
    /// Parts put in.
    pub renewals: Vec<Renewal>,
    /// Works without a renewal, each with its number in the ship folder.
    pub works: Vec<(i64, Work)>,
    /// Measurements, by time.
    pub conditions: Vec<Condition>,
    /// What those at like settings show, those that warn first.
    pub series: Vec<condition::Series>,
}

/// A part put in.
#[derive(Clone, Debug)]
pub struct Renewal {
    /// Its number in the ship folder.
    pub number: i64,
    /// What was written down.
    pub fitting: Fitting,
    /// The hours that the part before it had run by then, by the logs; `None`: none was, or no log tells.
    pub old_h: Option<f64>,
}

/// What was seen and written of one radar.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Log, readings and fittings, as the room that reconciles was told them.
    pub told: room::Radar,
    /// Its warm-up, in seconds, as entered in ship.toml.
    pub warm_up_s: Option<u16>,
    /// The loggers that watched it, one after the other.
    pub loggers: Vec<Health>,
}

/// How a logger does, as far as what was pulled from it tells.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Health {
    /// Its device id.
    pub device_id: u64,
    /// When it was last pulled; `None`: never.
    pub pulled_ms: Option<i64>,
    /// Sessions in the log.
    pub sessions: u32,
    /// Those that the watchdog or a fault began.
    pub faults: u32,
    /// Sessions too short to write anything.
    pub too_short: u32,
    /// Flash pages given up.
    pub pages_retired: u32,
    /// Flash words that could no longer be read.
    pub words_lost: u32,
    /// Page heads that did not match their check.
    pub heads_invalid: u32,
    /// Times that its configuration was lost.
    pub configs_lost: u32,
    /// Times that edges came so fast that they were merged.
    pub coalesced: u32,
    /// Stretches of records that are missing.
    pub gaps: u32,
    /// Totals that fell, which they never may.
    pub contradictions: u32,
    /// How far its flash is worn; `None`: no pull asked for it.
    pub wear: Option<Wear>,
    /// Erases of a page that the maker of its flash answers for, as entered in ship.toml.
    pub erases_rated: Option<u32>,
}

/// A part as it is fitted now.
#[derive(Clone, Debug)]
pub struct Part {
    /// What ship.toml says of it.
    pub settings: settings::Part,
    /// When it is due.
    pub due: due::Answer,
    /// When it was put in.
    pub fitted_ms: Option<i64>,
    /// Its spares that were never put in.
    pub spares: Vec<settings::Spare>,
}

impl Book {
    /// Where a radar stands among the radars.
    pub(super) fn radar(&self, name: &str) -> Option<usize> {
        self.reconciled.radars.iter().position(|radar| radar.name == name)
    }

    /// The warm-up of a radar, as entered in ship.toml.
    pub(super) fn warm_up_s(&self, name: &str) -> Option<u16> {
        self.seen.get(self.radar(name)?)?.warm_up_s
    }

    /// What is planned for the part at this place.
    pub(super) fn planned(&self, part: usize) -> Option<&plan::Planned> {
        self.plan.works.iter().find(|planned| planned.work == part)
    }
}
