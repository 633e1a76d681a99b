//! The answer of `due` for people: a table and notes, what wants doing first at the top.

use super::{Around, RadarRates, Spares};
use crate::due::{Answer, Interval, State};
use crate::output::condition;
use crate::output::life::Life;
use crate::output::reconcile::{RISES, rate, some};
use crate::output::table::{hours, printable, table};
use crate::time;

/// A table and notes, for people.
#[must_use]
pub fn text(ship: &str, as_of_ms: i64, answers: &[Answer], around: &Around) -> String {
    let heading =
        ["Radar", "Part", "Serial", "Hours run", "Limit", "Left", "Due", "8 in 10 between", "State"];
    let dash = || "-".to_owned();
    let mut worst_first: Vec<(usize, &Answer)> = answers.iter().enumerate().collect();
    worst_first.sort_by_key(|(_, answer)| urgency(answer.state));
    let rows: Vec<Vec<String>> = worst_first
        .iter()
        .map(|(_, answer)| {
            let forecast = &answer.forecast;
            vec![
                answer.radar.clone(),
                answer.part.clone(),
                answer.serial.clone().unwrap_or_else(dash),
                answer.hours.map_or_else(dash, range),
                answer.limit_h.map_or_else(dash, |h| format!("{} h", hours(h))),
                answer.remaining_h.map_or_else(dash, left),
                forecast.p50_ms.map_or_else(dash, time::date),
                between(forecast.p10_ms, forecast.p90_ms),
                state(answer),
            ]
        })
        .collect();
    let right = ["Hours run", "Limit", "Left"];
    let mut text = format!("{}, as of {} UTC\n\n", printable(ship), time::minute(as_of_ms));
    text.push_str(&table(&heading, &right, &rows));
    text.push_str(
        "\n\nHours run: likeliest, in brackets what cannot be excluded. Due: as likely before as after; dates in UTC.\n",
    );
    for (at, answer) in worst_first {
        let spares = around.spares.get(at).map(|spares| spare(spares, as_of_ms));
        let notes = notes(answer, spares, around.lives.get(at).and_then(Option::as_ref));
        if notes.is_empty() {
            continue;
        }
        text.push_str(&format!("\n{}, {}:\n", printable(&answer.radar), printable(&answer.part)));
        for note in notes {
            text.push_str(&format!("  - {}\n", printable(&note)));
        }
    }
    text.push_str(&condition::text(&around.conditions, &rate_sentences(&around.rates)));
    text
}

/// What wants doing first comes first.
fn urgency(state: State) -> u8 {
    match state {
        State::Overdue => 0,
        State::Due => 1,
        State::Soon => 2,
        State::Deferred => 3,
        State::Unknown => 4,
        State::Ok => 5,
    }
}

fn state(answer: &Answer) -> String {
    let put_off = answer.deferral.as_ref().filter(|_| answer.state == State::Deferred);
    match put_off.and_then(|put_off| put_off.by_ms(50)) {
        Some(to_ms) => format!("{} to {}", answer.state.name(), time::date(to_ms)),
        None => answer.state.name().to_owned(),
    }
}

/// What is to be said of a part: what to do, then how far to trust it, then what removals tell.
fn notes(answer: &Answer, spare: Option<String>, life: Option<&Life>) -> Vec<String> {
    let spare = spare.filter(|_| !matches!(answer.state, State::Ok | State::Unknown));
    let put_off = answer.notes.iter().take(usize::from(answer.deferral.is_some()));
    let rest = answer.notes.iter().skip(put_off.len());
    put_off.cloned().chain(spare).chain(rest.cloned()).chain(life.into_iter().flat_map(Life::notes)).collect()
}

fn spare(spares: &Spares, as_of_ms: i64) -> String {
    match (spares.aboard.as_slice(), spares.lead_time_days, spares.order_by_ms) {
        ([], _, _) if spares.on_its_way => "No spare is aboard yet; one is to come.".to_owned(),
        ([], None, _) => {
            "No spare is aboard, and lead_time_days is missing in ship.toml: no date to order by can be given.".to_owned()
        }
        ([], Some(_), None) => "No spare is aboard: order one.".to_owned(),
        ([], Some(days), Some(by_ms)) => {
            let when =
                if by_ms <= as_of_ms { "at once".to_owned() } else { format!("by {}", time::date(by_ms)) };
            let what_for = spares.order_for.as_ref().map_or_else(
                || "to have it before the limit may fall".to_owned(),
                |place| format!("to have it in {place}, where it is planned to be put in"),
            );
            format!("No spare is aboard: order one {when} ({days} days to come), {what_for}.")
        }
        ([serial], ..) => format!("Spare aboard: {serial}."),
        (serials, ..) => format!("Spares aboard: {}.", serials.join(", ")),
    }
}

/// Of each radar that had any; what has become more frequent is marked.
fn rate_sentences(rates: &[RadarRates]) -> Vec<String> {
    let mut sentences = Vec::new();
    for radar in rates {
        for (what, of) in [("drop-outs", &radar.drop_outs), ("short warm-ups", &radar.short_warm_ups)] {
            if let Some(of) = of.as_ref().filter(|of| some(Some(of))) {
                let look = if of.chance_of_rise < RISES.0 { "LOOK: " } else { "" };
                sentences.push(format!("{look}{}, {}", radar.radar, rate(what, of)));
            }
        }
    }
    sentences
}

fn range(of: Interval) -> String {
    let (low, high) = (hours(of.low), hours(of.high));
    if low == high { hours(of.best) } else { format!("{} ({low} to {high})", hours(of.best)) }
}

fn left(remaining_h: f64) -> String {
    if remaining_h < 0.0 {
        format!("{} h over", hours(-remaining_h))
    } else {
        format!("{} h", hours(remaining_h))
    }
}

fn between(from_ms: Option<i64>, to_ms: Option<i64>) -> String {
    match (from_ms, to_ms) {
        (Some(from_ms), Some(to_ms)) => format!("{} and {}", time::date(from_ms), time::date(to_ms)),
        (Some(from_ms), None) => format!("{} and much later", time::date(from_ms)),
        _ => "-".to_owned(),
    }
}
