//! What was done, newest first: the proof for whoever asks afterwards.

use super::book::{Book, Renewal};
use super::words::shown;
use crate::output::table::hours;
use crate::reconcile::Span;
use crate::ship::facts::Work;
use crate::time;

/// One work.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub(super) at_ms: i64,
    pub(super) at: String,
    /// As `halfglass show` numbers it: `fitting 5`.
    pub(super) fact: String,
    pub(super) radar: String,
    pub(super) what: String,
    /// What was taken out, with its final hours.
    pub(super) old: String,
    pub(super) counter: String,
    /// What the logger's isolated line saw; never proof of isolation.
    pub(super) isolated: String,
    pub(super) by: String,
}

/// An isolation belongs to a work that is no further from it than this.
const SAME_WORK_MS: i64 = 24 * 3_600_000;

/// The isolated line's place among the roles.
const ISOLATED: usize = 4;

/// Everything that was done, newest first.
pub(super) fn rows(book: &Book) -> Vec<Row> {
    let fittings = book.renewals.iter().map(|renewal| fitting(book, renewal));
    let mut rows: Vec<Row> =
        fittings.chain(book.works.iter().map(|(number, work)| done(book, *number, work))).collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.at_ms));
    rows
}

fn fitting(book: &Book, renewal: &Renewal) -> Row {
    let Renewal { number, fitting, old_h } = renewal;
    let figure = |what: &str, h: Option<f64>| h.map(|h| format!("{what} {} h", hours(h)));
    let serial =
        fitting.removed_serial.as_deref().map_or_else(|| "serial not written down".to_owned(), shown);
    let because = fitting.removed_because.as_deref().map(|why| format!("because: {why}"));
    let old: Vec<String> = [Some(serial), figure("had run", *old_h), because].into_iter().flatten().collect();
    let took_out = fitting.removed_serial.is_some() || fitting.removed_because.is_some() || old_h.is_some();
    let counter: Vec<String> = [
        Some(format!("zeroed: {}", if fitting.counter_zeroed { "yes" } else { "no" })),
        figure("before", fitting.counter_before),
        figure("after", fitting.counter_after),
    ]
    .into_iter()
    .flatten()
    .collect();
    Row {
        at_ms: fitting.at_ms(),
        at: fitting.at.minute(),
        fact: format!("fitting {number}"),
        radar: shown(&fitting.radar),
        what: format!("{} {} put in", shown(&fitting.part), shown(&fitting.serial)),
        old: if took_out { old.join(", ") } else { "–".to_owned() },
        counter: counter.join(", "),
        isolated: isolated(book, &fitting.radar, fitting.at_ms(), fitting.at_ms()),
        by: fitting.by.as_deref().map_or_else(|| "–".to_owned(), shown),
    }
}

fn done(book: &Book, number: i64, work: &Work) -> Row {
    let part = work.part.as_deref().map_or_else(String::new, |part| format!("{}: ", shown(part)));
    Row {
        at_ms: work.from.best_ms(),
        at: work.from.minute(),
        fact: format!("work {number}"),
        radar: shown(&work.radar),
        what: format!("{part}{}", shown(&work.what)),
        old: "–".to_owned(),
        counter: "–".to_owned(),
        isolated: isolated(book, &work.radar, work.from.best_ms(), work.to.best_ms()),
        by: work.by.as_deref().map_or_else(|| "–".to_owned(), shown),
    }
}

/// The longest isolation by the log that is near a work.
fn isolated(book: &Book, radar: &str, from_ms: i64, to_ms: i64) -> String {
    let Some(seen) = book.radar(radar).and_then(|at| book.seen.get(at)) else { return "–".to_owned() };
    let log = &seen.told.log;
    let before_log =
        log.points.first().is_none_or(|first| from_ms.saturating_sub(SAME_WORK_MS) < first.at.lo_ms);
    let length_ms = |span: &&Span| span.to.best_ms() - span.from.best_ms();
    let near = |span: &&Span| {
        span.from.lo_ms <= to_ms.saturating_add(SAME_WORK_MS)
            && span.to.hi_ms >= from_ms.saturating_sub(SAME_WORK_MS)
    };
    match log.isolated.iter().filter(near).max_by_key(length_ms) {
        Some(span) => {
            let minutes = length_ms(&span) / 60_000;
            format!("scanner switch open {minutes} min from {}", time::minute(span.from.best_ms()))
        }
        None if !log.wired[ISOLATED] || before_log => "not logged".to_owned(),
        None => "scanner switch not seen open within a day".to_owned(),
    }
}
