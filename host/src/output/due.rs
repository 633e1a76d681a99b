//! How the answer of `due` looks.

use super::table::{hours, printable, table};
use crate::due::{Answer, Interval, LimitedBy};
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// Which part is due when.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(title = "halfglass due --json")]
pub struct Json<'a> {
    /// 1; it changes only if a key changes its meaning or goes.
    version: u32,
    /// The instant that the answer is for: RFC 3339 in UTC.
    as_of: String,
    /// The parts, in the order of ship.toml.
    parts: Vec<JsonPart<'a>>,
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
pub fn json(as_of_ms: i64, answers: &[Answer]) -> String {
    // To a thousandth of an hour, never narrowing: 3.6 s is below what any source resolves.
    let thousandth = |h: f64, round: fn(f64) -> f64| round(h * 1_000.0) / 1_000.0;
    let parts = answers.iter().map(|answer| JsonPart {
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
    });
    let json = Json { version: 1, as_of: time::rfc3339(as_of_ms), parts: parts.collect() };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}

/// A table and notes, for people.
#[must_use]
pub fn text(ship: &str, as_of_ms: i64, answers: &[Answer]) -> String {
    let heading =
        ["Radar", "Part", "Serial", "Hours run", "Limit", "Left", "Due", "8 in 10 between", "State"];
    let dash = || "-".to_owned();
    let rows: Vec<Vec<String>> = answers
        .iter()
        .map(|answer| {
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
                answer.state.name().to_owned(),
            ]
        })
        .collect();
    let right = ["Hours run", "Limit", "Left"];
    let mut text = format!("{}, as of {} UTC\n\n", printable(ship), time::minute(as_of_ms));
    text.push_str(&table(&heading, &right, &rows));
    text.push_str(
        "\n\nHours run: likeliest, in brackets what cannot be excluded. Due: as likely before as after; dates in UTC.\n",
    );
    for answer in answers.iter().filter(|answer| !answer.notes.is_empty()) {
        text.push_str(&format!("\n{}, {}:\n", printable(&answer.radar), printable(&answer.part)));
        for note in &answer.notes {
            text.push_str(&format!("  - {}\n", printable(note)));
        }
    }
    text
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::due::State;
    use crate::due::forecast::Forecast;

    fn answer() -> Answer {
        Answer {
            radar: "S-band".into(),
            part: "magnetron".into(),
            serial: Some("B-1950".into()),
            hours: Some(Interval { low: 3_121.000_4, best: 3_123.5, high: 3_140.000_4 }),
            starts: None,
            limit_h: Some(3_600.0),
            remaining_h: Some(476.5),
            forecast: Forecast {
                p10_ms: Some(1_772_352_000_000),
                p50_ms: Some(1_772_952_000_000),
                p90_ms: None,
                percentiles_ms: vec![1_772_352_000_000],
                limited_by: Some(LimitedBy::Hours),
                ..Forecast::default()
            },
            state: State::Soon,
            deferral: None,
            notes: vec!["Pull\u{1b}[2J again.".into()],
        }
    }

    #[test]
    fn the_json_is_as_promised() {
        let value: serde_json::Value = serde_json::from_str(&json(1_772_352_000_000, &[answer()])).unwrap();
        let expected = serde_json::json!({
            "version": 1,
            "as_of": "2026-03-01T08:00:00Z",
            "parts": [{
                "radar": "S-band", "part": "magnetron", "serial": "B-1950",
                "hours": {"low": 3121.0, "best": 3123.5, "high": 3140.001},
                "limit_h": 3600.0, "remaining_h": 476.5,
                "due": {"p10": "2026-03-01T08:00:00Z", "p50": "2026-03-08T06:40:00Z", "p90": null},
                "limited_by": "hours", "state": "soon",
                "notes": ["Pull\u{1b}[2J again."]
            }]
        });
        assert_eq!(value, expected);
    }

    #[test]
    fn the_table_reads_plainly_and_shows_no_control_characters() {
        let text = text("Calder", 1_772_352_000_000, &[answer()]);
        assert!(text.starts_with("Calder, as of 2026-03-01 08:00 UTC\n"), "{text}");
        assert!(text.contains("3124 (3121 to 3140)"), "{text}");
        assert!(text.contains("2026-03-01 and much later"), "{text}");
        assert!(!text.contains('\u{1b}'), "{text}");
    }
}
