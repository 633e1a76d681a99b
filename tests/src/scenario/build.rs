//! From a ship and what went wrong to the facts that the room is told, and the truth beside them.

use super::counter::Counter;
use super::event::Event;
use super::logger;
use super::papers;
use super::ship::Ship;
use super::track::Track;
use halfglass::reconcile::{Facts, Part, Radar};

/// Facts and the truth behind them.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// The ship.
    pub ship: Ship,
    /// What went wrong.
    pub events: Vec<Event>,
    /// What the room is told.
    pub facts: Facts,
    /// True lines of each radar: supply, heater, transmit, motor, isolated.
    pub truths: Vec<[Track; 5]>,
    /// The radars' counters.
    pub counters: Vec<Vec<Counter>>,
}

impl Scenario {
    /// This ship with these events.
    #[must_use]
    pub fn build(ship: Ship, events: Vec<Event>) -> Scenario {
        let places = 0..ship.radars.len();
        let truths: Vec<[Track; 5]> = places.clone().map(|place| truth(&ship, place, &events)).collect();
        let counters: Vec<Vec<Counter>> = places
            .clone()
            .map(|place| {
                (0..4).map(|line| Counter::of(&ship, place, line, &truths[place], &events)).collect()
            })
            .collect();
        let radars = places
            .map(|place| {
                let radar = &ship.radars[place];
                Radar {
                    name: radar.name.clone(),
                    step_h: radar.step_h,
                    fed_from_radar: radar.fed,
                    log: logger::log(&ship, place, &truths[place], &events),
                    readings: papers::readings(&ship, place, &truths, &counters, &events),
                    fittings: papers::fittings(&ship, place, &truths[place], &counters[place], &events),
                    works: papers::works(&ship, place),
                    parts: radar
                        .parts
                        .iter()
                        .map(|part| Part {
                            name: part.name.to_owned(),
                            ages_by: super::ship::COUNTED[part.ages_by],
                            needs_aloft: part.needs_aloft,
                        })
                        .collect(),
                }
            })
            .collect();
        let facts = Facts { as_of_ms: logger::ms(ship.end_h) + 60_000, radars };
        Scenario { ship, events, facts, truths, counters }
    }

    /// Hours that a part as last fitted has truly run; `None`: never fitted in these papers.
    #[must_use]
    pub fn part_hours(&self, place: usize, part: usize) -> Option<f64> {
        let radar = &self.ship.radars[place];
        let done = radar.renewals.iter().rev().find(|done| done.part == part)?;
        let line = &self.truths[place][radar.parts[part].ages_by];
        Some(done.used_h.unwrap_or(0.0) + line.between(done.to, self.ship.end_h))
    }
}

/// How long a set is on after a renewal, at least.
const TRIED_H: f64 = 0.75;

/// What the lines truly did, work included.
fn truth(ship: &Ship, place: usize, events: &[Event]) -> [Track; 5] {
    let radar = &ship.radars[place];
    let mut isolated = Vec::new();
    let (mut off, mut cold) = (Vec::new(), Vec::new());
    for done in &radar.renewals {
        // Nobody works inside a set that is in standby.
        cold.push((done.from, done.to));
        if radar.parts[done.part].needs_aloft {
            isolated.push((done.from, done.to));
        }
        if done.supply_off {
            off.push((done.from, done.to));
        }
    }
    isolated.extend(radar.services.iter().map(|service| (service.from, service.to)));
    for event in events {
        match *event {
            Event::Exchanged { radar, off: without, .. } if radar == place => off.push(without),
            Event::Unrecorded { radar, from, to, .. } if radar == place => isolated.push((from, to)),
            _ => {}
        }
    }
    let isolated = Track::new(isolated);
    let off = Track::new(off);
    let cold = Track::new(cold).or(&off);
    let still = isolated.or(&cold);
    let [supply, heater, transmit, motor] = &radar.duty;
    // After a renewal the set is tried: then a counter can be zeroed.
    let tried = radar.renewals.iter().map(|done| (done.to, done.to + TRIED_H)).collect();
    let tried = Track::new(tried).minus(&radar.blackouts);
    let off = off.minus(&tried);
    [
        supply.or(&tried).minus(&off),
        heater.or(&tried).minus(&cold),
        transmit.minus(&still),
        motor.minus(&still),
        isolated,
    ]
}
