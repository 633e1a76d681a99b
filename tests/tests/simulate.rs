//! `simulate` against plain interval arithmetic: the truth is worked out here from the text of lines.csv, by
//! nothing but differences of instants, and the dump's totals are held against it.

use halfglass::link::client::{Client, Patience};
use halfglass::link::pull::{Options as PullOptions, Pull};
use halfglass::ship::Folder;
use halfglass::simulate::geometry::GEOMETRIES;
use halfglass::simulate::{Cable, Geometry, Lines, Options, Pulled, Simulation};
use halfglass::store::Store;
use halfglass_protocol::dump::Dump;
use halfglass_protocol::record::{Anchor, Record, Totals};
use std::fmt::Write;

const NAMES: [&str; 5] = ["supply", "heater", "transmit", "motor", "isolated"];

/// 2026-03-01T00:00:00Z (`date -u -d 2026-03-01 +%s`).
const START_MS: i64 = 1_772_323_200_000;

const HOUR_MS: i64 = 3_600_000;
const DAY_MS: i64 = 24 * HOUR_MS;

/// Debounce of a contact in the guide's configuration.
const DEBOUNCE_MS: i64 = 50;

/// An on-edge rounds up to a tenth, an off-edge down, and so does a power cut.
const ROUNDING_MS: i64 = 200;

fn options(geometry: &str, seed: u64) -> Options {
    let geometry = Geometry::named(geometry).unwrap();
    Options { device_id: 0x3f9c_11d2_a07b_e458, geometry, seed, warm_up_s: 0 }
}

fn simulate(text: &str, options: &Options) -> (Simulation, Pulled) {
    let lines = Lines::parse(text.as_bytes(), "lines.csv").unwrap();
    let mut simulation = Simulation::run(&lines, options, &mut |_| {}).unwrap();
    let pulled = simulation.pull(0).unwrap();
    (simulation, pulled)
}

/// The totals that a dump ends with: its newest base, and the spans and sessions behind it.
fn totals_of(dump: &[u8]) -> Totals {
    let mut totals = Totals::default();
    for (index, record) in Dump::read(dump).unwrap().records() {
        match record.unwrap_or_else(|| panic!("record {index} is lost")) {
            Record::Base(base) => totals = base,
            Record::Span(span) => totals.add(&span),
            Record::Session(session) => totals.session = session.session,
            _ => {}
        }
    }
    totals
}

fn anchors_of(dump: &[u8]) -> Vec<Anchor> {
    let records = Dump::read(dump).unwrap().records();
    records
        .filter_map(|(_, record)| match record {
            Some(Record::Anchor(anchor)) => Some(anchor),
            _ => None,
        })
        .collect()
}

/// What was true, line by line.
#[derive(Debug, Default)]
struct Truth {
    on_ms: [i64; 5],
    runs: [i64; 5],
    powered_ms: i64,
    cuts: i64,
}

/// Differences of instants and nothing else. `rows` are (at, line, on).
fn truth(text: &str) -> Truth {
    let mut truth = Truth::default();
    let (mut on, mut power, mut before_ms) = ([false; 5], true, None);
    for row in text.lines().skip(1) {
        let mut fields = row.split(',');
        let at: jiff::Timestamp = fields.next().unwrap().parse().unwrap();
        let (at_ms, line, is_on) = (at.as_millisecond(), fields.next().unwrap(), fields.next().unwrap());
        let passed_ms = at_ms - before_ms.unwrap_or(at_ms);
        before_ms = Some(at_ms);
        if power {
            truth.powered_ms += passed_ms;
            for (total, on) in truth.on_ms.iter_mut().zip(on) {
                *total += if on { passed_ms } else { 0 };
            }
        }
        match line {
            "pull" => {}
            "power" => {
                power = is_on == "1";
                truth.cuts += i64::from(!power);
                for (runs, on) in truth.runs.iter_mut().zip(on) {
                    *runs += i64::from(power && on);
                }
            }
            name => {
                let input = NAMES.iter().position(|each| *each == name).unwrap();
                on[input] = is_on == "1";
                truth.runs[input] += i64::from(power && on[input]);
            }
        }
    }
    truth
}

/// Rule 1: never above the truth; below it by at most one heartbeat (and what proves an edge) for each unclean
/// cut, and by the rounding of each run.
fn check_rule_1(text: &str, pulled: &Pulled, heartbeat_s: u16, about: &str) {
    let truth = truth(text);
    let totals = totals_of(&pulled.dump);
    assert_eq!(totals, pulled.status.totals, "{about}: the history adds up to the totals");
    for (input, name) in NAMES.into_iter().enumerate() {
        let logged_ms = totals.on_tenths[input] as i64 * 100;
        let lost_ms = truth.on_ms[input] - logged_ms;
        let cut_ms = i64::from(heartbeat_s) * 1_000 + DEBOUNCE_MS;
        let allowed_ms = truth.cuts * cut_ms + truth.runs[input] * ROUNDING_MS;
        assert!(
            (0..=allowed_ms).contains(&lost_ms),
            "{about}: {name} was on for {} ms and {logged_ms} ms were logged, {lost_ms} ms short (0 to {allowed_ms} are allowed); {truth:?}",
            truth.on_ms[input]
        );
        if truth.cuts == 0 {
            assert_eq!(i64::from(totals.starts[input]), truth.runs[input], "{about}: starts of {name}");
        }
    }
    assert!(totals.uptime_tenths as i64 * 100 <= truth.powered_ms, "{about}: uptime above the truth");
}

/// A random timeline. No gap and no run of a line is shorter than 1.1 s: what bounces is tested elsewhere.
fn random_lines(seed: u64) -> String {
    let mut random = fastrand::Rng::with_seed(seed);
    let whole_seconds = random.bool();
    let cuts = random.bool();
    // From an edge every few seconds (the wear budget then merges them) to one in hours.
    let pause_max_ms = 10_i64.pow(random.u32(4..=7));
    let mut text = String::from("at,line,on\n");
    let (mut on, mut power) = ([false; 5], true);
    let (mut at_ms, mut moved_ms) = (START_MS, [START_MS - 2_000; 5]);
    let mut row = |at_ms: i64, line: &str, on: &str| {
        writeln!(text, "{},{line},{on}", jiff::Timestamp::from_millisecond(at_ms).unwrap()).unwrap();
    };
    row(at_ms, "isolated", "1");
    (on[4], moved_ms[4]) = (true, at_ms);
    for _ in 0..random.usize(2..300) {
        at_ms += random.i64(1_100..pause_max_ms);
        if whole_seconds {
            at_ms -= at_ms % 1_000;
        }
        match random.u32(0..if cuts { 12 } else { 10 }) {
            0 if power => {
                // A logger that was just switched on lets a host wait: out of reach of plain arithmetic.
                at_ms += 5_000;
                row(at_ms, "pull", "");
                at_ms += 1_000;
            }
            10.. => {
                power = !power;
                row(at_ms, "power", if power { "1" } else { "0" });
            }
            _ => {
                // One to three lines at one instant.
                for _ in 0..random.usize(1..4) {
                    let input = random.usize(0..5);
                    if at_ms - moved_ms[input] >= 1_100 {
                        moved_ms[input] = at_ms;
                        on[input] = !on[input];
                        row(at_ms, NAMES[input], if on[input] { "1" } else { "0" });
                    }
                }
            }
        }
    }
    if !power {
        at_ms += 1_000;
        row(at_ms, "power", "1");
    }
    // A logger brings its history up to now once a minute at most.
    row(at_ms + 61_000, "pull", "");
    text
}

#[test]
fn random_timelines_keep_rule_1() {
    let (mut cuts, mut coalesced) = (0, 0);
    for seed in 0..300 {
        let text = random_lines(seed);
        let geometry = GEOMETRIES[seed as usize % GEOMETRIES.len()];
        let (_, pulled) = simulate(&text, &options(geometry.name, seed));
        check_rule_1(&text, &pulled, geometry.heartbeat_s, &format!("seed {seed}, flash {}", geometry.name));
        cuts += truth(&text).cuts;
        coalesced += merged_by_budget(&pulled.dump);
    }
    println!("{cuts} power cuts, {coalesced} times edges were merged");
    assert!(cuts > 1_000 && coalesced > 10, "the timelines try too little: {cuts}, {coalesced}");
}

/// How often the wear budget was used up: merging that began well after the session did. (Until the supply has
/// proved good nothing is written, so what happens then is merged in any case.)
fn merged_by_budget(dump: &[u8]) -> usize {
    let mut session_tenths = 0;
    let records = Dump::read(dump).unwrap().records();
    records
        .filter(|(_, record)| match record {
            Some(Record::Session(session)) => {
                session_tenths = session.uptime_tenths;
                false
            }
            Some(Record::Coalesced { uptime_tenths, .. }) => *uptime_tenths > session_tenths + 50,
            _ => false,
        })
        .count()
}

/// A month in which power fails every few minutes.
#[test]
fn a_supply_that_fails_for_a_month_costs_a_heartbeat_a_time_at_most() {
    let mut text = String::from("at,line,on\n");
    let mut random = fastrand::Rng::with_seed(5);
    let mut at_ms = START_MS;
    let stamp = |at_ms: i64| jiff::Timestamp::from_millisecond(at_ms).unwrap();
    writeln!(text, "{},transmit,1", stamp(at_ms)).unwrap();
    while at_ms < START_MS + 30 * DAY_MS {
        at_ms += random.i64(1..600_000);
        writeln!(text, "{},power,0", stamp(at_ms)).unwrap();
        at_ms += random.i64(1..60_000);
        writeln!(text, "{},power,1", stamp(at_ms)).unwrap();
    }
    writeln!(text, "{},pull,", stamp(at_ms + 5_000)).unwrap();
    let (simulation, pulled) = simulate(&text, &options("nrf51", 5));
    assert!(simulation.power_cuts() > 5_000);
    check_rule_1(&text, &pulled, 10, "a failing supply");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for seed in [3, 4, 14] {
        let text = random_lines(seed);
        let first = simulate(&text, &options("nrf51", 7)).1;
        assert_eq!(first.dump, simulate(&text, &options("nrf51", 7)).1.dump, "seed {seed}");
        // The device is part of the dump.
        let other = Options { device_id: 1, ..options("nrf51", 7) };
        assert_ne!(first.dump, simulate(&text, &other).1.dump);
    }
}

/// The first word of a session is written 2 s after power came, the next a heartbeat later: a cut at that very
/// instant tears it, and the seed says how.
#[test]
fn the_seed_decides_how_a_cut_tears_the_word_in_flight() {
    let text = "at,line,on\n2026-03-01T00:00:00Z,heater,1\n2026-03-01T00:00:12Z,power,0\n\
                2026-03-01T00:01:00Z,power,1\n2026-03-01T00:02:00Z,pull,\n";
    let mut logged = std::collections::BTreeMap::new();
    for seed in 0..40 {
        let (_, pulled) = simulate(text, &options("nrf51", seed));
        check_rule_1(text, &pulled, 10, &format!("seed {seed}"));
        *logged.entry(totals_of(&pulled.dump).on_tenths[1]).or_insert(0) += 1;
    }
    // 12 s and a minute if the word was whole, 2 s and a minute if not. No third figure.
    assert_eq!(logged.keys().copied().collect::<Vec<_>>(), [620, 720], "{logged:?}");
}

#[test]
fn a_history_that_outgrows_its_ring_says_what_is_gone() {
    let mut text = String::from("at,line,on\n");
    for day in 0..400 {
        let at = |hour| jiff::Timestamp::from_millisecond(START_MS + day * DAY_MS + hour * HOUR_MS).unwrap();
        writeln!(text, "{},transmit,1\n{},transmit,0", at(3), at(20)).unwrap();
        if day == 0 {
            writeln!(text, "{},pull,", at(21)).unwrap();
        }
    }
    let (simulation, pulled) = simulate(&text, &options("small", 1));
    let dump = Dump::read(&pulled.dump).unwrap();
    assert!(pulled.oldest > 0, "400 days fit into 8 KiB of history?");
    assert_eq!(dump.header.from, pulled.oldest);
    assert!(matches!(dump.records().next(), Some((_, Some(Record::Base(_))))), "it begins with totals");
    // What was pulled on the first day ends before what is left begins: that is the gap.
    let [first] = simulation.pulls.as_slice() else { panic!("one pull before the last") };
    assert!(first.header.to < dump.header.from);
    check_rule_1(&text, &pulled, 60, "400 days in a small flash");
}

#[test]
fn pulls_add_anchors_and_bring_each_record_once() {
    let mut text = String::from("at,line,on\n2026-03-01T00:00:00Z,heater,1\n");
    for day in 1..30 {
        let at = jiff::Timestamp::from_millisecond(START_MS + day * DAY_MS).unwrap();
        writeln!(text, "{at},pull,").unwrap();
    }
    let (simulation, last) = simulate(&text, &options("nrf51", 1));
    let anchors = anchors_of(&last.dump);
    assert_eq!(anchors.len(), 29);
    for (day, anchor) in (1..).zip(&anchors) {
        assert_eq!(anchor.utc_ms as i64, START_MS + day * DAY_MS);
        // The logger's power came with the first row: its uptime is the time since then.
        assert_eq!(anchor.uptime_tenths as i64 * 100, day * DAY_MS);
    }
    let all = Dump::read(&last.dump).unwrap();
    let mut seen = Vec::new();
    for pulled in &simulation.pulls {
        for (index, record) in Dump::read(&pulled.dump).unwrap().raw_records() {
            if index as usize == seen.len() {
                seen.push(record.to_vec());
            }
            assert_eq!(seen[index as usize], record, "record {index} never changes");
        }
    }
    let beginning: Vec<_> = all.raw_records().take(seen.len()).map(|(_, record)| record.to_vec()).collect();
    assert_eq!(seen, beginning);
}

/// A pull plugs in a USB lead, which feeds the logger when nothing else does.
#[test]
fn a_logger_without_feed_is_pulled_on_usb_power() {
    let text = "at,line,on\n2026-03-01T00:00:00Z,heater,1\n2026-03-01T01:00:00Z,heater,0\n\
                2026-03-01T01:00:30Z,power,0\n2026-03-02T00:00:00Z,pull,\n2026-03-03T00:00:00Z,pull,\n";
    let (_, pulled) = simulate(text, &options("nrf51", 1));
    let records: Vec<_> =
        Dump::read(&pulled.dump).unwrap().records().filter_map(|(_, record)| record).collect();
    let sessions: Vec<bool> = records
        .iter()
        .filter_map(|record| match record {
            Record::Session(session) => Some(session.usb_only),
            _ => None,
        })
        .collect();
    assert_eq!(sessions, [false, true, true]);
    assert_eq!(anchors_of(&pulled.dump).len(), 2);
    assert_eq!(totals_of(&pulled.dump).on_tenths[1], 36_000);
}

/// What `simulate` writes is what the code behind `halfglass pull --all` brings from the same logger.
#[test]
fn the_dump_is_the_one_that_pull_all_writes() {
    for seed in [6, 9, 21] {
        let text = random_lines(seed);
        let by_simulate = simulate(&text, &options("nrf51", seed)).1;
        let lines = Lines::parse(text.as_bytes(), "lines.csv").unwrap();
        let mut simulation = Simulation::run(&lines, &options("nrf51", seed), &mut |_| {}).unwrap();
        let now_ms = simulation.now_ms();
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::init(dir.path()).unwrap();
        let mut store = Store::open(&folder.store_path()).unwrap();
        let mut client = Client::new(Cable::to(&mut simulation), Patience::USUAL);
        let hello = client.hello().unwrap();
        let clock = move || now_ms;
        let pull = Pull {
            client: &mut client,
            hello,
            folder: &folder,
            store: &mut store,
            clock: &clock,
            watch: &mut |_| {},
        };
        let done = pull.run(PullOptions { all: true }).unwrap();
        let path = &done.last().unwrap().path;
        assert_eq!(path.file_name().unwrap().to_str().unwrap(), by_simulate.file_name());
        let bytes = std::fs::read(path).unwrap();
        let (ours, theirs) = (Dump::read(&by_simulate.dump).unwrap(), Dump::read(&bytes).unwrap());
        assert_eq!(ours.header, theirs.header);
        for ((index, ours), (_, theirs)) in ours.records().zip(theirs.records()) {
            match (ours, theirs) {
                // The real pull measures the way there and back.
                (Some(Record::Anchor(ours)), Some(Record::Anchor(theirs))) => {
                    let measured = Anchor { uncertainty_ms: theirs.uncertainty_ms, ..ours };
                    assert_eq!(measured, theirs, "seed {seed}");
                    assert!(theirs.uncertainty_ms >= ours.uncertainty_ms);
                }
                (ours, theirs) => assert_eq!(ours, theirs, "seed {seed}, record {index}"),
            }
        }
    }
}

/// A year of five lines, on the air nine tenths of the time. How long it takes is printed, not judged: machines differ.
#[test]
fn a_ship_year() {
    let mut random = fastrand::Rng::with_seed(11);
    let mut text = String::from("at,line,on\n");
    let mut row = |at_ms: i64, line: &str, on: u8| {
        writeln!(text, "{},{line},{on}", jiff::Timestamp::from_millisecond(at_ms).unwrap()).unwrap();
    };
    row(START_MS, "supply", 1);
    row(START_MS, "heater", 1);
    for day in 0..365 {
        for watch in 0..5 {
            let on_ms = START_MS + day * DAY_MS + watch * DAY_MS / 5 + random.i64(60_000..HOUR_MS / 2);
            let off_ms = on_ms + 4 * HOUR_MS + random.i64(0..HOUR_MS / 4);
            row(on_ms, "motor", 1);
            row(on_ms + 1_000, "transmit", 1);
            row(off_ms, "transmit", 0);
            row(off_ms, "motor", 0);
        }
        if day % 10 == 3 {
            let at_ms = START_MS + (day + 1) * DAY_MS;
            row(at_ms, "power", 0);
            row(at_ms + random.i64(1_000..HOUR_MS / 60), "power", 1);
        }
    }
    let _ = writeln!(text, "2027-03-01T00:00:00Z,pull,");
    let began = std::time::Instant::now();
    let (mut simulation, pulled) = simulate(&text, &options("nrf51", 1));
    println!(
        "a ship-year: {:.2} s, {} pages of totals turned over, worst page {} erases",
        began.elapsed().as_secs_f64(),
        pulled.status.health.journal_turns,
        simulation.erases_max()
    );
    check_rule_1(&text, &pulled, 10, "a ship-year");
}

/// What happens before the supply has proved good is merged for want of time, not of credit: nothing is said of it.
#[test]
fn no_merging_is_said_at_a_quiet_start() {
    let text = "at,line,on\n2026-03-01T00:00:00Z,heater,1\n2026-03-01T04:00:00Z,heater,0\n";
    let (_, pulled) = simulate(text, &options("nrf51", 1));
    for (index, record) in Dump::read(&pulled.dump).unwrap().records() {
        assert!(!matches!(record, Some(Record::Coalesced { .. })), "record {index}: {record:?}");
    }
}
