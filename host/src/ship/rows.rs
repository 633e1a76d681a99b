//! Rows of a CSV file that know where they stand.

use crate::{Error, Result};
use std::path::Path;

/// A CSV file with its header checked.
pub(super) struct Rows {
    file: String,
    columns: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
}

impl Rows {
    /// Reads a file. `required` columns must be there, `optional` ones may be, others may not.
    pub(super) fn read(path: &Path, required: &[&str], optional: &[&str]) -> Result<Rows> {
        let bytes = std::fs::read(path).map_err(|error| Error::file("read", path, &error))?;
        Self::parse(&bytes, &path.display().to_string(), required, optional)
    }

    pub(super) fn parse(bytes: &[u8], file: &str, required: &[&str], optional: &[&str]) -> Result<Rows> {
        // Spreadsheets like to put a byte order mark in front.
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes);
        let all = || format!("Columns: {} and, if wanted, {}.", required.join(","), optional.join(","));
        let header = reader.headers().map_err(|error| bad_csv(file, &error))?.clone();
        let columns: Vec<String> = header.iter().map(str::to_owned).collect();
        let error =
            |what: String| Error::input(format!("{file}, line 1: {what}; nothing was imported"), all());
        if let [only] = columns.as_slice()
            && only.contains(';')
        {
            let what =
                format!("{file}, line 1: the fields are separated by semicolons; nothing was imported");
            return Err(Error::input(what, "Save the file as CSV separated by commas (RFC 4180)."));
        }
        for name in required {
            if !columns.iter().any(|column| column == name) {
                return Err(error(format!("the header row has no column `{name}`")));
            }
        }
        for (at, column) in columns.iter().enumerate() {
            if !required.contains(&column.as_str()) && !optional.contains(&column.as_str()) {
                return Err(error(format!("column {} is called `{column}`, which is not known", at + 1)));
            }
            if columns[..at].contains(column) {
                return Err(error(format!("two columns are called `{column}`")));
            }
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| bad_csv(file, &error))?;
            let line = record.position().map_or(0, csv::Position::line);
            rows.push((line, record));
        }
        Ok(Rows { file: file.to_owned(), columns, rows })
    }

    /// The rows, in the file's order.
    pub(super) fn iter(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { rows: self, line: *line, record })
    }
}

/// One row.
pub(super) struct Row<'a> {
    rows: &'a Rows,
    line: u64,
    record: &'a csv::StringRecord,
}

impl Row<'_> {
    /// The text in a column; empty if the column is not there.
    pub(super) fn text(&self, column: &str) -> &str {
        let at = self.rows.columns.iter().position(|name| name == column);
        at.and_then(|at| self.record.get(at)).unwrap_or("")
    }

    /// The line of the file on which it begins.
    pub(super) fn line(&self) -> u64 {
        self.line
    }

    /// Says what is wrong in a column of this row.
    pub(super) fn error(&self, column: &str, what: &str) -> Error {
        let number = self.rows.columns.iter().position(|name| name == column).map_or(0, |at| at + 1);
        Error::input(
            format!("{}, line {}, column {number} ({column}): {what}", self.rows.file, self.line),
            "Put this right and import the file again; nothing was imported.",
        )
    }
}

fn bad_csv(file: &str, error: &csv::Error) -> Error {
    let line = error.position().map_or(String::new(), |position| format!(", line {}", position.line()));
    let what = match error.kind() {
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!("this row has {len} fields, but the header row has {expected_len}")
        }
        csv::ErrorKind::Utf8 { .. } => "this is not UTF-8 text".to_owned(),
        _ => error.to_string(),
    };
    Error::input(
        format!("{file}{line}: {what}"),
        "A field that holds a comma stands in double quotes. Put this right; nothing was imported.",
    )
}
