//! The report: everything on one page.

use super::book::Book;
use super::done;
use super::filters;
use super::findings::{self, Findings};
use super::first::{self, Todo};
use super::health;
use super::plot::{self, Figure, Mark};
use super::rows::{self, Row, SpareRow};
use super::words::{self, shown};
use super::{condition, words::ADVISES};
use crate::time;
use askama::Template;

/// The page.
#[derive(Template)]
#[template(path = "report.html")]
pub(super) struct Page {
    ship: String,
    as_of: String,
    verdict: String,
    todos: Vec<Todo>,
    rows: Vec<Row>,
    exact: bool,
    radars: Vec<Radar>,
    findings: Findings,
    conditions: Vec<Condition>,
    loggers: Vec<health::Row>,
    trends: Vec<health::Trend>,
    spares: Vec<SpareRow>,
    done: Vec<done::Row>,
    missing: Vec<(String, Vec<String>)>,
    advises: &'static str,
}

/// One radar's part of it.
struct Radar {
    id: String,
    name: String,
    figure: Option<Figure>,
    /// Why its figures are as wide as they are: a part, and sentences.
    notes: Vec<(String, Vec<String>)>,
}

/// Measurements at like settings.
struct Condition {
    radar: String,
    what: String,
    says: String,
    warns: bool,
    figure: Option<Figure>,
}

impl Page {
    pub(super) fn of(book: &Book) -> Page {
        let findings = findings::all(book);
        let rows = rows::parts(book);
        let radars = book.seen.iter().enumerate().map(|(at, seen)| {
            let own = book.parts.iter().filter(|part| part.settings.radar == seen.told.name);
            let notes = own.filter(|part| !part.due.notes.is_empty()).map(|part| {
                let notes = part.due.notes.iter().map(|note| shown(note)).collect();
                (shown(&part.settings.name), notes)
            });
            Radar {
                id: format!("radar-{at}"),
                name: shown(&seen.told.name),
                figure: plot::radar(book, at, &findings.numbers),
                notes: notes.collect(),
            }
        });
        let conditions = condition::groups(book).into_iter().enumerate().map(|(at, group)| Condition {
            figure: plot::trend(&format!("condition-{at}"), &group),
            says: group.says,
            warns: group.warns,
            radar: group.radar,
            what: group.what,
        });
        Page {
            ship: shown(&book.ship),
            as_of: time::minute(book.as_of_ms),
            verdict: first::verdict(book, &rows, &findings),
            todos: first::things(book, &rows, &findings),
            exact: book.plan.exact,
            radars: radars.collect(),
            conditions: conditions.collect(),
            loggers: health::rows(book),
            trends: health::trends(book),
            spares: rows::spares(book),
            done: done::rows(book),
            missing: first::missing(book),
            advises: ADVISES,
            rows,
            findings,
        }
    }

    fn open(&self) -> String {
        words::count(self.findings.open.len(), "open finding")
    }
}
