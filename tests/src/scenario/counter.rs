//! A radar's own hour counter: which line it follows, what it was set to and when, and what it shows.

use super::event::Event;
use super::ship::{Radar, Ship, TRANSMIT};
use super::track::Track;

/// A counter through the years.
#[derive(Clone, Debug)]
pub struct Counter {
    follows: Track,
    ratio: f64,
    /// What it stands at from when on, by time.
    set: Vec<(f64, f64)>,
    /// From when on its figures are so many times the hours.
    units: Option<(f64, f64)>,
    step_h: f64,
}

impl Counter {
    /// The counter of a line, with these true lines.
    #[must_use]
    pub fn of(ship: &Ship, place: usize, line: usize, truth: &[Track; 5], events: &[Event]) -> Counter {
        let radar = &ship.radars[place];
        let mut follows = line;
        let mut counter = Counter {
            follows: Track::default(),
            ratio: 1.0,
            set: vec![(ship.start_h, radar.stood_h[line])],
            units: None,
            step_h: radar.step_h,
        };
        for (which, done) in radar.renewals.iter().enumerate() {
            if radar.parts[done.part].ages_by != line {
                continue;
            }
            if let Some(at) = zeroed_at(radar, which, place, truth, events) {
                counter.set.push((at, 0.0));
            }
        }
        for event in events {
            match *event {
                Event::Zeroed { radar, line: zeroed, at } if (radar, zeroed) == (place, line) => {
                    counter.set.push((at, 0.0));
                }
                Event::Exchanged { radar, off, figures } if radar == place => {
                    counter.set.push((off.1, figures[line]));
                }
                Event::Unrecorded { radar, to, zeroes: true, .. } if (radar, line) == (place, TRANSMIT) => {
                    counter.set.push((truth[0].nearest_on(to + 0.1).unwrap_or(to), 0.0));
                }
                Event::OtherLine { radar, counts } if (radar, line) == (place, TRANSMIT) => follows = counts,
                Event::Rate { radar, line: slow, ratio } if (radar, slow) == (place, line) => {
                    counter.ratio = ratio;
                }
                Event::Units { radar, line: told, from, factor } if (radar, told) == (place, line) => {
                    counter.units = Some((from, factor));
                }
                _ => {}
            }
        }
        counter.set.sort_by(|a, b| a.0.total_cmp(&b.0));
        counter.follows = truth[follows].clone();
        counter
    }

    /// What it truly stands at, in hours.
    #[must_use]
    pub fn stands_at(&self, at: f64) -> f64 {
        let last = self.set.partition_point(|(since, _)| *since <= at).max(1) - 1;
        let (since, figure) = self.set[last];
        figure + self.ratio * self.follows.between(since, at)
    }

    /// What an officer copies.
    #[must_use]
    pub fn shows(&self, at: f64) -> f64 {
        let stands = self.stands_at(at);
        match self.units {
            Some((from, factor)) if at >= from => self.floored(stands * factor),
            _ => self.floored(stands),
        }
    }

    /// In whole steps, without the dust of binary fractions.
    fn floored(&self, figure: f64) -> f64 {
        let per_hour = (1.0 / self.step_h).round();
        (figure * per_hour + 1e-6).floor() / per_hour
    }
}

/// When the counter was truly zeroed for a renewal.
#[must_use]
pub fn zeroed_at(
    radar: &Radar,
    which: usize,
    place: usize,
    truth: &[Track; 5],
    events: &[Event],
) -> Option<f64> {
    let done = &radar.renewals[which];
    let mut zeroes = done.zeroes;
    let mut off_h = 0.0;
    for event in events {
        match *event {
            Event::NotZeroed { radar, renewal } if (radar, renewal) == (place, which) => zeroes = false,
            Event::Contradicted { radar, renewal } if (radar, renewal) == (place, which) => zeroes = true,
            Event::Misdated { radar, renewal, off_h: off, whole: false }
                if (radar, renewal) == (place, which) =>
            {
                off_h = off;
            }
            _ => {}
        }
    }
    let wished = done.to + done.zeroed_after_h + off_h;
    // A service menu needs the supply.
    zeroes.then(|| truth[0].nearest_on(wished)).flatten()
}
