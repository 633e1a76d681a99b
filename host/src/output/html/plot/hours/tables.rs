//! What the figure of a radar shows, as figures in rows.

use super::super::Table;
use super::course::{self, Course};
use crate::output::html::book::{Book, Part, Seen};
use crate::output::html::words::shown;
use crate::output::table::hours;
use crate::reconcile::FactId;
use crate::time;
use std::collections::BTreeMap;

/// No table has more rows: the newest are kept. `halfglass show` lists all facts.
const ROWS_MAX: usize = 60;

pub(super) fn of(
    book: &Book,
    seen: &Seen,
    parts: &[(usize, &Part)],
    courses: &[Course],
    numbers: &BTreeMap<FactId, usize>,
) -> Vec<Table> {
    let past =
        [months(book, seen, parts, courses), readings(book, seen, parts, courses, numbers), fittings(seen)];
    let mut tables: Vec<Table> = past.map(newest).into_iter().chain([stays(book)]).collect();
    tables.retain(|table| !table.rows.is_empty());
    tables
}

fn newest(mut table: Table) -> Table {
    let over = table.rows.len().saturating_sub(ROWS_MAX);
    if over > 0 {
        table.rows.drain(..over);
        table.caption.push_str(&format!(" (the newest {ROWS_MAX}; {over} older ones are left out)"));
    }
    table
}

fn dash() -> String {
    "–".to_owned()
}

fn months(book: &Book, seen: &Seen, parts: &[(usize, &Part)], courses: &[Course]) -> Table {
    let log = &seen.told.log;
    let (Some(first), Some(last)) = (log.points.first(), log.points.last()) else { return Table::default() };
    let dark = dark_by_month(seen);
    let drop_outs: BTreeMap<i64, f64> =
        course::by_month(log, |point| f64::from(point.drop_outs)).into_iter().collect();
    let mut heading = vec!["Month".to_owned()];
    heading.extend(parts.iter().map(|(_, part)| format!("{}, hours at its end", shown(&part.settings.name))));
    heading.extend(["Without power, at most, h".to_owned(), "Drop-outs".to_owned()]);
    let rows = course::months(first.at.best_ms(), last.at.best_ms()).into_iter().map(|(from_ms, to_ms)| {
        let mut row = vec![time::date(from_ms).chars().take(7).collect()];
        let end_ms = (to_ms - 1).min(book.as_of_ms);
        row.extend(courses.iter().map(|course| course.at(end_ms).map_or_else(dash, hours)));
        row.push(dark.get(&from_ms).map_or_else(|| "0".to_owned(), |h| hours(*h)));
        row.push(drop_outs.get(&from_ms).map_or_else(dash, |count| format!("{count:.0}")));
        row
    });
    Table { caption: "Month by month".to_owned(), heading, rows: rows.collect() }
}

/// Time without power counts for the month in which it ended.
fn dark_by_month(seen: &Seen) -> BTreeMap<i64, f64> {
    let mut dark = BTreeMap::new();
    for point in seen.told.log.points.iter().filter(|point| point.dark_h > 0.0) {
        let at_ms = point.at.best_ms();
        if let Some((month_ms, _)) = course::months(at_ms, at_ms).first() {
            *dark.entry(*month_ms).or_insert(0.0) += point.dark_h;
        }
    }
    dark
}

fn readings(
    book: &Book,
    seen: &Seen,
    parts: &[(usize, &Part)],
    courses: &[Course],
    numbers: &BTreeMap<FactId, usize>,
) -> Table {
    let heading = ["Read at (UTC)", "Counter", "It showed, h", "By the logger, h", "Finding"];
    let rows = seen.told.readings.iter().map(|reading| {
        let at_ms = reading.at.best_ms().min(book.as_of_ms);
        let own = parts.iter().zip(courses).find(|((_, part), _)| part.settings.ages_by == reading.quantity);
        vec![
            time::minute(reading.at.best_ms()),
            reading.quantity.name().to_owned(),
            hours(reading.hours),
            own.and_then(|(_, course)| course.at(at_ms)).map_or_else(dash, hours),
            numbers.get(&FactId::Reading(reading.id)).map_or_else(dash, usize::to_string),
        ]
    });
    Table {
        caption: "Figures of the radar's own counters, beside the part's hours".to_owned(),
        heading: heading.map(str::to_owned).to_vec(),
        rows: rows.collect(),
    }
}

fn fittings(seen: &Seen) -> Table {
    let rows = seen.told.fittings.iter().map(|fitting| {
        vec![
            time::minute(fitting.at.best_ms()),
            shown(&fitting.part),
            shown(&fitting.serial),
            fitting.hours_at_fit_h.map_or_else(|| "taken as new".to_owned(), hours),
            if fitting.counter_zeroed { "yes" } else { "no" }.to_owned(),
        ]
    });
    let heading = ["Put in (UTC)", "Part", "Serial", "Hours when put in", "Counter zeroed"];
    Table {
        caption: "Parts put in".to_owned(),
        heading: heading.map(str::to_owned).to_vec(),
        rows: rows.collect(),
    }
}

fn stays(book: &Book) -> Table {
    let yes_no = |answer: Option<bool>| match answer {
        Some(true) => "yes",
        Some(false) => "no",
        None => "not said",
    };
    let mut ahead: Vec<_> =
        book.problem.windows.iter().filter(|window| window.to_ms > book.as_of_ms).collect();
    ahead.sort_by_key(|window| window.from_ms);
    let rows = ahead.into_iter().take(ROWS_MAX).map(|window| {
        vec![
            time::minute(window.from_ms),
            time::minute(window.to_ms),
            shown(&window.place),
            yes_no(Some(window.aloft)).to_owned(),
            yes_no(window.transmit).to_owned(),
            yes_no(window.deliver).to_owned(),
            window
                .chance
                .map_or_else(|| "taken as sure".to_owned(), |chance| format!("{:.0} %", chance * 100.0)),
        ]
    });
    let heading = ["From (UTC)", "To (UTC)", "Place", "Aloft", "Transmit", "Deliver", "Chance"];
    Table {
        caption: "Stays ahead, the nearest first".to_owned(),
        heading: heading.map(str::to_owned).to_vec(),
        rows: rows.collect(),
    }
}
