//! The built program at its edges: every bad input has its own message and exit code, and leaves nothing behind.

use halfglass::simulate::{Geometry, Lines, Options, Simulation};
use halfglass_protocol::config::Config;
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::record::{Anchor, ClockSource, Record, Span, Totals};
use halfglass_tests::command::{Place, halfglass};
use rusqlite::Connection;
use std::fs::File;
use std::io::{Read, Write};
use std::process::Command;
use std::thread::JoinHandle;

const SHIP: &str = r#"[ship]
name = "MV Calder Sound"

[[radar]]
name = "S-band"
logger = "3f9c11d2a07be458"
fed_from_radar = true
lines = { supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }

[[part]]
radar = "S-band"
name = "magnetron"
ages_by = "transmit"
limit_h = 3600
warn_h = 300
lead_time_days = 45
"#;

const DEVICE: u64 = 0x3f9c_11d2_a07b_e458;

/// 2026-01-01T00:00:00Z (`date -u -d 2026-01-01 +%s`).
const START_MS: u64 = 1_767_225_600_000;

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
    records.push(Record::Anchor(Anchor {
        session: 1,
        uptime_tenths: u64::from(days) * 864_000,
        utc_ms: START_MS + u64::from(days) * 86_400_000,
        uncertainty_ms: 1_010,
        source: ClockSource::Host,
    }));
    let header = Header {
        device_id: DEVICE,
        firmware_version: [0, 1, 0],
        lines: 8,
        from: 0,
        to: u32::try_from(records.len()).unwrap(),
    };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&header, |piece| bytes.extend_from_slice(piece));
    for record in &records {
        let mut buffer = [0; 160];
        writer.record(record.encode(&mut buffer).unwrap());
    }
    writer.finish();
    bytes
}

/// How many rows of facts the ship folder holds, over all tables; 0 without a database.
fn rows(place: &Place) -> i64 {
    let path = place.path("ship/halfglass.db");
    if !path.exists() {
        return 0;
    }
    let db = Connection::open(path).unwrap();
    let count = |table: &str| -> i64 {
        db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap()
    };
    ["dumps", "records", "readings", "fittings"].iter().map(|table| count(table)).sum()
}

/// A pseudo-terminal: the logger's end, and the port's name. (Closed on exec: a cable end that the program under
/// test inherited would never be pulled.)
fn cable() -> (File, File, String) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let logger = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&logger).unwrap();
    unlockpt(&logger).unwrap();
    let name = ptsname(&logger, Vec::new()).unwrap().into_string().unwrap();
    // Held open, or the logger's end reads errors until the program opens the port.
    let port = File::options().read(true).write(true).open(&name).unwrap();
    (File::from(logger), port, name)
}

/// A port at whose other end `answer` sees what came and says what goes back. It is there while the file is.
fn port(mut answer: impl FnMut(&[u8]) -> Vec<u8> + Send + 'static) -> (File, String) {
    let (mut logger, port, name) = cable();
    std::thread::spawn(move || {
        let mut buffer = [0; 256];
        while let Ok(count) = logger.read(&mut buffer) {
            if logger.write_all(&answer(&buffer[..count])).is_err() {
                return;
            }
        }
    });
    (port, name)
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
    assert_eq!(rows(&place), 1 + 103 + 1);

    // By hand: 100 days at 10 h are 1,000 h; 2,600 are left, 260 days: 2026-12-27.
    let as_of = ["due", "--as-of", "2026-04-11T00:00+00:00"];
    place.ship(&as_of).fine().says(&["MV Calder Sound", "B-1950", "1000", "2600 h", "2026-12-27", "ok"]);
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
fn no_such_port() {
    let place = Place::with_ship(SHIP);
    place
        .ship(&["pull", "--port", "/dev/ttyACM77"])
        .fails(3, &["there is no port /dev/ttyACM77", "Cable:", "Power:", "Driver:"]);
    assert_eq!((rows(&place), place.files("ship/dumps").len()), (0, 0));
}

#[test]
fn no_permission_on_the_port() {
    let root = Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout == b"0\n");
    let setpriv = Command::new("setpriv").arg("--version").output().is_ok();
    if !(root && setpriv) {
        eprintln!("skipped: becoming another user needs root and setpriv");
        return;
    }
    let place = Place::with_ship(SHIP);
    // Another user must be able to reach the program and the folder.
    let open = |name: &str| {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(place.path(name), std::fs::Permissions::from_mode(0o777)).unwrap();
    };
    std::fs::copy(halfglass(), place.path("halfglass")).unwrap();
    open("");
    open("halfglass");
    open("ship");
    let (_slave, name) = port(|_| Vec::new());
    // As a real port on most systems.
    assert!(Command::new("chgrp").args(["dialout", &name]).status().unwrap().success());
    let mut command = Command::new("setpriv");
    command.args(["--reuid=65534", "--regid=65534", "--clear-groups", "./halfglass", "--ship", "ship"]);
    let run = place.run_command(command.args(["pull", "--port", &name]));
    let words =
        ["your user may not open the port", &name, "the group dialout", "sudo usermod -aG dialout $USER"];
    run.fails(3, &words);
    assert_eq!((rows(&place), place.files("ship/dumps").len()), (0, 0));
}

#[test]
fn a_port_that_is_not_a_logger() {
    let place = Place::with_ship(SHIP);
    let cases: [(fn(&[u8]) -> Vec<u8>, &str, &str); 3] = [
        (|_| b"\r\nlogin: ".to_vec(), "is not a Halfglass logger", "Another device"),
        (|_| Vec::new(), "nothing answered on", "Power:"),
        (<[u8]>::to_vec, "only sends back what is sent", "loop-back"),
    ];
    for (answer, what, advice) in cases {
        let (_slave, name) = port(answer);
        place.ship(&["pull", "--port", &name]).fails(3, &[what, advice, &name]);
        assert_eq!((rows(&place), place.files("ship/dumps").len()), (0, 0));
    }
    // A file is no port either.
    place.write("log.txt", "hello");
    place.ship(&["pull", "--port", "log.txt"]).fails(3, &["log.txt cannot be used as a serial port"]);
}

#[test]
fn a_port_in_use() {
    let place = Place::with_ship(SHIP);
    let (_slave, name) = port(|_| Vec::new());
    let _held = serialport::new(&name, 115_200).open_native().unwrap();
    place
        .ship(&["pull", "--port", &name])
        .fails(3, &["is in use by another program", &format!("fuser {name}")]);
}

#[test]
fn a_cable_pulled_before_the_greeting() {
    let place = Place::with_ship(SHIP);
    let (mut logger, _port, name) = cable();
    let thread = std::thread::spawn(move || {
        logger.read_exact(&mut [0]).unwrap();
        // Here the logger's end goes away, as a USB port does.
    });
    place
        .ship(&["pull", "--port", &name])
        .fails(3, &["broke before the logger answered", "cable was pulled"]);
    thread.join().unwrap();
}

/// Sixty days of one session with transmission from 6 to 18 h, by the real firmware.
fn simulated_logger() -> Simulation {
    let mut text = String::from("at,line,on\n");
    for day in 0..60 {
        let date = jiff::civil::date(2026, 1, 1) + jiff::Span::new().days(day);
        for (time, on) in [("06:00", 1), ("18:00", 0)] {
            text.push_str(
                &["supply", "heater", "transmit"]
                    .map(|role| format!("{date}T{time}Z,{role},{on}\n"))
                    .concat(),
            );
        }
    }
    let lines = Lines::parse(text.as_bytes(), "lines.csv").unwrap();
    let options = Options { device_id: DEVICE, geometry: Geometry::default(), seed: 1, warm_up_s: 0 };
    Simulation::run(&lines, &options, &mut |_| {}).unwrap()
}

/// Serves a logger until the other end goes away, or until it has sent `cut_after` bytes: then the cable is pulled.
/// The bytes at `flipped` arrive garbled. The logger comes back.
fn serve(
    mut logger: Simulation,
    cut_after: usize,
    flipped: &'static [usize],
) -> (String, JoinHandle<Simulation>) {
    let (mut end, port, name) = cable();
    let thread = std::thread::spawn(move || {
        let (mut buffer, mut answer, mut sent) = ([0; 256], Vec::new(), 0);
        let mut port = Some(port);
        while let Ok(count) = end.read(&mut buffer) {
            logger.receive(&buffer[..count], &mut answer);
            for byte in answer.drain(..) {
                let byte = if flipped.contains(&sent) { byte ^ 0x21 } else { byte };
                sent += 1;
                if end.write_all(&[byte]).is_err() || sent == cut_after {
                    return logger;
                }
            }
            // From the greeting on, the program itself holds the port open: when it ends, reading ends.
            port.take();
        }
        logger
    });
    (name, thread)
}

#[test]
fn a_pull_over_a_noisy_cable_that_is_pulled_midway_goes_on_where_it_stopped() {
    let place = Place::with_ship(SHIP);
    let (name, thread) = serve(simulated_logger(), 3_000, &[700, 1_600]);
    place.ship(&["pull", "--port", &name]).fails(
        3,
        &[
            "the connection broke after",
            "nothing is half-imported",
            "The cable was pulled",
            "goes on from there",
        ],
    );
    assert_eq!(rows(&place), 0);
    assert_eq!(place.files("ship/dumps"), ["3f9c11d2a07be458.part"]);
    let logger = thread.join().unwrap();

    let (name, thread) = serve(logger, usize::MAX, &[400]);
    let run = place.ship(&["pull", "--port", &name]);
    run.fine().says(&[
        "Logger 3f9c11d2a07be458 on",
        "Going on with an unfinished pull",
        "new; kept as ship/dumps/",
    ]);
    let dumps = place.files("ship/dumps");
    assert!(dumps.iter().all(|file| file.ends_with(".hgd")), "{dumps:?}");
    let before = rows(&place);
    let logger = thread.join().unwrap();

    // By hand: 60 days of 12 h.
    let last = dumps.last().unwrap();
    let json = place.run(&["show", &format!("ship/dumps/{last}"), "--json"]).fine().json();
    let on_h = json["lines"][2]["on_tenths"].as_f64().unwrap() / 36_000.0;
    assert!((on_h - 720.0).abs() < 0.01, "{on_h}");

    // Everything once more: the simulated clock stands still, so it is the same dump, byte for byte.
    let (name, thread) = serve(logger, usize::MAX, &[]);
    place.ship(&["pull", "--port", &name, "--all"]).fine();
    thread.join().unwrap();
    assert_eq!((rows(&place), place.files("ship/dumps")), (before, dumps));
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
    assert_eq!(rows(&place), 0);
    place.write("cut.hgd", &whole[..whole.len() - 20]);
    place.ship(&["import", "dump", "cut.hgd"]).fails(2, &["of 5 records whole", "pull the logger again"]);
    place.write("long.hgd", [&whole[..], b"xy"].concat());
    place.ship(&["import", "dump", "long.hgd"]).fails(2, &["2 bytes too many"]);
    assert_eq!(rows(&place), 0);
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
    assert_eq!(rows(&place), 0);
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
    let before = rows(&place);
    place
        .ship(&["import", "dump", "b.hgd"])
        .fails(2, &["b.hgd contradicts", "record 2", "nothing was imported"]);
    assert_eq!(rows(&place), before);
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
    assert_eq!(rows(&place), 0);
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
    assert_eq!(rows(&place), 0, "the sound row before it is not imported either");
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
    assert_eq!(rows(&place), 0);
    place.write("readings.csv", text.replace("04-01T08:00,", "04-01T08:00Z,"));
    place.ship(&["import", "readings", "readings.csv"]).fine().says(&["2 readings in the file, 2 new"]);
    place.ship(&["import", "readings", "readings.csv"]).fine().says(&["0 new"]);
    assert_eq!(rows(&place), 2);
}

#[test]
fn a_database_from_a_newer_version() {
    let place = Place::with_ship(SHIP);
    place.write("a.hgd", dump(3, 10));
    place.ship(&["import", "dump", "a.hgd"]).fine();
    let path = place.path("ship/halfglass.db");
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = std::fs::read(&path).unwrap();
    let (_slave, name) = port(|_| Vec::new());
    for args in [&["due"][..], &["show"], &["import", "dump", "a.hgd"], &["pull", "--port", &name]] {
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
