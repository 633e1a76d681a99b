//! A watch for programs: one JSON object a line.

use super::{CAUTION, Event, Line};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::Serialize;

/// One line of `halfglass watch --json`.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Json<'a> {
    version: u32,
    /// When it was seen, RFC 3339 in UTC, to the millisecond.
    at: String,
    /// The logger's id.
    logger: &'a str,
    #[serde(flatten)]
    event: JsonEvent<'a>,
}

/// What happened.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(tag = "event", rename_all = "kebab-case")]
enum JsonEvent<'a> {
    /// The watch begins, or goes on after the logger was away: all lines as they stand.
    Begin { caution: &'a str, lines: Vec<JsonLine<'a>> },
    /// A line changed.
    Change(JsonLine<'a>),
    /// A line is as it was, and went the other way and back so often between two looks.
    Blink {
        times: u32,
        #[serde(flatten)]
        line: JsonLine<'a>,
    },
    /// Lines contradict each other.
    Breach { what: &'a str },
    /// They no longer do.
    BreachOver { what: &'a str },
    /// The logger started anew.
    Restarted { session: u32 },
    /// The logger answers, and is not ready yet.
    Starting,
    /// The logger is away.
    Lost { why: &'a str },
    /// Another logger answers in its place.
    Another { other: String },
    /// The logger is there again.
    Back { port: &'a str },
    /// The watch ends. `unproven`: lines not seen both on and off, if that was asked.
    End { unproven: Vec<JsonLine<'a>> },
}

/// A line.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonLine<'a> {
    input: u8,
    /// The radar's name, if ship.toml says it.
    radar: Option<&'a str>,
    /// What it stands for: supply, heater, transmit, motor or isolated.
    line: &'static str,
    /// Null while it is not known.
    on: Option<bool>,
    /// Its total, in tenths of a second.
    total_tenths: u64,
    starts: u32,
    /// It was seen on in this watch.
    seen_on: bool,
    /// It was seen off in this watch.
    seen_off: bool,
}

impl<'a> JsonLine<'a> {
    fn of(line: &'a Line) -> JsonLine<'a> {
        JsonLine {
            input: line.input,
            radar: line.radar.as_deref(),
            line: line.role.name(),
            on: line.on,
            total_tenths: line.total_tenths,
            starts: line.starts,
            seen_on: line.seen_on,
            seen_off: line.seen_off,
        }
    }
}

/// One event, on one line.
#[must_use]
pub fn json(logger: &str, event: &Event, at_ms: i64) -> String {
    let event = match event {
        Event::Begin(all) => {
            JsonEvent::Begin { caution: CAUTION, lines: all.iter().map(JsonLine::of).collect() }
        }
        Event::Change(line) => JsonEvent::Change(JsonLine::of(line)),
        Event::Blink(line, times) => JsonEvent::Blink { times: *times, line: JsonLine::of(line) },
        Event::Breach(what) => JsonEvent::Breach { what },
        Event::BreachOver(what) => JsonEvent::BreachOver { what },
        Event::Restarted { session } => JsonEvent::Restarted { session: *session },
        Event::Starting => JsonEvent::Starting,
        Event::Lost(why) => JsonEvent::Lost { why },
        Event::Another { device_id } => JsonEvent::Another { other: format!("{device_id:016x}") },
        Event::Back { port } => JsonEvent::Back { port },
        Event::End { unproven } => JsonEvent::End { unproven: unproven.iter().map(JsonLine::of).collect() },
    };
    let at = Timestamp::from_millisecond(at_ms).map_or_else(|_| String::new(), |at| format!("{at:.3}"));
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string(&Json { version: 1, at, logger, event }).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::config::Role;

    #[test]
    fn an_event_is_one_line_of_json() {
        let line = Line {
            input: 2,
            radar: None,
            role: Role::Transmit,
            on: Some(true),
            total_tenths: 7,
            starts: 1,
            changed_ms: None,
            seen_on: true,
            seen_off: false,
        };
        let text = json("3f9c11d2a07be458", &Event::Change(line), 1_772_352_725_300);
        let expected = serde_json::json!({
            "version": 1, "at": "2026-03-01T08:12:05.300Z", "logger": "3f9c11d2a07be458", "event": "change",
            "input": 2, "radar": null, "line": "transmit", "on": true, "total_tenths": 7, "starts": 1,
            "seen_on": true, "seen_off": false,
        });
        assert_eq!(serde_json::from_str::<serde_json::Value>(&text).unwrap(), expected);
        assert!(!text.contains('\n'));
    }
}
