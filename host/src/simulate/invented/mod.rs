//! An invented ship, MV Calder Sound: eighteen months of two radars, by a number that decides all of it.
//!
//! ```text
//!  voyage   port | ---- sea ---- | port | ---------- sea ---------- | port | ...   + blackouts
//!  radars   per radar: when supply, heater, transmit, motor and isolated were on, when its logger had power
//!  slips    what went wrong on the way: see [`Slips`]
//!  folder   ship.toml, readings.csv, fittings.csv as her officer would have written them
//! ```
//!
//! No ship, person or set is behind it, and no figure comes from a manual.

mod counter;
pub mod folder;
mod radars;
mod spans;

use radars::Radar;
use spans::Span;

pub use radars::{Story, WARM_UP_S, Written};

const SECOND_MS: i64 = 1_000;
const MINUTE_MS: i64 = 60 * SECOND_MS;
const HOUR_MS: i64 = 60 * MINUTE_MS;
const DAY_MS: i64 = 24 * HOUR_MS;

/// 2024-09-01T06:00:00Z: the loggers are put in, in the yard.
pub const START_MS: i64 = 1_725_170_400_000;

/// 2026-03-01T08:00:00Z: the last pull.
pub const END_MS: i64 = 1_772_352_000_000;

/// When the officer came on deck with the computer: the first of each month, 08:00 UTC.
fn months_ms() -> impl Iterator<Item = i64> {
    let firsts = (0..18).filter_map(|month| crate::time::months_later(START_MS, month));
    firsts.skip(1).map(|first| first + 2 * HOUR_MS)
}

/// The ship's course: where she was, and when the lights went out.
struct Voyage {
    sea: Vec<Span>,
    port: Vec<Span>,
    blackouts: Vec<Span>,
}

impl Voyage {
    fn invent(random: &mut fastrand::Rng) -> Voyage {
        let (mut sea, mut port) = (Vec::new(), Vec::new());
        let mut at_ms = START_MS;
        // The yard, then passages of two to nine days and stays of half a day to two days.
        let mut stay_ms = 26 * HOUR_MS;
        while at_ms < END_MS {
            port.push((at_ms, at_ms + stay_ms));
            at_ms += stay_ms;
            let passage_ms = random.i64(2 * DAY_MS..9 * DAY_MS);
            sea.push((at_ms, at_ms + passage_ms));
            at_ms += passage_ms;
            stay_ms = random.i64(14 * HOUR_MS..50 * HOUR_MS);
        }
        let mut blackouts = Vec::new();
        let mut at_ms = START_MS + 20 * DAY_MS;
        while at_ms < END_MS - 5 * DAY_MS {
            if spans::holds(&sea, at_ms) && spans::holds(&sea, at_ms + HOUR_MS) {
                blackouts.push((at_ms, at_ms + random.i64(8 * SECOND_MS..90 * SECOND_MS)));
                at_ms += random.i64(50 * DAY_MS..110 * DAY_MS);
            }
            at_ms += HOUR_MS;
        }
        Voyage { sea, port, blackouts }
    }

    /// Work of so many hours, six hours into the first stay after so many days that is long enough.
    fn work_ms(&self, after_days: i64, work_h: i64) -> Span {
        let earliest_ms = START_MS + after_days * DAY_MS;
        let stay = self.port.iter().find(|(from, to)| *from > earliest_ms && to - from > 20 * HOUR_MS);
        // There is one in any eighteen months of such stays; the yard stands in if there were none.
        let from_ms = stay.or(self.port.first()).map_or(START_MS, |(from, _)| *from) + 6 * HOUR_MS;
        (from_ms, from_ms + work_h * HOUR_MS)
    }

    /// An instant well out at sea, the first after so many days.
    fn out_at_sea_ms(&self, after_days: i64) -> i64 {
        let earliest_ms = START_MS + after_days * DAY_MS;
        self.sea
            .iter()
            .find(|(from, _)| *from > earliest_ms)
            .map_or(START_MS, |(from, _)| from + 30 * HOUR_MS)
    }
}

/// What went wrong aboard, for `reconcile` to find. Instants in milliseconds since 1970; two of them: from, to.
pub struct Slips {
    /// X-band: the transceiver was exchanged with the supply off; the counter of the new one went on from [`BOX_H`].
    pub box_exchanged: (i64, i64),
    /// X-band: the logger's motor line was off its terminal.
    pub motor_dead: (i64, i64),
    /// S-band: a technician set the transmit counter to zero in the service menu; no tube was renewed.
    pub zeroed_ms: i64,
    /// S-band: somebody worked aloft and wrote nothing down.
    pub unrecorded: (i64, i64),
    /// S-band: the scanner motor was renewed ...
    pub motor_renewed: (i64, i64),
    /// ... and written down under another day.
    pub motor_recorded_ms: i64,
    /// X-band: in this month, counted from 0, two digits of the reading changed places.
    pub digits_month: usize,
    /// S-band: in this month, two readings stand in each other's place.
    pub swapped_month: usize,
    /// S-band: the tube begins to drop out.
    pub drop_outs_from_ms: i64,
}

/// What the counter of the exchanged transceiver showed when it came aboard, in hours.
pub const BOX_H: i64 = 812;

impl Slips {
    fn invent(voyage: &Voyage) -> Slips {
        let motor_renewed = voyage.work_ms(390, 5);
        Slips {
            box_exchanged: voyage.work_ms(480, 2),
            motor_dead: (START_MS + 400 * DAY_MS, START_MS + 421 * DAY_MS),
            zeroed_ms: voyage.out_at_sea_ms(200),
            unrecorded: voyage.work_ms(110, 3),
            motor_renewed,
            motor_recorded_ms: motor_renewed.0 + 3 * DAY_MS,
            digits_month: 2,
            swapped_month: 8,
            drop_outs_from_ms: END_MS - 40 * DAY_MS,
        }
    }
}

/// All that is invented.
pub struct Invented {
    /// The X-band radar and the S-band radar.
    pub stories: [Story; 2],
    /// Stays in port.
    pub stays: usize,
    /// Times the lights went out.
    pub blackouts: usize,
    /// When the X-band magnetron was renewed.
    pub renewed_ms: i64,
    /// What went wrong.
    pub slips: Slips,
}

impl Invented {
    /// Invents it all from one number.
    #[must_use]
    pub fn new(seed: u64) -> Invented {
        let mut random = fastrand::Rng::with_seed(seed);
        let voyage = Voyage::invent(&mut random);
        let renewal = voyage.work_ms(300, 3);
        let slips = Slips::invent(&voyage);
        let x_band = Radar::x_band(&voyage, renewal, &slips, &mut random);
        let s_band = Radar::s_band(&voyage, &slips, &mut random);
        Invented {
            stories: [x_band.tell(), s_band.tell()],
            stays: voyage.port.iter().filter(|(from, _)| *from < END_MS).count(),
            blackouts: voyage.blackouts.len(),
            renewed_ms: renewal.0,
            slips,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::Lines;

    #[test]
    fn every_number_invents_a_timeline_that_reads_as_one() {
        for seed in 0..30 {
            let invented = Invented::new(seed);
            for story in &invented.stories {
                let text = story.lines.to_csv();
                let read =
                    Lines::parse(text.as_bytes(), "lines.csv").unwrap_or_else(|e| panic!("seed {seed}: {e}"));
                assert_eq!(read, story.lines);
                assert_eq!(read.start_ms(), START_MS);
                assert!((read.end_ms() - END_MS).abs() < HOUR_MS, "seed {seed}");
                assert_eq!(story.readings.len(), if story.name == "X-band" { 18 } else { 36 });
            }
            assert!(invented.stays > 40 && invented.blackouts > 3, "seed {seed}");
            assert!(invented.renewed_ms > START_MS + 300 * DAY_MS, "seed {seed}");
        }
    }
}
