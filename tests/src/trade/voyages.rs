//! What a ship does, hour by hour.

use super::{Trade, bell, log_within, wait, within};
use fastrand::Rng;

/// What a ship does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Under way.
    Sea,
    /// Alongside.
    Port,
    /// At anchor.
    Anchor,
    /// A ferry's day: crossings by a timetable.
    Crossings,
    /// Nobody needs a radar.
    LaidUp,
}

/// A stretch of one mode; hours.
#[derive(Clone, Copy, Debug)]
pub struct Stay {
    /// Its beginning.
    pub from: f64,
    /// Its end.
    pub to: f64,
    /// What she does.
    pub mode: Mode,
    /// A voyage was planned for this time and did not take place.
    pub cancelled: bool,
}

/// Stays in a row.
struct Log {
    stays: Vec<Stay>,
    at: f64,
}

impl Log {
    fn add(&mut self, mode: Mode, hours: f64, cancelled: bool) {
        let to = self.at + hours.max(0.5);
        self.stays.push(Stay { from: self.at, to, mode, cancelled });
        self.at = to;
    }
}

const YEAR_H: f64 = 8_766.0;

/// A life of voyages, and between which instants a limit may fall.
pub(super) fn sail(trade: Trade, rng: &mut Rng, hours: f64) -> (Vec<Stay>, (f64, f64)) {
    let mut log = Log { stays: Vec::new(), at: 0.0 };
    // Late enough that any length of history lies before, early enough that the life does not end first.
    let mut limits = (1.7 * YEAR_H, hours - 300.0);
    match trade {
        Trade::Liner => liner(&mut log, rng, hours),
        Trade::Tramp => tramp(&mut log, rng, hours),
        Trade::Ferry => ferry(&mut log, rng, hours),
        Trade::LaidUp => {
            let before = within(rng, 1.5, 2.0) * YEAR_H;
            let as_liner = rng.bool();
            let go = if as_liner { liner } else { tramp };
            go(&mut log, rng, before);
            log.add(Mode::LaidUp, within(rng, 180.0, 330.0) * 24.0, false);
            let sails = log.at;
            go(&mut log, rng, hours);
            limits = (sails + 24.0 * 8.0, sails + 24.0 * 210.0);
        }
    }
    (log.stays, limits)
}

/// A rotation of ports with its own distances, kept for years or until the line changes it.
fn liner(log: &mut Log, rng: &mut Rng, until: f64) {
    while log.at < until {
        let ports = rng.usize(4..=10);
        // A distance of hours at sea to each port, and the hours that it takes there.
        let rotation: Vec<(f64, f64)> =
            (0..ports).map(|_| (log_within(rng, 12.0, 340.0), within(rng, 10.0, 44.0))).collect();
        let kept = if rng.f64() < 0.7 { 9.9 * YEAR_H } else { within(rng, 0.7, 2.0) * YEAR_H };
        let end = (log.at + kept).min(until);
        while log.at < end {
            for (sea, port) in &rotation {
                log.add(Mode::Sea, sea * (1.0 + bell(rng, 0.04)).max(0.7), false);
                if rng.f64() < 0.15 {
                    log.add(Mode::Anchor, wait(rng, 14.0), false);
                }
                log.add(
                    Mode::Port,
                    port * (1.0 + bell(rng, 0.15)).max(0.4)
                        + if rng.f64() < 0.06 { wait(rng, 30.0) } else { 0.0 },
                    false,
                );
                // A port left out or a sailing cancelled now and then.
                if rng.f64() < 0.015 {
                    log.add(Mode::Anchor, sea * within(rng, 0.4, 1.0), true);
                }
            }
        }
    }
}

/// Charters of some months with their own run of distances, waiting for the next cargo in between.
fn tramp(log: &mut Log, rng: &mut Rng, until: f64) {
    while log.at < until {
        let typical = log_within(rng, 80.0, 480.0);
        let in_port = within(rng, 40.0, 130.0);
        let waits = within(rng, 0.2, 0.7);
        let end = (log.at + within(rng, 60.0, 330.0) * 24.0).min(until);
        while log.at < end {
            let sea = typical * bell(rng, 0.35).exp();
            if rng.f64() < 0.04 {
                log.add(Mode::Anchor, sea * within(rng, 0.4, 1.1), true);
                continue;
            }
            log.add(Mode::Sea, sea, false);
            if rng.f64() < waits {
                log.add(Mode::Anchor, wait(rng, 90.0), false);
            }
            log.add(Mode::Port, in_port * bell(rng, 0.4).exp(), false);
        }
        if rng.f64() < 0.5 {
            log.add(Mode::Anchor, within(rng, 2.0, 20.0) * 24.0, false);
        }
    }
}

/// Days of crossings; a day off in some weeks, a docking a year, days lost to wind more often in winter.
fn ferry(log: &mut Log, rng: &mut Rng, until: f64) {
    let day_off = if rng.f64() < 0.4 { Some(rng.usize(..7)) } else { None };
    let docking = rng.usize(20..340);
    let docking_days = rng.usize(9..24);
    let lost_in_winter = within(rng, 0.01, 0.09);
    let mut day = 0;
    while log.at < until {
        let season = season(day as f64 * 24.0);
        let lost = lost_in_winter * (1.0 - season) / 2.0;
        let in_dock = (day % 365 + 365 - docking) % 365 < docking_days;
        let off = in_dock || day_off == Some(day % 7) || rng.f64() < lost;
        log.add(if off { Mode::Port } else { Mode::Crossings }, 24.0, false);
        day += 1;
    }
}

/// From -1 in the middle of winter to 1 in the middle of summer.
pub(super) fn season(at: f64) -> f64 {
    (std::f64::consts::TAU * at / YEAR_H).sin()
}
