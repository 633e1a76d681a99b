//! How the answer of `plan` looks.

use super::table::{printable, table};
use crate::plan::{Answer, Decision, Planned, Problem, Rejected, Stay, Work, percent};
use crate::time;
use serde::Serialize;

#[derive(Serialize)]
struct Json<'a> {
    version: u32,
    as_of: String,
    works: Vec<JsonWork<'a>>,
    exact: bool,
}

#[derive(Serialize)]
struct JsonWork<'a> {
    radar: &'a str,
    part: &'a str,
    serial: Option<&'a str>,
    planner_id: Option<&'a str>,
    decision: &'static str,
    window: Option<JsonStay<'a>>,
    fallback: Option<JsonStay<'a>>,
    ask_between: Option<JsonAsk>,
    chance_passed: Option<f64>,
    joined_with: &'a [String],
    order_by: Option<String>,
    hours_given_up: Option<f64>,
    rejected: Vec<JsonRejected<'a>>,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct JsonStay<'a> {
    from: String,
    to: String,
    place: &'a str,
}

#[derive(Serialize)]
struct JsonAsk {
    from: String,
    to: String,
}

#[derive(Serialize)]
struct JsonRejected<'a> {
    place: &'a str,
    from: String,
    why: String,
}

/// JSON, version 1.
#[must_use]
pub fn json(problem: &Problem, answer: &Answer) -> String {
    let works = pairs(problem, answer).map(|(work, planned)| JsonWork {
        radar: &work.radar,
        part: &work.part,
        serial: work.serial.as_deref(),
        planner_id: work.planner_id.as_deref(),
        decision: planned.decision.name(),
        window: planned.window.as_ref().map(json_stay),
        fallback: planned.fallback.as_ref().map(json_stay),
        ask_between: planned
            .ask_between
            .map(|(from_ms, to_ms)| JsonAsk { from: time::rfc3339(from_ms), to: time::rfc3339(to_ms) }),
        chance_passed: planned.chance_passed.map(|chance| rounded(chance, 10_000.0)),
        joined_with: &planned.joined_with,
        order_by: planned.order_by_ms.map(time::rfc3339),
        hours_given_up: planned.given_up_h.map(|hours| rounded(hours, 10.0)),
        rejected: planned
            .rejected
            .iter()
            .map(|rejected| JsonRejected {
                place: &rejected.place,
                from: time::rfc3339(rejected.from_ms),
                why: why(rejected),
            })
            .collect(),
        notes: notes(problem, work, planned),
    });
    let json = Json {
        version: 1,
        as_of: time::rfc3339(problem.as_of_ms),
        works: works.collect(),
        exact: answer.exact,
    };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}

fn json_stay(stay: &Stay) -> JsonStay<'_> {
    JsonStay { from: time::rfc3339(stay.from_ms), to: time::rfc3339(stay.to_ms), place: &stay.place }
}

fn rounded(figure: f64, steps: f64) -> f64 {
    (figure * steps).round() / steps
}

fn pairs<'a>(problem: &'a Problem, answer: &'a Answer) -> impl Iterator<Item = (&'a Work, &'a Planned)> {
    answer.works.iter().filter_map(|planned| Some((problem.works.get(planned.work)?, planned)))
}

/// The words under every plan.
const SAFETY: &str = "\
Halfglass advises, it does not authorise: the maker's manual, the ship's safety management system and licensed persons
come first. The isolated line is never proof of isolation.
";

/// A table to act on, then the reasons. `deferred`: what is to be said of each work's deferral.
#[must_use]
pub fn text(ship: &str, problem: &Problem, answer: &Answer, deferred: &[Option<String>]) -> String {
    let heading = ["Radar", "Part", "Renew in", "If that fails", "Order by", "Passed first", "Given up"];
    let rows: Vec<Vec<String>> =
        pairs(problem, answer).map(|(work, planned)| row(problem, work, planned)).collect();
    let mut text = format!("{}, as of {} UTC\n\n", printable(ship), time::minute(problem.as_of_ms));
    text.push_str(&table(&heading, &["Passed first", "Given up"], &rows));
    text.push_str(
        "\n\nPassed first: the chance that the limit falls before the work is done, cancelled calls weighed. Given up: \
         life left at\nthe renewal. Dates in UTC.\n",
    );
    if !answer.exact {
        text.push_str(
            "\nThere are too many ways to look at all of them: this is the best plan found, not proven to be the best.\n",
        );
    }
    for (work, planned) in pairs(problem, answer) {
        text.push_str(&format!("\n{}, {}:\n", printable(&work.radar), printable(&work.part)));
        let deferral = deferred.get(planned.work).and_then(Option::as_ref);
        for note in deferral.into_iter().chain(&notes(problem, work, planned)) {
            text.push_str(&format!("  - {}\n", printable(note)));
        }
        // What is not needed yet needs no reasons either; programs get them all the same.
        let told = planned.rejected.iter().filter(|_| planned.decision != Decision::NotYet);
        for rejected in told {
            let place = printable(&rejected.place);
            text.push_str(&format!(
                "  - Not {place}, {}: {}.\n",
                time::date(rejected.from_ms),
                why(rejected)
            ));
        }
    }
    text.push('\n');
    text.push_str(SAFETY);
    text
}

fn row(problem: &Problem, work: &Work, planned: &Planned) -> Vec<String> {
    let dash = || "-".to_owned();
    let ask = planned.ask_between.map(|(from_ms, to_ms)| {
        if to_ms <= from_ms {
            format!("ask for one at once, from {}", time::date(from_ms))
        } else {
            format!("ask for one, {} to {}", time::date(from_ms), time::date(to_ms))
        }
    });
    let (first, second) = match planned.decision {
        Decision::Planned => {
            let fallback = planned.fallback.as_ref().map(named).into_iter().chain(ask);
            (planned.window.as_ref().map_or_else(dash, named), fallback.collect::<Vec<_>>().join("; "))
        }
        Decision::NotYet => ("not yet".to_owned(), dash()),
        Decision::Ask => (ask.unwrap_or_else(dash), dash()),
        Decision::Unknown => ("not known".to_owned(), dash()),
    };
    let order = match (planned.order_by_ms, &work.spare) {
        (Some(by_ms), _) if by_ms <= problem.as_of_ms => "at once".to_owned(),
        (Some(by_ms), _) => time::date(by_ms),
        (None, Some(spare)) => format!("{} aboard", spare.serial),
        (None, None) => dash(),
    };
    vec![
        work.radar.clone(),
        work.part.clone(),
        first,
        second,
        order,
        planned.chance_passed.map_or_else(dash, percent),
        planned.given_up_h.map_or_else(dash, |hours| format!("{hours:.0} h")),
    ]
}

fn named(stay: &Stay) -> String {
    format!("{}, {} to {}", stay.place, time::minute(stay.from_ms), time::minute(stay.to_ms))
}

fn why(rejected: &Rejected) -> String {
    let at = |at_ms: i64| format!("{} UTC", time::minute(at_ms));
    let cannot = rejected.cannot.iter().map(|why| why.clause(at));
    let worse = rejected.worse.as_ref().map(crate::plan::Worse::clause);
    cannot.chain(worse).collect::<Vec<_>>().join("; ")
}

/// What is to be known beside the figures.
fn notes(problem: &Problem, work: &Work, planned: &Planned) -> Vec<String> {
    let mut notes = Vec::new();
    match planned.decision {
        Decision::Unknown => {
            let why = work.no_date.as_deref().unwrap_or("nothing says when it is due");
            notes.push(format!("There is no date to plan by. {why}"));
        }
        Decision::NotYet => notes.push(format!(
            "It is not needed in any stay entered so far: the limit falls with one chance in ten by {}.",
            work.due.by(0.1).map_or_else(|| "no date within sight".to_owned(), time::date)
        )),
        Decision::Ask if problem.windows.is_empty() => {
            notes.push("No stay is entered: `halfglass import windows FILE` brings them in.".to_owned());
        }
        Decision::Ask => notes.push("No stay entered so far suits.".to_owned()),
        Decision::Planned => {}
    }
    if !planned.joined_with.is_empty() {
        let parts = planned.joined_with.join(", ");
        notes.push(format!("Under one isolation with: {parts}. Their hours were added up."));
    }
    if planned.both {
        notes.push(
            "Both radars are opened in this stay: one after the other, the first proved before the second is opened."
                .to_owned(),
        );
    }
    if let Some(place) = &planned.delivered_at {
        notes.push(format!("The spare is to be delivered in {place}."));
    }
    if let Some(fallback) = planned.fallback.as_ref().filter(|fallback| fallback.passed_by_then >= 0.1) {
        let chance = percent(fallback.passed_by_then);
        notes.push(format!("By the fallback the limit has fallen with {chance}: ask for an earlier one."));
    }
    if work.spare.is_none() && work.lead_time_days.is_none() && planned.decision != Decision::Unknown {
        notes.push(
            "No spare is aboard, and no lead_time_days is entered: no date to order by can be given."
                .to_owned(),
        );
    }
    let stay = planned.window.as_ref().and_then(|stay| {
        problem.windows.iter().find(|window| window.from_ms == stay.from_ms && window.place == stay.place)
    });
    if let Some(window) = stay {
        if window.chance.is_none() {
            notes.push(format!("No chance is entered for {}: the call is taken as sure.", window.place));
        }
        if work.needs_aloft && window.noons_ms.is_none() && window.daylight_h.is_some_and(|h| h < 24.0) {
            notes.push(format!(
                "Look whether the stay in {} falls into daylight: the ship's clock there is not known \
                 (`halfglass import zones FILE`).",
                window.place
            ));
        }
    }
    notes
}
