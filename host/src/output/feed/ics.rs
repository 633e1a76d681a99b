//! The feed as a calendar (RFC 5545). An event keeps its UID for as long as the part is fitted, so that a second import
//! brings the first up to date rather than doubling it; SEQUENCE says how often it changed.

use crate::feed::calendar::{Content, Event};
use crate::output::table::printable;
use crate::time;
use icalendar::{Calendar, Component, EventLike, EventStatus, Property};
use uuid::Uuid;

/// Events of Halfglass have their own name space: a UUID drawn once.
const NAME_SPACE: Uuid = Uuid::from_u128(0x6e2f_0c1d_94b7_4a58_8f3b_d1c7_05a2_e964);

/// A calendar with these events.
#[must_use]
pub fn ics(ship: &str, events: &[Event]) -> String {
    let mut calendar = Calendar::empty();
    calendar.append_property(("VERSION", "2.0"));
    calendar.append_property(("PRODID", concat!("-//Halfglass//", env!("CARGO_PKG_VERSION"), "//EN")));
    calendar.append_property(("CALSCALE", "GREGORIAN"));
    calendar.name(&plain(&format!("Radar parts, {ship}")));
    for event in events {
        calendar.push(component(event));
    }
    calendar.to_string()
}

/// How an event is known to calendars.
fn uid(key: &str) -> String {
    Uuid::new_v5(&NAME_SPACE, key.as_bytes()).to_string()
}

fn component(event: &Event) -> icalendar::Event {
    let Content { summary, description, place, from_ms, to_ms, cancelled } = &event.content;
    let mut component = icalendar::Event::new();
    component.uid(&uid(&event.key));
    component.add_property("DTSTAMP", time::compact(event.changed_ms));
    component.add_property("LAST-MODIFIED", time::compact(event.changed_ms));
    component.add_property("SEQUENCE", event.sequence.to_string());
    component.summary(&plain(summary));
    component.description(&plain(description));
    if !place.is_empty() {
        component.location(&plain(place));
    }
    match to_ms {
        Some(to_ms) => {
            component.add_property("DTSTART", time::compact(*from_ms));
            component.add_property("DTEND", time::compact(*to_ms));
        }
        None => {
            let day = |at_ms: i64| time::date(at_ms).replace('-', "");
            for (key, at_ms) in [("DTSTART", *from_ms), ("DTEND", from_ms.saturating_add(86_400_000))] {
                component
                    .append_property(Property::new(key, day(at_ms)).add_parameter("VALUE", "DATE").done());
            }
        }
    }
    // A day to remember blocks nobody's time.
    let transparent = to_ms.is_none();
    component.add_property("TRANSP", if transparent { "TRANSPARENT" } else { "OPAQUE" });
    component.status(if *cancelled { EventStatus::Cancelled } else { EventStatus::Confirmed });
    component.done()
}

/// No control characters: they have no place in a calendar's text.
fn plain(text: &str) -> String {
    printable(text)
}
