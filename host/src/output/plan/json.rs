//! The plan as JSON, version 1. Keys are only added.

use super::{Beside, notes, pairs, why};
use crate::output::due::{JsonDeferral, json_deferral};
use crate::output::stock::{self, JsonStock};
use crate::plan::{Answer, Decision, Problem, Stay};
use crate::time;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;

/// In which stay each part is renewed.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(title = "halfglass plan --json")]
pub struct Plan<'a> {
    /// 1; it changes only if a key changes its meaning or goes.
    version: u32,
    /// The instant that the answer is for: RFC 3339 in UTC.
    as_of: String,
    /// One for each part, in the order of ship.toml.
    works: Vec<PlanWork<'a>>,
    /// It is proven that no plan is better.
    exact: bool,
    /// The spares of a stretch of time: what it takes, what is there, by when to order.
    stock: Vec<JsonStock<'a>>,
}

/// The renewal of a part.
#[derive(Debug, Serialize, JsonSchema)]
struct PlanWork<'a> {
    /// Its radar, as in ship.toml.
    radar: &'a str,
    /// Its name, as in ship.toml.
    part: &'a str,
    /// The serial fitted; null if no fitting is recorded.
    serial: Option<&'a str>,
    /// The office planner's own number.
    planner_id: Option<&'a str>,
    /// planned: in `window`; not-yet: in no stay entered so far; ask: for a stay; unknown: there is no date to plan by.
    #[schemars(schema_with = "decisions")]
    decision: &'static str,
    /// Where it is renewed.
    window: Option<PlanStay<'a>>,
    /// Where else, if that call is cancelled.
    fallback: Option<PlanStay<'a>>,
    /// Between which instants to ask for a stay, if one is missing.
    ask_between: Option<PlanAsk>,
    /// The chance that the limit passes before the work is done, cancelled calls weighed; null without a date.
    #[schemars(range(min = 0.0, max = 1.0))]
    chance_passed: Option<f64>,
    /// Other parts of the same radar renewed under the same isolation.
    joined_with: &'a [String],
    /// The latest instant to order, if no spare is aboard and the lead time is known: RFC 3339 in UTC.
    order_by: Option<String>,
    /// Hours of life left at the renewal; null if the use is not known.
    hours_given_up: Option<f64>,
    /// The stays that were not taken, by time.
    rejected: Vec<PlanRejected<'a>>,
    /// What is to be known beside the figures, in sentences.
    notes: Vec<String>,
    /// The last deferral since the part was put in; the plan goes by the limit as it is put off.
    deferral: Option<JsonDeferral<'a>>,
}

/// A stay.
#[derive(Debug, Serialize, JsonSchema)]
struct PlanStay<'a> {
    /// Its likely beginning: RFC 3339 in UTC.
    from: String,
    /// Its likely end: RFC 3339 in UTC.
    to: String,
    /// Where.
    place: &'a str,
}

/// Between which instants to ask for a stay.
#[derive(Debug, Serialize, JsonSchema)]
struct PlanAsk {
    /// From when it would help: RFC 3339 in UTC.
    from: String,
    /// By when the work must begin: RFC 3339 in UTC.
    to: String,
}

/// A stay that was not taken.
#[derive(Debug, Serialize, JsonSchema)]
struct PlanRejected<'a> {
    /// Where.
    place: &'a str,
    /// Its likely beginning: RFC 3339 in UTC.
    from: String,
    /// Why not there, as a clause.
    why: String,
}

fn decisions(_: &mut SchemaGenerator) -> Schema {
    schemars::json_schema!({ "type": "string", "enum": Decision::ALL.map(Decision::name) })
}

/// JSON, version 1.
#[must_use]
pub fn json(problem: &Problem, answer: &Answer, beside: &Beside<'_>) -> String {
    let works = pairs(problem, answer).map(|(work, planned)| PlanWork {
        radar: &work.radar,
        part: &work.part,
        serial: work.serial.as_deref(),
        planner_id: work.planner_id.as_deref(),
        decision: planned.decision.name(),
        window: planned.window.as_ref().map(json_stay),
        fallback: planned.fallback.as_ref().map(json_stay),
        ask_between: planned
            .ask_between
            .map(|(from_ms, to_ms)| PlanAsk { from: time::rfc3339(from_ms), to: time::rfc3339(to_ms) }),
        chance_passed: planned.chance_passed.map(|chance| rounded(chance, 10_000.0)),
        joined_with: &planned.joined_with,
        order_by: planned.order_by_ms.map(time::rfc3339),
        hours_given_up: planned.given_up_h.map(|hours| rounded(hours, 10.0)),
        rejected: planned
            .rejected
            .iter()
            .map(|rejected| PlanRejected {
                place: &rejected.place,
                from: time::rfc3339(rejected.from_ms),
                why: why(rejected),
            })
            .collect(),
        notes: notes(problem, work, planned),
        deferral: beside.put_off.get(planned.work).and_then(Option::as_ref).map(json_deferral),
    });
    let json = Plan {
        version: 1,
        as_of: time::rfc3339(problem.as_of_ms),
        works: works.collect(),
        exact: answer.exact,
        stock: beside.stock.iter().map(|kind| stock::json(kind, &beside.stretch)).collect(),
    };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}

fn json_stay(stay: &Stay) -> PlanStay<'_> {
    PlanStay { from: time::rfc3339(stay.from_ms), to: time::rfc3339(stay.to_ms), place: &stay.place }
}

fn rounded(figure: f64, steps: f64) -> f64 {
    (figure * steps).round() / steps
}
