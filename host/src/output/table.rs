//! Tables without boxes: as wide as they like in a pipe, and on a terminal in the first form that fits.

use super::look::{self, Look};
use super::screen::{Screen, wrapped};
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets};

/// Rows under a heading.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    heading: &'a [&'a str],
    right: &'a [&'a str],
    look: Option<Look>,
    /// Safe to be shown; a line end begins a new line of the cell.
    rows: Vec<Vec<String>>,
}

impl<'a> Sheet<'a> {
    /// A table with a heading; columns named in `right` are set flush right.
    #[must_use]
    pub fn new(heading: &'a [&'a str], right: &'a [&'a str], rows: Vec<Vec<String>>) -> Sheet<'a> {
        Sheet::stacked(
            heading,
            right,
            rows.into_iter().map(|row| row.into_iter().map(|cell| vec![cell]).collect()),
        )
    }

    /// The same with several lines to a cell; then a blank line parts the rows.
    #[must_use]
    pub(super) fn stacked(
        heading: &'a [&'a str],
        right: &'a [&'a str],
        rows: impl IntoIterator<Item = Vec<Vec<String>>>,
    ) -> Sheet<'a> {
        let line = |line: &String| tied(&printable(line));
        let cell = |lines: Vec<String>| lines.iter().map(line).collect::<Vec<_>>().join("\n");
        let rows = rows.into_iter().map(|row| row.into_iter().map(cell).collect());
        Sheet { heading, right, look: None, rows: rows.collect() }
    }

    /// The same, with the first column's words in colours.
    #[must_use]
    pub(super) fn look(mut self, look: Look) -> Sheet<'a> {
        self.look = Some(look);
        self
    }

    /// Whether nothing stands under the heading.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Lines without an end behind the last. What is too wide has cells wrapped at spaces; what is too wide even so becomes a
    /// block of lines for each row. No word is broken.
    #[must_use]
    pub fn on(&self, screen: Screen) -> String {
        Sheet::first_that_fits(&[self], screen)
    }

    /// The first of these forms that needs no wrapping. If none fits, the last of them is wrapped at spaces; if that is too
    /// wide as well, the first of them becomes a block of lines for each row.
    #[must_use]
    pub(super) fn first_that_fits(forms: &[&Sheet<'_>], screen: Screen) -> String {
        let (Some(first), Some(last)) = (forms.first(), forms.last()) else { return String::new() };
        let Some(columns) = screen.columns() else { return first.drawn(&first.table()) };
        if let Some(fits) = forms.iter().find(|form| needs(&form.table()) <= columns) {
            return fits.drawn(&fits.table());
        }
        let words = last.word_widths();
        if total(&words) > columns {
            return first.blocks(columns);
        }
        let mut table = last.table();
        table.set_content_arrangement(ContentArrangement::Dynamic).set_width(columns);
        // A column is never narrower than its longest word and the spaces beside it, so that no word is broken.
        let last_at = words.len().saturating_sub(1);
        let wide = |(at, word): (usize, &u16)| word.saturating_add(if at == last_at { 1 } else { 2 });
        let widths = words.iter().enumerate().map(wide);
        table.set_constraints(widths.map(|wide| ColumnConstraint::LowerBoundary(Width::Fixed(wide))));
        last.drawn(&table)
    }

    fn drawn(&self, table: &Table) -> String {
        let drawn = untied(&table.trim_fmt());
        match self.look {
            Some(look) => drawn.lines().map(|line| look::word(line, 1, look)).collect::<Vec<_>>().join("\n"),
            None => drawn,
        }
    }

    fn table(&self) -> Table {
        let mut table = Table::new();
        table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Disabled);
        table.set_header(self.heading);
        let is_stacked = self.rows.iter().flatten().any(|cell| cell.contains('\n'));
        for (at, row) in self.rows.iter().enumerate() {
            if is_stacked && at > 0 {
                table.add_row([""]);
            }
            table.add_row(row);
        }
        for (at, name) in self.heading.iter().enumerate() {
            let Some(column) = table.column_mut(at) else { continue };
            if self.right.contains(name) {
                column.set_cell_alignment(CellAlignment::Right);
            }
            if at + 1 == self.heading.len() {
                column.set_padding((1, 0));
            }
        }
        table
    }

    /// Of each column, how wide its longest word is.
    fn word_widths(&self) -> Vec<u16> {
        let apart = |text: &str| text.replace(' ', "\n");
        let mut table = Table::new();
        table.set_header(self.heading.iter().map(|name| apart(name)));
        for row in &self.rows {
            table.add_row(row.iter().map(|cell| apart(cell)));
        }
        table.column_max_content_widths()
    }

    /// A block for each row: the heading's words with what stands under them; what is empty is left out.
    fn blocks(&self, columns: u16) -> String {
        let label = self.heading.iter().map(|name| name.chars().count()).max().unwrap_or(0) + 1;
        let block = |row: &Vec<String>| {
            let cells = self.heading.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
            let cells = cells.map(|(name, cell)| vec![format!("{name:<label$}"), cell.clone()]);
            let block = wrapped(cells.collect(), columns, " ");
            match (self.look, block.split_once('\n')) {
                (Some(look), Some((first, rest))) => {
                    format!("{}\n{rest}", look::word(first, label + 2, look))
                }
                _ => block,
            }
        };
        self.rows.iter().map(block).collect::<Vec<_>>().join("\n").trim_end().to_owned()
    }
}

/// A space stands before each column, and one behind each but the last.
fn total(widths: &[u16]) -> u16 {
    let spaces = u16::try_from((2 * widths.len()).saturating_sub(1)).unwrap_or(u16::MAX);
    widths.iter().fold(spaces, |sum, width| sum.saturating_add(*width))
}

fn needs(table: &Table) -> u16 {
    total(&table.column_max_content_widths())
}

/// What stands behind a figure stays on its line.
const UNITS: [&str; 6] = ["%", "h", "nm", "mA", "days", "UTC"];

/// The text with a space between a figure and its unit that is no place to wrap.
pub(super) fn tied(text: &str) -> String {
    let mut tied = String::with_capacity(text.len());
    let mut behind_figure = false;
    for (at, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
        if at > 0 {
            tied.push(if behind_figure && UNITS.contains(&bare) { '\u{a0}' } else { ' ' });
        }
        tied.push_str(word);
        behind_figure = word.ends_with(|c: char| c.is_ascii_digit());
    }
    tied
}

/// The text as it was before [`tied`].
pub(super) fn untied(text: &str) -> String {
    text.replace('\u{a0}', " ")
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

#[cfg(test)]
mod tests {
    use super::*;

    const HEADING: [&str; 4] = ["Number", "At (UTC)", "Removed because", "Radar"];

    fn sheet() -> Sheet<'static> {
        let row = |cells: [&str; 4]| cells.map(str::to_owned).to_vec();
        let rows = vec![
            row(["1", "2024-09-01 07:00", "limit", "S-band"]),
            row(["12", "2025-06-30 22:36", "", "X-band"]),
        ];
        Sheet::new(&HEADING, &HEADING[..1], rows)
    }

    fn plain(text: &str) -> String {
        anstream::adapter::strip_str(text).to_string()
    }

    #[test]
    fn what_fits_is_one_line_a_row_and_what_does_not_is_wrapped_between_words() {
        let wide = plain(&sheet().on(Screen::of_columns(80)));
        assert_eq!(wide, plain(&sheet().on(Screen::PIPE)));
        assert_eq!(wide.lines().nth(1), Some("      1  2024-09-01 07:00  limit            S-band"), "{wide}");
        let narrow = plain(&sheet().on(Screen::of_columns(44)));
        assert!(narrow.lines().count() > 3 && narrow.lines().all(|line| line.len() <= 44), "{narrow}");
        for word in ["Removed", "because", "2024-09-01", "07:00", "limit", "S-band"] {
            assert!(narrow.contains(word), "{word} was broken:\n{narrow}");
        }
    }

    #[test]
    fn what_cannot_be_wrapped_becomes_a_block_for_each_row_without_what_is_empty() {
        let long = "Port-Merrow-with-a-name-that-is-long-as-a-line";
        let heading = ["Place", "Radar"];
        let rows = vec![vec![long.to_owned(), "S-band".to_owned()], vec![String::new(), "X-band".to_owned()]];
        let said = plain(&Sheet::new(&heading, &[], rows).on(Screen::of_columns(50)));
        assert_eq!(said.lines().last(), Some(" Radar  X-band"), "{said}");
        assert!(said.lines().all(|line| line.len() <= 50), "{said}");
        assert!(!said.contains("Place   \n"), "{said}");
    }

    /// A letter of these scripts is two columns wide: Unicode Standard Annex 11, East Asian Width.
    #[test]
    fn wide_letters_take_the_room_that_they_need() {
        let rows =
            vec![vec!["左舷雷达".to_owned(), "ok".to_owned()], vec!["S-band".to_owned(), "ok".to_owned()]];
        let said = Sheet::new(&["Radar", "Part"], &[], rows).on(Screen::of_columns(60));
        assert_eq!(said, " Radar     Part\n 左舷雷达  ok\n S-band    ok");
        let long = vec![vec!["第一航海用レーダー".repeat(6), "ok".to_owned()]];
        let said = Sheet::new(&["Radar", "Part"], &[], long).on(Screen::of_columns(60));
        assert!(said.lines().all(|line| line.chars().count() * 2 <= 60 + 10), "{said}");
        assert_eq!(said.matches('第').count(), 6, "nothing is cut:\n{said}");
    }

    #[test]
    fn a_file_s_line_ends_and_escapes_do_not_reach_the_terminal() {
        let rows = vec![vec!["a\u{1b}[2Jb\r\u{85}".to_owned()]];
        let said = Sheet::new(&["Name"], &[], rows).on(Screen::PIPE);
        assert!(said.contains("a\u{fffd}[2Jb\u{fffd}\u{fffd}"), "{said:?}");
    }
}
