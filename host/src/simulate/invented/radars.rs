//! What one radar did on the invented voyage.

use super::counter::{Counter, slipped};
use super::spans::{self, Span};
use super::{BOX_H, DAY_MS, END_MS, HOUR_MS, MINUTE_MS, SECOND_MS, START_MS, Slips, Voyage};
use crate::simulate::lines::{Lines, Row, What};

/// Shorter stretches than this do not happen: nobody switches that fast.
const LEAST_MS: i64 = 2 * MINUTE_MS;

/// The set's stated warm-up: invented, as everything here.
pub const WARM_UP_S: u16 = 180;

/// What the first S-band scanner motor had run when the logger was put in, in hours.
pub(super) const MOTOR_H: i64 = 3105;

/// What became of one radar, as its logger and its officer saw it.
pub struct Story {
    /// What the crew call it.
    pub name: &'static str,
    /// Its logger.
    pub device_id: u64,
    /// For the simulated logger.
    pub lines: Lines,
    /// What the officer copied from the radar's own counters.
    pub readings: Vec<Written>,
    /// What the transmit counter showed just before the magnetron was renewed, in whole hours.
    pub before_renewal_h: Option<i64>,
}

/// A figure as the officer wrote it down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// When, UTC, in milliseconds since 1970.
    pub at_ms: i64,
    /// Which counter.
    pub quantity: &'static str,
    /// What was written, in whole hours.
    pub hours: i64,
}

/// When each line was on.
pub(super) struct Radar {
    name: &'static str,
    device_id: u64,
    supply: Vec<Span>,
    heater: Vec<Span>,
    transmit: Vec<Span>,
    isolated: Vec<Span>,
    /// When the logger's own feed was there.
    feed: Vec<Span>,
    /// When the logger's motor line was off its terminal.
    motor_dead: Span,
    /// When the tube lost its transmission for some seconds.
    drop_outs: Vec<Span>,
    /// When the magnetron is renewed.
    renewed_ms: Option<i64>,
    /// When the transmit counter was set to which figure, in hours.
    transmit_set: Vec<(i64, i64)>,
    /// When the motor counter was; empty: nobody reads it.
    motor_set: Vec<(i64, i64)>,
    /// The month in which two digits of the transmit reading change places.
    digits_month: Option<usize>,
    /// The month in which the two readings change places.
    swapped_month: Option<usize>,
    /// When the officer comes to this radar, after the full hour.
    round_ms: i64,
}

impl Radar {
    /// On the air whenever she is at sea but for short rests; its logger hangs on the emergency supply.
    pub(super) fn x_band(voyage: &Voyage, renewal: Span, slips: &Slips, random: &mut fastrand::Rng) -> Radar {
        let mut transmit = on_watch(voyage);
        for _ in 0..700 {
            let from_ms = random.i64(START_MS..END_MS);
            let rest = (from_ms, from_ms + random.i64(5 * MINUTE_MS..50 * MINUTE_MS));
            transmit = spans::without(&transmit, rest, LEAST_MS);
        }
        let supply = spans::without(&always(), (renewal.0 - HOUR_MS / 2, renewal.1 + HOUR_MS / 2), 0);
        let supply = spans::without(&supply, slips.box_exchanged, 0);
        let mut feed = always();
        for _ in 0..4 {
            // The emergency switchboard is tested in port.
            let (from, to) = voyage.port[random.usize(1..voyage.port.len() - 1)];
            let at_ms = from + (to - from) / 3;
            feed = spans::without(&feed, (at_ms, at_ms + random.i64(10 * MINUTE_MS..40 * MINUTE_MS)), 0);
        }
        let radar = Radar {
            name: "X-band",
            device_id: 0x3f9c_11d2_a07b_e458,
            supply,
            heater: heated(voyage),
            transmit,
            isolated: vec![renewal],
            feed,
            motor_dead: slips.motor_dead,
            drop_outs: Vec::new(),
            renewed_ms: Some(renewal.0),
            transmit_set: vec![(START_MS, 0), (renewal.0, 0), (slips.box_exchanged.0, BOX_H)],
            motor_set: Vec::new(),
            digits_month: Some(slips.digits_month),
            swapped_month: None,
            round_ms: 0,
        };
        radar.through_blackouts(voyage)
    }

    /// On the air near the coast and on some watches; switched off at its breaker in long stays, its logger with it.
    pub(super) fn s_band(voyage: &Voyage, slips: &Slips, random: &mut fastrand::Rng) -> Radar {
        let mut transmit = on_watch(voyage);
        for &(from, to) in &voyage.sea {
            let (mut at_ms, open_to) = (from + 10 * HOUR_MS, to - 10 * HOUR_MS);
            while at_ms < open_to {
                let watch = (at_ms, (at_ms + 4 * HOUR_MS).min(open_to));
                if random.f64() < 0.66 {
                    transmit = spans::without(&transmit, watch, LEAST_MS);
                }
                at_ms = watch.1;
            }
        }
        let mut supply = always();
        // With the supply left on: the logger sees it.
        let mut isolated = vec![slips.unrecorded, slips.motor_renewed];
        let works = isolated.clone();
        let free = |(from, to): &&Span| {
            to - from > 20 * HOUR_MS && !works.iter().any(|work| *from <= work.0 && work.0 < *to)
        };
        for &(from, to) in voyage.port.iter().filter(free) {
            match random.u32(0..10) {
                0..4 => supply = spans::without(&supply, (from + 3 * HOUR_MS, to - 2 * HOUR_MS), 0),
                // Grease for the gearbox.
                4 => isolated.push((from + 5 * HOUR_MS, from + 5 * HOUR_MS + 16 * MINUTE_MS)),
                _ => {}
            }
        }
        isolated.sort_unstable();
        let feed = supply.clone();
        let mut drop_outs = Vec::new();
        for day in 0..(END_MS - slips.drop_outs_from_ms) / DAY_MS {
            let at_ms = slips.drop_outs_from_ms + day * DAY_MS + random.i64(0..DAY_MS);
            drop_outs.push((at_ms, at_ms + random.i64(2 * SECOND_MS..8 * SECOND_MS)));
        }
        let radar = Radar {
            name: "S-band",
            device_id: 0x71c0_5be2_4d19_a36f,
            supply,
            heater: heated(voyage),
            transmit,
            isolated: spans::within(&isolated, &[(START_MS, END_MS)], LEAST_MS),
            feed,
            motor_dead: (START_MS, START_MS),
            drop_outs,
            renewed_ms: None,
            transmit_set: vec![(START_MS, 0), (slips.zeroed_ms, 0)],
            motor_set: vec![(START_MS, MOTOR_H), (slips.motor_renewed.0, 0)],
            digits_month: None,
            swapped_month: Some(slips.swapped_month),
            round_ms: 12 * MINUTE_MS,
        };
        radar.through_blackouts(voyage)
    }

    /// A blackout takes everything; the set comes back by itself, and goes on the air when it has warmed up.
    fn through_blackouts(mut self, voyage: &Voyage) -> Radar {
        for &(from, to) in &voyage.blackouts {
            self.supply = spans::without(&self.supply, (from, to), 0);
            self.feed = spans::without(&self.feed, (from, to), 0);
            self.heater = spans::without(&self.heater, (from, to + 2 * SECOND_MS), 0);
            let warm_ms = i64::from(WARM_UP_S) * SECOND_MS + MINUTE_MS;
            self.transmit = spans::without(&self.transmit, (from, to + warm_ms), LEAST_MS);
        }
        // transmit implies heater implies supply
        self.heater = spans::within(&self.heater, &self.supply, LEAST_MS);
        self.transmit = spans::within(&self.transmit, &self.heater, LEAST_MS);
        self
    }

    /// The scanner turns a few seconds before transmitting begins and after it ends, where the supply lets it.
    fn motor(&self) -> Vec<Span> {
        let turning: Vec<Span> =
            self.transmit.iter().map(|(from, to)| (from - 5 * SECOND_MS, to + 3 * SECOND_MS)).collect();
        spans::within(&turning, &self.supply, LEAST_MS)
    }

    pub(super) fn tell(&self) -> Story {
        let motor = self.motor();
        let transmit_seen = self.drop_outs.iter().fold(self.transmit.clone(), |transmit, hole| {
            // A drop-out at the edge of a transmission is none.
            let well_inside = |(from, to): &Span| from + LEAST_MS < hole.0 && hole.1 + LEAST_MS < *to;
            if transmit.iter().any(well_inside) {
                spans::without(&transmit, *hole, LEAST_MS)
            } else {
                transmit
            }
        });
        let motor_seen = spans::without(&motor, self.motor_dead, LEAST_MS);
        let mut rows = Vec::new();
        let lines = [&self.supply, &self.heater, &transmit_seen, &motor_seen, &self.isolated];
        for (input, line) in (0..).zip(lines) {
            for &(from, to) in line {
                rows.push(Row { at_ms: from, what: What::Line { input, on: true } });
                rows.push(Row { at_ms: to, what: What::Line { input, on: false } });
            }
        }
        for &(from, to) in &self.feed {
            // Power starts on.
            if from > START_MS {
                rows.push(Row { at_ms: from, what: What::Power(true) });
            }
            rows.push(Row { at_ms: to, what: What::Power(false) });
        }
        rows.extend(self.pulls().iter().map(|at_ms| Row { at_ms: *at_ms, what: What::Pull }));
        let end_ms = END_MS + self.round_ms;
        rows.retain(|row| row.at_ms < end_ms);
        rows.push(Row { at_ms: end_ms, what: What::Pull });
        rows.sort_by_key(|row| (row.at_ms, matches!(row.what, What::Pull)));
        let transmit = Counter { quantity: "transmit", on: &self.transmit, set: self.transmit_set.clone() };
        let turned = Counter { quantity: "motor", on: &motor, set: self.motor_set.clone() };
        Story {
            name: self.name,
            device_id: self.device_id,
            lines: Lines { rows },
            readings: self.written(&transmit, &turned),
            before_renewal_h: self.renewed_ms.map(|at_ms| transmit.shows_h(at_ms)),
        }
    }

    /// What the officer wrote down, month by month.
    fn written(&self, transmit: &Counter<'_>, motor: &Counter<'_>) -> Vec<Written> {
        let rounds = super::months_ms().chain([END_MS]).map(|month_ms| month_ms + self.round_ms);
        let mut written = Vec::new();
        for (month, at_ms) in rounds.enumerate() {
            let read = |counter: &Counter<'_>| Written {
                at_ms,
                quantity: counter.quantity,
                hours: counter.shows_h(at_ms),
            };
            let mut first = read(transmit);
            if self.digits_month == Some(month) {
                first.hours = slipped(first.hours);
            }
            if motor.set.is_empty() {
                written.push(first);
                continue;
            }
            let mut second = read(motor);
            if self.swapped_month == Some(month) {
                std::mem::swap(&mut first.hours, &mut second.hours);
            }
            written.extend([first, second]);
        }
        written
    }

    /// At commissioning, once a month, and before the renewal.
    fn pulls(&self) -> Vec<i64> {
        let months = super::months_ms().map(|month_ms| month_ms + self.round_ms);
        let before_renewal = self.renewed_ms.map(|renewed_ms| renewed_ms - 2 * HOUR_MS);
        [START_MS + 4 * HOUR_MS + self.round_ms].into_iter().chain(months).chain(before_renewal).collect()
    }
}

fn always() -> Vec<Span> {
    vec![(START_MS, END_MS + DAY_MS)]
}

/// From forty minutes before sailing until half an hour after berthing.
fn on_watch(voyage: &Voyage) -> Vec<Span> {
    voyage.sea.iter().map(|(from, to)| (from - 40 * MINUTE_MS, to + 30 * MINUTE_MS)).collect()
}

/// In standby from an hour before sailing until an hour and a quarter after berthing.
fn heated(voyage: &Voyage) -> Vec<Span> {
    voyage.sea.iter().map(|(from, to)| (from - HOUR_MS, to + 75 * MINUTE_MS)).collect()
}
