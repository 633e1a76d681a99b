//! The answer of `due` as JSON, version 1. Keys are only added.

use super::{Around, RadarRates, Spares};
use crate::due::deferral::{PutOff, Stands};
use crate::due::{Answer, Interval, LimitedBy};
use crate::output::condition::{self, JsonSeries};
use crate::output::life::{JsonLife, Life};
use crate::output::reconcile::{JsonRate, json_rate};
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// Which part is due when.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(title = "halfglass due --json")]
pub struct Due<'a> {
    /// 1; it changes only if a key changes its meaning or goes.
    version: u32,
    /// The instant that the answer is for: RFC 3339 in UTC.
    as_of: String,
    /// The parts, in the order of ship.toml.
    parts: Vec<JsonPart<'a>>,
    /// What was measured at like settings since the part was put in, those that want attention first. It stands beside the
    /// hours and is not reckoned into them.
    conditions: Vec<JsonSeries<'a>>,
    /// How often each radar dropped out, and transmitted before it was warm: likewise beside the hours.
    rates: Vec<JsonRates<'a>>,
}

/// A part as fitted now.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonPart<'a> {
    /// Its radar, as in ship.toml.
    radar: &'a str,
    /// Its name, as in ship.toml.
    part: &'a str,
    /// Its serial; null if no fitting is recorded.
    serial: Option<&'a str>,
    /// Hours that it has run; null if they cannot be known.
    hours: Option<JsonHours>,
    /// The limit, as in ship.toml.
    limit_h: Option<f64>,
    /// The limit less the likeliest hours.
    remaining_h: Option<f64>,
    /// When the first limit is reached.
    due: JsonDue,
    /// Which limit that is: hours, months or starts.
    limited_by: Option<&'static str>,
    /// ok, soon, due, overdue, deferred or unknown.
    state: &'static str,
    /// What widened the figures and what is missing, in sentences.
    notes: &'a [String],
    /// The last deferral since the part was put in; null if there is none. `due` stays the maker's limit.
    deferral: Option<JsonDeferral<'a>>,
    /// Its spares.
    spares: JsonSpares<'a>,
    /// What removals tell of parts of its kind; beside the maker's limit, never in its place.
    life: Option<JsonLife<'a>>,
}

/// A renewal put off.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::output) struct JsonDeferral<'a> {
    /// When it was decided: RFC 3339 in UTC.
    decided_at: String,
    /// Until the part has run so many hours.
    until_h: Option<f64>,
    /// Until then: RFC 3339 in UTC.
    until: Option<String>,
    /// Why.
    reason: &'a str,
    /// Who gave leave.
    approved_by: &'a str,
    /// yes; perhaps: its end may be reached; ended; unknown: it ends at hours that are not known.
    stands: &'static str,
    /// When the limit as put off is reached.
    due: JsonDue,
}

/// The spares of a part.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonSpares<'a> {
    /// Serials that are aboard and were never put in.
    aboard: &'a [String],
    /// One is to come.
    on_its_way: bool,
    /// The latest instant to order, the same as in the answer of `plan`: for the stay that is planned, else for the earlier end of
    /// `due`. RFC 3339 in UTC; null if one is aboard or to come, or if a figure is missing.
    order_by: Option<String>,
    /// What is missing for that: lead_time_days.
    missing: Option<&'static str>,
}

/// How often a radar dropped out, per 100 transmit hours.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonRates<'a> {
    /// Its name, as in ship.toml.
    radar: &'a str,
    /// Transmit lost for under 10 s while the heater stayed on; null if transmit is not watched.
    drop_outs: Option<JsonRate>,
    /// Transmit begun sooner than the stated warm-up; null if transmit is not watched.
    short_warm_ups: Option<JsonRate>,
}

/// Hours between bounds.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonHours {
    /// Not below.
    low: f64,
    /// Most likely.
    best: f64,
    /// Not above.
    high: f64,
}

/// An instant as likely before as after p50, and in eight cases of ten between the others: RFC 3339 in UTC.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonDue {
    /// One time in ten, earlier than this.
    p10: Option<String>,
    /// As likely before as after.
    p50: Option<String>,
    /// One time in ten, later than this.
    p90: Option<String>,
}

/// JSON, version 1.
#[must_use]
pub fn json(as_of_ms: i64, answers: &[Answer], around: &Around) -> String {
    // To a thousandth of an hour, never narrowing: 3.6 s is below what any source resolves.
    let thousandth = |h: f64, round: fn(f64) -> f64| round(h * 1_000.0) / 1_000.0;
    let none = Spares::default();
    let parts = answers.iter().enumerate().map(|(at, answer)| JsonPart {
        radar: &answer.radar,
        part: &answer.part,
        serial: answer.serial.as_deref(),
        hours: answer.hours.map(|Interval { low, best, high }| JsonHours {
            low: thousandth(low, f64::floor),
            best: thousandth(best, f64::round),
            high: thousandth(high, f64::ceil),
        }),
        limit_h: answer.limit_h,
        remaining_h: answer.remaining_h.map(|h| thousandth(h, f64::round)),
        due: JsonDue {
            p10: answer.forecast.p10_ms.map(time::rfc3339),
            p50: answer.forecast.p50_ms.map(time::rfc3339),
            p90: answer.forecast.p90_ms.map(time::rfc3339),
        },
        limited_by: answer.forecast.limited_by.map(LimitedBy::name),
        state: answer.state.name(),
        notes: &answer.notes,
        deferral: answer.deferral.as_ref().map(json_deferral),
        spares: json_spares(around.spares.get(at).unwrap_or(&none)),
        life: around.lives.get(at).and_then(Option::as_ref).map(Life::json),
    });
    let json = Due {
        version: 1,
        as_of: time::rfc3339(as_of_ms),
        parts: parts.collect(),
        conditions: around.conditions.iter().map(condition::json).collect(),
        rates: around.rates.iter().map(json_rates).collect(),
    };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}

pub(in crate::output) fn json_deferral(put_off: &PutOff) -> JsonDeferral<'_> {
    let at = |percent: usize| put_off.by_ms(percent).map(time::rfc3339);
    JsonDeferral {
        decided_at: time::rfc3339(put_off.deferral.at_ms),
        until_h: put_off.deferral.until_h,
        until: put_off.deferral.until_ms.map(time::rfc3339),
        reason: &put_off.deferral.reason,
        approved_by: &put_off.deferral.approved_by,
        stands: match put_off.stands {
            Stands::Yes => "yes",
            Stands::Perhaps => "perhaps",
            Stands::Ended => "ended",
            Stands::Unknown => "unknown",
        },
        due: JsonDue { p10: at(10), p50: at(50), p90: at(90) },
    }
}

fn json_spares(spares: &Spares) -> JsonSpares<'_> {
    let none = spares.aboard.is_empty() && !spares.on_its_way;
    JsonSpares {
        aboard: &spares.aboard,
        on_its_way: spares.on_its_way,
        order_by: spares.order_by_ms.map(time::rfc3339),
        missing: (none && spares.lead_time_days.is_none()).then_some("lead_time_days"),
    }
}

fn json_rates(rates: &RadarRates) -> JsonRates<'_> {
    JsonRates {
        radar: &rates.radar,
        drop_outs: rates.drop_outs.as_ref().map(json_rate),
        short_warm_ups: rates.short_warm_ups.as_ref().map(json_rate),
    }
}
