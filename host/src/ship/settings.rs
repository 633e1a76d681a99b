//! ship.toml: what the ship has.

use crate::Result;
use halfglass_protocol::config::Role;
use jiff::civil::Date;

/// A ship.toml in which everything fits together.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The ship's name.
    pub ship: String,
    /// Its radars, names differing.
    pub radars: Vec<Radar>,
    /// Its parts, names differing within a radar.
    pub parts: Vec<Part>,
    /// Its spares.
    pub spares: Vec<Spare>,
    /// What is known of its loggers themselves, their device ids differing.
    pub loggers: Vec<Logger>,
}

/// A radar and the logger beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Radar {
    /// What the crew call it.
    pub name: String,
    /// The logger's device id.
    pub logger: u64,
    /// The logger is fed from the radar's own supply.
    pub fed_from_radar: bool,
    /// Which input watches what: role and input, numbered from 0.
    pub lines: Vec<(Role, u8)>,
    /// What the radar's own counter resolves, in hours.
    pub counter_step_h: Option<f64>,
    /// The set's stated warm-up, in seconds.
    pub warm_up_s: Option<u16>,
}

impl Radar {
    /// The input that watches `role`.
    #[must_use]
    pub fn input_of(&self, role: Role) -> Option<u8> {
        self.lines.iter().find(|(is, _)| *is == role).map(|(_, input)| *input)
    }
}

/// A part that wears.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The radar it is in.
    pub radar: String,
    /// What it is.
    pub name: String,
    /// The office planner's own number.
    pub planner_id: Option<String>,
    /// The maker's type number: parts of one name and type are the same kind of part, in whichever radar.
    pub type_number: Option<String>,
    /// Whose hours age it.
    pub ages_by: Role,
    /// Renew at so many hours.
    pub limit_h: Option<f64>,
    /// Renew at so many months after fitting.
    pub limit_months: Option<u32>,
    /// Renew at so many starts.
    pub limit_starts: Option<u32>,
    /// Say `soon` so many hours before.
    pub warn_h: Option<f64>,
    /// How long a new one takes to come aboard, in days.
    pub lead_time_days: Option<u32>,
    /// How long the renewal takes, in hours.
    pub work_hours: Option<f64>,
    /// Someone must go to the scanner.
    pub needs_aloft: bool,
    /// What a failure in service costs, with a planned renewal as 1.
    pub failure_cost_ratio: Option<f64>,
}

/// A spare aboard.
#[derive(Clone, Debug, PartialEq)]
pub struct Spare {
    /// The radar it fits.
    pub radar: String,
    /// The part it replaces.
    pub part: String,
    /// Its serial.
    pub serial: String,
    /// When it came.
    pub received: Option<Days>,
    /// When it was made.
    pub made: Option<Days>,
    /// When it last ran.
    pub last_run: Option<Days>,
    /// When its warranty ends.
    pub warranty_until: Option<Days>,
    /// Where it lies.
    pub place: Option<String>,
}

/// A logger itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Logger {
    /// Its device id.
    pub id: u64,
    /// How many erases of a page the maker of its flash answers for.
    pub erases_rated: Option<u32>,
}

/// A date as well as it is known: one day, or all days of a month or a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Days {
    /// The first day that it can be.
    pub first: Date,
    /// The last day that it can be.
    pub last: Date,
}

impl Days {
    /// Reads `2024-05-17`, `2024-05` or `2024`.
    ///
    /// # Errors
    /// A sentence that says how to write it.
    pub fn parse(text: &str) -> std::result::Result<Days, String> {
        let days = match text.len() {
            10 => text.parse().ok().map(|day| Days { first: day, last: day }),
            7 => format!("{text}-01")
                .parse()
                .ok()
                .map(|first: Date| Days { first, last: first.last_of_month() }),
            4 => format!("{text}-01-01")
                .parse()
                .ok()
                .map(|first: Date| Days { first, last: first.last_of_year() }),
            _ => None,
        };
        days.ok_or_else(|| {
            format!("`{text}` is no date: write 2024-05-17, or 2024-05 or 2024 if no more is known")
        })
    }
}

impl Settings {
    /// Reads and checks the text of a ship.toml; `file` is its name for messages.
    ///
    /// # Errors
    /// The first thing that is wrong: file, line, what is allowed, what to do.
    pub fn parse(text: &str, file: &str) -> Result<Settings> {
        super::settings_check::parse(text, file)
    }

    /// The radar of this name.
    #[must_use]
    pub fn radar(&self, name: &str) -> Option<&Radar> {
        self.radars.iter().find(|radar| radar.name == name)
    }

    /// How many erases of a page the maker of this logger's flash answers for, if that was entered.
    #[must_use]
    pub fn erases_rated(&self, device_id: u64) -> Option<u32> {
        self.loggers.iter().find(|logger| logger.id == device_id)?.erases_rated
    }
}

/// Reads a device id: 16 hexadecimal digits.
///
/// # Errors
/// A sentence that says so.
pub fn parse_device(text: &str) -> std::result::Result<u64, String> {
    let sound = text.len() == 16 && text.bytes().all(|byte| byte.is_ascii_hexdigit());
    match u64::from_str_radix(text, 16) {
        Ok(id) if sound => Ok(id),
        _ => Err(format!("`{text}` is no device id: it is 16 hexadecimal digits (0-9, a-f)")),
    }
}

/// Names in backquotes, with commas.
pub(crate) fn quoted<T: std::fmt::Display>(names: impl Iterator<Item = T>) -> String {
    names.map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
#[path = "settings_tests.rs"]
mod tests;
