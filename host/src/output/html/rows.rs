//! Parts and spares as rows of a page, worst first.

use super::book::{Book, Part};
use super::words::{self, shown};
use crate::output::plan as planned;
use crate::output::table::hours;
use crate::plan::{self, Decision, Planned, Work};
use crate::ship::settings::{Days, Spare};
use crate::time;

/// One part.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// The state's word, also the name of its sign.
    pub(super) state: &'static str,
    pub(super) meaning: &'static str,
    pub(super) radar: String,
    pub(super) part: String,
    pub(super) serial: Option<String>,
    pub(super) planner_id: Option<String>,
    pub(super) hours: String,
    /// The same in two pieces.
    pub(super) best: String,
    pub(super) bounds: String,
    pub(super) limit: String,
    pub(super) left: String,
    /// Percent of the limit that is used, 0 to 100, for a bar; `None`: no limit in hours, or hours not known.
    pub(super) used_percent: Option<u8>,
    pub(super) due: String,
    pub(super) between: String,
    pub(super) renew: String,
    /// The stay that it is planned for.
    pub(super) stay: Option<Stay>,
    /// Where else, should that call be cancelled.
    pub(super) fallback: Option<Stay>,
    pub(super) spare: String,
    pub(super) deferred: Option<String>,
    /// Where it stands in ship.toml.
    pub(super) at: usize,
    pub(super) urgency: (u8, i64),
}

/// A stay in three pieces.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stay {
    pub(super) place: String,
    pub(super) from: String,
    pub(super) to: String,
}

impl Stay {
    fn of(stay: &plan::Stay) -> Stay {
        Stay { place: shown(&stay.place), from: time::minute(stay.from_ms), to: time::minute(stay.to_ms) }
    }
}

/// The parts, what is most urgent first.
pub(super) fn parts(book: &Book) -> Vec<Row> {
    let mut rows: Vec<Row> = book.parts.iter().enumerate().map(|(at, part)| row(book, at, part)).collect();
    rows.sort_by_key(|row| row.urgency);
    rows
}

fn row(book: &Book, at: usize, part: &Part) -> Row {
    let due = &part.due;
    let dash = || "–".to_owned();
    let used = due.hours.zip(due.limit_h).filter(|(_, limit_h)| *limit_h > 0.0);
    let forecast = &due.forecast;
    let plan = book.planned(at).zip(book.problem.works.get(at));
    Row {
        state: due.state.name(),
        meaning: words::meaning(due.state),
        radar: shown(&part.settings.radar),
        part: shown(&part.settings.name),
        serial: due.serial.as_deref().map(shown),
        planner_id: part.settings.planner_id.as_deref().map(shown),
        hours: due.hours.map_or_else(dash, words::interval),
        best: due.hours.map_or_else(dash, |of| format!("{} h", hours(of.best))),
        bounds: due.hours.map_or_else(
            || "not known".to_owned(),
            |of| format!("({} to {})", hours(of.low), hours(of.high)),
        ),
        limit: due.limit_h.map_or_else(dash, |limit_h| format!("{} h", hours(limit_h))),
        left: due.remaining_h.map_or_else(dash, words::left),
        used_percent: used.map(|(of, limit_h)| (of.best / limit_h * 100.0).clamp(0.0, 100.0) as u8),
        due: forecast.p50_ms.map_or_else(dash, time::date),
        between: forecast.p10_ms.map_or_else(dash, |from_ms| words::dates(from_ms, forecast.p90_ms)),
        renew: plan.map_or_else(dash, |(planned, work)| renew(book, work, planned)),
        stay: plan.and_then(|(planned, _)| planned.window.as_ref()).map(Stay::of),
        fallback: plan.and_then(|(planned, _)| planned.fallback.as_ref()).map(Stay::of),
        spare: plan.map_or_else(dash, |(planned, work)| spare(book, part, work, planned)),
        deferred: due.deferral.as_ref().map(|put_off| shown(&put_off.note())),
        at,
        urgency: (words::urgency(due.state), forecast.p50_ms.unwrap_or(i64::MAX)),
    }
}

/// Where it is to be renewed.
pub(super) fn renew(book: &Book, work: &Work, planned: &Planned) -> String {
    match (planned.decision, &planned.window) {
        (Decision::Planned, Some(stay)) => shown(&planned::named(stay)),
        (Decision::NotYet, _) => "in no stay entered yet".to_owned(),
        (Decision::Ask, _) => planned.ask_between.map_or_else(
            || "ask for a stay".to_owned(),
            |(from_ms, to_ms)| {
                if to_ms <= from_ms.max(book.as_of_ms) {
                    "ask for a stay at once".to_owned()
                } else {
                    format!("ask for a stay between {} and {}", time::date(from_ms), time::date(to_ms))
                }
            },
        ),
        _ => {
            format!("no date to plan by{}", if work.no_date.is_some() { ": see what is missing" } else { "" })
        }
    }
}

/// Which spare, and where; or by when to order one.
fn spare(book: &Book, part: &Part, work: &Work, planned: &Planned) -> String {
    if let Some(spare) = part.spares.first() {
        let place = spare.place.as_deref().map_or_else(String::new, |place| format!(", {}", shown(place)));
        return format!("{} aboard{place}", shown(&spare.serial));
    }
    match (planned.order_by_ms, work.lead_time_days) {
        (Some(by_ms), _) if by_ms <= book.as_of_ms => "none aboard: order at once".to_owned(),
        (Some(by_ms), _) => format!("none aboard: order by {}", time::date(by_ms)),
        (None, None) => "none aboard; lead_time_days is not entered".to_owned(),
        (None, Some(_)) => "none aboard".to_owned(),
    }
}

/// A spare aboard.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SpareRow {
    pub(super) radar: String,
    pub(super) part: String,
    pub(super) serial: String,
    pub(super) age: String,
    pub(super) last_run: String,
    pub(super) warranty: String,
    pub(super) place: String,
}

/// The spares that were never put in.
pub(super) fn spares(book: &Book) -> Vec<SpareRow> {
    let all = book.parts.iter().flat_map(|part| part.spares.iter());
    all.map(|spare| spare_row(spare, book.as_of_ms)).collect()
}

pub(super) fn spare_row(spare: &Spare, as_of_ms: i64) -> SpareRow {
    let days = |days: Option<Days>, missing: &str| days.map_or_else(|| missing.to_owned(), written);
    let made = spare.made.map(|made| format!("made {}{}", written(made), age(made, as_of_ms)));
    let received = spare.received.map(|received| format!("received {}", written(received)));
    let told: Vec<String> = made.into_iter().chain(received).collect();
    SpareRow {
        radar: shown(&spare.radar),
        part: shown(&spare.part),
        serial: shown(&spare.serial),
        age: if told.is_empty() { "not entered".to_owned() } else { told.join(", ") },
        last_run: days(spare.last_run, "not entered"),
        warranty: days(spare.warranty_until, "not entered"),
        place: spare.place.as_deref().map_or_else(|| "not entered".to_owned(), shown),
    }
}

/// As well as it is known.
fn written(days: Days) -> String {
    let (first, last) = (days.first.to_string(), days.last.to_string());
    if first == last {
        first
    } else if first.get(..7) == last.get(..7) {
        first.get(..7).unwrap_or_default().to_owned()
    } else {
        first.get(..4).unwrap_or_default().to_owned()
    }
}

/// `, 3 years old`, by the first day that it can have been made.
fn age(made: Days, as_of_ms: i64) -> String {
    let Ok(from_ms) = time::parse_ms(&format!("{}T00:00Z", made.first)) else { return String::new() };
    match (as_of_ms - from_ms) as f64 / 86_400_000.0 / 365.25 {
        years if years >= 1.0 => format!(" ({years:.1} years old)"),
        _ => String::new(),
    }
}
