//! Everything that people wrote, as of a date, for the rooms that reckon with it.

use super::{Kept, Kind, Store};
use crate::Result;
use crate::ship::facts::{
    Answer, Condition, Deferral, Fitting, Leg, LoggerExchange, Reading, Window, Work, Zone,
};
use crate::time::{Clock, Moment};

/// The facts that stand, each kind by time.
///
/// - *Events* (readings, fittings, works, answers, deferrals, conditions, logger exchanges) are seen if they are dated at
///   or before the date asked for: if they *can* have been by then, so that a reading dated only by its day is seen from
///   the first hour of that day on.
/// - *Plans* (legs and windows) are all seen, since what lies ahead is their purpose.
/// - A fact carries no date of entry. So a fact that was corrected is set aside on every date asked for, also where its
///   correction is dated later, and is then not seen itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Figures of the radars' own counters.
    pub readings: Vec<Kept<Reading>>,
    /// Parts put in.
    pub fittings: Vec<Kept<Fitting>>,
    /// Work without a renewal.
    pub works: Vec<Kept<Work>>,
    /// What was found out about findings.
    pub answers: Vec<Kept<Answer>>,
    /// Renewals put off.
    pub deferrals: Vec<Kept<Deferral>>,
    /// Measurements of a part's state.
    pub conditions: Vec<Kept<Condition>>,
    /// Loggers exchanged.
    pub exchanges: Vec<Kept<LoggerExchange>>,
    /// Stretches of the voyage, past and planned.
    pub legs: Vec<Kept<Leg>>,
    /// Stays, past and planned.
    pub windows: Vec<Kept<Window>>,
}

/// A logger that watches a radar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Watch {
    /// From when; `None`: from the beginning.
    pub from: Option<Moment>,
    /// The logger's device id.
    pub logger: u64,
}

impl Facts {
    /// The loggers that watch a radar, one after the other: first the one that ship.toml names, then those that took
    /// its place. An exchange that names the logger which is there already is passed over.
    #[must_use]
    pub fn watches(&self, radar: &str, first_logger: u64) -> Vec<Watch> {
        let mut watches = vec![Watch { from: None, logger: first_logger }];
        for Kept { fact, .. } in self.exchanges.iter().filter(|kept| kept.fact.radar == radar) {
            if watches.last().is_none_or(|last| last.logger != fact.logger) {
                watches.push(Watch { from: Some(fact.at), logger: fact.logger });
            }
        }
        watches
    }
}

impl Store {
    /// What people wrote, as of an instant (UTC, milliseconds since 1970).
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn facts(&self, as_of_ms: i64) -> Result<Facts> {
        Ok(Facts {
            readings: self.events(as_of_ms)?,
            fittings: self.events(as_of_ms)?,
            works: self.events(as_of_ms)?,
            answers: self.events(as_of_ms)?,
            deferrals: self.events(as_of_ms)?,
            conditions: self.events(as_of_ms)?,
            exchanges: self.events(as_of_ms)?,
            legs: self.standing()?,
            windows: self.standing()?,
        })
    }

    /// What the ship's clock showed, by the zones that stand.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn clock(&self) -> Result<Clock> {
        let zones = self.standing::<Zone>()?;
        let offsets: Vec<(i64, i32)> =
            zones.iter().map(|kept| (kept.fact.from_ms, kept.fact.offset_s)).collect();
        Ok(Clock::new(&offsets))
    }

    fn events<F: Kind>(&self, as_of_ms: i64) -> Result<Vec<Kept<F>>> {
        let mut facts = self.standing::<F>()?;
        facts.retain(|kept| kept.fact.at().lo_ms() <= as_of_ms);
        Ok(facts)
    }
}
