//! A speed input from end to end: sentences at the real firmware's listener, a dump, and what is said of sea and port.

use halfglass_protocol::crc32;
use halfglass_protocol::dump::{Dump, END_LEN, HEADER_LEN};
use halfglass_protocol::record::Record;
use halfglass_tests::command::{Place, SHIP};
use serde_json::Value;

/// Minutes since the beginning of 1 March 2026, as RFC 3339.
fn at(minute: i64) -> String {
    let at = jiff::Timestamp::from_second(1_772_323_200 + minute * 60).unwrap();
    at.strftime("%Y-%m-%dT%H:%MZ").to_string()
}

const HOUR: i64 = 60;
const DAY: i64 = 24 * HOUR;

/// A ship whose passages and stays last as long as these, in hours, by turns, for so many days; transmitting all the way at sea.
/// At a berth the receiver wanders from 0.0 to 0.4 kn; she shifts along the quay once a stay. The rows of lines.csv, and when she
/// sailed and came in, in minutes.
fn voyages(passages_h: &[i64], stays_h: &[i64], days: i64) -> (String, Vec<(i64, i64)>) {
    let mut text = String::from("at,line,on\n");
    let mut row = |minute: i64, line: &str, on: &str| text.push_str(&format!("{},{line},{on}\n", at(minute)));
    let mut sailed = Vec::new();
    row(0, "heater", "1");
    row(0, "pull", "");
    let mut now = 0;
    for number in 0.. {
        let stay = stays_h[number % stays_h.len()] * HOUR;
        let sails = now + stay;
        let comes_in = sails + passages_h[number % passages_h.len()] * HOUR;
        if comes_in > days * DAY {
            break;
        }
        for wander in 0..stay / 30 {
            let minute = now + wander * 30;
            // A shift along the quay.
            let speed = if wander == 8 { "4.5".to_owned() } else { format!("0.{}", wander % 5) };
            row(minute, "speed", &speed);
            if wander == 8 {
                row(minute + 7, "speed", "0.2");
            }
        }
        row(sails, "speed", "4.0");
        row(sails, "transmit", "1");
        row(sails + 40, "speed", "14.5");
        // A pilot.
        row(comes_in - 90, "speed", "2.4");
        row(comes_in - 75, "speed", "8.0");
        row(comes_in, "speed", "0.1");
        row(comes_in, "transmit", "0");
        sailed.push((sails, comes_in));
        now = comes_in;
    }
    row(days * DAY, "pull", "");
    (text, sailed)
}

fn simulated(place: &Place, text: &str) -> Value {
    place.write("lines.csv", text);
    place
        .run(&[
            "simulate",
            "lines.csv",
            "--out",
            "log.hgd",
            "--flash",
            "qspi",
            "--device",
            "3f9c11d2a07be458",
        ])
        .fine();
    place.run(&["show", "log.hgd", "--json"]).fine().json()
}

/// Every passage is there, to the two minutes that the talker's minute and the clock leave open, and nothing else.
#[test]
fn passages_are_found_and_noise_and_manoeuvres_are_not() {
    let place = Place::empty();
    let (text, sailed) = voyages(&[20, 55, 110], &[30, 14, 22], 40);
    let shown = simulated(&place, &text);
    let minute = |value: &Value| -> f64 {
        let at: jiff::Timestamp = value.as_str().expect("dated").parse().unwrap();
        (at.as_second() - 1_772_323_200) as f64 / 60.0
    };
    let told = shown["way"].as_array().unwrap();
    let made_way: Vec<(f64, f64)> = told
        .iter()
        .filter(|stretch| stretch["making_way"] == true)
        .map(|stretch| (minute(&stretch["from"]), minute(&stretch["to"])))
        .collect();
    assert_eq!(made_way.len(), sailed.len(), "{told:#?}");
    for ((from, to), (sails, comes_in)) in made_way.iter().zip(&sailed) {
        let near = |told: f64, truth: i64| (told - truth as f64).abs() <= 2.0;
        assert!(near(*from, *sails) && near(*to, *comes_in), "{from} {to}: {sails} {comes_in}");
    }
    // The stay before each, and the one in which the log ends.
    assert_eq!(told.len(), 2 * sailed.len() + 1, "each stay is one stretch: {told:#?}");
    place.run(&["show", "log.hgd"]).fine().says(&["The ship's way", "made way", "made no way"]);
}

/// Power cut at sea, the talker switched off for a day, and a log without a speed.
#[test]
fn dark_and_silence_are_not_known() {
    let place = Place::empty();
    let row = |hour: i64, what: &str| format!("{},{what}\n", at(hour * HOUR));
    let mut text = String::from("at,line,on\n");
    for (hour, what) in [
        (0, "heater,1"),
        (0, "pull,"),
        (1, "speed,12"),
        (10, "power,0"),
        (14, "power,1"),
        (15, "pull,"),
        (30, "speed,"),
        (54, "speed,12"),
        (60, "pull,"),
    ] {
        text.push_str(&row(hour, what));
    }
    let shown = simulated(&place, &text);
    let hours: Vec<i64> = shown["way"]
        .as_array()
        .unwrap()
        .iter()
        .map(|way| way["hours"].as_f64().unwrap().round() as i64)
        .collect();
    // By hand: hours 1 to 10, 14 to 30, 54 to 60.
    assert_eq!(hours, [9, 16, 6], "{:#}", shown["way"]);
    let silent: String =
        text.lines().filter(|line| !line.contains("speed")).map(|line| format!("{line}\n")).collect();
    assert_eq!(simulated(&place, &silent)["way"], Value::Array(Vec::new()));
    assert!(!place.run(&["show", "log.hgd"]).fine().out.contains("made way"));
}

/// A program of before a kind was added meets it: here, this program meets the next one. It says so, and what it counts is the same.
#[test]
fn a_kind_that_is_not_known_is_said_and_costs_nothing() {
    let place = Place::with_ship(SHIP);
    simulated(&place, &voyages(&[18], &[12], 20).0);
    let known = std::fs::read(place.path("log.hgd")).unwrap();
    let mut later = known[..HEADER_LEN].to_vec();
    let mut count = 0;
    for (_, bytes) in Dump::read(&known).unwrap().raw_records() {
        let is_way = matches!(Record::decode(bytes), Some(Record::Way { .. }));
        count += usize::from(is_way);
        later.push(u8::try_from(bytes.len()).unwrap());
        later.push(if is_way { Record::KINDS } else { bytes[0] });
        later.extend(&bytes[1..]);
    }
    later.extend(&known[known.len() - END_LEN..known.len() - 4]);
    later.extend(crc32::of(&later).to_le_bytes());
    assert!(count > 20, "{count}");
    let said = format!("{count} records are of a kind that this program does not know");
    place.write("later.hgd", later);
    place.run(&["show", "later.hgd"]).fine().says(&["0 of them lost", "Damage and gaps: none", &said]);
    let shown = |file: &str| place.run(&["show", file, "--json"]).fine().json();
    let (with, without) = (shown("log.hgd"), shown("later.hgd"));
    assert_eq!((&without["not_known"], &with["not_known"]), (&count.into(), &0.into()));
    for what in ["days", "lines", "gaps", "sessions", "uptime_tenths", "lost"] {
        assert_eq!(with[what], without[what], "{what}");
    }
    place.ship(&["import", "dump", "later.hgd"]).fine().says(&[&said, "install a newer Halfglass"]);
    place.write("fittings.csv", FITTED);
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    let hours = due(&place, 20)["hours"]["best"].as_f64().unwrap();
    let truth_h = with["lines"].as_array().unwrap()[2]["on_tenths"].as_f64().unwrap() / 36_000.0;
    assert!((hours - truth_h).abs() < 1.0, "{hours}, {truth_h}");
}

const FITTED: &str =
    "at,radar,part,serial,counter_zeroed,hours_at_fit\n2026-03-01T00:00Z,S-band,magnetron,B-1,yes,0\n";

/// What `due` says of the magnetron as of the end of the log.
fn due(place: &Place, days: i64) -> Value {
    place.ship(&["due", "--as-of", &at(days * DAY), "--json"]).fine().json()["parts"][0].clone()
}

/// Plans for which the log alone cannot tell what is run: she transmits all passage long and never else, 18 h of 30, so that no day is
/// all sea. With the speed her plan of one long passage is foreseen: by hand, 24 h a day. Without, days of much use count as sea.
#[test]
fn past_modes_come_from_the_speed_where_no_leg_tells_them() {
    const DAYS: i64 = 60;
    let (text, _) = voyages(&[18], &[12], DAYS);
    let (place, without) = (Place::with_ship(SHIP), Place::with_ship(SHIP));
    let silent: String =
        text.lines().filter(|line| !line.contains("speed")).map(|line| format!("{line}\n")).collect();
    let legs = format!("from,to,mode\n{},{},sea\n", at(DAYS * DAY), at((DAYS + 400) * DAY));
    for (place, text) in [(&place, &text), (&without, &silent)] {
        simulated(place, text);
        place.write("fittings.csv", FITTED);
        place.write("legs.csv", &legs);
        place.ship(&["import", "dump", "log.hgd"]).fine();
        place.ship(&["import", "fittings", "fittings.csv"]).fine();
        place.ship(&["import", "legs", "legs.csv"]).fine();
    }
    let days_left = |part: &Value| -> f64 {
        let due: jiff::Timestamp = part["due"]["p50"].as_str().unwrap().parse().unwrap();
        (due.as_second() - 1_772_323_200) as f64 / 86_400.0 - DAYS as f64
    };
    let (with, without) = (due(&place, DAYS), due(&without, DAYS));
    let left_h = with["remaining_h"].as_f64().unwrap();
    assert!((days_left(&with) - left_h / 24.0).abs() < 0.15 * left_h / 24.0, "{with:#}");
    assert!(days_left(&without) > 1.3 * left_h / 24.0, "{without:#}");

    // A leg that was never sailed so: it is taken, and the difference is said.
    place.write("wrong.csv", format!("from,to,mode\n{},{},anchor\n", at(20 * DAY), at(23 * DAY)));
    place.ship(&["import", "legs", "wrong.csv"]).fine();
    let said = due(&place, DAYS)["notes"].to_string();
    assert!(!said.contains("by her speed"), "half a day at a time is no difference: {said}");
    let (text, sailed) = voyages(&[60], &[24], DAYS);
    simulated(&place, &text);
    let other = Place::with_ship(SHIP);
    other.write("log.hgd", std::fs::read(place.path("log.hgd")).unwrap());
    other.write("fittings.csv", FITTED);
    other.write(
        "legs.csv",
        format!("from,to,mode\n{},{},port\n", at(sailed[1].0 - HOUR), at(sailed[1].1 + HOUR)),
    );
    other.ship(&["import", "dump", "log.hgd"]).fine();
    other.ship(&["import", "fittings", "fittings.csv"]).fine();
    other.ship(&["import", "legs", "legs.csv"]).fine();
    let said = due(&other, DAYS)["notes"].to_string();
    assert!(
        said.contains("The legs have her in port from 2026-03-05") && said.contains("she made way"),
        "{said}"
    );
}
