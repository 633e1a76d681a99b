//! A ship as she truly is before anything goes wrong: her voyages, her radars, her logger's feed, her officers' rounds
//! and the renewals that they did. Drawn from a seed alone.

use super::rounds::{renew, rounds};
use super::track::Track;
use super::voyage::{Habit, Stay, bell, duty, instants, voyages, within};
use fastrand::Rng;
use halfglass_protocol::config::Role;

/// Lines that a radar itself can count, in the order of the arrays here.
pub const COUNTED: [Role; 4] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];
/// Where the transmit line stands.
pub const TRANSMIT: usize = 2;
/// Hours of a year.
pub const YEAR_H: f64 = 8_766.0;

/// A ship.
#[derive(Clone, Debug)]
pub struct Ship {
    /// Her number: the same number is the same ship.
    pub seed: u64,
    /// Her papers begin, in hours; her logger at 0.
    pub start_h: f64,
    /// Now.
    pub end_h: f64,
    /// Her radars.
    pub radars: Vec<Radar>,
    /// Her voyages.
    pub stays: Vec<Stay>,
    /// When somebody copies the counters.
    pub rounds: Vec<Round>,
    /// Instants at which the log is pulled.
    pub pulls: Vec<f64>,
}

/// How a time is written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noted {
    /// To the minute, a few minutes off.
    Minute,
    /// To the quarter hour.
    Quarter,
    /// To the half hour.
    Half,
    /// Only the day.
    Day,
}

/// Counters copied on one occasion.
#[derive(Clone, Debug)]
pub struct Round {
    /// When, for the first radar; the next follow minutes later.
    pub at: f64,
    /// How the time is written down.
    pub noted: Noted,
    /// By how much the clock was misjudged, in hours.
    pub error_h: f64,
    /// Which counters of which radar are left out.
    pub skips: Vec<[bool; 4]>,
    /// Which radar's display showed which other transceiver, as is written down.
    pub shows: Option<(usize, usize)>,
}

/// A renewal as it truly was.
#[derive(Clone, Debug)]
pub struct Renewal {
    /// The work begins ...
    pub from: f64,
    /// ... and ends: the part is in.
    pub to: f64,
    /// Which part, by place.
    pub part: usize,
    /// It counts from here: the counter of the part's line is zeroed.
    pub zeroes: bool,
    /// Minutes from the end to the zeroing, in hours.
    pub zeroed_after_h: f64,
    /// The supply is off meanwhile.
    pub supply_off: bool,
    /// Hours that the part had run.
    pub used_h: Option<f64>,
    /// How the time is written down.
    pub noted: Noted,
    /// By how much the clock was misjudged, in hours.
    pub error_h: f64,
    /// The counter before is written down.
    pub tells_before: bool,
    /// The counter after is written down.
    pub tells_after: bool,
}

/// Service without a renewal, the scanner isolated.
#[derive(Clone, Copy, Debug)]
pub struct Service {
    /// Its beginning.
    pub from: f64,
    /// Its end.
    pub to: f64,
    /// It is written down.
    pub recorded: bool,
}

/// A part that wears.
#[derive(Clone, Copy, Debug)]
pub struct Part {
    /// What it is.
    pub name: &'static str,
    /// Which line ages it, by place.
    pub ages_by: usize,
    /// It sits at the scanner.
    pub needs_aloft: bool,
}

/// A radar.
#[derive(Clone, Debug)]
pub struct Radar {
    /// Its name.
    pub name: String,
    /// What its lines do while nobody works on it.
    pub duty: [Track; 4],
    /// Which of supply, heater, transmit, motor and isolated the logger sees.
    pub wired: [bool; 5],
    /// The logger is fed from the radar's supply.
    pub fed: bool,
    /// The logger always knows the time.
    pub has_clock: bool,
    /// What the counters resolve.
    pub step_h: f64,
    /// Which lines it counts.
    pub counts: [bool; 4],
    /// What the counters stood at when the papers begin.
    pub stood_h: [f64; 4],
    /// When the ship had no power: radar and logger both off.
    pub blackouts: Track,
    /// When the logger alone had none: its feed, its exchange.
    pub unfed: Track,
    /// When the history was overwritten before it was pulled.
    pub overwritten: Track,
    /// The logger's clock runs fast by this share.
    pub drift: f64,
    /// Its parts.
    pub parts: Vec<Part>,
    /// Renewals, by time.
    pub renewals: Vec<Renewal>,
    /// Service, by time.
    pub services: Vec<Service>,
}

impl Ship {
    /// The ship of this number.
    #[must_use]
    pub fn draw(seed: u64) -> Ship {
        let mut rng = Rng::with_seed(seed ^ 0x5eed_0001);
        let years = within(&mut rng, 1.0, 5.0);
        Ship::with_years(seed, years, &mut rng)
    }

    /// One with two radars and five years, for timing.
    #[must_use]
    pub fn of_five_years(seed: u64) -> Ship {
        loop_until(seed, |seed| {
            let ship = Ship::with_years(seed, 5.0, &mut Rng::with_seed(seed ^ 0x5eed_0001));
            (ship.radars.len() == 2).then_some(ship)
        })
    }

    /// Years that her logger has run.
    #[must_use]
    pub fn years(&self) -> f64 {
        self.end_h / YEAR_H
    }

    fn with_years(seed: u64, years: f64, rng: &mut Rng) -> Ship {
        let start_h = if rng.bool() { 0.0 } else { -within(rng, 2_000.0, 13_000.0) };
        let end_h = years * YEAR_H;
        let stays = voyages(rng, start_h, end_h);
        let number = match rng.f64() {
            draw if draw < 0.35 => 1,
            draw if draw < 0.9 => 2,
            _ => 3,
        };
        let blackouts = instants(rng, start_h, end_h, 8.0)
            .into_iter()
            .map(|at| (at, at + (bell(rng, 1.8) - 3.5).exp().clamp(0.002, 30.0)))
            .collect();
        let blackouts = Track::new(blackouts);
        let radars: Vec<Radar> =
            (0..number).map(|place| radar(rng, place, &stays, &blackouts, start_h, end_h)).collect();
        let rounds = rounds(rng, &radars, start_h, end_h);
        let mut pulls = vec![0.1, end_h];
        for round in &rounds {
            if rng.f64() < 0.7 {
                pulls.push(round.at + within(rng, -0.3, 1.0));
            }
        }
        pulls.retain(|at| (0.0..=end_h).contains(at));
        pulls.sort_by(f64::total_cmp);
        Ship { seed, start_h, end_h, radars, stays, rounds, pulls }
    }
}

fn loop_until<T>(seed: u64, draw: impl Fn(u64) -> Option<T>) -> T {
    let mut tried = seed;
    loop {
        if let Some(found) = draw(tried) {
            return found;
        }
        tried = tried.wrapping_add(0x9e37_79b9_7f4a_7c15);
    }
}

fn radar(rng: &mut Rng, place: usize, stays: &[Stay], blackouts: &Track, from: f64, end: f64) -> Radar {
    let habit = Habit::draw(rng);
    let duty = duty(rng, stays, habit).map(|line| line.minus(blackouts));
    let wired = [rng.f64() < 0.8, rng.f64() < 0.9, true, rng.f64() < 0.7, rng.f64() < 0.8];
    let counts = [rng.f64() < 0.3, rng.f64() < 0.6, true, rng.f64() < 0.4];
    let stood_h = std::array::from_fn(|_| within(rng, 50.0, 18_000.0));
    let mut parts = vec![
        Part { name: "magnetron", ages_by: TRANSMIT, needs_aloft: true },
        Part { name: "scanner motor", ages_by: 3, needs_aloft: true },
    ];
    if rng.f64() < 0.3 {
        parts.push(Part { name: "modulator", ages_by: 1, needs_aloft: false });
    }
    // A logger that lives on the radar's supply has no feed of its own to lose.
    let fed = rng.f64() < 0.4;
    let mut unfed = Vec::new();
    for at in instants(rng, 0.0, end, if fed { 0.0 } else { 3.0 }) {
        unfed.push((at, at + within(rng, 0.002, 0.5)));
    }
    for exchanged in instants(rng, 0.0, end, if fed { 0.0 } else { 0.03 }) {
        unfed.push((exchanged, exchanged + within(rng, 0.3, 6.0)));
    }
    let mut overwritten = Vec::new();
    // What is youngest is never overwritten.
    for at in instants(rng, 24.0, end - 2_400.0, 0.1) {
        overwritten.push((at, at + within(rng, 300.0, 1_500.0)));
    }
    let mut radar = Radar {
        name: ["X-band", "S-band", "third"][place].to_owned(),
        duty,
        wired,
        fed,
        has_clock: rng.bool(),
        step_h: if rng.f64() < 0.75 { 1.0 } else { 0.1 },
        counts,
        stood_h,
        blackouts: blackouts.clone(),
        unfed: Track::new(unfed),
        overwritten: Track::new(overwritten),
        drift: bell(rng, 20e-6),
        parts,
        renewals: Vec::new(),
        services: Vec::new(),
    };
    renew(rng, &mut radar, stays, from, end);
    radar
}
