//! The handover: one page for the relief or the auditor.

use super::book::Book;
use super::done;
use super::filters;
use super::findings::{self, Findings};
use super::first::{self, Todo};
use super::rows::{self, Row, SpareRow};
use super::words::{ADVISES, shown};
use super::{condition, health};
use crate::output::table::hours;
use crate::time;
use askama::Template;

/// More rows than this do not fit beside the rest; the report has them all.
const FINDINGS_MAX: usize = 10;
/// More lines than this are no first things here.
const FIRST_MAX: usize = 5;
/// So many works fit; the report has them all.
const DONE_MAX: usize = 1;

/// The page.
#[derive(Template)]
#[template(path = "handover.html")]
pub(super) struct Page {
    ship: String,
    as_of: String,
    verdict: String,
    todos: Vec<Todo>,
    rows: Vec<Row>,
    findings: Findings,
    findings_left_out: usize,
    deferrals: Vec<Deferral>,
    conditions: Vec<String>,
    trends: Vec<health::Trend>,
    loggers: Vec<health::Row>,
    spares: Vec<SpareRow>,
    done: Vec<done::Row>,
    done_left_out: usize,
    advises: &'static str,
}

/// A renewal put off.
struct Deferral {
    what: String,
    on: String,
    until: String,
    reason: String,
    approved_by: String,
}

impl Page {
    pub(super) fn of(book: &Book) -> Page {
        let mut findings = findings::all(book);
        let rows = rows::parts(book);
        let verdict = first::verdict(book, &rows, &findings);
        // Findings have a list of their own on this page.
        let mut todos = first::things(book, &rows, &Findings::default());
        todos.truncate(FIRST_MAX);
        let findings_left_out = findings.open.len().saturating_sub(FINDINGS_MAX);
        findings.open.truncate(FINDINGS_MAX);
        let mut done = done::rows(book);
        let done_left_out = done.len().saturating_sub(DONE_MAX);
        done.truncate(DONE_MAX);
        Page {
            ship: shown(&book.ship),
            as_of: time::minute(book.as_of_ms),
            verdict,
            todos,
            rows,
            findings,
            findings_left_out,
            deferrals: deferrals(book),
            conditions: condition::groups(book).into_iter().map(|group| group.says).collect(),
            trends: health::trends(book),
            loggers: health::rows(book),
            spares: rows::spares(book),
            done,
            done_left_out,
            advises: ADVISES,
        }
    }
}

/// Those of parts that have not been renewed since.
fn deferrals(book: &Book) -> Vec<Deferral> {
    let stands = |deferral: &&crate::ship::facts::Deferral| {
        book.parts.iter().any(|part| {
            part.settings.radar == deferral.radar
                && part.settings.name == deferral.part
                && part.fitted_ms.is_none_or(|fitted_ms| deferral.at.hi_ms() >= fitted_ms)
        })
    };
    let all = book.deferrals.iter().filter(stands).map(|deferral| {
        let until = [
            deferral.until_h.map(|until_h| format!("{} h", hours(until_h))),
            deferral.until.map(|until| time::date(until.lo_ms())),
        ];
        Deferral {
            what: format!("{} {}", shown(&deferral.radar), shown(&deferral.part)),
            on: time::date(deferral.at.best_ms()),
            until: until.into_iter().flatten().collect::<Vec<_>>().join(" or "),
            reason: shown(&deferral.reason),
            approved_by: shown(&deferral.approved_by),
        }
    });
    all.collect()
}
