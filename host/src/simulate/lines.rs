//! lines.csv: when each line went on and off, when the logger had power, when the host pulled, what speed it heard.

use crate::time;
use crate::{Error, Result};
use halfglass_protocol::config::Role;
use std::path::Path;

/// The lines that a timeline can move, in the order of their inputs (as in the guide).
pub const ROLES: [Role; 5] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor, Role::Isolated];

const COLUMNS: [&str; 3] = ["at", "line", "on"];

/// A recorded or invented timeline, in time order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lines {
    /// What happened.
    pub rows: Vec<Row>,
}

/// One thing that happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// When, in milliseconds since 1970, UTC.
    pub at_ms: i64,
    /// What.
    pub what: What,
}

/// What a row says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// A line went on or off.
    Line {
        /// Its place in [`ROLES`], which is also its input.
        input: u8,
        /// It is on from here.
        on: bool,
    },
    /// The logger's own feed came or went.
    Power(bool),
    /// The host pulled.
    Pull,
    /// The talker at the logger's listener says this speed over ground from here, in tenths of a knot; `None`: it is silent, as
    /// at the start.
    Speed(Option<u16>),
}

impl Lines {
    /// Reads a file.
    ///
    /// # Errors
    /// File, line and what is wrong there: see [`Lines::parse`].
    pub fn read(path: &Path) -> Result<Lines> {
        let bytes = std::fs::read(path).map_err(|error| Error::file("read", path, &error))?;
        Self::parse(&bytes, &path.display().to_string())
    }

    /// Reads the text of a file; `file` is its name for messages.
    ///
    /// # Errors
    /// No rows, an unknown column or line, a time without offset, time that goes backwards, a line or the power
    /// that is already as the row says. The message says where, and what to do.
    pub fn parse(bytes: &[u8], file: &str) -> Result<Lines> {
        // Spreadsheets like to put a byte order mark in front.
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        if bytes.trim_ascii().is_empty() {
            return Err(Error::input(
                format!("{file} is empty; nothing was simulated"),
                "Write the header at,line,on and below it what happened, for instance:\n\
                 2026-03-01T08:00Z,heater,1\n2026-03-01T12:00Z,heater,0",
            ));
        }
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes);
        let header = reader.headers().map_err(|error| bad_csv(file, &error))?;
        let columns = order_of_columns(header, file)?;
        let mut parser = Parser { file, now: Now::default(), rows: Vec::new() };
        let mut record = csv::StringRecord::new();
        while reader.read_record(&mut record).map_err(|error| bad_csv(file, &error))? {
            let number = record.position().map_or(0, csv::Position::line);
            let [at, line, on] = columns.map(|column| record.get(column).unwrap_or(""));
            parser.row(number, at, line, on)?;
        }
        parser.finish()
    }

    /// Writes the rows as a lines.csv.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let mut text = String::from("at,line,on\n");
        for row in &self.rows {
            let is_on = |on: bool| if on { "1" } else { "0" }.to_owned();
            let (line, on) = match row.what {
                What::Line { input, on } => (name_of(input), is_on(on)),
                What::Power(on) => ("power", is_on(on)),
                What::Pull => ("pull", String::new()),
                What::Speed(None) => ("speed", String::new()),
                What::Speed(Some(tenths)) => ("speed", format!("{}.{}", tenths / 10, tenths % 10)),
            };
            text.push_str(&format!("{},{line},{on}\n", time_of(row.at_ms)));
        }
        text
    }

    /// When the first row is; the logger's power comes there.
    #[must_use]
    pub fn start_ms(&self) -> i64 {
        self.rows.first().map_or(0, |row| row.at_ms)
    }

    /// When the last row is; the run ends there.
    #[must_use]
    pub fn end_ms(&self) -> i64 {
        self.rows.last().map_or(0, |row| row.at_ms)
    }
}

/// The role name of an input.
#[must_use]
pub fn name_of(input: u8) -> &'static str {
    ROLES.get(usize::from(input)).map_or("unused", |role| role.name())
}

/// Tenths of a knot.
fn knots(text: &str) -> Option<u16> {
    let (whole, tenth) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |text: &str, max: usize| {
        let are = !text.is_empty() && text.len() <= max && text.bytes().all(|byte| byte.is_ascii_digit());
        are.then(|| text.parse::<u16>().ok()).flatten()
    };
    Some(digits(whole, 2)? * 10 + digits(tenth, 1)?)
}

fn time_of(at_ms: i64) -> String {
    let seconds = time::rfc3339(at_ms);
    match at_ms.rem_euclid(1_000) {
        0 => seconds,
        ms => seconds.replace('Z', &format!(".{ms:03}Z")),
    }
}

fn order_of_columns(header: &csv::StringRecord, file: &str) -> Result<[usize; 3]> {
    let wrong = |what: String| {
        Error::input(
            format!("{file}, line 1: {what}; nothing was simulated"),
            "The first line must be: at,line,on",
        )
    };
    if let Some(other) = header.iter().find(|name| !COLUMNS.contains(name)) {
        return Err(wrong(format!("there is a column `{other}`, which is not known")));
    }
    let mut order = [0; 3];
    for (slot, name) in order.iter_mut().zip(COLUMNS) {
        let mut places = header.iter().enumerate().filter(|(_, column)| *column == name);
        match (places.next(), places.next()) {
            (Some((at, _)), None) => *slot = at,
            (None, _) => return Err(wrong(format!("there is no column `{name}`"))),
            (Some(_), Some(_)) => return Err(wrong(format!("two columns are called `{name}`"))),
        }
    }
    Ok(order)
}

/// How things stand after the rows so far: since which line of the file each is on or off.
#[derive(Default)]
struct Now {
    lines: [(bool, u64); ROLES.len()],
    dark: (bool, u64),
    last: Option<(i64, u64)>,
}

struct Parser<'a> {
    file: &'a str,
    now: Now,
    rows: Vec<Row>,
}

impl Parser<'_> {
    fn error(&self, number: u64, what: &str, advice: &str) -> Error {
        Error::input(format!("{}, line {number}: {what}; nothing was simulated", self.file), advice)
    }

    fn row(&mut self, number: u64, at: &str, line: &str, on: &str) -> Result<()> {
        let at_ms = time::parse_ms(at).map_err(|what| self.error(number, &what, "Put this row right."))?;
        if let Some((before_ms, before_number)) = self.now.last
            && at_ms < before_ms
        {
            let what = format!(
                "time goes backwards: {} is before {} on line {before_number}",
                time_of(at_ms),
                time_of(before_ms)
            );
            return Err(self.error(number, &what, "Put the rows in time order; offsets count."));
        }
        let what = self.what(number, line, on)?;
        self.now.last = Some((at_ms, number));
        self.rows.push(Row { at_ms, what });
        Ok(())
    }

    fn what(&mut self, number: u64, line: &str, on: &str) -> Result<What> {
        if line == "pull" {
            return match on {
                "" => Ok(What::Pull),
                _ => Err(self.error(
                    number,
                    &format!("a pull is neither on nor off, but `{on}` stands there"),
                    "Leave the field empty: at,pull,",
                )),
            };
        }
        if line == "speed" {
            return match (on, knots(on)) {
                ("", _) => Ok(What::Speed(None)),
                (_, Some(tenths)) => Ok(What::Speed(Some(tenths))),
                _ => Err(self.error(
                    number,
                    &format!("`{on}` stands for a speed, which is no number of knots from 0 to 99.9"),
                    "Write knots with at most one decimal, at,speed,12.5; or nothing where nobody says it: at,speed,",
                )),
            };
        }
        let input = ROLES.iter().position(|role| role.name() == line);
        if input.is_none() && line != "power" {
            let known = ROLES.map(Role::name).join(", ");
            let what = format!("there is no line `{line}`");
            return Err(self.error(
                number,
                &what,
                &format!("A line is one of: {known}, power, pull, speed."),
            ));
        }
        let is_on = match on {
            "1" => true,
            "0" => false,
            _ => {
                let what = format!("`{on}` stands for on, which is neither 0 nor 1");
                return Err(self.error(
                    number,
                    &what,
                    "Write 1 where the line goes on, 0 where it goes off.",
                ));
            }
        };
        let (was_on, since) = match input {
            Some(input) => self.now.lines[input],
            None => (!self.now.dark.0, self.now.dark.1),
        };
        if was_on == is_on {
            let state = if is_on { "on" } else { "off" };
            let since = match since {
                0 if input.is_none() => "from the start: power starts on".to_owned(),
                0 => "from the start: lines start off".to_owned(),
                line => format!("since line {line}"),
            };
            let what = format!("{line} goes {state}, but it is {state} already, {since}");
            return Err(self.error(
                number,
                &what,
                "Take this row out, or add the one that is missing before it.",
            ));
        }
        Ok(match input {
            Some(input) => {
                self.now.lines[input] = (is_on, number);
                What::Line { input: input as u8, on: is_on }
            }
            None => {
                self.now.dark = (!is_on, number);
                What::Power(is_on)
            }
        })
    }

    fn finish(self) -> Result<Lines> {
        let lines = Lines { rows: self.rows };
        if lines.end_ms() == lines.start_ms() {
            let what = match lines.rows.len() {
                0 => "has no rows below its header".to_owned(),
                _ => "spans no time: all its rows are of one instant".to_owned(),
            };
            return Err(Error::input(
                format!("{} {what}; nothing was simulated", self.file),
                "The first row's time begins the run, the last row's time ends it: add a row at the end, \
                 for instance 2026-03-01T12:00Z,pull,",
            ));
        }
        Ok(lines)
    }
}

fn bad_csv(file: &str, error: &csv::Error) -> Error {
    let line = error.position().map_or(String::new(), |position| format!(", line {}", position.line()));
    let (what, advice) = match error.kind() {
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => (
            format!("this row has {len} fields, but the header row has {expected_len}"),
            "Each row is at,line,on; a pull ends in a comma: at,pull,",
        ),
        csv::ErrorKind::Utf8 { .. } => ("this is not UTF-8 text".to_owned(), "Save the file as UTF-8."),
        _ => (error.to_string(), "Put this right."),
    };
    Error::input(format!("{file}{line}: {what}; nothing was simulated"), advice)
}

#[cfg(test)]
#[path = "lines_tests.rs"]
mod tests;
