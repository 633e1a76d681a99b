//! Tables as wide as the terminal, without colours or boxes.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

/// A table with a heading; columns named in `right` are set flush right.
#[must_use]
pub fn table(heading: &[&str], right: &[&str], rows: &[Vec<String>]) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
    table.set_header(heading.iter().copied());
    for row in rows {
        table.add_row(row.iter().map(|cell| printable(cell)));
    }
    for (at, name) in heading.iter().enumerate() {
        if right.contains(name)
            && let Some(column) = table.column_mut(at)
        {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt()
}

/// A name from a file as it may be shown: a control character could move a terminal's cursor.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

/// Hours for people: one decimal below 100, whole above.
#[must_use]
pub fn hours(hours: f64) -> String {
    if hours.abs() < 99.95 { format!("{hours:.1}") } else { format!("{hours:.0}") }
}
