//! The feed as JSON.

use super::{Line, line};
use crate::feed::Row;
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// What a planner is told of a ship's radars.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(title = "halfglass feed json")]
pub struct Json {
    /// 1; it changes only if a key changes its meaning or goes.
    version: u32,
    /// The instant that it is for: RFC 3339 in UTC.
    as_of: String,
    /// One for each part, in the order of ship.toml.
    parts: Vec<Line>,
}

/// JSON, version 1.
#[must_use]
pub fn json(ship: &str, as_of_ms: i64, rows: &[Row]) -> String {
    let parts = rows.iter().map(|row| line(ship, as_of_ms, row)).collect();
    let json = Json { version: 1, as_of: time::rfc3339(as_of_ms), parts };
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&json).unwrap_or_default()
}
