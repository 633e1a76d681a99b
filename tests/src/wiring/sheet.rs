//! A computed table: figures at their least and most, and what each must be.

use super::quantity::{Quantity, Range};

/// What a figure must be.
#[derive(Clone, Copy, Debug)]
pub enum Must {
    /// Its least value is at least this.
    AtLeast(Quantity),
    /// Its largest value is at most this.
    AtMost(Quantity),
    /// It lies between these.
    Within(Quantity, Quantity),
    /// It is only told.
    Told,
}

/// Some figures, one a row, for several circuits, one a column.
#[derive(Clone, Debug)]
pub struct Sheet {
    columns: Vec<String>,
    rows: Vec<(String, Vec<Range>, Must)>,
}

impl Sheet {
    /// With these columns.
    pub fn new(columns: impl IntoIterator<Item = impl Into<String>>) -> Self {
        Self { columns: columns.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// Adds a row.
    ///
    /// # Panics
    /// It has not one cell a column.
    pub fn row(&mut self, what: &str, cells: Vec<Range>, must: Must) {
        assert_eq!(cells.len(), self.columns.len(), "{what}");
        self.rows.push((what.to_owned(), cells, must));
    }

    /// In Markdown.
    #[must_use]
    pub fn text(&self) -> String {
        let mut lines = vec![
            format!("| | {} | must be |", self.columns.join(" | ")),
            format!("|---|{}---|", "---:|".repeat(self.columns.len())),
        ];
        for (what, cells, must) in &self.rows {
            let cells: Vec<String> = cells.iter().map(told).collect();
            let must = match must {
                Must::AtLeast(bound) => format!("at least {}", plain(*bound)),
                Must::AtMost(bound) => format!("at most {}", plain(*bound)),
                Must::Within(least, most) => format!("{} to {}", plain(*least), plain(*most)),
                Must::Told => String::new(),
            };
            lines.push(format!("| {what} | {} | {must} |", cells.join(" | ")));
        }
        lines.join("\n")
    }

    /// Every figure that is not what it must be.
    #[must_use]
    pub fn misses(&self) -> Vec<String> {
        let mut misses = Vec::new();
        for (what, cells, must) in &self.rows {
            for (column, cell) in self.columns.iter().zip(cells) {
                let met = match must {
                    Must::AtLeast(bound) => cell.least >= *bound,
                    Must::AtMost(bound) => cell.most <= *bound,
                    Must::Within(least, most) => cell.least >= *least && cell.most <= *most,
                    Must::Told => true,
                };
                if !met {
                    misses.push(format!("{column}: {what}: {}, not {must:?}", told(cell)));
                }
            }
        }
        misses
    }
}

fn told(range: &Range) -> String {
    let (least, most) = (range.least.to_string(), range.most.to_string());
    if least == most {
        return least;
    }
    match (least.split_once(' '), most.split_once(' ')) {
        (Some((number, unit)), Some((_, same))) if unit == same => format!("{number} to {most}"),
        _ => format!("{least} to {most}"),
    }
}

/// A stated bound, without digits that say nothing.
fn plain(bound: Quantity) -> String {
    let text = bound.to_string();
    let (number, unit) = text.split_once(' ').map_or((text.as_str(), ""), |(number, unit)| (number, unit));
    let number =
        if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number };
    format!("{number} {unit}").trim_end().to_owned()
}
