//! A plain model of what the logger's totals must be: it shares no code with the firmware.
//!
//! Times are tenths of a second on the logger's uptime; everything is kept as instants rather than counters, so
//! that a mistake in one is not repeated in the other.

use halfglass_firmware::journal::word::{Kind, Word};
use halfglass_protocol::record::Totals;

/// Heater line of the watched radar in these tests, and its transmit line and warm-up.
pub const HEATER: usize = 1;
/// See [`HEATER`].
pub const TRANSMIT: usize = 2;
/// See [`HEATER`].
pub const WARM_UP_TENTHS: u64 = 1_800;

/// What must be true.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Model {
    on: Vec<u64>,
    starts: Vec<u32>,
    uptime: u64,
    was_on: Vec<bool>,
    heater_since: Option<u64>,
    /// Transmit was on in the word before, and that word was no merged one: only then its loss has an instant.
    transmitted: bool,
    transmit_lost_at: Option<u64>,
    drop_outs: u32,
    short_warm_ups: u32,
}

impl Model {
    /// Nothing has happened.
    #[must_use]
    pub fn new() -> Self {
        Self {
            on: vec![0; 8],
            starts: vec![0; 8],
            uptime: 0,
            was_on: vec![false; 8],
            heater_since: None,
            transmitted: false,
            transmit_lost_at: None,
            drop_outs: 0,
            short_warm_ups: 0,
        }
    }

    /// A word was committed.
    pub fn commit(&mut self, word: Word) {
        let lines: Vec<bool> = (0..8).map(|line| word.mask >> line & 1 == 1).collect();
        match word.kind {
            Kind::Starts => {
                for (starts, _) in self.starts.iter_mut().zip(lines).filter(|(_, started)| *started) {
                    *starts += u32::from(word.tenths);
                }
                return;
            }
            Kind::Hold => self.hold_begins(&lines),
            Kind::Blend => {
                self.heater_since = None;
                self.transmitted = false;
                self.transmit_lost_at = None;
            }
            Kind::Resume => unreachable!("the journal writes these itself"),
        }
        self.uptime += u64::from(word.tenths);
        for (on, _) in self.on.iter_mut().zip(&lines).filter(|(_, on)| **on) {
            *on += u64::from(word.tenths);
        }
        self.was_on = lines;
    }

    fn hold_begins(&mut self, lines: &[bool]) {
        let rises = |line: usize| lines[line] && !self.was_on[line];
        let (heater_rises, transmit_rises) = (rises(HEATER), rises(TRANSMIT));
        for (starts, (on, was_on)) in self.starts.iter_mut().zip(lines.iter().zip(&self.was_on)) {
            *starts += u32::from(*on && !was_on);
        }
        if heater_rises {
            self.heater_since = Some(self.uptime);
        }
        if transmit_rises {
            if lines[HEATER] && self.transmit_lost_at.is_some_and(|at| self.uptime - at < 100) {
                self.drop_outs += 1;
            }
            if self.heater_since.is_some_and(|at| self.uptime - at < WARM_UP_TENTHS) {
                self.short_warm_ups += 1;
            }
        }
        if !lines[HEATER] {
            self.heater_since = None;
            self.transmit_lost_at = None;
        } else if self.transmitted && !lines[TRANSMIT] {
            self.transmit_lost_at = Some(self.uptime);
        } else if lines[TRANSMIT] {
            self.transmit_lost_at = None;
        }
        self.transmitted = lines[TRANSMIT];
    }

    /// Power came back.
    pub fn session(&mut self) {
        self.was_on = vec![false; 8];
        self.heater_since = None;
        self.transmitted = false;
        self.transmit_lost_at = None;
    }

    /// The first difference between these totals and the model, of a logger with so many lines.
    #[must_use]
    pub fn differs(&self, totals: &Totals, lines: usize) -> Option<String> {
        if totals.uptime_tenths != self.uptime {
            return Some(format!("uptime {} instead of {}", totals.uptime_tenths, self.uptime));
        }
        for line in 0..lines {
            if totals.on_tenths[line] != self.on[line] {
                return Some(format!(
                    "line {line} on {} instead of {}",
                    totals.on_tenths[line], self.on[line]
                ));
            }
            if totals.starts[line] != self.starts[line] {
                return Some(format!(
                    "line {line} starts {} instead of {}",
                    totals.starts[line], self.starts[line]
                ));
            }
        }
        if totals.drop_outs[0] != self.drop_outs {
            return Some(format!("drop-outs {} instead of {}", totals.drop_outs[0], self.drop_outs));
        }
        if totals.short_warm_ups[0] != self.short_warm_ups {
            return Some(format!(
                "short warm-ups {} instead of {}",
                totals.short_warm_ups[0], self.short_warm_ups
            ));
        }
        None
    }
}

impl Default for Model {
    fn default() -> Self {
        Self::new()
    }
}
