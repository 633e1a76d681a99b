//! What goes into a calendar: planned work, the day to order by, the latest day. An event that was given out before keeps
//! its identity, so that a second import brings the first up to date; one that no longer stands is called off.

use super::Row;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

const DAY_MS: i64 = 86_400_000;

/// What an event is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The stay in which a part is to be renewed.
    Renewal,
    /// The day by which a spare must be ordered.
    OrderBy,
    /// The day after which the limit has passed with more than one chance in ten.
    Latest,
}

impl Kind {
    /// The word for it; part of an event's identity, so never changed.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Renewal => "renewal",
            Kind::OrderBy => "order-by",
            Kind::Latest => "latest",
        }
    }
}

/// An event as a calendar shows it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Content {
    /// In one line.
    pub summary: String,
    /// More, in sentences.
    pub description: String,
    /// Where; empty if nowhere.
    pub place: String,
    /// When it begins, in milliseconds since 1970 in UTC.
    pub from_ms: i64,
    /// When it ends; `None`: it is that whole day.
    pub to_ms: Option<i64>,
    /// It was called off.
    pub cancelled: bool,
}

/// An event that was given out, or is to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// By what it is known; the same for the same part and kind.
    pub key: String,
    /// How often it has changed since it was first given out.
    pub sequence: u32,
    /// When it last changed.
    pub changed_ms: i64,
    /// What is shown.
    pub content: Content,
}

/// What identifies an event of a part as fitted now: a part renewed is another part, with events of its own.
#[must_use]
pub fn key(ship: &str, row: &Row, kind: Kind) -> String {
    // A separator that no name holds.
    [ship, &row.radar, &row.part, row.serial.as_deref().unwrap_or(""), kind.name()].join("\u{1f}")
}

/// The events for an instant, given those given out before as they stood last: those that stand, then those called off.
/// What called off events were about must lie ahead; what is over stays as it was.
#[must_use]
pub fn events(ship: &str, rows: &[Row], as_of_ms: i64, given: &[Event]) -> Vec<Event> {
    let mut known: BTreeMap<&str, &Event> = given.iter().map(|event| (event.key.as_str(), event)).collect();
    let mut all = Vec::new();
    for row in rows {
        for (kind, content) in contents(row) {
            let key = key(ship, row, kind);
            let before = known.remove(key.as_str());
            all.push(next(key, content, before, as_of_ms));
        }
    }
    for (key, before) in known {
        let ahead = before.content.to_ms.unwrap_or(before.content.from_ms + DAY_MS) > as_of_ms;
        if ahead || before.content.cancelled {
            let content = Content { cancelled: true, ..before.content.clone() };
            all.push(next(key.to_owned(), content, Some(before), as_of_ms));
        }
    }
    all
}

fn next(key: String, content: Content, before: Option<&Event>, as_of_ms: i64) -> Event {
    match before {
        None => Event { key, sequence: 0, changed_ms: as_of_ms, content },
        Some(before) if before.content == content => before.clone(),
        Some(before) => {
            Event { key, sequence: before.sequence.saturating_add(1), changed_ms: as_of_ms, content }
        }
    }
}

fn contents(row: &Row) -> Vec<(Kind, Content)> {
    let name = format!("{} {}", row.radar, row.part);
    let serial = row.serial.as_ref().map(|serial| format!("Fitted now: {serial}."));
    let planner = row.planner_id.as_ref().map(|id| format!("Planner: {id}."));
    let about = |sentences: Vec<String>| {
        let sentences = planner.iter().cloned().chain(serial.iter().cloned()).chain(sentences);
        sentences.collect::<Vec<_>>().join(" ")
    };
    let day = |summary: String, description: String, from_ms: i64| Content {
        summary,
        description,
        place: String::new(),
        // The day it is, wherever within it the instant lies: a calendar is not told of minutes.
        from_ms: from_ms.div_euclid(DAY_MS) * DAY_MS,
        to_ms: None,
        cancelled: false,
    };
    let mut all = Vec::new();
    if let Some(stay) = &row.planned {
        let content = Content {
            summary: format!("Renew {name}"),
            description: about(vec![format!(
                "Print the work card: halfglass card. {}",
                "The maker's manual, the ship's safety management system and licensed persons come first."
            )]),
            place: stay.place.clone(),
            from_ms: stay.from_ms,
            to_ms: Some(stay.to_ms),
            cancelled: false,
        };
        all.push((Kind::Renewal, content));
    }
    if let Some(at_ms) = row.order_by_ms {
        let sentence = "Ordered later, a new one may not be aboard in time.".to_owned();
        all.push((Kind::OrderBy, day(format!("Order {name}: last day"), about(vec![sentence]), at_ms)));
    }
    if let [Some(at_ms), ..] = row.due_ms {
        let sentence = "After this day the limit has passed with more than one chance in ten.".to_owned();
        all.push((Kind::Latest, day(format!("{name}: renew before this day"), about(vec![sentence]), at_ms)));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::super::Stay;
    use super::*;

    fn row() -> Row {
        Row {
            radar: "S-band".to_owned(),
            part: "magnetron".to_owned(),
            serial: Some("MS-1".to_owned()),
            planned: Some(Stay { from_ms: 10 * DAY_MS, to_ms: 11 * DAY_MS, place: "Leith".to_owned() }),
            order_by_ms: Some(3 * DAY_MS),
            due_ms: [Some(20 * DAY_MS), Some(22 * DAY_MS), Some(25 * DAY_MS)],
            ..Row::default()
        }
    }

    #[test]
    fn the_same_again_is_the_same() {
        let first = events("Calder", &[row()], 0, &[]);
        assert_eq!(first.len(), 3);
        assert_eq!(events("Calder", &[row()], DAY_MS, &first), first);
    }

    #[test]
    fn a_stay_that_moves_is_the_same_event_changed() {
        let first = events("Calder", &[row()], 0, &[]);
        let mut moved = row();
        moved.planned.as_mut().unwrap().from_ms += DAY_MS / 2;
        let second = events("Calder", &[moved], DAY_MS, &first);
        assert_eq!(second[0].key, first[0].key);
        assert_eq!((second[0].sequence, second[0].changed_ms), (1, DAY_MS));
        assert_eq!(second[1..], first[1..]);
    }

    #[test]
    fn a_part_renewed_calls_off_what_was_planned_for_the_old_one() {
        let first = events("Calder", &[row()], 0, &[]);
        let fresh = Row { serial: Some("MS-2".to_owned()), planned: None, order_by_ms: None, ..row() };
        let second = events("Calder", &[fresh], 5 * DAY_MS, &first);
        let off: Vec<&Event> = second.iter().filter(|event| event.content.cancelled).collect();
        // The day to order by is over: it stays as it was.
        assert_eq!(off.len(), 2, "{second:?}");
        assert!(off.iter().all(|event| event.sequence == 1));
        assert_eq!(
            events("Calder", &[], 6 * DAY_MS, &second).iter().filter(|e| e.content.cancelled).count(),
            3
        );
    }

    #[test]
    fn what_comes_back_is_no_longer_called_off() {
        let first = events("Calder", &[row()], 0, &[]);
        let off = events("Calder", &[], DAY_MS, &first);
        let back = events("Calder", &[row()], 2 * DAY_MS, &off);
        assert!(back.iter().all(|event| !event.content.cancelled && event.sequence == 2), "{back:?}");
    }
}
