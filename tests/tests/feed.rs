//! `halfglass feed` through the built program, read back by other people's programs: `tests/oracles/feed.py` with the Python
//! packages icalendar and jsonschema and Python's own csv. What they read is what was meant, with no difference.

use halfglass_protocol::config::Config;
use halfglass_tests::command::{DEVICE, Place};
use halfglass_tests::even_log::{dump, records};
use serde_json::Value;
use std::collections::BTreeMap;

/// Names that a careless writer would break on: quotes, commas, semicolons, backslashes, markup, a turned direction, no ASCII,
/// and longer than a line of a calendar may be.
const SHIP: &str = r#"[ship]
name = 'MV "Calder, Sound"; \n <b>x</b>'

[[radar]]
name = "S-band"
logger = "3f9c11d2a07be458"
fed_from_radar = true
lines = { supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }

[[part]]
radar = "S-band"
name = "magnetron"
planner_id = "RAD,S;\"010\""
ages_by = "transmit"
limit_h = 3600
lead_time_days = 45
work_hours = 4

[[part]]
radar = "S-band"
name = "scanner motor שלום \u202Eturned\u202C ÆØÅ 雷達 that goes on and on and on, for longer than any line of a calendar may be"
ages_by = "motor"
limit_h = 30000
limit_months = 60
"#;

const FITTINGS: &str =
    "at,radar,part,serial,counter_zeroed,hours_at_fit\n2026-01-01T00:00Z,S-band,magnetron,\"B,1\",yes,0\n";
const WINDOWS: &str = "from,to,place,aloft,transmit,deliver,daylight,chance
2026-10-01T06:00Z,2026-10-03T18:00Z,\"Leith, berth 3\",yes,yes,yes,12,0.9
2026-11-10T06:00Z,2026-11-12T18:00Z,Bergen,yes,yes,yes,8,0.9
";

fn ship(toml: &str) -> Place {
    let place = Place::with_ship(toml);
    place.write(
        "log.hgd",
        dump(DEVICE, &records(200, Config::as_in_guide(), [24, 12, 10, 10, 0, 0, 0, 0], &[])),
    );
    place.write("fittings.csv", FITTINGS);
    place.write("windows.csv", WINDOWS);
    place.ship(&["import", "dump", "log.hgd"]).fine();
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    place.ship(&["import", "windows", "windows.csv"]).fine();
    place
}

fn feed(place: &Place, form: &str, as_of: &str, file: &str) -> Value {
    place.ship(&["feed", form, "--as-of", as_of, "--out", file]).fine();
    let text = std::fs::read_to_string(place.path(file)).unwrap();
    if form == "json" { serde_json::from_str(&text).unwrap() } else { Value::String(text) }
}

/// What other programs read in a folder of feeds.
fn read_back(place: &Place, folder: &str) -> Value {
    let mut command =
        xtask::oracles::script("feed.py").unwrap_or_else(|fault| panic!("nothing to read with: {fault:#}"));
    let output = command.arg(place.path(folder)).output().unwrap();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?} ended with {}:\n{errors}", output.status);
    serde_json::from_slice(&output.stdout).unwrap()
}

const THEN: &str = "2026-07-20T00:00:00+00:00";

#[test]
fn other_programs_read_what_was_meant() {
    let place = ship(SHIP);
    std::fs::create_dir(place.path("feeds")).unwrap();
    let json = feed(&place, "json", THEN, "feeds/feed.json");
    feed(&place, "csv", THEN, "feeds/feed.csv");
    feed(&place, "ics", THEN, "feeds/first.ics");
    // An hour later no date is another; on another day a foreseen one may be.
    feed(&place, "ics", "2026-07-20T01:00:00+00:00", "feeds/second.ics");
    place.write("feeds/feed.schema.json", &place.run(&["schema", "feed"]).fine().out);
    place.write("feeds/feed-csv.json", &place.run(&["schema", "feed-csv"]).fine().out);
    let read = read_back(&place, "feeds");

    assert_eq!(read["json_faults"], Value::from(Vec::<Value>::new()));
    assert_eq!(read["spoilt_faults"], 2, "a schema that lets everything pass says nothing");

    // CSV and JSON say the same, cell by cell.
    let rows = read["rows"].as_array().unwrap();
    let parts = json["parts"].as_array().unwrap();
    assert_eq!((rows.len(), parts.len()), (2, 2));
    for (row, part) in rows.iter().zip(parts) {
        let (row, part) = (row.as_object().unwrap(), part.as_object().unwrap());
        assert_eq!(row.keys().collect::<Vec<_>>(), part.keys().collect::<Vec<_>>());
        for (key, meant) in part {
            let cell = row[key].as_str().unwrap();
            let same = match meant {
                Value::Null => cell.is_empty(),
                Value::Number(number) => cell.parse::<f64>().ok() == number.as_f64(),
                Value::String(text) => cell == text,
                other => panic!("{key}: {other}"),
            };
            assert!(same, "{key}: {meant} became {cell}");
        }
    }
    let mut named: Vec<&str> =
        read["columns"].as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect();
    named.sort_unstable();
    let mut keys: Vec<&str> = parts[0].as_object().unwrap().keys().map(String::as_str).collect();
    keys.sort_unstable();
    assert_eq!(named, keys);
    assert_eq!(parts[0]["planner_id"], "RAD,S;\"010\"");

    let calendars = &read["calendars"];
    for (name, calendar) in calendars.as_object().unwrap() {
        assert_eq!(calendar["errors"], Value::from(Vec::<Value>::new()), "{name}");
        assert_eq!(calendar["missing"], Value::from(Vec::<Value>::new()), "{name}");
        assert!(calendar["longest_octets"].as_u64().unwrap() <= 75, "{name}: {calendar}");
        assert_eq!(
            (&calendar["bare_line_feeds"], &calendar["same_again"]),
            (&Value::from(0), &Value::from(true))
        );
        assert_eq!(calendar["name"], "Radar parts, MV \"Calder, Sound\"; \\n <b>x</b>");
    }
    // The same again is the same; nothing is doubled.
    assert_eq!(calendars["first"]["events"], calendars["second"]["events"]);
    let events = calendars["first"]["events"].as_array().unwrap();
    let renewal = events.iter().find(|event| event["summary"] == "Renew S-band magnetron").unwrap();
    assert_eq!(renewal["place"], parts[0]["planned_place"]);
    let instant = |value: &Value| value.as_str().unwrap().parse::<jiff::Timestamp>().unwrap();
    assert_eq!(instant(&renewal["from"]), instant(&parts[0]["planned_from"]));
    assert_eq!(instant(&renewal["to"]), instant(&parts[0]["planned_to"]));
    let uids: BTreeMap<&str, u64> = events
        .iter()
        .map(|event| (event["uid"].as_str().unwrap(), event["sequence"].as_u64().unwrap()))
        .collect();
    assert_eq!(uids.len(), events.len(), "each event has an identity of its own");
}

#[test]
fn a_second_calendar_brings_the_first_up_to_date() {
    let place = ship(SHIP);
    std::fs::create_dir(place.path("feeds")).unwrap();
    feed(&place, "json", THEN, "feeds/feed.json");
    feed(&place, "csv", THEN, "feeds/feed.csv");
    place.write("feeds/feed.schema.json", &place.run(&["schema", "feed"]).fine().out);
    place.write("feeds/feed-csv.json", &place.run(&["schema", "feed-csv"]).fine().out);
    feed(&place, "ics", THEN, "feeds/1.ics");
    let renewed = [
        "add",
        "fitting",
        "--at",
        "2026-07-21T12:00Z",
        "--radar",
        "S-band",
        "--part",
        "magnetron",
        "--serial",
    ];
    place.ship(&[&renewed[..], &["B-2", "--counter-zeroed", "yes", "--hours-at-fit", "0"]].concat()).fine();
    feed(&place, "ics", "2026-07-22T00:00:00+00:00", "feeds/2.ics");
    let read = read_back(&place, "feeds");
    let by_uid = |name: &str| -> BTreeMap<String, Value> {
        let events = read["calendars"][name]["events"].as_array().unwrap();
        events.iter().map(|event| (event["uid"].as_str().unwrap().to_owned(), event.clone())).collect()
    };
    let (first, second) = (by_uid("1"), by_uid("2"));
    let old: Vec<&String> =
        first.keys().filter(|uid| first[*uid]["summary"].as_str().unwrap().contains("magnetron")).collect();
    assert!(!old.is_empty());
    for uid in old {
        assert_eq!(second[uid]["status"], "CANCELLED", "{}", second[uid]);
        assert_eq!(second[uid]["sequence"], 1);
    }
}

fn meters(feed: &Value) -> (f64, f64, String) {
    let part = &feed["parts"][0];
    let meter = |key: &str| part[key].as_f64().unwrap_or_else(|| panic!("{key}: {part:#}"));
    (meter("cumulative_h"), meter("since_renewal_h"), part["note"].as_str().unwrap().to_owned())
}

/// By hand: 10 h a day from 1 January: 1,000 h after 100 days, 1,500 h after 150.
#[test]
fn meters_go_forward_whatever_turns_up() {
    let place = ship(SHIP);
    let (total, since, _) = meters(&feed(&place, "json", "2026-04-11T00:00:00+00:00", "a.json"));
    assert!((total - 1_000.0).abs() < 1.0 && (since - 1_000.0).abs() < 1.0, "{total} {since}");
    let (total, since, _) = meters(&feed(&place, "json", "2026-05-31T00:00:00+00:00", "b.json"));
    assert!((total - 1_500.0).abs() < 1.0 && (since - 1_500.0).abs() < 1.0, "{total} {since}");
    // It turns out that the part had been put in two months later: 590 h fewer.
    let later = [
        "add",
        "fitting",
        "--corrects",
        "1",
        "--at",
        "2026-03-01T00:00Z",
        "--radar",
        "S-band",
        "--part",
        "magnetron",
    ];
    place
        .ship(&[&later[..], &["--serial", "B,1", "--counter-zeroed", "yes", "--hours-at-fit", "0"]].concat())
        .fine();
    let (total, held, note) = meters(&feed(&place, "json", "2026-06-10T00:00:00+00:00", "c.json"));
    assert!((total - 1_600.0).abs() < 1.0, "{total}");
    assert_eq!(held, since, "it stands");
    assert!(note.contains("490"), "1,500 are given out, 1,010 are held true: {note}");
    // The same day asked again says the same.
    assert_eq!(meters(&feed(&place, "json", "2026-05-31T00:00:00+00:00", "d.json")).1, since);
    // It has caught up: 10 h a day from 1 March, 1,500 h by 29 July; the log ends on 20 July, so the figure goes on from there.
    let (_, caught_up, note) = meters(&feed(&place, "json", "2026-09-30T00:00:00+00:00", "e.json"));
    assert!(caught_up > since && !note.contains("given out"), "{caught_up}: {note}");
}
