//! What people record and plan, checked: from a CSV file or from the command line by the same rules.
//!
//! Each kind of fact has a file of its own that says its columns once; the CSV file, the options of `halfglass add`
//! and the tables of `halfglass show` all come from there. What is kept is what was meant: times in UTC, as intervals
//! where the ship's clock or the writer left them open. So an offset of the ship's clock that becomes known later
//! changes no fact that is here already.

mod answer;
mod checks;
mod condition;
mod deferral;
mod exchange;
mod fitting;
mod leg;
mod reading;
mod window;
mod work;
mod zone;

pub use answer::Answer;
pub use condition::Condition;
pub use deferral::Deferral;
pub use exchange::LoggerExchange;
pub use fitting::{Fitting, REMOVED_BECAUSE};
pub use leg::{Leg, Mode};
pub use reading::{QUANTITIES, Reading};
pub use window::Window;
pub use work::Work;
pub use zone::Zone;

use super::rows::{Row, Rows};
use super::settings::Settings;
use crate::time::{Clock, Moment};
use crate::{Error, Result};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::Path;

/// A kind of fact that people write.
pub trait Fact: Clone + PartialEq + Serialize + DeserializeOwned {
    /// What one is called.
    const NAME: &'static str;
    /// What it consists of: the columns of a CSV file and the options of `halfglass add`.
    const COLUMNS: &'static [Column];
    /// An example of `halfglass add` with this kind, without the program's name.
    const EXAMPLE: &'static str;
    /// It tells of what is planned or holds from then on, so its time may lie ahead.
    const MAY_LIE_AHEAD: bool = false;
    /// Two that differ cannot both hold from one instant.
    const ONE_AT_A_TIME: bool = false;

    /// Checks what was written.
    ///
    /// # Errors
    /// What is wrong with which field.
    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Self>;

    /// When it was; for something with a beginning and an end, the beginning.
    fn at(&self) -> Moment;

    /// What stands in its columns, in their order; empty where nothing does. Written into a file, it is read as the
    /// same fact.
    fn row(&self) -> Vec<String>;
}

/// What a fact is checked against.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// What the ship has.
    pub settings: &'a Settings,
    /// What her clock showed.
    pub clock: &'a Clock,
}

/// A column of a kind's CSV file, and an option of `halfglass add`.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Its name in the header row; as an option, with dashes for underscores.
    pub name: &'static str,
    /// What it takes, in one word.
    pub takes: &'static str,
    /// What it says, for people.
    pub help: &'static str,
    /// It must be there.
    pub needed: bool,
    /// What it takes may begin with a sign.
    pub signed: bool,
}

const fn needed(name: &'static str, takes: &'static str, help: &'static str) -> Column {
    Column { name, takes, help, needed: true, signed: false }
}

const fn optional(name: &'static str, takes: &'static str, help: &'static str) -> Column {
    Column { name, takes, help, needed: false, signed: false }
}

impl Column {
    const fn signed(self) -> Column {
        Column { signed: true, ..self }
    }
}

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

/// Reads a CSV file of one kind.
///
/// # Errors
/// File, line and column of the first thing that is wrong.
pub fn read_file<F: Fact>(path: &Path, known: &Known<'_>) -> Result<Vec<F>> {
    Ok(read_lines(path, known)?.into_iter().map(|(_, fact)| fact).collect())
}

/// The same, each fact with the line of the file on which it stands.
///
/// # Errors
/// The same.
pub fn read_lines<F: Fact>(path: &Path, known: &Known<'_>) -> Result<Vec<(u64, F)>> {
    let names = |needed: bool| {
        F::COLUMNS.iter().filter(move |column| column.needed == needed).map(|column| column.name)
    };
    let rows = Rows::read(path, &names(true).collect::<Vec<_>>(), &names(false).collect::<Vec<_>>())?;
    let mut facts: Vec<(u64, F)> = Vec::new();
    for row in rows.iter() {
        let fact = F::check(&row, known)?;
        if F::ONE_AT_A_TIME && facts.iter().any(|(_, other)| other.at() == fact.at() && *other != fact) {
            let column = F::COLUMNS.first().map_or("", |column| column.name);
            let what = "a row above says something else from the same instant";
            return Err(Fields::error(&row, column, what));
        }
        facts.push((row.line(), fact));
    }
    Ok(facts)
}

#[cfg(test)]
#[path = "facts_tests.rs"]
mod tests;
