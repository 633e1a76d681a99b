//! What was given out to planners and calendars.

use super::Store;
use crate::feed::calendar::{Content, Event};
use crate::feed::{Given, Tenths};
use crate::{Error, Result};
use rusqlite::params;

/// Which meter of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meter<'a> {
    /// Of the line that ages it, whichever part is in.
    Cumulative,
    /// Of the part with this serial.
    SinceRenewal(&'a str),
}

impl Meter<'_> {
    fn columns(&self) -> (&'static str, &str) {
        match self {
            Meter::Cumulative => ("cumulative", ""),
            Meter::SinceRenewal(serial) => ("since-renewal", serial),
        }
    }
}

impl Store {
    /// All figures of a meter that were given out.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn given(&self, radar: &str, part: &str, meter: Meter<'_>) -> Result<Vec<Given>> {
        let failed = self.sql("read");
        let (meter, of) = meter.columns();
        let find = "SELECT at_ms, tenths FROM meters_given WHERE radar = ?1 AND part = ?2 AND meter = ?3 AND of = ?4";
        let mut query = self.db.prepare_cached(find).map_err(&failed)?;
        let rows = query.query_map(params![radar, part, meter, of], |row| {
            Ok(Given { at_ms: row.get(0)?, meter: Tenths(row.get(1)?) })
        });
        rows.map_err(&failed)?.collect::<rusqlite::Result<_>>().map_err(&failed)
    }

    /// Remembers that a figure was given out. The same again is nothing new.
    ///
    /// # Errors
    /// The database cannot be written.
    pub fn give(&self, radar: &str, part: &str, meter: Meter<'_>, given: Given) -> Result<()> {
        let (meter, of) = meter.columns();
        let add = "INSERT OR IGNORE INTO meters_given (radar, part, meter, of, at_ms, tenths) VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
        let added = self.db.execute(add, params![radar, part, meter, of, given.at_ms, given.meter.0]);
        added.map(drop).map_err(self.sql("write"))
    }

    /// The calendar events that were given out, each as it stood last.
    ///
    /// # Errors
    /// The database cannot be read, or what was kept is damaged.
    pub fn events_given(&self) -> Result<Vec<Event>> {
        let failed = self.sql("read");
        let find = "SELECT key, sequence, at_ms, content FROM events_given AS event WHERE sequence = \
                    (SELECT max(sequence) FROM events_given AS same WHERE same.key = event.key) ORDER BY id";
        let mut query = self.db.prepare_cached(find).map_err(&failed)?;
        let rows = query.query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get(1)?, row.get(2)?, row.get::<_, String>(3)?))
        });
        let mut events = Vec::new();
        for row in rows.map_err(&failed)? {
            let (key, sequence, changed_ms, content) = row.map_err(&failed)?;
            let content: Content = serde_json::from_str(&content).map_err(|error| {
                Error::input(
                    format!("{} holds a calendar event that cannot be read ({error})", self.path.display()),
                    "It was written by another program, or is damaged: put back a copy.",
                )
            })?;
            events.push(Event { key, sequence, changed_ms, content });
        }
        Ok(events)
    }

    /// Remembers that an event was given out. The same again is nothing new.
    ///
    /// # Errors
    /// The database cannot be written.
    pub fn give_event(&self, event: &Event) -> Result<()> {
        // Texts and numbers: this cannot fail.
        let content = serde_json::to_string(&event.content).unwrap_or_default();
        let add =
            "INSERT OR IGNORE INTO events_given (key, sequence, at_ms, content) VALUES (?1, ?2, ?3, ?4)";
        let added = self.db.execute(add, params![event.key, event.sequence, event.changed_ms, content]);
        added.map(drop).map_err(self.sql("write"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn store() -> (tempfile::TempDir, Store) {
        let dir = tempfile::tempdir().unwrap();
        let store = Store::open(&dir.path().join("halfglass.db")).unwrap();
        (dir, store)
    }

    #[test]
    fn meters_are_remembered_apart() {
        let (_dir, store) = store();
        let figure = |at_ms, tenths| Given { at_ms, meter: Tenths(tenths) };
        store.give("S", "m", Meter::Cumulative, figure(1, 10)).unwrap();
        store.give("S", "m", Meter::Cumulative, figure(1, 10)).unwrap();
        store.give("S", "m", Meter::SinceRenewal("A"), figure(1, 3)).unwrap();
        assert_eq!(store.given("S", "m", Meter::Cumulative).unwrap(), [figure(1, 10)]);
        assert_eq!(store.given("S", "m", Meter::SinceRenewal("A")).unwrap(), [figure(1, 3)]);
        assert_eq!(store.given("S", "m", Meter::SinceRenewal("B")).unwrap(), []);
    }

    #[test]
    fn an_event_stands_as_it_was_given_out_last() {
        let (_dir, store) = store();
        let content = |summary: &str| Content {
            summary: summary.to_owned(),
            description: "\"quoted\", \u{202e}turned".to_owned(),
            place: String::new(),
            from_ms: 5,
            to_ms: None,
            cancelled: false,
        };
        let event = |sequence, summary| Event {
            key: "k".to_owned(),
            sequence,
            changed_ms: i64::from(sequence),
            content: content(summary),
        };
        store.give_event(&event(0, "first")).unwrap();
        store.give_event(&event(1, "second")).unwrap();
        store.give_event(&event(1, "second")).unwrap();
        assert_eq!(store.events_given().unwrap(), [event(1, "second")]);
    }
}
