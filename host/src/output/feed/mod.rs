//! How the feed for a planner looks: the same rows as JSON and as CSV, and a calendar.

mod csv;
mod ics;
mod json;
mod planner;

pub use csv::{columns, csv};
pub use ics::ics;
pub use json::{Json, json};
pub use planner::planner;

use crate::feed::Row;
use schemars::JsonSchema;
use serde::Serialize;

/// One part. Instants are RFC 3339 in UTC.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Line {
    /// The ship's name, as in ship.toml.
    ship: String,
    /// The office planner's own number, as in ship.toml.
    planner_id: Option<String>,
    /// The radar, as in ship.toml.
    radar: String,
    /// The part, as in ship.toml.
    part: String,
    /// The serial of the one fitted.
    serial: Option<String>,
    /// When it was put in.
    fitted_at: Option<String>,
    /// The instant that the row is for.
    as_of: String,
    /// Up to when the loggers have counted.
    counted_to: Option<String>,
    /// Meter: what the line that ages the part has run since it was first watched, whichever part was in. From one feed to
    /// the next it never falls, and never moves by more than the time that passed.
    cumulative_h: Option<f64>,
    /// Meter: what the part fitted now has run. It starts again when another part is fitted; until then as above.
    since_renewal_h: Option<f64>,
    /// The part has run no less.
    low_h: Option<f64>,
    /// The part has run no more.
    high_h: Option<f64>,
    /// Renew at so many hours.
    limit_h: Option<f64>,
    /// The limit less since_renewal_h.
    remaining_h: Option<f64>,
    /// When the first limit falls: one time in ten before this.
    due_p10: Option<String>,
    /// As likely before as after.
    due_p50: Option<String>,
    /// Nine times in ten before this.
    due_p90: Option<String>,
    /// Which limit that is: hours, months or starts.
    limited_by: Option<&'static str>,
    /// How urgent it is, as `halfglass due` says.
    state: &'static str,
    /// The stay in which it is to be renewed begins.
    planned_from: Option<String>,
    /// It ends.
    planned_to: Option<String>,
    /// Where that is.
    planned_place: Option<String>,
    /// By when a spare must be ordered.
    order_by: Option<String>,
    /// How many findings about its radar are open.
    findings_open: usize,
    /// What is to be known beside the figures.
    note: String,
}

fn line(ship: &str, as_of_ms: i64, row: &Row) -> Line {
    use crate::time::rfc3339;
    let [p10, p50, p90] = row.due_ms.map(|at_ms| at_ms.map(rfc3339));
    // Outwards, so that the bounds still hold.
    let tenth = |hours: f64, round: fn(f64) -> f64| round(hours * 10.0) / 10.0;
    Line {
        ship: ship.to_owned(),
        planner_id: row.planner_id.clone(),
        radar: row.radar.clone(),
        part: row.part.clone(),
        serial: row.serial.clone(),
        fitted_at: row.fitted_at_ms.map(rfc3339),
        as_of: rfc3339(as_of_ms),
        counted_to: row.counted_to_ms.map(rfc3339),
        cumulative_h: row.cumulative.map(crate::feed::Tenths::hours),
        since_renewal_h: row.since_renewal.map(crate::feed::Tenths::hours),
        low_h: row.low_high_h.map(|(low, _)| tenth(low, f64::floor)),
        high_h: row.low_high_h.map(|(_, high)| tenth(high, f64::ceil)),
        limit_h: row.limit_h,
        remaining_h: row.remaining_h(),
        due_p10: p10,
        due_p50: p50,
        due_p90: p90,
        limited_by: row.limited_by,
        state: row.state,
        planned_from: row.planned.as_ref().map(|stay| rfc3339(stay.from_ms)),
        planned_to: row.planned.as_ref().map(|stay| rfc3339(stay.to_ms)),
        planned_place: row.planned.as_ref().map(|stay| stay.place.clone()),
        order_by: row.order_by_ms.map(rfc3339),
        findings_open: row.findings_open,
        note: row.notes.join(" "),
    }
}
