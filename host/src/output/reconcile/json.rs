//! The answer of `reconcile` as JSON, version 1. Keys are only added.

use super::{Item, Report, State};
use crate::reconcile::{self, Interval, Kind, PartHours};
use crate::time;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;

/// Which count is true, and why sources differ.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(title = "halfglass reconcile --json")]
pub struct Reconcile<'a> {
    /// 1; it changes only if a key changes its meaning or goes.
    version: u32,
    /// The instant that the answer is for: RFC 3339 in UTC.
    as_of: String,
    /// The radars, in the order of ship.toml.
    radars: Vec<Radar<'a>>,
}

/// One radar.
#[derive(Debug, Serialize, JsonSchema)]
struct Radar<'a> {
    /// Its name, as in ship.toml.
    radar: &'a str,
    /// Its parts, as fitted now.
    parts: Vec<Part<'a>>,
    /// What disagrees and is not answered, worst first.
    findings: Vec<Finding<'a>>,
    /// What was answered, and has no new evidence since.
    answered: Vec<Answered<'a>>,
    /// Events per 100 transmit hours.
    rates: Rates,
    /// What is missing or was set aside, in sentences.
    notes: &'a [String],
}

/// A part as fitted now.
#[derive(Debug, Serialize, JsonSchema)]
struct Part<'a> {
    /// Its name, as in ship.toml.
    part: &'a str,
    /// Its serial; null if no fitting is recorded.
    serial: Option<&'a str>,
    /// When it was put in, the middle of what is possible: RFC 3339 in UTC.
    fitted_at: Option<String>,
    /// Hours that it has run, those before it was put in included; null if they cannot be known.
    hours: Option<Hours>,
    /// Why they cannot be known.
    unknown_because: Option<&'a str>,
}

/// Hours as all sources together leave them.
#[derive(Debug, Serialize, JsonSchema)]
struct Hours {
    /// Not below.
    low: f64,
    /// Most likely.
    best: f64,
    /// Not above.
    high: f64,
}

/// A disagreement between sources.
#[derive(Debug, Serialize, JsonSchema)]
struct Finding<'a> {
    /// What it is.
    #[schemars(schema_with = "kinds")]
    kind: &'static str,
    /// The part whose hours it touches, if one.
    part: Option<&'a str>,
    /// The line or counter that it is about, if one.
    line: Option<&'static str>,
    /// It happened not before: RFC 3339 in UTC.
    from: String,
    /// It happened not after: RFC 3339 in UTC.
    to: String,
    /// How likely this explanation is, given everything.
    #[schemars(range(min = 0.0, max = 1.0))]
    probability: f64,
    /// The figures that say so, as sentences.
    evidence: &'a [String],
    /// The next-best explanation; null if there is none worth naming.
    instead: Option<Instead>,
    /// What to do about it, in a sentence.
    advice: &'a str,
    /// It does not lead its rivals by enough, or rests on a last reading alone: to be asked, not told.
    question: bool,
    /// It was answered, but there is new evidence since.
    reopened: bool,
    /// By which an answer names it. It stays the same when more is known.
    key: &'a str,
    /// Of its evidence, for an answer. It changes when there is new evidence.
    digest: &'a str,
}

/// The next-best explanation.
#[derive(Debug, Serialize, JsonSchema)]
struct Instead {
    /// What it would be; null: nothing is wrong, a coincidence.
    #[schemars(schema_with = "kinds_or_null")]
    kind: Option<&'static str>,
    /// How likely that is, given everything.
    #[schemars(range(min = 0.0, max = 1.0))]
    probability: f64,
}

/// A finding that was answered.
#[derive(Debug, Serialize, JsonSchema)]
struct Answered<'a> {
    /// What it is.
    #[schemars(schema_with = "kinds")]
    kind: &'static str,
    /// By which the answer names it.
    key: &'a str,
    /// What was found out.
    answer: &'a str,
    /// When: RFC 3339 in UTC, the middle of what is possible.
    at: String,
}

/// Events per 100 transmit hours.
#[derive(Debug, Serialize, JsonSchema)]
struct Rates {
    /// Transmit lost for under 10 s while the heater stayed on; null if transmit is not watched.
    drop_outs: Option<Rate>,
    /// Transmit begun sooner than the stated warm-up; null if transmit is not watched.
    short_warm_ups: Option<Rate>,
}

/// How frequent something is.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::output) struct Rate {
    /// Over the whole log.
    per_100_h: f64,
    /// Over the last 500 transmit hours.
    recent_per_100_h: f64,
    /// The chance of as many of late if nothing has changed.
    #[schemars(range(min = 0.0, max = 1.0))]
    chance_of_rise: f64,
}

fn kinds(_: &mut SchemaGenerator) -> Schema {
    schemars::json_schema!({ "type": "string", "enum": Kind::ALL.map(Kind::name) })
}

fn kinds_or_null(_: &mut SchemaGenerator) -> Schema {
    let names: Vec<Option<&str>> = Kind::ALL.iter().map(|kind| Some(kind.name())).chain([None]).collect();
    schemars::json_schema!({ "type": ["string", "null"], "enum": names })
}

/// JSON, version 1.
#[must_use]
pub fn json(report: &Report) -> String {
    let radars = report.radars.iter().map(|radar| Radar {
        radar: &radar.name,
        parts: radar.parts.iter().map(part).collect(),
        findings: radar.items.iter().filter(|item| item.is_open()).map(finding).collect(),
        answered: radar.items.iter().filter_map(answered).collect(),
        rates: Rates {
            drop_outs: radar.drop_outs.as_ref().map(rate),
            short_warm_ups: radar.short_warm_ups.as_ref().map(rate),
        },
        notes: &radar.notes,
    });
    let json = Reconcile { version: 1, as_of: time::rfc3339(report.as_of_ms), radars: radars.collect() };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}

/// To a thousandth.
fn thousandth(x: f64) -> f64 {
    (x * 1_000.0).round() / 1_000.0
}

fn part(part: &PartHours) -> Part<'_> {
    // To a thousandth of an hour, never narrowing.
    let outward = |h: f64, round: fn(f64) -> f64| round(h * 1_000.0) / 1_000.0;
    Part {
        part: &part.part,
        serial: part.serial.as_deref(),
        fitted_at: part.fitted.map(|when| time::rfc3339(when.best_ms())),
        hours: part.hours.map(|Interval { low, best, high }| Hours {
            low: outward(low, f64::floor),
            best: thousandth(best),
            high: outward(high, f64::ceil),
        }),
        unknown_because: part.why_not.as_deref(),
    }
}

fn finding(item: &Item) -> Finding<'_> {
    let finding = &item.finding;
    Finding {
        kind: finding.kind.name(),
        part: finding.part.as_deref(),
        line: finding.line.map(halfglass_protocol::config::Role::name),
        from: time::rfc3339(finding.from_ms),
        to: time::rfc3339(finding.to_ms),
        probability: thousandth(finding.probability),
        evidence: &finding.evidence,
        instead: finding.instead.map(|instead| Instead {
            kind: instead.kind.map(Kind::name),
            probability: thousandth(instead.probability),
        }),
        advice: &finding.advice,
        question: finding.is_question,
        reopened: matches!(item.state, State::Reopened { .. }),
        key: &item.key,
        digest: &item.digest,
    }
}

fn answered(item: &Item) -> Option<Answered<'_>> {
    let State::Answered { text, at } = &item.state else { return None };
    Some(Answered {
        kind: item.finding.kind.name(),
        key: &item.key,
        answer: text,
        at: time::rfc3339(at.best_ms()),
    })
}

pub(in crate::output) fn rate(rate: &reconcile::Rate) -> Rate {
    Rate {
        per_100_h: thousandth(rate.per_100_h),
        recent_per_100_h: thousandth(rate.recent_per_100_h),
        chance_of_rise: thousandth(rate.chance_of_rise),
    }
}
