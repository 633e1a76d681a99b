//! Readings and fittings, checked: from a CSV file or from the command line by the same rules.

use super::rows::{Row, Rows};
use super::settings::{Settings, quoted};
use crate::time;
use crate::{Error, Result};
use halfglass_protocol::config::Role;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// A figure copied from a radar's own hour counter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// When it was read.
    pub at_ms: i64,
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

/// A part put in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fitting {
    /// When.
    pub at_ms: i64,
    /// Into which radar.
    pub radar: String,
    /// Which part.
    pub part: String,
    /// Its serial.
    pub serial: String,
    /// The radar's counter was set back to zero for it.
    pub counter_zeroed: bool,
    /// When it was set back, if not at once.
    pub zeroed_at_ms: Option<i64>,
    /// What the counter showed before, in hours.
    pub counter_before: Option<f64>,
    /// What it showed after, in hours.
    pub counter_after: Option<f64>,
    /// Hours that the part had run before it was put in.
    pub hours_at_fit: Option<f64>,
    /// The serial of the part taken out.
    pub removed_serial: Option<String>,
    /// Why that one was taken out: one of [`REMOVED_BECAUSE`].
    pub removed_because: Option<String>,
    /// Who did it.
    pub by: Option<String>,
}

/// Why a part was taken out.
pub const REMOVED_BECAUSE: [&str; 6] = ["limit", "failed", "weak", "damaged", "moved", "unknown"];

/// What a radar can count itself.
pub const QUANTITIES: [Role; 4] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];

/// Where the fields of a fact come from: a CSV row or the command line.
pub trait Fields {
    /// The text of a field; empty if it was not given.
    fn text(&self, field: &str) -> &str;
    /// Says what is wrong with a field.
    fn error(&self, field: &str, what: &str) -> Error;
}

impl Fields for Row<'_> {
    fn text(&self, field: &str) -> &str {
        Row::text(self, field)
    }

    fn error(&self, field: &str, what: &str) -> Error {
        Row::error(self, field, what)
    }
}

/// Reads readings.csv.
///
/// # Errors
/// File, line and column of the first thing that is wrong.
pub fn readings(path: &Path, settings: &Settings) -> Result<Vec<Reading>> {
    let rows = Rows::read(path, &["at", "radar", "quantity", "hours"], &["source", "by"])?;
    rows.iter().map(|row| reading(&row, settings)).collect()
}

/// Reads fittings.csv.
///
/// # Errors
/// As [`readings`].
pub fn fittings(path: &Path, settings: &Settings) -> Result<Vec<Fitting>> {
    const OPTIONAL: [&str; 7] = [
        "zeroed_at",
        "counter_before",
        "counter_after",
        "hours_at_fit",
        "removed_serial",
        "removed_because",
        "by",
    ];
    let rows = Rows::read(path, &["at", "radar", "part", "serial", "counter_zeroed"], &OPTIONAL)?;
    rows.iter().map(|row| fitting(&row, settings)).collect()
}

/// Checks one reading.
///
/// # Errors
/// What is wrong with which field.
pub fn reading(fields: &impl Fields, settings: &Settings) -> Result<Reading> {
    let radar = radar(fields, settings)?;
    let quantity = fields.text("quantity");
    if !QUANTITIES.iter().any(|role| role.name() == quantity) {
        let all = QUANTITIES.map(Role::name).join(", ");
        return Err(fields.error("quantity", &format!("`{quantity}` is no quantity: it is one of {all}")));
    }
    let Some(hours) = hours(fields, "hours")? else {
        return Err(fields.error("hours", "there is no figure here: write the hours that the counter showed"));
    };
    Ok(Reading {
        at_ms: at(fields, "at")?,
        radar,
        quantity: quantity.to_owned(),
        hours,
        source: optional(fields, "source"),
        by: optional(fields, "by"),
    })
}

/// Checks one fitting.
///
/// # Errors
/// What is wrong with which field.
pub fn fitting(fields: &impl Fields, settings: &Settings) -> Result<Fitting> {
    let radar = radar(fields, settings)?;
    let part = fields.text("part");
    let mut parts = settings.parts.iter().filter(|known| known.radar == radar).map(|known| &known.name);
    if !parts.any(|known| known == part) {
        let all = quoted(settings.parts.iter().filter(|p| p.radar == radar).map(|p| &p.name));
        let all = if all.is_empty() { "none".to_owned() } else { all };
        let what = format!("ship.toml has no part `{part}` in radar `{radar}`; its parts are: {all}");
        return Err(fields.error("part", &what));
    }
    if fields.text("serial").is_empty() {
        return Err(fields.error("serial", "there is no serial: write what the part's label says"));
    }
    let counter_zeroed = match fields.text("counter_zeroed") {
        "yes" => true,
        "no" => false,
        other => {
            return Err(fields.error("counter_zeroed", &format!("`{other}` is neither `yes` nor `no`")));
        }
    };
    let removed_because = optional(fields, "removed_because");
    if let Some(word) = &removed_because
        && !REMOVED_BECAUSE.contains(&word.as_str())
    {
        let what = format!("`{word}` is no reason: it is one of {}", REMOVED_BECAUSE.join(", "));
        return Err(fields.error("removed_because", &what));
    }
    let zeroed_at_ms = match fields.text("zeroed_at") {
        "" => None,
        _ if !counter_zeroed => {
            let what = "there is a time of zeroing, but counter_zeroed says `no`";
            return Err(fields.error("zeroed_at", what));
        }
        _ => Some(at(fields, "zeroed_at")?),
    };
    Ok(Fitting {
        at_ms: at(fields, "at")?,
        radar,
        part: part.to_owned(),
        serial: fields.text("serial").to_owned(),
        counter_zeroed,
        zeroed_at_ms,
        counter_before: hours(fields, "counter_before")?,
        counter_after: hours(fields, "counter_after")?,
        hours_at_fit: hours(fields, "hours_at_fit")?,
        removed_serial: optional(fields, "removed_serial"),
        removed_because,
        by: optional(fields, "by"),
    })
}

fn at(fields: &impl Fields, field: &str) -> Result<i64> {
    time::parse_ms(fields.text(field)).map_err(|what| fields.error(field, &what))
}

fn radar(fields: &impl Fields, settings: &Settings) -> Result<String> {
    let name = fields.text("radar");
    if settings.radar(name).is_some() {
        return Ok(name.to_owned());
    }
    let what = if settings.radars.is_empty() {
        "ship.toml has no radar yet: write a [[radar]] block into it first".to_owned()
    } else {
        let all = quoted(settings.radars.iter().map(|radar| &radar.name));
        format!("ship.toml has no radar `{name}`; its radars are: {all}")
    };
    Err(fields.error("radar", &what))
}

fn hours(fields: &impl Fields, field: &str) -> Result<Option<f64>> {
    let text = fields.text(field);
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(hours) if hours.is_finite() && (0.0..1e7).contains(&hours) => Ok(Some(hours)),
        Ok(_) => Err(fields.error(field, &format!("{text} hours cannot be: it is a number from 0 up"))),
        Err(_) => {
            let what =
                format!("`{text}` is not a number of hours: write it as 1234 or 1234.5, without a unit");
            Err(fields.error(field, &what))
        }
    }
}

fn optional(fields: &impl Fields, field: &str) -> Option<String> {
    Some(fields.text(field)).filter(|text| !text.is_empty()).map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHIP: &str = r#"
        ship = { name = "Calder" }
        [[radar]]
        name = "S-band"
        logger = "3f9c11d2a07be458"
        lines = { transmit = 2 }
        [[part]]
        radar = "S-band"
        name = "magnetron"
        ages_by = "transmit"
    "#;

    fn settings() -> Settings {
        Settings::parse(SHIP, "ship.toml").unwrap()
    }

    fn read_fittings(text: &str) -> Result<Vec<Fitting>> {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        fittings(file.path(), &settings())
    }

    fn read_readings(text: &str) -> Result<Vec<Reading>> {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        readings(file.path(), &settings())
    }

    #[test]
    fn sound_rows_are_read_whatever_the_columns_order() {
        let text = "by,hours,quantity,radar,at\n\"Okoro, J\",812,transmit,S-band,2026-03-01T08:00+00:00\n";
        let read = read_readings(text).unwrap();
        assert_eq!(read.len(), 1);
        assert_eq!(read[0].by.as_deref(), Some("Okoro, J"));
        assert_eq!(read[0].at_ms, 1_772_352_000_000);
        let text = "at,radar,part,serial,counter_zeroed,hours_at_fit\n\
                    2026-03-01T08:00Z,S-band,magnetron,B-1,yes,12.5\n";
        assert_eq!(read_fittings(text).unwrap()[0].hours_at_fit, Some(12.5));
    }

    #[test]
    fn every_mistake_is_named_with_line_and_column() {
        let head = "at,radar,quantity,hours\n2026-03-01T08:00Z,S-band,transmit,1\n";
        for (row, place, word) in [
            ("2026-03-01T08:00,S-band,transmit,1", "line 3, column 1 (at)", "no offset"),
            ("2026-03-01T08:00Z,X-band,transmit,1", "line 3, column 2 (radar)", "`S-band`"),
            (
                "2026-03-01T08:00Z,S-band,isolated,1",
                "line 3, column 3 (quantity)",
                "supply, heater, transmit, motor",
            ),
            ("2026-03-01T08:00Z,S-band,transmit,12h", "line 3, column 4 (hours)", "without a unit"),
            ("2026-03-01T08:00Z,S-band,transmit,-1", "line 3, column 4 (hours)", "cannot be"),
            ("2026-03-01T08:00Z,S-band,transmit,NaN", "line 3, column 4 (hours)", "cannot be"),
            ("2026-03-01T08:00Z,S-band,transmit,", "line 3, column 4 (hours)", "no figure"),
            ("2026-03-01T08:00Z,S-band,transmit", "line 3", "this row has 3 fields"),
        ] {
            let message = read_readings(&format!("{head}{row}\n")).unwrap_err().to_string();
            assert!(message.contains(place) && message.contains(word), "{row}: {message}");
        }
        let message = read_readings("at,radar,hours\n").unwrap_err().to_string();
        assert!(message.contains("line 1") && message.contains("no column `quantity`"), "{message}");
        let message = read_readings("at,radar,quantity,hours,who\n").unwrap_err().to_string();
        assert!(message.contains("column 5 is called `who`"), "{message}");
        let head = "at,radar,part,serial,counter_zeroed,zeroed_at,removed_because\n";
        for (row, place) in [
            ("2026-03-01T08:00Z,S-band,motor,B,yes,,", "column 3 (part)"),
            ("2026-03-01T08:00Z,S-band,magnetron,,yes,,", "column 4 (serial)"),
            ("2026-03-01T08:00Z,S-band,magnetron,B,maybe,,", "column 5 (counter_zeroed)"),
            ("2026-03-01T08:00Z,S-band,magnetron,B,no,2026-03-01T08:00Z,", "column 6 (zeroed_at)"),
            ("2026-03-01T08:00Z,S-band,magnetron,B,no,,worn", "column 7 (removed_because)"),
        ] {
            let message = read_fittings(&format!("{head}{row}\n")).unwrap_err().to_string();
            assert!(message.contains(place), "{row}: {message}");
        }
    }
}
