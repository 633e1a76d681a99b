//! What the officers wrote down: readings, fittings, work.

use super::counter::Counter;
use super::event::Event;
use super::logger::ms;
use super::ship::{COUNTED, Noted, Ship};
use super::track::Track;
use fastrand::Rng;
use halfglass::reconcile::{Fitting, Reading, When, Work};

const MINUTE_MS: i64 = 60_000;
const DAY_MS: i64 = 86_400_000;

/// A time as it is written down.
pub(super) fn written(at: f64, noted: Noted, error_h: f64) -> When {
    let nearest = |grid_ms: i64| {
        let rounded = (ms(at + error_h) + grid_ms / 2).div_euclid(grid_ms) * grid_ms;
        When { lo_ms: rounded, hi_ms: rounded }
    };
    match noted {
        Noted::Minute => nearest(MINUTE_MS),
        Noted::Quarter => nearest(15 * MINUTE_MS),
        Noted::Half => nearest(30 * MINUTE_MS),
        Noted::Day => {
            let from = ms(at).div_euclid(DAY_MS) * DAY_MS;
            When { lo_ms: from, hi_ms: from + DAY_MS }
        }
    }
}

/// When a radar's counters are truly read on a round: its display needs the supply.
#[must_use]
pub fn read_at(ship: &Ship, round: usize, place: usize, supply: &Track) -> f64 {
    let wished = ship.rounds[round].at + place as f64 * 0.12;
    supply.nearest_on(wished).unwrap_or(wished).min(ship.end_h)
}

/// Whether a counter is copied on a round.
#[must_use]
pub fn is_read(ship: &Ship, round: usize, place: usize, line: usize) -> bool {
    ship.radars[place].counts[line] && !ship.rounds[round].skips[place][line]
}

/// The readings of a radar; `counters` and `truths` are those of the whole ship.
pub(super) fn readings(
    ship: &Ship,
    place: usize,
    truths: &[[Track; 5]],
    counters: &[Vec<Counter>],
    events: &[Event],
) -> Vec<Reading> {
    let mut all = Vec::new();
    for (which, round) in ship.rounds.iter().enumerate() {
        let at = read_at(ship, which, place, &truths[place][0]);
        let when = written(at, round.noted, round.error_h);
        let written_source = round.shows.filter(|(shown, _)| *shown == place).map(|(_, other)| other);
        let mut shown_of = written_source.unwrap_or(place);
        for event in events {
            match *event {
                Event::OtherSource { radar, round, other } if (radar, round) == (place, which) => {
                    shown_of = other;
                }
                _ => {}
            }
        }
        let shows = |place: usize, line: usize, at: f64| counters[place][line].shows(at);
        for (line, quantity) in COUNTED.into_iter().enumerate() {
            if !is_read(ship, which, place, line) || !ship.radars[shown_of].counts[line] {
                continue;
            }
            let mut figure = shows(shown_of, line, at);
            for event in events {
                figure = slipped(ship, (place, which, line), at, figure, event, truths, &shows);
            }
            all.push(Reading {
                id: (place as i64) * 1_000_000 + (which as i64) * 10 + line as i64,
                at: when,
                quantity,
                hours: figure,
                source: written_source.map(|other| ship.radars[other].name.clone()),
            });
        }
    }
    // A round whose day is given stands where its day begins, a sharp time where it is: by time, as facts are.
    all.sort_by_key(|reading| (reading.at.lo_ms, reading.at.hi_ms));
    all
}

/// A figure after what befell it.
fn slipped(
    ship: &Ship,
    (place, which, line): (usize, usize, usize),
    at: f64,
    figure: f64,
    event: &Event,
    truths: &[[Track; 5]],
    shows: &dyn Fn(usize, usize, f64) -> f64,
) -> f64 {
    match *event {
        Event::Slip { radar, round, line: of, how } if (radar, round, of) == (place, which, line) => {
            slip(figure, ship.radars[place].step_h, how)
        }
        Event::Off { radar, round, line: of, share } if (radar, round, of) == (place, which, line) => {
            let read = |before| read_at(ship, before, place, &truths[place][0]);
            let before = round.checked_sub(1).map_or(at - 168.0, read);
            (figure + (share * (at - before)).round()).max(0.0)
        }
        Event::Impossible { radar, round, line: of, figure }
            if (radar, round, of) == (place, which, line) =>
        {
            figure
        }
        Event::QuantitiesSwapped { radar, round, lines } if (radar, round) == (place, which) => match lines {
            (a, b) if line == a => shows(place, b, at),
            (a, b) if line == b => shows(place, a, at),
            _ => figure,
        },
        Event::RadarsSwapped { radars, round, line: of } if (round, of) == (which, line) => {
            let other = match radars {
                (a, b) if place == a => b,
                (a, b) if place == b => a,
                _ => return figure,
            };
            shows(other, line, read_at(ship, round, other, &truths[other][0]))
        }
        _ => figure,
    }
}

/// A figure with a slip of a digit; tenths slip too where a counter shows them.
#[must_use]
pub fn slip(figure: f64, step_h: f64, how: u64) -> f64 {
    let mut rng = Rng::with_seed(how);
    let per_hour = (1.0 / step_h).round();
    let digits: Vec<u8> = format!("{}", (figure * per_hour).round() as i64).into_bytes();
    for _ in 0..50 {
        let mut slipped = digits.clone();
        let draw = rng.f64();
        let at = rng.usize(..digits.len());
        if draw < super::rates::SLIP_SWAPS {
            if at + 1 < digits.len() {
                slipped.swap(at, at + 1);
            }
        } else if draw < super::rates::SLIP_SWAPS + super::rates::SLIP_WRONG {
            slipped[at] = b'0' + rng.u8(0..10);
        } else if rng.bool() && digits.len() > 1 {
            slipped.remove(at);
        } else {
            slipped.insert(at, digits[at]);
        }
        if slipped != digits {
            let read: f64 = String::from_utf8(slipped).ok().and_then(|text| text.parse().ok()).unwrap_or(0.0);
            return read / per_hour;
        }
    }
    figure
}

/// The fittings of a radar.
pub(super) fn fittings(
    ship: &Ship,
    place: usize,
    truth: &[Track; 5],
    counters: &[Counter],
    events: &[Event],
) -> Vec<Fitting> {
    let radar = &ship.radars[place];
    let mut all = Vec::new();
    for (which, done) in radar.renewals.iter().enumerate() {
        let part = radar.parts[done.part];
        let (mut off_h, mut disturbed) = (0.0, false);
        for event in events {
            match *event {
                Event::Misdated { radar, renewal, off_h: off, whole }
                    if (radar, renewal) == (place, which) =>
                {
                    disturbed = true;
                    off_h = if whole { off } else { 0.0 };
                }
                Event::NotZeroed { radar, renewal } | Event::Contradicted { radar, renewal }
                    if (radar, renewal) == (place, which) =>
                {
                    disturbed = true;
                }
                _ => {}
            }
        }
        let counted = radar.counts[part.ages_by];
        let before = truth[0].nearest_on(done.from).unwrap_or(done.from).min(done.from);
        let zeroed = super::counter::zeroed_at(radar, which, place, truth, events);
        let after = zeroed.unwrap_or(done.to).max(done.to) + 0.01;
        let shows = |at: f64| counters[part.ages_by].shows(at);
        all.push(Fitting {
            id: (place as i64) * 1_000 + which as i64,
            at: written((done.to - off_h).clamp(ship.start_h, ship.end_h), done.noted, done.error_h),
            part: part.name.to_owned(),
            serial: format!("{}-{which}", radar.name),
            counter_zeroed: done.zeroes,
            zeroed_at: None,
            counter_before_h: (done.tells_before && counted).then(|| shows(before)),
            // Who writes the figure after it sees whether the counter was zeroed: so not where the record errs.
            counter_after_h: (done.tells_after && counted && !disturbed).then(|| shows(after)),
            hours_at_fit_h: done.used_h,
        });
    }
    all.sort_by_key(|fitting| (fitting.at.lo_ms, fitting.at.hi_ms));
    all
}

/// Work without a renewal.
pub(super) fn works(ship: &Ship, place: usize) -> Vec<Work> {
    let radar = &ship.radars[place];
    let recorded = radar.services.iter().enumerate().filter(|(_, service)| service.recorded);
    let sharp = |at: f64| written(at, Noted::Minute, 0.0);
    recorded
        .map(|(which, service)| Work {
            id: (place as i64) * 1_000 + 500 + which as i64,
            from: sharp(service.from),
            to: sharp(service.to),
        })
        .collect()
}
