//! What goes wrong on a ship: at the declared rates, or one thing of a chosen kind.

use super::event::Event;
use super::papers::{is_read, read_at};
use super::rates;
use super::ship::{Ship, TRANSMIT};
use super::voyage::{Mode, instants, within};
use fastrand::Rng;
use halfglass::reconcile::Kind;

const WEEK_H: f64 = 168.0;
const DAY_H: f64 = 24.0;
/// Readings of one occasion lie no further apart.
const ONE_OCCASION_H: f64 = 6.0;

/// What goes wrong at the declared rates.
#[must_use]
pub fn at_base_rates(ship: &Ship) -> Vec<Event> {
    let mut rng = Rng::with_seed(ship.seed ^ 0xba5e_4a7e);
    let rng = &mut rng;
    let mut events = Vec::new();
    let (from, end) = (ship.start_h, ship.end_h);
    for place in 0..ship.radars.len() {
        let radar = &ship.radars[place];
        let counted: Vec<usize> = (0..4).filter(|line| radar.counts[*line]).collect();
        for line in &counted {
            for at in instants(rng, from, end, rates::ZEROED_WITHOUT_FITTING) {
                events.extend(zeroed(ship, place, *line, at));
            }
            if *line == TRANSMIT && rng.f64() < rates::COUNTS_OTHER_LINE {
                events.push(other_line(rng, place));
            } else if rng.f64() < rates::COUNTER_RATE {
                events.push(Event::Rate { radar: place, line: *line, ratio: ratio(rng) });
            }
            if let Some(at) = instants(rng, from, end, rates::COUNTER_UNITS).first() {
                events.push(units(rng, place, *line, *at));
            }
        }
        for at in instants(rng, from, end - DAY_H, rates::COUNTER_EXCHANGED) {
            events.push(exchanged(rng, ship, place, at));
        }
        for (which, done) in radar.renewals.iter().enumerate() {
            let draw = rng.f64();
            if done.zeroes && draw < rates::FITTED_WITHOUT_ZEROING {
                events.push(Event::NotZeroed { radar: place, renewal: which });
            } else if done.zeroes && draw < rates::FITTED_WITHOUT_ZEROING + rates::FITTING_MISDATED {
                events.push(misdated(rng, place, which));
            } else if !done.zeroes
                && radar.counts[radar.parts[done.part].ages_by]
                && draw < rates::RECORD_CONTRADICTED
            {
                events.push(Event::Contradicted { radar: place, renewal: which });
            }
        }
        for round in 0..ship.rounds.len() {
            for line in &counted {
                if !is_read(ship, round, place, *line) {
                    continue;
                }
                let of = (place, round, *line);
                let draw = rng.f64();
                if draw < rates::DIGIT_SLIP {
                    events.push(slip(rng, of));
                } else if draw < rates::DIGIT_SLIP + rates::OFF_WITHIN_CLOCK {
                    events.push(off(rng, of));
                } else if draw < rates::DIGIT_SLIP + rates::OFF_WITHIN_CLOCK + rates::IMPOSSIBLE {
                    events.push(impossible(rng, of));
                }
            }
            if rng.f64() < rates::QUANTITIES_SWAPPED {
                events.extend(swapped(rng, ship, place, round));
            }
            if rng.f64() < rates::OTHER_SOURCE_UNWRITTEN {
                events.extend(other_source(rng, ship, place, round));
            }
        }
        for line in (0..4).filter(|line| radar.wired[*line]) {
            for (rate, kind) in [
                (rates::LINE_DEAD, Kind::LineDead),
                (rates::LINE_STUCK, Kind::LineStuck),
                (rates::LINE_INTERMITTENT, Kind::LineIntermittent),
            ] {
                for at in instants(rng, 0.0, end - WEEK_H, rate) {
                    events.push(line_fault(rng, ship, kind, place, line, at));
                }
            }
        }
        if rng.f64() < rates::WIRED_WRONG {
            events.extend(wired(rng, ship, place));
        }
        for at in instants(rng, 0.0, end - DAY_H, rates::WORK_UNRECORDED) {
            events.extend(unrecorded(rng, ship, place, at, None));
        }
        for at in instants(rng, 0.0, end - 20.0 * DAY_H, rates::LOGGER_DARK) {
            events.push(Event::Dark { radar: place, from: at, to: at + within(rng, DAY_H, 20.0 * DAY_H) });
        }
    }
    for round in 0..ship.rounds.len() {
        if rng.f64() < rates::RADARS_SWAPPED {
            events.extend(radars_swapped(rng, ship, round));
        }
    }
    events
}

/// One thing of a kind, if the ship has what it takes. Not on the first or last rounds, where nothing could tell.
#[must_use]
pub fn one_of(ship: &Ship, kind: Kind, rng: &mut Rng) -> Option<Event> {
    let place = rng.usize(..ship.radars.len());
    let radar = &ship.radars[place];
    let counted: Vec<usize> = (0..4).filter(|line| radar.counts[*line]).collect();
    let line = counted[rng.usize(..counted.len())];
    let rounds = ship.rounds.len();
    if rounds < 5 {
        return None;
    }
    let round = rng.usize(2..rounds - 2);
    let (from, to) = (ship.rounds[1].at, ship.rounds[rounds - 2].at);
    let at = within(rng, from, to);
    let logged = within(rng, 0.0, ship.end_h - 20.0 * DAY_H);
    let renewals = |wanted: &dyn Fn(usize) -> bool, rng: &mut Rng| {
        let fit: Vec<usize> = (0..radar.renewals.len()).filter(|which| wanted(*which)).collect();
        (!fit.is_empty()).then(|| fit[rng.usize(..fit.len())])
    };
    let is_read = is_read(ship, round, place, line);
    let of = (place, round, line);
    match kind {
        Kind::ZeroedWithoutFitting => zeroed(ship, place, line, at),
        Kind::CounterExchanged => Some(exchanged(rng, ship, place, at)),
        Kind::FittedWithoutZeroing => renewals(&|which| radar.renewals[which].zeroes, rng)
            .map(|renewal| Event::NotZeroed { radar: place, renewal }),
        Kind::FittingMisdated => {
            renewals(&|which| radar.renewals[which].zeroes, rng).map(|renewal| misdated(rng, place, renewal))
        }
        Kind::RecordContradicted => {
            let fits = |which: usize| {
                !radar.renewals[which].zeroes && radar.counts[radar.parts[radar.renewals[which].part].ages_by]
            };
            renewals(&fits, rng).map(|renewal| Event::Contradicted { radar: place, renewal })
        }
        Kind::Misread if is_read && rng.f64() < 0.78 => Some(slip(rng, of)),
        Kind::Misread if is_read => Some(off(rng, of)),
        Kind::ImpossibleReading if is_read => Some(impossible(rng, of)),
        Kind::ReadingsSwapped => match rng.usize(..5) {
            0 => other_source(rng, ship, place, round),
            1 | 2 => radars_swapped(rng, ship, round),
            _ => swapped(rng, ship, place, round),
        },
        Kind::CountsOtherLine => Some(other_line(rng, place)),
        Kind::CounterRate => Some(Event::Rate { radar: place, line, ratio: ratio(rng) }),
        Kind::CounterUnits => {
            let from = within(rng, ship.start_h, ship.end_h);
            Some(units(rng, place, line, from))
        }
        Kind::LineDead | Kind::LineStuck | Kind::LineIntermittent => {
            let line = rng.usize(..4);
            radar.wired[line].then(|| line_fault(rng, ship, kind, place, line, logged))
        }
        Kind::Wiring => wired(rng, ship, place),
        Kind::WorkUnrecorded => unrecorded(rng, ship, place, logged.max(100.0), None),
        Kind::DarkGap => {
            Some(Event::Dark { radar: place, from: logged, to: logged + within(rng, DAY_H, 20.0 * DAY_H) })
        }
        _ => None,
    }
}

/// The nearest quiet stay's instant.
fn quiet(ship: &Ship, at: f64, hours: f64) -> Option<f64> {
    let long = ship.stays.iter().filter(|stay| stay.mode != Mode::Sea && stay.to - stay.from > hours + 1.0);
    let nearest = long.min_by(|a, b| (a.from - at).abs().total_cmp(&(b.from - at).abs()))?;
    Some(if (nearest.from..nearest.to - hours).contains(&at) { at } else { nearest.from + 0.7 })
}

fn zeroed(ship: &Ship, radar: usize, line: usize, at: f64) -> Option<Event> {
    let at = ship.radars[radar].duty[0].nearest_on(at)?;
    Some(Event::Zeroed { radar, line, at })
}

fn exchanged(rng: &mut Rng, ship: &Ship, radar: usize, at: f64) -> Event {
    let long = rng.f64() < rates::EXCHANGED_LONG_OFF;
    let hours = if long { within(rng, 1.1, 9.0) } else { within(rng, 0.1, 0.95) };
    let from = quiet(ship, at, hours).unwrap_or(at);
    let nought = rng.f64() < rates::EXCHANGED_TO_NOUGHT;
    let figures =
        std::array::from_fn(|_| if nought { 0.0 } else { within(rng, 0.0, rates::EXCHANGED_HOURS_MAX) });
    Event::Exchanged { radar, off: (from, from + hours), figures }
}

fn misdated(rng: &mut Rng, radar: usize, renewal: usize) -> Event {
    let days = within(rng, 1.0, 7.0);
    // Mostly the zeroing comes later than the record has it.
    let off_h = if rng.f64() < 0.75 { days * DAY_H } else { -days * DAY_H };
    Event::Misdated { radar, renewal, off_h, whole: rng.f64() < rates::MISDATED_WHOLE }
}

fn slip(rng: &mut Rng, (radar, round, line): (usize, usize, usize)) -> Event {
    Event::Slip { radar, round, line, how: rng.u64(..) }
}

fn off(rng: &mut Rng, (radar, round, line): (usize, usize, usize)) -> Event {
    let share = within(rng, 0.05, 0.9) * if rng.bool() { 1.0 } else { -1.0 };
    Event::Off { radar, round, line, share }
}

fn impossible(rng: &mut Rng, (radar, round, line): (usize, usize, usize)) -> Event {
    Event::Impossible { radar, round, line, figure: within(rng, 0.0, rates::EXCHANGED_HOURS_MAX).round() }
}

fn swapped(rng: &mut Rng, ship: &Ship, radar: usize, round: usize) -> Option<Event> {
    let read: Vec<usize> = (0..4).filter(|line| is_read(ship, round, radar, *line)).collect();
    if read.len() < 2 {
        return None;
    }
    let a = rng.usize(..read.len());
    let b = (a + 1 + rng.usize(..read.len() - 1)) % read.len();
    Some(Event::QuantitiesSwapped { radar, round, lines: (read[a], read[b]) })
}

fn radars_swapped(rng: &mut Rng, ship: &Ship, round: usize) -> Option<Event> {
    if ship.radars.len() < 2 {
        return None;
    }
    // Figures get into each other's place on one occasion only: both radars must be read within hours.
    let read = |radar: usize| read_at(ship, round, radar, &ship.radars[radar].duty[0]);
    if (read(0) - read(1)).abs() > ONE_OCCASION_H {
        return None;
    }
    let both: Vec<usize> =
        (0..4).filter(|line| is_read(ship, round, 0, *line) && is_read(ship, round, 1, *line)).collect();
    (!both.is_empty()).then(|| Event::RadarsSwapped {
        radars: (0, 1),
        round,
        line: both[rng.usize(..both.len())],
    })
}

fn other_source(rng: &mut Rng, ship: &Ship, radar: usize, round: usize) -> Option<Event> {
    let number = ship.radars.len();
    (number > 1).then(|| Event::OtherSource {
        radar,
        round,
        other: (radar + 1 + rng.usize(..number - 1)) % number,
    })
}

fn other_line(rng: &mut Rng, radar: usize) -> Event {
    Event::OtherLine { radar, counts: rng.usize(0..2) }
}

fn ratio(rng: &mut Rng) -> f64 {
    loop {
        let ratio = within(rng, 0.8, 1.25);
        if (ratio - 1.0_f64).abs() >= 0.02 {
            return ratio;
        }
    }
}

fn units(rng: &mut Rng, radar: usize, line: usize, from: f64) -> Event {
    Event::Units { radar, line, from, factor: if rng.bool() { 10.0 } else { 0.1 } }
}

fn line_fault(rng: &mut Rng, ship: &Ship, kind: Kind, radar: usize, line: usize, from: f64) -> Event {
    let until = |weeks: f64| (from + weeks * WEEK_H).min(ship.end_h);
    match kind {
        Kind::LineDead => Event::Dead { radar, line, from, to: until(within(rng, 1.0, 12.0)) },
        Kind::LineStuck => Event::Stuck { radar, line, from, to: until(within(rng, 1.0, 6.0)) },
        _ => Event::Intermittent {
            radar,
            line,
            from,
            to: until(within(rng, 1.0, 8.0)),
            loses: within(rng, 0.2, 0.8),
            how: rng.u64(..),
        },
    }
}

fn wired(rng: &mut Rng, ship: &Ship, radar: usize) -> Option<Event> {
    let wired: Vec<usize> = (0..4).filter(|line| ship.radars[radar].wired[*line]).collect();
    if wired.len() < 2 {
        return None;
    }
    let a = rng.usize(..wired.len());
    let b = (a + 1 + rng.usize(..wired.len() - 1)) % wired.len();
    Some(Event::Wired { radar, lines: (wired[a].min(wired[b]), wired[a].max(wired[b])) })
}

fn unrecorded(rng: &mut Rng, ship: &Ship, radar: usize, at: f64, zeroes: Option<bool>) -> Option<Event> {
    let hours = within(rng, 0.4, 5.0);
    let from = quiet(ship, at, hours).filter(|from| (1.0..ship.end_h - 10.0).contains(from))?;
    let apart = |other: f64| (other - from).abs() > 8.0 * DAY_H;
    let works = &ship.radars[radar];
    let clear = works.renewals.iter().all(|done| apart(done.from))
        && works.services.iter().all(|service| apart(service.from));
    let zeroes = zeroes.unwrap_or(rng.f64() < rates::UNRECORDED_ZEROES);
    clear.then_some(Event::Unrecorded { radar, from, to: from + hours, zeroes })
}
