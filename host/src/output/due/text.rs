//! The answer of `due` for people: a table and notes, what wants doing first at the top.

use super::{Around, RadarRates, Spares};
use crate::due::{Answer, Interval, State};
use crate::output::condition;
use crate::output::life::Life;
use crate::output::look;
use crate::output::reconcile::{RISES, rate, some};
use crate::output::screen::Screen;
use crate::output::table::{Sheet, hours, printable};
use crate::time;

/// A spare to be ordered within so many days is told, whatever the part's state. As on the report.
const ORDER_AHEAD_MS: i64 = 60 * 86_400_000;

/// What to do, a table, and notes, for people.
#[must_use]
pub fn text(ship: &str, as_of_ms: i64, answers: &[Answer], around: &Around, screen: Screen) -> String {
    let mut worst_first: Vec<(usize, &Answer)> = answers.iter().enumerate().collect();
    worst_first
        .sort_by_key(|(_, answer)| (urgency(answer.state), answer.forecast.p50_ms.unwrap_or(i64::MAX)));
    let spares = |at: usize| around.spares.get(at);
    let title = format!("{ship}, as of {} UTC", time::minute(as_of_ms));
    let mut text = format!("{}\n", screen.paragraph(&title));
    let first = first(&worst_first, &spares, as_of_ms);
    text.push_str(&first.iter().map(|line| look::bold(&screen.paragraph(line))).collect::<String>());
    let in_order: Vec<&Answer> = worst_first.iter().map(|(_, answer)| *answer).collect();
    text.push_str(&format!("\n{}\n\n", parts(&in_order, screen)));
    text.push_str(&screen.paragraph(
        "Hours run: likeliest, in brackets what cannot be excluded. Due: as likely before as after; dates in UTC.",
    ));
    for (at, answer) in worst_first {
        let orders = order_soon(answer, spares(at), as_of_ms);
        let notes =
            notes(answer, spares(at), orders, as_of_ms, around.lives.get(at).and_then(Option::as_ref));
        if !notes.is_empty() {
            text.push_str(&format!("\n{}, {}:\n", printable(&answer.radar), printable(&answer.part)));
            text.push_str(&screen.notes(&notes));
        }
    }
    text.push_str(&condition::text(&around.conditions, &rate_sentences(&around.rates), screen));
    text
}

/// What the whole answer comes to: what wants doing, most urgent first.
fn first<'a>(
    worst_first: &[(usize, &Answer)],
    spares: &dyn Fn(usize) -> Option<&'a Spares>,
    as_of_ms: i64,
) -> Vec<String> {
    let told = worst_first.iter().filter_map(|(at, answer)| {
        let name = format!("{} {}", answer.radar, answer.part);
        let about = || {
            answer.forecast.p50_ms.map_or_else(String::new, |at_ms| format!(" about {}", time::date(at_ms)))
        };
        let left_h = answer.remaining_h;
        let says = match answer.state {
            State::Ok if !order_soon(answer, spares(*at), as_of_ms) => return None,
            State::Ok => format!("{name} is due{}", about()),
            State::Overdue => match left_h {
                Some(left_h) if left_h < 0.0 => {
                    format!("{name} is {}", left(left_h)).replace(" over", " over its limit")
                }
                _ => format!("{name} is over its limit"),
            },
            State::Due => format!("{name} may be over its limit"),
            State::Soon => match left_h {
                Some(left_h) => format!("{name} is due{}, {} left", about(), left(left_h)),
                None => format!("{name} is due{}", about()),
            },
            State::Deferred => format!("{name} is {}", state(answer)),
            State::Unknown => return Some(format!("{name}: something is missing, its notes say what.")),
        };
        Some(match spares(*at) {
            Some(of) => format!("{says}. {}", spare(of, as_of_ms)),
            None => format!("{says}."),
        })
    });
    let told: Vec<String> = told.collect();
    match (told.is_empty(), worst_first.first()) {
        (true, Some((_, answer))) => {
            let when = answer.forecast.p50_ms.map_or_else(
                || "on no date in sight".to_owned(),
                |at_ms| format!("about {}", time::date(at_ms)),
            );
            vec![format!(
                "Nothing to do now. The first to fall due is {} {}, {when}.",
                answer.radar, answer.part
            )]
        }
        _ => told,
    }
}

/// The parts, one a row; where that is too wide, three lines to a row.
fn parts(answers: &[&Answer], screen: Screen) -> String {
    let dash = || "-".to_owned();
    let limit = |answer: &Answer| answer.limit_h.map(|h| format!("{} h", hours(h)));
    let rows = answers.iter().map(|answer| {
        vec![
            state(answer),
            answer.radar.clone(),
            answer.part.clone(),
            answer.serial.clone().unwrap_or_else(dash),
            answer.forecast.p50_ms.map_or_else(dash, time::date),
            between(answer, " and "),
            answer.remaining_h.map_or_else(dash, left),
            limit(answer).unwrap_or_else(dash),
            answer.hours.map_or_else(dash, range),
        ]
    });
    let heading =
        ["State", "Radar", "Part", "Serial", "Due", "8 in 10 between", "Left", "Limit", "Hours run"];
    let wide = Sheet::new(&heading, &["Left", "Limit", "Hours run"], rows.collect());
    let stacked = answers.iter().map(|answer| {
        let left = match (answer.remaining_h.map(left), limit(answer)) {
            (Some(left), Some(limit)) => format!("{left}, limit {limit}"),
            (left, limit) => left.or(limit).unwrap_or_else(dash),
        };
        let state = state(answer);
        // `deferred`, and under it until when.
        let (word, until) = state.split_once(" to ").unwrap_or((&state, ""));
        vec![
            vec![word.to_owned(), until.to_owned()],
            vec![answer.radar.clone(), answer.part.clone(), answer.serial.clone().unwrap_or_else(dash)],
            vec![answer.forecast.p50_ms.map_or_else(dash, time::date), between(answer, " to ")],
            vec![left, answer.hours.map_or_else(dash, |of| format!("{} run", range(of)))],
        ]
    });
    let narrow =
        Sheet::stacked(&["State", "Part", "Due, and 8 in 10 between", "Hours left, hours run"], &[], stacked);
    Sheet::first_that_fits(&[&wide.look(look::state), &narrow.look(look::state)], screen)
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
fn notes(
    answer: &Answer,
    spares: Option<&Spares>,
    orders: bool,
    as_of_ms: i64,
    life: Option<&Life>,
) -> Vec<String> {
    let wants = orders || !matches!(answer.state, State::Ok | State::Unknown);
    let spare = spares.filter(|_| wants).map(|spares| spare(spares, as_of_ms));
    let put_off = answer.notes.iter().take(usize::from(answer.deferral.is_some()));
    let rest = answer.notes.iter().skip(put_off.len());
    put_off.cloned().chain(spare).chain(rest.cloned()).chain(life.into_iter().flat_map(Life::notes)).collect()
}

/// Whether a spare must be ordered soon.
fn order_soon(answer: &Answer, spares: Option<&Spares>, as_of_ms: i64) -> bool {
    let soon_ms = as_of_ms.saturating_add(ORDER_AHEAD_MS);
    let by_ms = spares.filter(|spares| spares.aboard.is_empty()).and_then(|spares| spares.order_by_ms);
    answer.state != State::Unknown && by_ms.is_some_and(|by_ms| by_ms <= soon_ms)
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

fn between(answer: &Answer, and: &str) -> String {
    match (answer.forecast.p10_ms, answer.forecast.p90_ms) {
        (Some(from_ms), Some(to_ms)) => format!("{}{and}{}", time::date(from_ms), time::date(to_ms)),
        (Some(from_ms), None) => format!("{}{and}much later", time::date(from_ms)),
        _ => "-".to_owned(),
    }
}
