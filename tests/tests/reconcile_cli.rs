//! `halfglass reconcile` through the built program: findings and their answers, exit codes, the JSON against its own
//! schema, and odd input. What the engine makes of facts is tested beside the engine.

use halfglass_protocol::config::{Config, Role};
use halfglass_protocol::record::{Anchor, ClockSource, Record, Run, Span, Totals};
use halfglass_tests::command::{DEVICE, Place, Run as Ran, SHIP};
use halfglass_tests::even_log::{DAY_MS, DAY_TENTHS, START_MS, anchor, dump, records};
use halfglass_tests::schema;
use serde_json::Value;

const AS_OF: [&str; 3] = ["reconcile", "--as-of", "2026-07-20T00:00+00:00"];

const ONE: [u32; 8] = [24, 12, 10, 10, 0, 0, 0, 0];
const FITTED: &str =
    "at,radar,part,serial,counter_zeroed,hours_at_fit\n2026-01-01T00:00Z,S-band,magnetron,B-1,yes,0\n";

/// Readings of a transmit counter that was at 0 at the start of the year and moves by 10 h a day, on the first of each month
/// at midnight: 31, 59, 90, 120, 151 and 181 days later.
const READINGS: &str = "at,radar,quantity,hours
2026-02-01T00:00Z,S-band,transmit,310
2026-03-01T00:00Z,S-band,transmit,590
2026-04-01T00:00Z,S-band,transmit,900
2026-05-01T00:00Z,S-band,transmit,1200
2026-06-01T00:00Z,S-band,transmit,1510
2026-07-01T00:00Z,S-band,transmit,1810
";

/// A ship whose papers say what is in `readings`.
fn ship(readings: &str) -> Place {
    let place = Place::with_ship(SHIP);
    place.write("log.hgd", dump(DEVICE, &records(200, Config::as_in_guide(), ONE, &[])));
    place.write("fittings.csv", FITTED);
    place.write("readings.csv", readings);
    place.ship(&["import", "dump", "log.hgd"]).fine();
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    place.ship(&["import", "readings", "readings.csv"]).fine();
    place
}

fn with(args: &[&'static str]) -> Vec<&'static str> {
    [&AS_OF[..], args].concat()
}

/// Kind and key of each finding.
fn findings(answer: &Value) -> Vec<(String, String)> {
    let radars = answer["radars"].as_array().unwrap();
    let all = radars.iter().flat_map(|radar| radar["findings"].as_array().unwrap());
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    all.map(|finding| (text(&finding["kind"]), text(&finding["key"]))).collect()
}

/// The hours of the first part of the first radar.
fn hours(answer: &Value) -> [f64; 3] {
    ["low", "best", "high"].map(|key| answer["radars"][0]["parts"][0]["hours"][key].as_f64().unwrap())
}

/// The answer as JSON, which is held against the schema that the program itself prints.
fn checked(place: &Place) -> Value {
    let answer = place.ship(&with(&["--json"])).fine().json();
    let described = place.run(&["schema", "reconcile"]).fine().json();
    schema::check(&described, &answer).unwrap_or_else(|fault| panic!("{fault}\n{answer:#}"));
    answer
}

/// The command printed under a finding, without the program's name and with its words in place of the dots.
fn printed_answer(ran: &Ran) -> Vec<String> {
    let line = ran.out.lines().find_map(|line| line.trim().strip_prefix("close     halfglass ")).unwrap();
    line.replace("\"...\"", "looked-up").split_whitespace().map(str::to_owned).collect()
}

#[test]
fn agreement_is_said_and_the_hours_hold_the_truth() {
    let place = ship(READINGS);
    place.ship(&with(&["--check"])).fine().says(&["S-band: all sources agree.", "B-1"]);
    let answer = checked(&place);
    assert_eq!(findings(&answer), []);
    // By hand: 200 days at 10 h.
    let [low, best, high] = hours(&answer);
    assert!(low <= 2_000.0 && 2_000.0 <= high && (best - 2_000.0).abs() < 2.0, "{answer:#}");
    assert_eq!(
        (answer["version"].as_i64(), &answer["as_of"]),
        (Some(1), &Value::from("2026-07-20T00:00:00Z"))
    );
}

#[test]
fn a_finding_is_closed_by_the_command_that_it_prints_and_opens_again_on_new_evidence() {
    // 900 copied as 990.
    let place = ship(&READINGS.replace(",900", ",990"));
    let found = place.ship(&with(&["--check"]));
    assert_eq!(found.code, 1, "{}", found.out);
    found.says(&["[misread]", "when", "how sure", "because", "do", "990"]);
    let [(kind, key)] = findings(&checked(&place)).try_into().unwrap();
    assert_eq!(kind, "misread");

    place.ship(&printed_answer(&found)[2..]).fine().says(&["The answer kept"]);
    place.ship(&with(&["--check"])).fine().says(&[
        "all sources agree",
        "Answered on 2026-07-20",
        "looked-up",
    ]);
    let answer = checked(&place);
    assert_eq!(findings(&answer), []);
    assert_eq!(answer["radars"][0]["answered"][0]["key"], Value::from(key.clone()));

    // A later reading says nothing new about it.
    let more = ["add", "reading", "--at", "2026-07-15T00:00Z", "--radar", "S-band", "--quantity", "transmit"];
    place.ship(&[&more[..], &["--hours", "1950"]].concat()).fine();
    assert_eq!(findings(&checked(&place)), []);
    // Before the answer was given it was open.
    let before = ["reconcile", "--as-of", "2026-07-19T00:00+00:00", "--json"];
    assert_eq!(findings(&place.ship(&before).fine().json()), [("misread".to_owned(), key.clone())]);

    // The reading is corrected, and wrong again: another fact, another finding.
    let corrected =
        ["add", "reading", "--at", "2026-04-01T00:00Z", "--radar", "S-band", "--quantity", "transmit"];
    place.ship(&[&corrected[..], &["--hours", "960", "--corrects", "3"]].concat()).fine();
    let again = findings(&checked(&place));
    assert!(again.len() == 1 && again[0].1 != key, "{again:?}");
    place.ship(&[&corrected[..], &["--hours", "900", "--corrects", "8"]].concat()).fine();
    assert_eq!(findings(&checked(&place)), [], "and now it is right");
}

#[test]
fn a_fault_that_goes_on_is_opened_again() {
    // The motor line is wired nowhere: it stands still while transmit runs.
    let place = Place::with_ship(SHIP);
    let dead = [24, 12, 10, 0, 0, 0, 0, 0];
    place.write("log.hgd", dump(DEVICE, &records(200, Config::as_in_guide(), dead, &[])));
    place.ship(&["import", "dump", "log.hgd"]).fine();
    let early = ["reconcile", "--as-of", "2026-03-10T00:00+00:00"];
    let found = place.ship(&early);
    let answer = printed_answer(&found);
    place.ship(&answer[2..]).fine();
    place.ship(&[&early[..], &["--check"]].concat()).fine().says(&["Answered on 2026-03-10"]);
    let later = place.ship(&with(&["--check"]));
    assert_eq!(later.code, 1, "{}", later.out);
    later.says(&["There is new", "evidence since."]);
    assert_eq!(checked(&place)["radars"][0]["findings"][0]["reopened"], Value::from(true));
}

#[test]
fn ship_toml_against_the_logger_s_own_configuration() {
    let mut config = Config::as_in_guide();
    (config.lines[2].role, config.lines[3].role) = (Role::Motor, Role::Transmit);
    let place = Place::with_ship(SHIP);
    place.write("log.hgd", dump(DEVICE, &records(200, config, ONE, &[])));
    place.ship(&["import", "dump", "log.hgd"]).fine();
    let kinds: Vec<String> = findings(&checked(&place)).into_iter().map(|(kind, _)| kind).collect();
    assert_eq!(kinds, ["wiring", "wiring"]);
    place.ship(&with(&[])).fine().says(&["ship.toml has transmit on input 2", "100 %"]);
}

#[test]
fn the_answer_of_due_is_as_its_schema_says() {
    let place = ship(READINGS);
    let described = place.run(&["schema", "due"]).fine().json();
    for as_of in ["2025-12-01T00:00+00:00", "2026-07-20T00:00+00:00"] {
        let answer = place.ship(&["due", "--json", "--as-of", as_of]).fine().json();
        schema::check(&described, &answer).unwrap_or_else(|fault| panic!("{fault}\n{answer:#}"));
    }
}

#[test]
fn an_empty_ship() {
    let place = Place::with_ship("[ship]\nname = \"MV Calder Sound\"\n");
    place.ship(&with(&["--check"])).fine().says(&["names no radar yet"]);
    assert_eq!(checked(&place)["radars"], serde_json::json!([]));
    let place = Place::with_ship(SHIP);
    place.ship(&with(&["--check"])).fine().says(&[
        "nothing to set against each other yet",
        "no fitting is recorded",
        "Nothing was pulled from logger 3f9c11d2a07be458 yet",
    ]);
    let answer = checked(&place);
    assert_eq!(answer["radars"][0]["parts"][0]["unknown_because"], "no fitting is recorded");
    place.run(&["reconcile"]).fails(2, &["is not a ship folder"]);
    place
        .ship(&["reconcile", "--as-of", "2026-07-20"])
        .fails(2, &["--as-of: `2026-07-20` has no time of day"]);
    place.run(&["schema", "tides"]).fails(2, &["due, feed, feed-csv, plan, reconcile"]);
}

#[test]
fn readings_out_of_order_and_twice() {
    let sorted = checked(&ship(READINGS));
    let mut rows: Vec<&str> = READINGS.trim_end().lines().skip(1).collect();
    rows.reverse();
    rows.swap(1, 4);
    let shuffled = format!("at,radar,quantity,hours\n{}\n", rows.join("\n"));
    assert_eq!(hours(&checked(&ship(&shuffled))), hours(&sorted));
    // The same row twice is one fact; the same instant with another figure is one more, and one of the two is wrong.
    let place = ship(&format!("{READINGS}{}\n", rows[0]));
    assert_eq!(findings(&checked(&place)), []);
    let place = ship(&READINGS.replace(",900\n", ",900\n2026-04-01T00:00Z,S-band,transmit,940\n"));
    let found = findings(&checked(&place));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(["misread", "impossible-reading"].contains(&found[0].0.as_str()), "{found:?}");
}

#[test]
fn a_fitting_before_any_reading_and_one_before_the_log() {
    let place = ship("at,radar,quantity,hours\n");
    let [low, _, high] = hours(&checked(&place));
    assert!(low <= 2_000.0 && 2_000.0 <= high, "{low} to {high}");
    place.ship(&with(&["--check"])).fine();
    // Put in 50 days before the log begins: readings carry the count.
    let place = ship(
        &READINGS
            .replace(",310", ",810")
            .replace(",590", ",1090")
            .replace(",900", ",1400")
            .replace(",1200", ",1700")
            .replace(",1510", ",2010")
            .replace(",1810", ",2310"),
    );
    let earlier = ["add", "fitting", "--at", "2025-11-12T00:00Z", "--radar", "S-band", "--part", "magnetron"];
    place
        .ship(&[&earlier[..], &["--serial", "B-1", "--counter-zeroed", "yes", "--corrects", "1"]].concat())
        .fine();
    let answer = checked(&place);
    let [low, best, high] = hours(&answer);
    // By hand: 810 h on the first of February, and 10 h on each of the 169 days since.
    assert!(low <= 2_500.0 && 2_500.0 <= high && (best - 2_500.0).abs() < 5.0, "{answer:#}");
    assert_eq!(findings(&answer), []);
}

#[test]
fn a_reading_that_lies_ahead_is_named_when_it_comes_in_and_not_seen_until_then() {
    let place = ship(READINGS);
    place.write("ahead.csv", "at,radar,quantity,hours\n2026-07-02T00:00Z,S-band,transmit,1820\n2999-01-01T00:00Z,S-band,transmit,5\n");
    let ran = place.ship(&["import", "readings", "ahead.csv"]);
    assert!(ran.fine().err.contains("ahead.csv, line 3"), "{}", ran.err);
    assert!(!ran.err.contains("line 2"), "{}", ran.err);
    assert_eq!(findings(&checked(&place)), []);
    let by_hand =
        ["add", "reading", "--at", "2999-01-02T00:00Z", "--radar", "S-band", "--quantity", "transmit"];
    let ran = place.ship(&[&by_hand[..], &["--hours", "7"]].concat());
    assert!(ran.fine().err.contains("lies ahead"), "{}", ran.err);
}

#[test]
fn two_radars_on_one_logger() {
    let second = SHIP.split_once("[[radar]]").unwrap().1.replace("S-band", "X-band");
    let second = second.replace(
        "supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4",
        "supply = 5, heater = 6, transmit = 7",
    );
    let place = Place::with_ship(&format!("{SHIP}\n[[radar]]{second}"));
    let mut config = Config::as_in_guide();
    for (input, role) in [(5, Role::Supply), (6, Role::Heater), (7, Role::Transmit)] {
        (config.lines[input].role, config.lines[input].radar) = (role, 1);
    }
    let on_h = [24, 12, 10, 10, 0, 24, 12, 4];
    place.write("log.hgd", dump(DEVICE, &records(200, config, on_h, &[])));
    place.write("fittings.csv", format!("{FITTED}2026-01-01T00:00Z,X-band,magnetron,X-1,yes,0\n"));
    let other = "2026-03-01T00:00Z,X-band,transmit,236\n2026-05-01T00:00Z,X-band,transmit,480\n2026-07-01T00:00Z,X-band,transmit,724\n";
    place.write("readings.csv", format!("{READINGS}{other}"));
    for (what, file) in [("dump", "log.hgd"), ("fittings", "fittings.csv"), ("readings", "readings.csv")] {
        place.ship(&["import", what, file]).fine();
    }
    let answer = checked(&place);
    assert_eq!(findings(&answer), []);
    let best = |radar: usize| answer["radars"][radar]["parts"][0]["hours"]["best"].as_f64().unwrap();
    assert!((best(0) - 2_000.0).abs() < 2.0 && (best(1) - 800.0).abs() < 2.0, "{answer:#}");
}

#[test]
fn a_computer_s_clock_an_hour_off_and_later_put_right() {
    let place = Place::with_ship(SHIP);
    let wrong = [(80, anchor(80, 3_600_000)), (120, anchor(120, 0))];
    place.write("log.hgd", dump(DEVICE, &records(200, Config::as_in_guide(), ONE, &wrong)));
    place.write("fittings.csv", FITTED);
    place.write("readings.csv", READINGS);
    for (what, file) in [("dump", "log.hgd"), ("fittings", "fittings.csv"), ("readings", "readings.csv")] {
        place.ship(&["import", what, file]).fine();
    }
    let answer = checked(&place);
    assert_eq!(findings(&answer), [], "an hour's doubt of the time is no disagreement");
    let [low, _, high] = hours(&answer);
    assert!(low <= 2_000.0 && 2_000.0 <= high, "{answer:#}");
    place.ship(&with(&[])).fine().says(&["contradict each other by", "2026-03-22 01:00"]);
}

#[test]
fn an_exchanged_logger_goes_on_with_the_count() {
    let place = ship(READINGS);
    // Another logger, with 5,000 h from elsewhere, at work from 2026-07-20 on.
    let mut base = Totals { session: 3, uptime_tenths: 9_000_000, ..Totals::default() };
    base.on_tenths = [180_000_000; 8];
    let at = |day: u64| {
        Record::Anchor(Anchor {
            session: 3,
            uptime_tenths: 9_000_000 + day * DAY_TENTHS,
            utc_ms: START_MS + (200 + day) * DAY_MS,
            uncertainty_ms: 1_010,
            source: ClockSource::Host,
        })
    };
    let mut records = vec![Record::Base(base), Record::Config(Config::as_in_guide()), at(0)];
    for _ in 0..10 {
        let on_tenths = ONE.map(|hours| hours * 36_000);
        records.push(Record::Span(Span { uptime_tenths: 864_000, on_tenths, ..Span::default() }));
    }
    records.push(at(10));
    place.write("other.hgd", dump(0x51d0_7a2c_9be8_f346, &records));
    place.ship(&["import", "dump", "other.hgd"]).fine();
    let exchange = ["add", "logger", "--at", "2026-07-20T00:00Z", "--radar", "S-band", "--logger"];
    place.ship(&[&exchange[..], &["51d07a2c9be8f346", "--reason", "USB socket torn off"]].concat()).fine();
    let answer = place.ship(&["reconcile", "--as-of", "2026-07-30T00:00+00:00", "--json"]).fine().json();
    // By hand: 200 days and 10 more at 10 h.
    let [low, best, high] = hours(&answer);
    assert!(low <= 2_100.0 && 2_100.0 <= high && (best - 2_100.0).abs() < 2.0, "{answer:#}");
    assert_eq!(findings(&answer), []);
}

#[test]
fn an_isolation_asks_for_its_work_and_a_recorded_one_does_not() {
    let run = |day: u64, minutes: u64| {
        (day, Record::Run(Run { line: 4, from_tenths: (day - 1) * DAY_TENTHS, on_tenths: minutes * 600 }))
    };
    let place = Place::with_ship(SHIP);
    let runs = [run(20, 15), run(60, 180), run(100, 200)];
    place.write("log.hgd", dump(DEVICE, &records(200, Config::as_in_guide(), ONE, &runs)));
    place.ship(&["import", "dump", "log.hgd"]).fine();
    let found = findings(&checked(&place));
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found.iter().all(|(kind, _)| kind == "work-unrecorded"), "{found:?}");
    let work = ["add", "work", "--radar", "S-band", "--what", "scanner painted", "--at", "2026-03-01T02:00Z"];
    place.ship(&work).fine();
    assert_eq!(findings(&checked(&place)).len(), 1);
}
