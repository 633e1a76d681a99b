//! What to do first: the answer that a page begins with.

use super::book::Book;
use super::findings::Findings;
use super::health;
use super::rows::Row;
use super::words::{self, shown};
use crate::due::State;
use crate::output::plan as planned;
use crate::time;

/// One thing to do.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Todo {
    /// The sign beside it: a state's word, or `finding`, `order`, `pull`.
    pub(super) sign: &'static str,
    /// What it is about.
    pub(super) lead: String,
    /// What is so, and what to do.
    pub(super) text: String,
    /// Where on the report more stands.
    pub(super) more: String,
}

/// A spare that must be ordered within so many days is worth a line of its own.
const ORDER_AHEAD_DAYS: i64 = 60;
/// More lines than this are no first things.
const PARTS_MAX: usize = 8;
/// So many findings are named; the rest are counted.
const FINDINGS_MAX: usize = 3;
/// A rise of drop-outs that chance makes rarer than this is told. Common practice, no source; as in `reconcile`.
const RISE: f64 = 0.01;

/// By urgency.
pub(super) fn things(book: &Book, rows: &[Row], findings: &Findings) -> Vec<Todo> {
    let mut all: Vec<Todo> = rows.iter().filter_map(|row| part(book, row)).collect();
    all.extend(rows.iter().filter_map(|row| order(book, row)));
    let worn: Vec<String> = book
        .series
        .iter()
        .filter(|series| series.trend.warns())
        .map(|series| format!("{} {}", shown(&series.radar), shown(&series.quantity)))
        .collect();
    if !worn.is_empty() {
        all.push(Todo {
            sign: "look",
            lead: "What was measured moves for the worse".to_owned(),
            text: format!("{}. Look at the trend, and keep the spare at hand.", worn.join("; ")),
            more: "condition".to_owned(),
        });
    }
    for radar in &book.reconciled.radars {
        let rises = radar.drop_outs.is_some_and(|rate| rate.chance_of_rise < RISE && rate.per_100_h > 0.0);
        if rises {
            all.push(Todo {
                sign: "look",
                lead: format!("{}: drop-outs have become more frequent", shown(&radar.name)),
                text: "The tube may be near its end, whatever its hours: have its spare at hand, and look at tube \
                       current and tuning."
                    .to_owned(),
                more: "health".to_owned(),
            });
        }
    }
    for seen in &book.seen {
        all.extend(seen.loggers.last().and_then(health::remedy).map(|text| Todo {
            sign: "look",
            lead: format!("{}: its logger", shown(&seen.told.name)),
            text,
            more: "health".to_owned(),
        }));
    }
    let more_parts = all.len().saturating_sub(PARTS_MAX);
    if more_parts > 0 {
        all.truncate(PARTS_MAX);
        all.push(Todo {
            sign: "soon",
            lead: format!("{more_parts} more of this kind"),
            text: "They stand below among the parts.".to_owned(),
            more: "parts".to_owned(),
        });
    }
    all.extend(findings.open.iter().take(FINDINGS_MAX).map(|finding| Todo {
        sign: "finding",
        lead: format!("{}: {}", finding.radar, finding.title.trim_end_matches('.')),
        text: finding.advice.clone(),
        more: format!("finding-{}", finding.number),
    }));
    let more = findings.open.len().saturating_sub(FINDINGS_MAX);
    if more > 0 {
        all.push(Todo {
            sign: "finding",
            lead: words::count(more, "more finding"),
            text: "See the list of findings below.".to_owned(),
            more: "findings".to_owned(),
        });
    }
    all
}

fn part(book: &Book, row: &Row) -> Option<Todo> {
    let part = book.parts.get(row.at)?;
    let due = &part.due;
    let lead = format!("{} {}", row.radar, row.part);
    let plan = format!("Renew: {}. Spare: {}.", row.renew, row.spare);
    let text = match due.state {
        State::Ok => return None,
        State::Deferred => format!("{} {plan}", row.deferred.as_ref()?),
        State::Overdue => format!("over its limit: {}. {plan}", over(row)),
        State::Due => format!("may be over its limit: {} run, limit {}. {plan}", row.hours, row.limit),
        State::Soon => format!("{} left, due {} ({}). {plan}", row.left, row.due, row.between),
        State::Unknown => {
            let why = due.notes.iter().find(|note| note.starts_with("Missing") || note.starts_with("WIRING"));
            why.or(due.notes.first()).map_or_else(|| "something is missing.".to_owned(), |note| shown(note))
        }
    };
    Some(Todo { sign: row.state, lead, text, more: "parts".to_owned() })
}

fn over(row: &Row) -> String {
    if row.limit == "–" {
        format!("due {}", row.due)
    } else {
        format!("{} run, limit {}", row.hours, row.limit)
    }
}

/// By when a spare must be ordered, if that is soon.
fn order_by_ms(book: &Book, row: &Row) -> Option<i64> {
    let by_ms = book.planned(row.at)?.order_by_ms?;
    (by_ms <= book.as_of_ms + ORDER_AHEAD_DAYS * 86_400_000).then_some(by_ms)
}

/// A spare to order soon, for a part that is otherwise well: of any other its own line says so.
fn order(book: &Book, row: &Row) -> Option<Todo> {
    let by_ms = order_by_ms(book, row)?;
    if book.parts.get(row.at)?.due.state != State::Ok {
        return None;
    }
    let when =
        if by_ms <= book.as_of_ms { "at once".to_owned() } else { format!("by {}", time::date(by_ms)) };
    Some(Todo {
        sign: "order",
        lead: format!("{} {}: order a spare {when}", row.radar, row.part),
        text: format!("None is aboard; it is due {} ({}).", row.due, row.between),
        more: "parts".to_owned(),
    })
}

/// What the whole page says, in one sentence.
pub(super) fn verdict(book: &Book, rows: &[Row], findings: &Findings) -> String {
    let count = |state: &str| rows.iter().filter(|row| row.state == state).count();
    let part = |n: usize, says: &str| (n > 0).then(|| format!("{} {says}", words::count(n, "part")));
    let open = findings.open.len();
    let orders = rows.iter().filter(|row| order_by_ms(book, row).is_some()).count();
    let said: Vec<String> = [
        part(count("overdue"), "over the limit"),
        part(count("due"), "perhaps over the limit"),
        part(count("soon"), "soon due"),
        (orders > 0).then(|| format!("{} to order", words::count(orders, "spare"))),
        part(count("deferred"), "put off"),
        part(count("unknown"), "not known"),
        (open > 0).then(|| format!("{} open", words::count(open, "finding"))),
    ]
    .into_iter()
    .flatten()
    .collect();
    match (rows.is_empty(), said.is_empty()) {
        (true, _) => "ship.toml names no part yet.".to_owned(),
        (_, true) => "Nothing to do now.".to_owned(),
        _ => format!("{}.", said.join(", ")),
    }
}

/// What is missing: sentences that ask for something, each with what it concerns.
pub(super) fn missing(book: &Book) -> Vec<(String, Vec<String>)> {
    let asks = |note: &&String| {
        ["Missing", "WIRING", "Wiring", "No date", "Taken as new"].iter().any(|word| note.starts_with(word))
            || note.contains("Pull")
    };
    let mut missing: Vec<(String, Vec<String>)> = Vec::new();
    let mut add = |note: &str, concerns: String| {
        let note = shown(note);
        match missing.iter_mut().find(|(known, _)| *known == note) {
            Some((_, names)) if names.contains(&concerns) => {}
            Some((_, names)) => names.push(concerns),
            None => missing.push((note, vec![concerns])),
        }
    };
    for (at, part) in book.parts.iter().enumerate() {
        let name = || format!("{} {}", shown(&part.settings.radar), shown(&part.settings.name));
        for note in part.due.notes.iter().filter(asks) {
            add(note, name());
        }
        if let (Some(planned), Some(work)) = (book.planned(at), book.problem.works.get(at)) {
            let told = planned::notes(&book.problem, work, planned);
            let asks = |note: &&String| note.starts_with("No ") || note.starts_with("Look whether");
            for note in told.iter().filter(asks) {
                add(note, name());
            }
        }
    }
    for radar in &book.reconciled.radars {
        for note in &radar.notes {
            add(note, format!("{} log", shown(&radar.name)));
        }
    }
    missing
}
