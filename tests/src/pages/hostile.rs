//! A ship whose names are made to break pages, and who is large and old: twelve radars, ten years.

use crate::command::Place;
use crate::even_log::{self, DAY_MS};
use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Anchor, Cause, ClockSource, Record, Session, Span, Totals};
use std::fmt::Write;

/// Her folder in its place.
pub const FOLDER: &str = "ship";

/// 2016-01-01T00:00:00Z (`date -u -d 2016-01-01 +%s`).
const START_MS: u64 = 1_451_606_400_000;
const DAYS: u64 = 3_650;
const RADARS: usize = 12;

/// Names that would run, close what is open, turn words round or push everything aside, if they could.
fn names() -> [String; RADARS] {
    [
        "<script>window.hit=1</script>".to_owned(),
        "\"><img src=x onerror=\"window.hit=2\">".to_owned(),
        "'><svg onload='window.hit=3'>".to_owned(),
        "</title></style><script>window.hit=4</script>".to_owned(),
        "رادار السطح الأيمن".to_owned(),
        "\u{202e}dnab-S\u{2066}".to_owned(),
        "W".repeat(200),
        "a very long name of many words ".repeat(7).trim_end().chars().take(200).collect(),
        "{{ ship }} {% raw %} ${x} `id` $(id)".to_owned(),
        "javascript:alert(1) &amp; &lt;b&gt; <b>".to_owned(),
        "מכ״ם 右舷第一航海用レーダー装置上部甲板操舵室内 \u{1f4e1} e\u{301}".to_owned(),
        "../../../etc/passwd; rm -rf ~".to_owned(),
    ]
}

/// Makes her folder and fills it through the program's own doors; answers with the instant to ask for.
///
/// # Panics
/// The program refuses something.
#[must_use]
pub fn hostile_ship() -> (Place, String) {
    let names = names();
    let place = Place::with_ship(&ship_toml(&names));
    for number in 0..RADARS {
        place.write("own.hgd", dump(device(number)));
        place.ship(&["import", "dump", "own.hgd"]).fine();
    }
    for (kind, rows) in [
        ("fittings", fittings(&names)),
        ("readings", readings(&names)),
        ("conditions", conditions(&names)),
        ("windows", windows(&names)),
    ] {
        let file = format!("{kind}.csv");
        place.write(&file, rows);
        place.ship(&["import", kind, &file]).fine();
    }
    let deferral = [
        "--at=2025-12-01T00:00Z",
        "--reason=<i>customs</i> \"held\"",
        "--until=2026-06-01T00:00Z",
        "--approved-by=O'Brien <b>",
    ];
    let radar = format!("--radar={}", names[0]);
    let part = format!("--part={}", part(&names[0]));
    place.ship(&[&["add", "deferral", &radar, &part], &deferral[..]].concat()).fine();
    (place, at(DAYS - 1))
}

fn device(number: usize) -> u64 {
    0x1000_0000_0000_0000 + number as u64
}

/// The first part of a radar is called by a name that is none.
fn part(radar: &str) -> String {
    format!("magnetron {}", radar.chars().rev().take(40).collect::<String>()).trim().to_owned()
}

fn at(day: u64) -> String {
    let at = jiff::Timestamp::from_millisecond(i64::try_from(START_MS + day * DAY_MS).unwrap());
    at.unwrap().to_string()
}

/// As a string of TOML.
fn toml(text: &str) -> String {
    let escaped: String = text
        .chars()
        .map(|c| match c {
            '"' | '\\' => format!("\\{c}"),
            c => c.to_string(),
        })
        .collect();
    format!("\"{escaped}\"")
}

/// As a field of a CSV file.
fn csv(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

fn ship_toml(names: &[String]) -> String {
    let mut text =
        format!("[ship]\nname = {}\n", toml("MV </h1><script>window.hit=5</script> \"Calder\" 'Sound'"));
    for (number, name) in names.iter().enumerate() {
        let (name, part) = (toml(name), toml(&part(name)));
        let _ = write!(
            text,
            "\n[[radar]]\nname = {name}\nlogger = \"{:016x}\"\nfed_from_radar = {}\n\
             lines = {{ supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }}\ncounter_step_h = 1.0\n\
             \n[[part]]\nradar = {name}\nname = {part}\nplanner_id = {part}\nages_by = \"transmit\"\nlimit_h = 9000\n\
             warn_h = 300\nlead_time_days = 45\nwork_hours = 4\nneeds_aloft = true\n\
             \n[[part]]\nradar = {name}\nname = \"scanner motor\"\nages_by = \"motor\"\nlimit_h = 60000\n\
             work_hours = 6\nneeds_aloft = true\n\
             \n[[spare]]\nradar = {name}\npart = {part}\nserial = {part}\nplace = {name}\n",
            device(number),
            number % 2 == 0,
        );
    }
    text
}

/// Ten years: 12 h of transmission a day, a session a month, the clock set each month.
fn dump(device_id: u64) -> Vec<u8> {
    let mut records =
        vec![Record::Base(Totals { session: 1, ..Totals::default() }), Record::Config(Config::as_in_guide())];
    let mut session = 1;
    for day in 0..DAYS {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        for input in 0..4 {
            span.on_tenths[input] = 12 * 36_000;
            span.starts[input] = 1;
        }
        span.drop_outs[0] = u32::from(day % 400 == 399);
        records.push(Record::Span(span));
        let uptime_tenths = (day + 1) * 864_000;
        if day % 30 == 29 {
            records.push(Record::Anchor(Anchor {
                session,
                uptime_tenths,
                utc_ms: START_MS + (day + 1) * DAY_MS,
                uncertainty_ms: 1_010,
                source: ClockSource::Host,
            }));
        }
        if day % 30 == 14 {
            session += 1;
            records.push(Record::Session(Session {
                session,
                uptime_tenths,
                cause: Cause::Power,
                found_on: 0,
                lost_max_tenths: 100,
                usb_only: false,
            }));
        }
    }
    even_log::dump(device_id, &records)
}

/// A tube every 700 days (8,400 h), its counter zeroed; one motor all the time.
fn fittings(names: &[String]) -> String {
    let mut text = String::from("at,radar,part,serial,counter_zeroed,hours_at_fit\n");
    for name in names {
        let (radar, part) = (csv(name), csv(&part(name)));
        let _ = writeln!(text, "{},{radar},scanner motor,{radar},no,0", at(0));
        for (number, day) in (0..DAYS).step_by(700).enumerate() {
            let serial = csv(&format!("{number} {name}"));
            let _ = writeln!(text, "{},{radar},{part},{serial},yes,0", at(day));
        }
    }
    text
}

/// Both counters at the end of each month. On each radar one figure is mistyped.
fn readings(names: &[String]) -> String {
    let mut text = String::from("at,radar,quantity,hours\n");
    for day in (30..DAYS).step_by(30) {
        for (number, name) in names.iter().enumerate() {
            let transmit = (day % 700) * 12;
            let wrong = if day == 3_000 + 30 * number as u64 { 907 } else { 0 };
            let radar = csv(name);
            let _ = writeln!(text, "{},{radar},transmit,{}", at(day), transmit + wrong);
            let _ = writeln!(text, "{},{radar},motor,{}", at(day), day * 12);
        }
    }
    text
}

fn conditions(names: &[String]) -> String {
    let mut text = String::from("at,radar,quantity,value,unit,pulse,range_nm\n");
    for day in (30..DAYS).step_by(90) {
        for name in names {
            let radar = csv(name);
            let value = 9.0 - (day % 700) as f64 / 700.0;
            let _ = writeln!(text, "{},{radar},{radar},{value:.2},{},long,24", at(day), csv("<mA>"));
        }
    }
    text
}

fn windows(names: &[String]) -> String {
    let mut text = String::from("from,to,place,aloft,transmit,deliver,daylight,chance\n");
    for number in 0..30 {
        let day = DAYS + 5 + number * 9;
        let place = csv(&names[usize::try_from(number).unwrap() % RADARS]);
        let _ = writeln!(text, "{},{},{place},yes,yes,yes,12,0.9", at(day), at(day + 2));
    }
    text
}
