//! The built program at its edges: every bad input has its own message and exit code, and leaves nothing behind.

use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Record, Span, Totals};
use halfglass_tests::command::{DEVICE, Place, SHIP};
use halfglass_tests::even_log;
use rusqlite::Connection;

/// `days` days from the start of 2026 with `on_h` hours of transmission on each.
fn dump(days: u32, on_h: u32) -> Vec<u8> {
    let mut records =
        vec![Record::Base(Totals { session: 1, ..Totals::default() }), Record::Config(Config::as_in_guide())];
    for _ in 0..days {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        for input in 0..4 {
            span.on_tenths[input] = on_h * 36_000;
            span.starts[input] = 1;
        }
        records.push(Record::Span(span));
    }
    records.push(even_log::anchor(u64::from(days), 0));
    even_log::dump(DEVICE, &records)
}

#[test]
fn from_an_empty_folder_to_a_due_table() {
    let place = Place::empty();
    place.run(&["init", "ship"]).fine().says(&["ship/ship.toml", "halfglass --ship ship pull"]);
    place.run(&["init", "ship"]).fails(2, &["ship/ship.toml is there already", "nothing was changed"]);
    place.ship(&["due"]).fine().says(&["names no part yet"]);
    place.write("ship/ship.toml", SHIP);
    place.ship(&["due"]).fine().says(&["unknown", "halfglass add fitting"]);

    place.write("year.hgd", dump(100, 10));
    place.ship(&["import", "dump", "year.hgd"]).fine().says(&["103 records, 103 new"]);
    place.ship(&["import", "dump", "year.hgd"]).fine().says(&["here already: nothing changed"]);
    let fitting =
        ["add", "fitting", "--at", "2026-01-01T00:00+00:00", "--radar", "S-band", "--part", "magnetron"];
    let more = ["--serial", "B-1950", "--counter-zeroed", "yes", "--hours-at-fit", "0"];
    let fitting = [&fitting[..], &more[..]].concat();
    place.ship(&fitting).fine().says(&["fitting kept; its number is 1"]);
    place.ship(&fitting).fine().says(&["was here already"]);
    assert_eq!(place.rows(), 1 + 103 + 1);

    // By hand: 100 days at 10 h are 1,000 h; 2,600 are left, 260 days: 2026-12-27, by draws to a few days.
    let as_of = ["due", "--as-of", "2026-04-11T00:00+00:00"];
    place.ship(&as_of).fine().says(&["MV Calder Sound", "B-1950", "1000", "2600 h", "2026-12-2", "ok"]);
    let json = place.ship(&[&as_of[..], &["--json"]].concat()).fine().json();
    let part = &json["parts"][0];
    assert!((part["hours"]["best"].as_f64().unwrap() - 1_000.0).abs() < 0.2, "{json}");
    assert_eq!((json["version"].as_i64(), part["state"].as_str()), (Some(1), Some("ok")));
    assert!(part["due"]["p50"].as_str().unwrap().starts_with("2026-12-2"), "{json}");

    // A correction stands in the old one's place: put in 70 days later, after 700 h.
    let corrected = [
        "add",
        "fitting",
        "--at",
        "2026-03-12T00:00+00:00",
        "--radar",
        "S-band",
        "--part",
        "magnetron",
        "--serial",
        "B-1950",
        "--counter-zeroed",
        "yes",
        "--hours-at-fit",
        "3400",
        "--corrects",
        "1",
    ];
    place.ship(&corrected).fine();
    place.ship(&["show"]).fine().says(&["3400", "3f9c11d2a07be458"]);
    // 3,400 + 300 h are over the limit of 3,600: passed on day 90.
    let late = place.ship(&[&as_of[..], &["--json", "--check"]].concat());
    assert_eq!((late.code, late.json()["parts"][0]["state"].as_str()), (1, Some("overdue")));
    // As of the day of fitting, only what was known then counts.
    place.ship(&["due", "--as-of", "2026-02-01T00:00+00:00"]).fine().says(&["unknown"]);
}

#[test]
fn show_says_what_a_dump_holds() {
    let place = Place::empty();
    place.write("a.hgd", dump(3, 10));
    place.run(&["show", "a.hgd"]).fine().says(&[
        "Logger 3f9c11d2a07be458, firmware 0.1.0, 8 inputs",
        "Records 0 to 5: 6, 0 of them lost",
        "transmit",
        "30.0",
        "2026-01-02",
        "Damage and gaps: none",
    ]);
    let json = place.run(&["show", "a.hgd", "--json"]).fine().json();
    assert_eq!(json["lines"][2]["line"], "transmit");
    assert_eq!(json["lines"][2]["on_tenths"], 3 * 10 * 36_000);
}

#[test]
fn a_dump_cut_short_at_any_byte() {
    let place = Place::with_ship(SHIP);
    let whole = dump(2, 10);
    for len in 0..whole.len() {
        place.write("cut.hgd", &whole[..len]);
        let run = place.ship(&["import", "dump", "cut.hgd"]);
        let word = if len == 0 { "is not a dump" } else { "cut.hgd is cut short: it ends after" };
        run.fails(2, &[word, "nothing was imported"]);
    }
    assert_eq!(place.rows(), 0);
    place.write("cut.hgd", &whole[..whole.len() - 20]);
    place.ship(&["import", "dump", "cut.hgd"]).fails(2, &["of 5 records whole", "pull the logger again"]);
    place.write("long.hgd", [&whole[..], b"xy"].concat());
    place.ship(&["import", "dump", "long.hgd"]).fails(2, &["2 bytes too many"]);
    assert_eq!(place.rows(), 0);
    place.ship(&["import", "dump", "no.hgd"]).fails(2, &["cannot read no.hgd"]);
}

#[test]
fn a_dump_with_one_byte_flipped_anywhere() {
    let place = Place::with_ship(SHIP);
    let whole = dump(2, 10);
    for at in 0..whole.len() {
        let mut flipped = whole.clone();
        flipped[at] ^= 1 << (at % 8);
        place.write("flip.hgd", &flipped);
        let run = place.ship(&["import", "dump", "flip.hgd"]);
        run.fails(2, &["flip.hgd ", "nothing was imported"]);
        let known =
            ["is not a dump", "is a dump of format", "is cut short", "is damaged: its check sum", "too many"];
        assert!(known.iter().any(|word| run.err.contains(word)), "byte {at}: {}", run.err);
    }
    assert_eq!(place.rows(), 0);
    // Every bit of every byte, without starting the program each time.
    let mut store = halfglass::store::Store::open(&place.path("bits.db")).unwrap();
    for at in 0..whole.len() * 8 {
        let mut flipped = whole.clone();
        flipped[at / 8] ^= 1 << (at % 8);
        assert!(store.import_dump(&flipped, "flip.hgd").is_err(), "bit {at}");
    }
    assert!(store.loggers().unwrap().is_empty());
}

#[test]
fn a_dump_that_contradicts() {
    let place = Place::with_ship(SHIP);
    place.write("a.hgd", dump(3, 10));
    place.write("b.hgd", dump(4, 11));
    place.ship(&["import", "dump", "a.hgd"]).fine();
    let before = place.rows();
    place
        .ship(&["import", "dump", "b.hgd"])
        .fails(2, &["b.hgd contradicts", "record 2", "nothing was imported"]);
    assert_eq!(place.rows(), before);
}

#[test]
fn a_ship_toml_with_an_unknown_role() {
    let place = Place::with_ship(&SHIP.replace("motor = 3", "moter = 3"));
    place.ship(&["due"]).fails(
        2,
        &[
            "ship/ship.toml, line 8: ",
            "`moter`, which is no role",
            "supply, heater, transmit, motor, isolated",
        ],
    );
    place.write("readings.csv", "at,radar,quantity,hours\n2026-03-01T08:00Z,S-band,transmit,1\n");
    place.ship(&["import", "readings", "readings.csv"]).fails(2, &["line 8"]);
    assert_eq!(place.rows(), 0);
}

#[test]
fn a_time_without_an_offset() {
    let place = Place::with_ship(SHIP);
    let text = "at,radar,quantity,hours\n2026-03-01T08:00Z,S-band,transmit,812\n2026-04-01T08:00,S-band,transmit,990\n";
    place.write("readings.csv", text);
    let words = [
        "readings.csv, line 3, column 1 (at): the time `2026-04-01T08:00` has no offset from UTC",
        "for instance 2026-03-01T08:00+00:00",
        "nothing was imported",
    ];
    place.ship(&["import", "readings", "readings.csv"]).fails(2, &words);
    assert_eq!(place.rows(), 0, "the sound row before it is not imported either");
    let by_hand = [
        "add",
        "reading",
        "--at",
        "2026-04-01T08:00",
        "--radar",
        "S-band",
        "--quantity",
        "transmit",
        "--hours",
        "990",
    ];
    place.ship(&by_hand).fails(2, &["--at: the time `2026-04-01T08:00` has no offset", "Nothing was added"]);
    place.ship(&["due", "--as-of", "2026-04-01"]).fails(2, &["--as-of: `2026-04-01` has no time of day"]);
    assert_eq!(place.rows(), 0);
    place.write("readings.csv", text.replace("04-01T08:00,", "04-01T08:00Z,"));
    place.ship(&["import", "readings", "readings.csv"]).fine().says(&["2 readings in the file, 2 new"]);
    place.ship(&["import", "readings", "readings.csv"]).fine().says(&["0 new"]);
    assert_eq!(place.rows(), 2);
}

#[test]
fn a_database_from_a_newer_version() {
    let place = Place::with_ship(SHIP);
    place.write("a.hgd", dump(3, 10));
    place.ship(&["import", "dump", "a.hgd"]).fine();
    let path = place.path("ship/halfglass.db");
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = std::fs::read(&path).unwrap();
    for args in [&["due"][..], &["show"], &["import", "dump", "a.hgd"], &["pull", "--port", "/dev/null"]] {
        place
            .ship(args)
            .fails(2, &["was written by a newer Halfglass: its format is 99", "it was not changed"]);
    }
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn a_lines_csv_that_goes_back_in_time() {
    let place = Place::empty();
    let text = "at,line,on\n2026-03-01T08:00Z,transmit,1\n2026-03-01T07:00Z,transmit,0\n";
    place.write("lines.csv", text);
    let run = place.run(&["simulate", "lines.csv", "--out", "out.hgd", "--device", "3f9c11d2a07be458"]);
    run.fails(2, &["lines.csv, line 3"]);
    assert_eq!(place.files(""), ["lines.csv"], "no dump is left behind");
}

#[test]
fn a_folder_that_is_no_ship() {
    let place = Place::empty();
    for args in [&["due"][..], &["pull"], &["show"], &["import", "dump", "a.hgd"]] {
        place.run(args).fails(2, &["is not a ship folder", "halfglass init DIR"]);
    }
    place.run(&["due", "--ship"]).fails(2, &[]);
    place.run(&["sail"]).fails(2, &[]);
    for command in ["init", "pull", "import", "add", "show", "due", "demo", "simulate"] {
        place.run(&[command, "--help"]).fine().says(&["Usage: halfglass"]);
    }
    place.run(&["--help"]).fine().says(&["Examples:", "Exit codes:"]);
}
