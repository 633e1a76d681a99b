//! A ship folder's facts, with the numbers by which a correction names them.

use super::section;
use crate::output::screen::Screen;
use crate::output::table::Sheet;
use crate::output::wear;
use crate::store::{Kept, Kind};
use crate::time::{self, Clock, Moment};
use crate::wear::{Ring, Wear};
use serde_json::{Map, Value, json};

/// What a ship folder holds.
pub struct Holdings {
    /// The loggers of which there are dumps.
    pub loggers: Vec<Held>,
    /// The facts that people wrote and that stand, kind by kind.
    pub kinds: Vec<Listed>,
}

/// What is held of one logger.
pub struct Held {
    /// Its device id, as it is written.
    pub device: String,
    /// Dumps.
    pub dumps: u32,
    /// Records, each counted once.
    pub records: u32,
    /// How far its flash is worn; `None`: no pull asked for it.
    pub wear: Option<Wear>,
    /// Erases of a page that the maker of its flash answers for, as entered in ship.toml.
    pub erases_rated: Option<u32>,
}

/// The facts of one kind, as they are shown.
pub struct Listed {
    /// What they are called, in one word.
    name: &'static str,
    heading: Vec<String>,
    right: Vec<String>,
    rows: Vec<Vec<String>>,
    json: Vec<Value>,
}

/// What a column takes that is set flush right.
const FIGURES: [&str; 3] = ["HOURS", "NUMBER", "MILES"];

impl Listed {
    /// These facts. A column in which nothing stands is left out of the table.
    #[must_use]
    pub fn of<F: Kind>(facts: &[Kept<F>]) -> Listed {
        let all: Vec<Vec<String>> = facts.iter().map(|kept| kept.fact.row()).collect();
        let mut heading = vec!["Number".to_owned()];
        let mut right = heading.clone();
        let mut rows: Vec<Vec<String>> = facts.iter().map(|kept| vec![kept.id.to_string()]).collect();
        for (at, column) in F::COLUMNS.iter().enumerate() {
            let cells: Vec<&str> = all.iter().map(|row| row.get(at).map_or("", String::as_str)).collect();
            if cells.iter().all(|cell| cell.is_empty()) {
                continue;
            }
            let is_time = column.takes == "TIME";
            let title = in_words(column.name) + if is_time { " (UTC)" } else { "" };
            if FIGURES.contains(&column.takes) {
                right.push(title.clone());
            }
            heading.push(title);
            for (row, cell) in rows.iter_mut().zip(cells) {
                let moment = if is_time { Clock::default().moment(cell).ok() } else { None };
                row.push(moment.map_or_else(|| cell.to_owned(), Moment::minute));
            }
        }
        Listed { name: F::TABLE, heading, right, rows, json: facts.iter().map(object).collect() }
    }
}

/// A name in words: `hours_at_fit` becomes `Hours at fit`.
fn in_words(name: &str) -> String {
    let mut words = name.replace('_', " ");
    if let Some(first) = words.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    words
}

/// A fact for programs. Times are RFC 3339; one that is not known to the instant has its bounds beside it.
fn object<F: Kind>(kept: &Kept<F>) -> Value {
    // A fact is kept as JSON, so it can be made JSON.
    let fields = match serde_json::to_value(&kept.fact) {
        Ok(Value::Object(fields)) => fields,
        _ => Map::new(),
    };
    let mut object = Map::from_iter([("number".to_owned(), json!(kept.id))]);
    for (key, value) in fields {
        let Some(name) = key.strip_suffix("_ms") else {
            object.insert(key, value);
            continue;
        };
        let moment = serde_json::from_value::<Moment>(value).ok();
        object.insert(name.to_owned(), json!(moment.map(|moment| time::rfc3339(moment.best_ms()))));
        if let Some(moment) = moment.filter(|moment| !moment.is_exact()) {
            object.insert(format!("{name}_low"), json!(time::rfc3339(moment.lo_ms())));
            object.insert(format!("{name}_high"), json!(time::rfc3339(moment.hi_ms())));
        }
    }
    Value::Object(object)
}

/// The folder in tables.
#[must_use]
pub fn folder_text(holdings: &Holdings, screen: Screen) -> String {
    let loggers: Vec<Vec<String>> = holdings.loggers.iter().map(logger_row).collect();
    let heading = ["Logger", "Dumps", "Records", "Erases of a flash page, at most"];
    let mut text = section("Loggers", &Sheet::new(&heading, &heading[1..3], loggers), screen);
    for kind in holdings.kinds.iter().filter(|kind| !kind.rows.is_empty()) {
        let heading: Vec<&str> = kind.heading.iter().map(String::as_str).collect();
        let right: Vec<&str> = kind.right.iter().map(String::as_str).collect();
        text.push_str(&section(
            &in_words(kind.name),
            &Sheet::new(&heading, &right, kind.rows.clone()),
            screen,
        ));
    }
    let empty = holdings.kinds.iter().filter(|kind| kind.rows.is_empty());
    let empty: Vec<String> = empty.map(|kind| kind.name.replace('_', " ")).collect();
    if !empty.is_empty() {
        text.push('\n');
        text.push_str(&screen.paragraph(&format!("None yet: {}.", empty.join(", "))));
    }
    text.trim().to_owned()
}

/// The folder as JSON, version 1.
#[must_use]
pub fn folder_json(holdings: &Holdings) -> String {
    let loggers = holdings.loggers.iter().map(logger_json);
    let mut value =
        Map::from_iter([("version".to_owned(), json!(1)), ("loggers".to_owned(), loggers.collect())]);
    for kind in &holdings.kinds {
        value.insert(kind.name.to_owned(), json!(kind.json));
    }
    serde_json::to_string_pretty(&value).unwrap_or_default()
}

fn logger_row(held: &Held) -> Vec<String> {
    let wear = held.wear.map_or_else(String::new, |wear| {
        let used = held.erases_rated.map(|rated| wear::used(&wear, rated));
        let told = [Some(wear::erases(&wear)), used, Some(format!("asked {}", time::date(wear.at_ms)))];
        told.into_iter().flatten().collect::<Vec<_>>().join("; ")
    });
    vec![held.device.clone(), held.dumps.to_string(), held.records.to_string(), wear]
}

fn logger_json(held: &Held) -> Value {
    let ring = |ring: Ring| {
        json!({
            "erases_of_a_page_max": ring.erases,
            "erases_per_year_max": ring.erases_per_year,
            "pages": ring.pages,
            "pages_retired": ring.retired,
        })
    };
    let wear = held.wear.map(|wear| {
        json!({
            "asked": time::rfc3339(wear.at_ms),
            "totals": ring(wear.totals),
            "history": ring(wear.history),
            "erases_rated": held.erases_rated,
        })
    });
    json!({ "logger": held.device, "dumps": held.dumps, "records": held.records, "wear": wear })
}
