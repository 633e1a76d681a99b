//! Readings: figures copied from a radar's own hour counter.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use halfglass_protocol::config::Role;
use serde::{Deserialize, Serialize};

/// A figure copied from a radar's own hour counter. Two different figures of one counter at one instant are two
/// facts: which of them is true is for reconciling to say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// When it was read.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// The radar.
    pub radar: String,
    /// Which of its counters: a role's name.
    pub quantity: String,
    /// What it showed, in hours.
    pub hours: f64,
    /// The transceiver that the display showed.
    pub source: Option<String>,
    /// Who read it.
    pub by: Option<String>,
}

/// What a radar can count itself.
pub const QUANTITIES: [Role; 4] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];

impl Reading {
    /// The middle of the time at which it can have been read (UTC, milliseconds since 1970).
    #[must_use]
    pub fn at_ms(&self) -> i64 {
        self.at.best_ms()
    }
}

impl Fact for Reading {
    const NAME: &'static str = "reading";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was read"),
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed("quantity", "ROLE", "Which counter: supply, heater, transmit or motor"),
        needed("hours", "HOURS", "What it showed").signed(),
        optional("source", "NAME", "The transceiver that the display showed"),
        optional("by", "NAME", "Who read it"),
    ];
    const EXAMPLE: &'static str =
        "add reading --at 2026-03-01T08:00+00:00 --radar S-band --quantity transmit --hours 3121";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Reading> {
        let radar = checks::radar(fields, known)?;
        let quantity = fields.text("quantity");
        if !QUANTITIES.iter().any(|role| role.name() == quantity) {
            let all = QUANTITIES.map(Role::name).join(", ");
            let what = format!("`{quantity}` is no quantity: it is one of {all}");
            return Err(fields.error("quantity", &what));
        }
        let Some(hours) = checks::hours(fields, "hours")? else {
            let what = "there is no figure here: write the hours that the counter showed";
            return Err(fields.error("hours", what));
        };
        Ok(Reading {
            at: checks::moment(fields, "at", known)?,
            radar,
            quantity: quantity.to_owned(),
            hours,
            source: checks::optional(fields, "source"),
            by: checks::optional(fields, "by"),
        })
    }

    fn at(&self) -> Moment {
        self.at
    }

    fn row(&self) -> Vec<String> {
        vec![
            self.at.written(),
            self.radar.clone(),
            self.quantity.clone(),
            self.hours.to_string(),
            checks::text(self.source.as_ref()),
            checks::text(self.by.as_ref()),
        ]
    }
}
