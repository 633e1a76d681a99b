//! What an answer is read on: a terminal of so many columns, or a file or pipe that has no width.

use super::look;
use super::table::{printable, tied, untied};
use comfy_table::{ContentArrangement, Table, presets};
use terminal_size::{Width, terminal_size_of};

/// Sentences are no wider than this, however wide the terminal is; findings are exactly so wide in a file.
const SENTENCES_MAX: u16 = 100;
/// A terminal that says it is narrower is written to as if it were so wide.
const COLUMNS_MIN: u16 = 40;

/// How wide the answer may be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Screen {
    columns: Option<u16>,
}

impl Screen {
    /// A file or a pipe: a row stays one line however long, and so does a note, for `grep` and `awk`.
    pub const PIPE: Screen = Screen { columns: None };

    /// What standard output goes to.
    #[must_use]
    pub fn of_stdout() -> Screen {
        match terminal_size_of(std::io::stdout()) {
            // A terminal that does not know its size says 0: it wraps by itself.
            Some((Width(columns), _)) if columns > 0 => Screen::of_columns(columns),
            _ => Screen::PIPE,
        }
    }

    /// A terminal of so many columns.
    #[must_use]
    pub fn of_columns(columns: u16) -> Screen {
        Screen { columns: Some(columns.max(COLUMNS_MIN)) }
    }

    /// How many columns there are; `None`: as many as are wanted.
    #[must_use]
    pub const fn columns(self) -> Option<u16> {
        self.columns
    }

    /// Sentences in a row, with a line end.
    #[must_use]
    pub fn paragraph(self, text: &str) -> String {
        self.indented(text, "")
    }

    /// The same behind an indent.
    #[must_use]
    pub fn indented(self, text: &str, indent: &str) -> String {
        let text = printable(text);
        match self.sentences() {
            Some(width) => wrapped(vec![vec![text]], width, indent),
            None => format!("{indent}{text}\n"),
        }
    }

    /// Notes, each with a dash before it.
    #[must_use]
    pub fn notes<T: AsRef<str>>(self, notes: impl IntoIterator<Item = T>) -> String {
        let notes = notes.into_iter().map(|note| printable(note.as_ref()));
        look::attention(&match self.sentences() {
            Some(width) => wrapped(notes.map(|note| vec!["-".to_owned(), note]).collect(), width, "  "),
            None => notes.map(|note| format!("  - {note}\n")).collect::<String>(),
        })
    }

    /// A sentence behind its number.
    #[must_use]
    pub(super) fn numbered(self, number: &str, text: &str) -> String {
        let text = printable(text);
        match self.sentences() {
            Some(width) => wrapped(vec![vec![number.to_owned(), text]], width, ""),
            None => format!("{number} {text}\n"),
        }
    }

    /// Labels with their sentences beside them, behind an indent. In a file, too, they are wrapped: they are there to be
    /// read.
    #[must_use]
    pub fn labelled(self, rows: &[(&str, String)], indent: &str) -> String {
        let row = |(label, text): &(&str, String)| vec![format!("{label:<8} "), printable(text)];
        let rows = rows.iter().map(row).collect();
        wrapped(rows, self.sentences().unwrap_or(SENTENCES_MAX), indent)
    }

    fn sentences(self) -> Option<u16> {
        self.columns.map(|columns| columns.min(SENTENCES_MAX))
    }
}

/// Columns with one space between them, the last of them wrapped at spaces, every line behind an indent.
pub(super) fn wrapped(rows: Vec<Vec<String>>, width: u16, indent: &str) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(width.saturating_sub(u16::try_from(indent.len()).unwrap_or(0)));
    let last = rows.first().map_or(0, |row| row.len().saturating_sub(1));
    for row in rows {
        table.add_row(row.iter().map(|cell| tied(cell)));
    }
    for (at, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, u16::from(at < last)));
    }
    untied(&table.trim_fmt())
        .lines()
        .map(|line| format!("{}\n", format!("{indent}{line}").trim_end()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_keep_to_the_screen_and_a_pipe_keeps_each_on_its_line() {
        let note =
            "The logger was without power for up to 827 h; it is fed from the radar, so that counts as off.";
        let said = Screen::of_columns(60).notes([note]);
        let lines: Vec<&str> = said.lines().collect();
        assert!(lines.iter().all(|line| line.chars().count() <= 60), "{said}");
        assert!(lines[0].starts_with("  - The logger") && lines[1].starts_with("    "), "{said}");
        assert_eq!(Screen::PIPE.notes([note]), format!("  - {note}\n"));
        assert_eq!(Screen::PIPE.paragraph("Two\u{1b} words."), "Two\u{fffd} words.\n");
    }

    #[test]
    fn sentences_are_never_wider_than_is_easy_to_read() {
        let said = Screen::of_columns(300).paragraph(&"word ".repeat(80));
        assert!(said.lines().all(|line| line.len() <= usize::from(SENTENCES_MAX)), "{said}");
    }
}
