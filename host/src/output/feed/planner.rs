//! What to enter in the office's planner, for whoever types it in by hand.

use crate::feed::Row;
use crate::output::screen::Screen;
use crate::output::table::{Sheet, printable};
use crate::time;

/// A table with the figures as the feed has them, then what is to be known beside them.
#[must_use]
pub fn planner(ship: &str, as_of_ms: i64, rows: &[Row], screen: Screen) -> String {
    let heading =
        ["Planner no.", "Radar", "Part", "Serial", "Since renewal", "Total of line", "Due", "State"];
    let dash = || "-".to_owned();
    let hours =
        |figure: Option<crate::feed::Tenths>| figure.map_or_else(dash, |h| format!("{:.1} h", h.hours()));
    let cells = rows.iter().map(|row| {
        vec![
            row.planner_id.clone().unwrap_or_else(dash),
            row.radar.clone(),
            row.part.clone(),
            row.serial.clone().unwrap_or_else(dash),
            hours(row.since_renewal),
            hours(row.cumulative),
            row.due_ms[1].map_or_else(dash, time::date),
            row.state.to_owned(),
        ]
    });
    let sheet = Sheet::new(&heading, &["Since renewal", "Total of line"], cells.collect());
    let title = format!("To enter in the planner: {ship}, {} UTC", time::minute(as_of_ms));
    let mut text = format!("{}\n", screen.paragraph(&title));
    text.push_str(&sheet.on(screen));
    text.push_str("\n\n");
    text.push_str(&screen.paragraph("Both meters only go forward, from one month to the next."));
    for row in rows.iter().filter(|row| !row.notes.is_empty()) {
        text.push_str(&format!("\n{}, {}:\n", printable(&row.radar), printable(&row.part)));
        text.push_str(&screen.notes(&row.notes));
    }
    text
}
