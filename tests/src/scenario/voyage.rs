//! Voyages, and what a radar does on them.

use super::track::Track;
use fastrand::Rng;

/// What the ship does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Under way.
    Sea,
    /// Alongside.
    Port,
    /// At anchor.
    Anchor,
    /// Laid up, nobody needs a radar.
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
}

/// Between two, evenly.
pub(super) fn within(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.f64()
}

/// A bell with this deviation, cut off at four of them.
pub(super) fn bell(rng: &mut Rng, deviation: f64) -> f64 {
    let u = rng.f64().max(1e-12);
    let bell = (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * rng.f64()).cos();
    bell.clamp(-4.0, 4.0) * deviation
}

/// Instants that come at a yearly rate.
pub(super) fn instants(rng: &mut Rng, from: f64, to: f64, per_year: f64) -> Vec<f64> {
    let mut all = Vec::new();
    let mut at = from;
    loop {
        at -= rng.f64().max(1e-12).ln() * 8_766.0 / per_year;
        if at >= to {
            break;
        }
        all.push(at);
    }
    all
}

/// A life of voyages in one of four trades.
pub(super) fn voyages(rng: &mut Rng, from: f64, to: f64) -> Vec<Stay> {
    let trade = rng.usize(..4);
    let mut stays = Vec::new();
    let mut at = from;
    let laid_up = match trade {
        3 => within(rng, from, to),
        _ => f64::INFINITY,
    };
    let mut was_laid_up = false;
    while at < to {
        let mut add = |mode, hours: f64| {
            stays.push(Stay { from: at, to: (at + hours).min(to), mode });
            at += hours;
        };
        match trade {
            0 => {
                add(Mode::Sea, within(rng, 24.0, 120.0));
                if rng.f64() < 0.2 {
                    add(Mode::Anchor, within(rng, 3.0, 30.0));
                }
                add(Mode::Port, within(rng, 12.0, 40.0));
            }
            1 | 3 => {
                add(Mode::Sea, within(rng, 120.0, 480.0));
                if rng.f64() < 0.6 {
                    add(Mode::Anchor, within(rng, 5.0, 240.0));
                }
                add(Mode::Port, within(rng, 40.0, 200.0));
            }
            _ => {
                for _ in 0..rng.usize(3..7) {
                    add(Mode::Sea, within(rng, 1.0, 6.0));
                    add(Mode::Port, within(rng, 0.5, 2.0));
                }
                add(Mode::Port, within(rng, 5.0, 10.0));
            }
        }
        if at > laid_up && !was_laid_up {
            was_laid_up = true;
            stays.push(Stay { from: at, to: (at + 720.0).min(to), mode: Mode::LaidUp });
            at += 720.0;
            let more = within(rng, 0.0, 3_600.0);
            stays.push(Stay { from: at, to: (at + more).min(to), mode: Mode::LaidUp });
            at += more;
        }
    }
    stays.retain(|stay| stay.to > stay.from);
    stays
}

/// How a crew works a radar.
#[derive(Clone, Copy, Debug)]
pub struct Habit {
    /// Share of the watch at sea that it transmits.
    pub transmits: f64,
    /// How often the scanner turns in standby.
    pub turns: f64,
    /// How often the breakers are opened in port.
    pub breakers: f64,
    /// Hours of one watch of transmitting, about.
    pub watch_h: f64,
}

impl Habit {
    /// One of many crews.
    pub(super) fn draw(rng: &mut Rng) -> Habit {
        Habit {
            transmits: within(rng, 0.25, 0.98),
            turns: within(rng, 0.5, 0.95),
            breakers: within(rng, 0.1, 0.9),
            watch_h: within(rng, 4.0, 30.0),
        }
    }
}

/// What the set's lines truly do: supply, heater, transmit, motor.
pub(super) fn duty(rng: &mut Rng, stays: &[Stay], habit: Habit) -> [Track; 4] {
    let mut lines: [Vec<(f64, f64)>; 4] = Default::default();
    for stay in stays {
        let (mut at, end) = (stay.from, stay.to);
        match stay.mode {
            Mode::Sea => {
                lines[0].push((at, end));
                lines[1].push((at, end));
                while at < end {
                    let watch = habit.watch_h * within(rng, 0.3, 1.7);
                    let to = (at + watch).min(end);
                    lines[2].push((at, to));
                    lines[3].push((at, to));
                    let rest = watch * (1.0 - habit.transmits) / habit.transmits;
                    let back = (to + rest).min(end);
                    if rng.f64() < habit.turns {
                        lines[3].push((to, back));
                    }
                    at = back.max(at + 0.05);
                }
            }
            Mode::Port | Mode::Anchor => {
                // The supply stays on but for some hours with the breakers open.
                let long = end - at > 3.0 && rng.f64() < habit.breakers;
                let off = if long { within(rng, at + 0.5, end - 1.0) } else { end };
                let on = if long { (off + within(rng, 0.5, 30.0)).min(end) } else { end };
                for (from, to) in [(at, off), (on, end)] {
                    lines[0].push((from, to));
                    // Standby at both ends of a stay, in a ferry's short stays all the time.
                    let standby = within(rng, 0.2, 3.0);
                    let anchored = stay.mode == Mode::Anchor;
                    let heater = if anchored { to } else { (from + standby).min(to) };
                    lines[1].push((from, heater));
                    if anchored {
                        let mut look = from + within(rng, 0.1, 4.0);
                        while look < to {
                            let seen = (look + within(rng, 0.2, 3.0)).min(to);
                            lines[2].push((look, seen));
                            lines[3].push((look, seen));
                            look = seen + within(rng, 2.0, 12.0);
                        }
                    } else if rng.f64() < habit.turns {
                        lines[3].push((from, heater));
                    }
                }
            }
            Mode::LaidUp => {
                // Someone tries the set now and then.
                for tried in instants(rng, at, end - 2.0, 12.0) {
                    let to = tried + within(rng, 0.3, 2.0);
                    lines[0].push((tried, to));
                    lines[1].push((tried, to));
                    lines[2].push((tried + 0.1, tried + 0.2));
                    lines[3].push((tried + 0.1, tried + 0.2));
                }
            }
        }
    }
    lines.map(Track::new)
}
