//! `halfglass due` through the built program: it says the hours that `reconcile` says, on exchanged loggers too, looks no
//! further than it is asked to, and knows the ship's plans.

use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Record, Span, Totals};
use halfglass_tests::command::{DEVICE, Place, SHIP};
use halfglass_tests::even_log::{self, DAY_MS};
use halfglass_tests::schema;
use serde_json::Value;

const OTHER: u64 = 0x51d0_7a2c_9be8_f346;

/// A logger put to work on a day of 2026, whose lines 0 to 3 were on for so many hours of each day.
fn dump(device_id: u64, first_day: u64, on_h: &[u32]) -> Vec<u8> {
    let mut records =
        vec![Record::Base(Totals { session: 1, ..Totals::default() }), Record::Config(Config::as_in_guide())];
    let anchor = |day| even_log::anchor(day, i64::try_from(first_day * DAY_MS).unwrap());
    records.push(anchor(0));
    for hours in on_h {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        for input in 0..4 {
            span.on_tenths[input] = hours * 36_000;
            span.starts[input] = u32::from(*hours > 0);
        }
        records.push(Record::Span(span));
    }
    records.push(anchor(on_h.len() as u64));
    even_log::dump(device_id, &records)
}

const FITTED: &str =
    "at,radar,part,serial,counter_zeroed,hours_at_fit\n2026-01-01T00:00Z,S-band,magnetron,B-1,yes,0\n";

/// A ship with one logger, and a magnetron put in with it.
fn ship(on_h: &[u32]) -> Place {
    let place = Place::with_ship(SHIP);
    place.write("log.hgd", dump(DEVICE, 0, on_h));
    place.write("fittings.csv", FITTED);
    place.ship(&["import", "dump", "log.hgd"]).fine();
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    place
}

fn json(place: &Place, command: &str, as_of: &str) -> Value {
    place.ship(&[command, "--as-of", as_of, "--json"]).fine().json()
}

/// The part's answer, its hours being those that `reconcile` says; the JSON keeps to its schema.
fn due(place: &Place, as_of: &str) -> Value {
    let answer = json(place, "due", as_of);
    let rules = place.ship(&["schema", "due"]).fine().json();
    schema::check(&rules, &answer).unwrap();
    let reconciled = json(place, "reconcile", as_of);
    let part = answer["parts"][0].clone();
    assert_eq!(part["hours"], reconciled["radars"][0]["parts"][0]["hours"], "{part:#}");
    part
}

fn best(part: &Value) -> f64 {
    part["hours"]["best"].as_f64().unwrap()
}

fn notes(part: &Value) -> String {
    part["notes"].as_array().unwrap().iter().map(|note| note.as_str().unwrap()).collect::<Vec<_>>().join("\n")
}

/// By hand: 200 days and 20 more at 10 h.
#[test]
fn an_exchanged_logger_goes_on_in_hours_and_usage() {
    let place = ship(&[10; 200]);
    place.write("other.hgd", dump(OTHER, 200, &[10; 20]));
    place.ship(&["import", "dump", "other.hgd"]).fine();
    let exchange = ["add", "logger", "--at", "2026-07-20T00:00Z", "--radar", "S-band", "--logger"];
    place.ship(&[&exchange[..], &["51d07a2c9be8f346", "--reason", "USB socket torn off"]].concat()).fine();
    let part = due(&place, "2026-08-09T00:00Z");
    assert!((best(&part) - 2_200.0).abs() < 2.0, "{part:#}");
    // 1,400 h are left, at 10 a day 140 days: 2026-12-27. Had the usage of the first logger been lost there would be no date
    // to the fortnight.
    let p50 = part["due"]["p50"].as_str().unwrap();
    assert!(("2026-12-15".."2027-01-08").contains(&&p50[..10]), "{part:#}");
    assert!(!notes(&part).contains("days of use are known"), "{part:#}");
    // As of a day before, the other logger is not seen.
    assert!((best(&due(&place, "2026-07-15T00:00Z")) - 1_950.0).abs() < 2.0);
}

#[test]
fn later_facts_are_not_seen() {
    let place = ship(&[10; 200]);
    let before = json(&place, "due", "2026-05-01T00:00Z");
    // A reading and a renewal behind the date asked for change nothing as of it.
    place.write("readings.csv", "at,radar,quantity,hours\n2026-06-01T00:00Z,S-band,transmit,1510\n");
    place.ship(&["import", "readings", "readings.csv"]).fine();
    place.write("more.csv", FITTED.replace("2026-01-01T00:00Z", "2026-06-20T00:00Z").replace("B-1", "B-2"));
    place.ship(&["import", "fittings", "more.csv"]).fine();
    assert_eq!(json(&place, "due", "2026-05-01T00:00Z"), before);
    let after = due(&place, "2026-07-10T00:00Z");
    assert_eq!(after["serial"], "B-2");
    assert!(best(&after) < 400.0, "{after:#}");
}

/// A ship that lay for 100 days: no date, with a reason. With a leg at sea ahead she has one, and not before she sails.
#[test]
fn no_usage_in_90_days() {
    let mut on_h = vec![12; 100];
    on_h.extend([0; 100]);
    let place = ship(&on_h);
    let part = due(&place, "2026-07-20T00:00Z");
    assert_eq!((&part["due"]["p50"], &part["state"]), (&Value::Null, &"ok".into()));
    assert!(notes(&part).contains("not been used since 2026-04-11"), "{part:#}");
    place.write(
        "legs.csv",
        "from,to,mode\n2026-01-01T00:00Z,2026-04-11T00:00Z,sea\n2026-09-20T00:00Z,2026-10-10T00:00Z,sea\n",
    );
    place.ship(&["import", "legs", "legs.csv"]).fine();
    let part = due(&place, "2026-07-20T00:00Z");
    // By hand: 2,400 h are left, at 12 a day 200 days from 20 September: 2027-04-08.
    let p50 = part["due"]["p50"].as_str().unwrap();
    assert!(("2027-03-08".."2027-06-01").contains(&&p50[..10]), "{part:#}");
    assert!(part["due"]["p10"].as_str().unwrap() > "2027-02-01", "{part:#}");
    assert!(notes(&part).contains("taken to lie until the first leg at sea"), "{part:#}");
}

#[test]
fn a_line_that_was_never_used_has_no_date() {
    let part = due(&ship(&[0; 120]), "2026-05-01T00:00Z");
    assert_eq!(part["due"]["p50"], Value::Null);
    assert!(notes(&part).contains("not used on any of the 120 days"), "{part:#}");
}

#[test]
fn a_changed_trade_is_told_and_weighs() {
    let mut on_h = vec![6; 120];
    on_h.extend([16; 80]);
    let part = due(&ship(&on_h), "2026-07-20T00:00Z");
    // By hand: 2,000 h on the clock; 1,600 left at 16 a day are 100 days, 2026-10-28; at the mean of both, 10, 160 days.
    let p50 = part["due"]["p50"].as_str().unwrap();
    assert!(("2026-10-14".."2026-11-18").contains(&&p50[..10]), "{part:#}");
    assert!(notes(&part).contains("use changed about 2026-0"), "{part:#}");
}

#[test]
fn a_limit_passed_is_dated_when_it_was() {
    let place = ship(&[20; 200]);
    let part = due(&place, "2026-07-20T00:00Z");
    // By hand: 3,600 h at 20 a day are 180 days: 2026-06-30. The day of fitting is confirmed by nothing: a week either way.
    assert!(["overdue", "due"].contains(&part["state"].as_str().unwrap()), "{part:#}");
    let p50 = part["due"]["p50"].as_str().unwrap();
    assert!(("2026-06-27".."2026-07-03").contains(&&p50[..10]), "{part:#}");
    let text = place.ship(&["due", "--as-of", "2026-07-20T00:00Z"]);
    text.fine().says(&["h over", "confirms the day of fitting"]);
}

/// What is missing is named, and no hours are made up.
#[test]
fn without_a_log_there_are_no_hours() {
    let place = Place::with_ship(SHIP);
    place.write("fittings.csv", FITTED);
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    let part = due(&place, "2026-05-01T00:00Z");
    assert_eq!((&part["hours"], &part["state"]), (&Value::Null, &"unknown".into()));
    assert!(notes(&part).contains("Nothing was pulled from logger 3f9c11d2a07be458 yet"), "{part:#}");
    let place = ship(&[10; 20]);
    let part = due(&place, "2025-12-20T00:00Z");
    assert_eq!(part["state"], "unknown");
    place.write("early.csv", FITTED.replace("2026-01-01", "2025-12-01").replace("B-1", "B-0"));
    place.ship(&["import", "fittings", "early.csv"]).fine();
    assert!(notes(&due(&place, "2025-12-20T00:00Z")).contains("begins later than that: on 2026-01-01"));
}

/// Eastward over the date line a day is lived twice by the ship's clock. Fitted on that day, by its date alone: the two days
/// leave the hours open by a day's use each way, and none is counted twice.
#[test]
fn a_ship_crossing_the_date_line() {
    let place = Place::with_ship(SHIP);
    place.write("log.hgd", dump(DEVICE, 0, &[10; 200]));
    place.ship(&["import", "dump", "log.hgd"]).fine();
    place.write("zones.csv", "from,offset\n2026-01-01T00:00Z,+12:00\n2026-03-05T12:00Z,-12:00\n");
    place.ship(&["import", "zones", "zones.csv"]).fine();
    place.write("fittings.csv", FITTED.replace("2026-01-01T00:00Z", "2026-03-05"));
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    // A reading behind it says that the counter was zeroed then: 27 days from 5 March 12:00Z, at 10 h.
    place.write(
        "readings.csv",
        "at,radar,quantity,hours\n2026-02-01T00:00Z,S-band,transmit,310\n2026-03-01T00:00Z,S-band,transmit,590\n\
         2026-04-01T12:00Z,S-band,transmit,270\n2026-05-01T12:00Z,S-band,transmit,570\n",
    );
    place.ship(&["import", "readings", "readings.csv"]).fine();
    let part = due(&place, "2026-07-20T00:00Z");
    // By hand: 136.5 days since 5 March 12:00Z, at 10 h: 1,365 h, and up to a day's 10 h more or less.
    assert!((best(&part) - 1_365.0).abs() < 11.0, "{part:#}");
    let bound = |key: &str| part["hours"][key].as_f64().unwrap();
    assert!(
        bound("low") < 1_365.0 && 1_365.0 < bound("high") && bound("high") - bound("low") < 200.0,
        "{part:#}"
    );
    // 2,235 h are left, at 10 a day 223 days: 2027-02-28.
    let p50 = part["due"]["p50"].as_str().unwrap();
    assert!(("2027-02-18".."2027-03-12").contains(&&p50[..10]), "{part:#}");
}
