//! What officers do: renewals, service, rounds with a notebook.

use super::rates;
use super::ship::{Noted, Radar, Renewal, Round, Service};
use super::voyage::{Mode, Stay, bell, instants, within};
use fastrand::Rng;

/// Renewals and service, in port or at anchor, days apart from each other.
pub(super) fn renew(rng: &mut Rng, radar: &mut Radar, stays: &[Stay], from: f64, end: f64) {
    let quiet = |at: f64, hours: f64| {
        let long = stays.iter().filter(|stay| stay.mode != Mode::Sea && stay.to - stay.from > hours + 1.0);
        let nearest = long.min_by(|a, b| (a.from - at).abs().total_cmp(&(b.from - at).abs()))?;
        Some(nearest.from + 0.5)
    };
    let mut taken: Vec<f64> = Vec::new();
    for (place, part) in radar.parts.clone().into_iter().enumerate() {
        for wish in instants(rng, from, end - 200.0, [0.45, 0.2, 0.2][place]) {
            let hours = within(rng, 0.67, 6.0);
            let Some(at) = quiet(wish, hours) else { continue };
            if at < from + 24.0 || taken.iter().any(|other| (other - at).abs() < 24.0 * 16.0) {
                continue;
            }
            taken.push(at);
            radar.renewals.push(Renewal {
                from: at,
                to: at + hours,
                part: place,
                zeroes: radar.counts[part.ages_by] && rng.f64() < 0.8,
                zeroed_after_h: within(rng, 0.01, 0.4),
                supply_off: rng.f64() < if radar.fed { 0.3 } else { 0.6 },
                used_h: (rng.f64() < 0.1).then(|| within(rng, 100.0, 3_000.0).round()),
                noted: noted(rng),
                error_h: bell(rng, 5.0 / 60.0),
                tells_before: rng.f64() < 0.4,
                tells_after: rng.f64() < 0.3,
            });
        }
    }
    radar.renewals.sort_by(|a, b| a.from.total_cmp(&b.from));
    for wish in instants(rng, from, end - 50.0, 1.0) {
        let hours = within(rng, 5.0, 45.0) / 60.0;
        let Some(at) = quiet(wish, hours) else { continue };
        if taken.iter().any(|other| (other - at).abs() < 24.0 * 16.0) {
            continue;
        }
        taken.push(at);
        // What is long is written down, or a clean ship would have work that nobody recorded.
        let recorded = hours > 0.3 || rng.f64() < 0.5;
        radar.services.push(Service { from: at, to: at + hours, recorded });
    }
    radar.services.sort_by(|a, b| a.from.total_cmp(&b.from));
}

fn noted(rng: &mut Rng) -> Noted {
    match rng.f64() {
        draw if draw < 0.6 => Noted::Minute,
        draw if draw < 0.72 => Noted::Quarter,
        draw if draw < 0.8 => Noted::Half,
        _ => Noted::Day,
    }
}

pub(super) fn rounds(rng: &mut Rng, radars: &[Radar], from: f64, end: f64) -> Vec<Round> {
    let weekly = rng.f64() < 0.2;
    let mut rounds = Vec::new();
    let mut at = from + within(rng, 1.0, 700.0);
    while at < end {
        let exact = rng.f64() < 0.75;
        rounds.push(Round {
            at,
            noted: if exact { Noted::Minute } else { noted(rng) },
            error_h: bell(rng, 5.0 / 60.0),
            skips: radars.iter().map(|_| std::array::from_fn(|_| rng.f64() < 0.06)).collect(),
            shows: None,
        });
        if radars.len() > 1 && rng.f64() < rates::OTHER_SOURCE_WRITTEN {
            let shown = rng.usize(..radars.len());
            let other = (shown + 1 + rng.usize(..radars.len() - 1)) % radars.len();
            if let Some(round) = rounds.last_mut() {
                round.shows = Some((shown, other));
            }
        }
        let months = match rng.f64() {
            draw if draw < 0.08 => 2.0 + rng.f64(),
            _ => 1.0,
        };
        let month = if weekly { 168.0 } else { 730.0 };
        at += month * months * within(rng, 0.75, 1.25);
    }
    rounds
}
