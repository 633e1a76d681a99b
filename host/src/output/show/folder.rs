//! A ship folder's facts, with the numbers by which a correction names them.

use super::section;
use crate::ship::facts::{Fitting, Reading};
use crate::store::Kept;
use crate::time;
use serde_json::json;

/// What a ship folder holds.
pub struct Holdings {
    /// Loggers: device id, dumps, records.
    pub loggers: Vec<(String, u32, u32)>,
    /// Readings that stand.
    pub readings: Vec<Kept<Reading>>,
    /// Fittings that stand.
    pub fittings: Vec<Kept<Fitting>>,
}

/// The folder in tables.
#[must_use]
pub fn folder_text(holdings: &Holdings) -> String {
    let loggers: Vec<Vec<String>> = holdings
        .loggers
        .iter()
        .map(|(device, dumps, records)| vec![device.clone(), dumps.to_string(), records.to_string()])
        .collect();
    let readings: Vec<Vec<String>> = holdings
        .readings
        .iter()
        .map(|Kept { id, fact }| {
            vec![
                id.to_string(),
                time::minute(fact.at_ms),
                fact.radar.clone(),
                fact.quantity.clone(),
                format!("{}", fact.hours),
                fact.by.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let fittings: Vec<Vec<String>> = holdings
        .fittings
        .iter()
        .map(|Kept { id, fact }| {
            vec![
                id.to_string(),
                time::minute(fact.at_ms),
                fact.radar.clone(),
                fact.part.clone(),
                fact.serial.clone(),
                fact.hours_at_fit.map_or_else(|| "new".to_owned(), |h| format!("{h}")),
                if fact.counter_zeroed { "yes" } else { "no" }.to_owned(),
                fact.by.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let logger_heading = ["Logger", "Dumps", "Records"];
    let reading_heading = ["Number", "At (UTC)", "Radar", "Quantity", "Hours", "By"];
    let fitting_heading =
        ["Number", "At (UTC)", "Radar", "Part", "Serial", "Hours before", "Counter zeroed", "By"];
    let mut text = section("Loggers", &logger_heading, &logger_heading[1..], &loggers);
    text.push_str(&section("Readings", &reading_heading, &["Number", "Hours"], &readings));
    text.push_str(&section("Fittings", &fitting_heading, &["Number", "Hours before"], &fittings));
    text.trim().to_owned()
}

/// The folder as JSON, version 1.
#[must_use]
pub fn folder_json(holdings: &Holdings) -> String {
    let value = json!({
        "version": 1,
        "loggers": holdings.loggers.iter().map(|(device, dumps, records)| json!({
            "logger": device, "dumps": dumps, "records": records,
        })).collect::<Vec<_>>(),
        "readings": holdings.readings.iter().map(|Kept { id, fact }| json!({
            "number": id, "at": time::rfc3339(fact.at_ms), "radar": fact.radar, "quantity": fact.quantity,
            "hours": fact.hours, "source": fact.source, "by": fact.by,
        })).collect::<Vec<_>>(),
        "fittings": holdings.fittings.iter().map(|Kept { id, fact }| json!({
            "number": id, "at": time::rfc3339(fact.at_ms), "radar": fact.radar, "part": fact.part,
            "serial": fact.serial, "counter_zeroed": fact.counter_zeroed,
            "zeroed_at": fact.zeroed_at_ms.map(time::rfc3339), "counter_before": fact.counter_before,
            "counter_after": fact.counter_after, "hours_at_fit": fact.hours_at_fit,
            "removed_serial": fact.removed_serial, "removed_because": fact.removed_because, "by": fact.by,
        })).collect::<Vec<_>>(),
    });
    serde_json::to_string_pretty(&value).unwrap_or_default()
}
