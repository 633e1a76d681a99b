//! The RP2040 board's firmware in an emulator: greeted over USB, lines driven, power cut at flash operations, the log pulled by
//! the built program, and everything held against a clock that the firmware cannot touch.
//!
//! Needs node, npm and a compiler for the board: `cargo xtask setup` installs them or says how.

use fastrand::Rng;
use halfglass_protocol::config::{Config, Kind};
use halfglass_protocol::message::{Refusal, Reply, Request};
use halfglass_protocol::record::ClockSource;
use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use halfglass_tests::pico::cable;
use halfglass_tests::pico::desk::{Desk, Device, ERASE_MS, SECTOR, Wanted, World};
use halfglass_tests::qemu::image::ERASE_TEARS;
use object::{Object, ObjectSection, ObjectSymbol};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::time::Instant;
use xtask::firmware::Firmware;
use xtask::sizes;

/// The stores' places: the table in `boards/README.md`.
const FAULTS: (u32, u32) = (0x8_0000, 0x8_1000);
const NUMBER: u32 = 0x8_1000;
const CONFIG: (u32, u32) = (0x8_2000, 0x8_4000);
const JOURNAL: (u32, u32) = (0x9_0000, 0xA_0000);
const HISTORY: (u32, u32) = (0xA_0000, 0xE_0000);
const STORES: (u32, u32) = (FAULTS.0, HISTORY.1);

/// A commit every second instead of every ten: pages fill ten times as fast.
const HEARTBEAT_S: u16 = 1;

/// What one unclean cut may cost a line: a heartbeat, the second for which a contact may chatter before it is believed,
/// and a tenth of rounding at either end. The board itself says so in its session record.
const fn lost_per_cut_tenths(heartbeat_s: u16) -> u64 {
    10 * heartbeat_s as u64 + 10 + 2
}

/// What rounding may cost a run that ended by itself: on-edges round up to a tenth, off-edges down.
const LOST_PER_RUN_TENTHS: u64 = 2;

fn firmware() -> PathBuf {
    Firmware::Pico.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build pico`): {fault:#}")
    })
}

/// Chance decides by this number; `HALFGLASS_SEED` sets another.
fn seed() -> u64 {
    std::env::var("HALFGLASS_SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(20_261_126)
}

/// Holds what the board shows against the truth, line by line; all lines have been off for a while.
fn hold(title: &str, desk: &mut Desk, lost_per_cut: u64) {
    let totals = desk.status().totals;
    println!(
        "{title}\n{:<6}{:>12}{:>12}{:>10}{:>10}",
        "line", "truth, s", "logged, s", "lost, s", "may lose"
    );
    for line in 0..5 {
        let (truth, logged) = (desk.on_tenths(line), totals.on_tenths[line]);
        let may = u64::from(desk.cuts) * lost_per_cut + u64::from(desk.starts[line]) * LOST_PER_RUN_TENTHS;
        let s = |tenths: u64| tenths as f64 / 10.0;
        let lost = s(truth) - s(logged);
        println!("{line:<6}{:>12.1}{:>12.1}{lost:>10.1}{:>10.1}", s(truth), s(logged), s(may));
        assert!(logged <= truth, "line {line} gained {} tenths", logged - truth);
        assert!(logged + may >= truth, "line {line} lost {} tenths of at most {may}", truth - logged);
    }
}

/// The pulled log, as `show --json` tells it.
fn pulled(place: &Place) -> serde_json::Value {
    let dump = place.files("ship/dumps").pop().expect("a dump");
    place.run(&["show", "--json", &format!("ship/dumps/{dump}")]).fine().json()
}

/// Hours of radar, a cut, a hang; then the built program pulls over the cable and says how long the magnetron has run.
#[test]
fn from_line_to_pull() {
    let (firmware, seed) = (firmware(), seed());
    println!("seed {seed}");
    let mut rng = Rng::with_seed(seed);
    let mut desk = Desk::new(&firmware);
    let world = World::usual(DEVICE);
    let began = Instant::now();
    // Four hours before now by this computer's clock; between two sessions it is dark for ten minutes.
    let began_ms = jiff::Timestamp::now().as_millisecond() as u64 - 4 * 3_600_000;
    let mut stack = 0;

    for session in 0..3 {
        desk.power(&world);
        desk.run_s(2.5);
        let utc_ms = began_ms + session * 600_000 + desk.powered_ns / 1_000_000;
        let anchor = Request::Anchor { utc_ms, uncertainty_ms: 1_000, source: ClockSource::Host };
        assert!(desk.ask(&anchor, |reply| matches!(reply, Reply::Anchored { .. })), "an anchor is taken");
        // 1209:0001 is what an image has that nobody gave a number of its own.
        let strings = ["Halfglass", "Halfglass logger", "3f9c11d2a07be458"].map(str::to_owned);
        assert_eq!(desk.device, Some(Device { id: (0x1209, 0x0001), strings }));
        // Supply, standby, transmit, and the scanner with it; long stretches and short ones, all off at the end.
        let (mut script, mut at_ms) = (Vec::new(), 0.0);
        for levels in [0b1, 0b11, 0b1111, 0b11, 0b1111, 0b1011, 0b1111, 0b111, 0b1111, 0b11, 0b1] {
            at_ms += [300.0, 20_000.0, 900_000.0][rng.usize(..3)] * (0.1 + rng.f64());
            script.push((at_ms, levels));
        }
        // The first two end in a cut, with lines on as it happens.
        at_ms += 60_000.0 * rng.f64();
        if session == 2 {
            script.push((at_ms, 0));
            at_ms += 3_000.0;
        } else {
            desk.cuts += 1;
        }
        desk.follow(&script, at_ms);
        stack = desk.stack_high_water().max(stack);
    }
    hold("after three sessions", &mut desk, lost_per_cut_tenths(10));
    let (virtual_s, wall_s) = (desk.powered_ns as f64 / 1e9, began.elapsed().as_secs_f64());
    println!("{virtual_s:.0} emulated seconds in {wall_s:.1} s");

    // What hangs is ended by the watchdog, which resets the chip; the log says so.
    let before = desk.status();
    desk.hang();
    desk.run_s(9.0);
    assert_eq!(desk.resets, 1, "the watchdog bites between 8 and 9 seconds");
    desk.run_s(3.0);
    let after = desk.status();
    assert_eq!(after.totals.on_tenths, before.totals.on_tenths);
    assert_eq!((after.totals.session, after.health.faults), (before.totals.session + 1, 0));

    let place = Place::with_ship(SHIP);
    let _ = halfglass();
    let began = Instant::now();
    let pull = cable::plugged(&mut desk, |port| place.ship(&["pull", "--port", port]));
    println!("{}{}pulled in {:.1} s", pull.out, pull.err, began.elapsed().as_secs_f64());
    pull.fine();
    let log = pulled(&place);
    let causes: Vec<&str> =
        log["sessions"].as_array().unwrap().iter().filter_map(|session| session["cause"].as_str()).collect();
    assert_eq!(causes, ["power", "power", "power", "watchdog"]);
    for line in 0..5 {
        assert_eq!(log["lines"][line]["on_tenths"], after.totals.on_tenths[line], "line {line}: {log}");
    }

    let fitted = jiff::Timestamp::from_millisecond(began_ms as i64 - 60_000).unwrap().to_string();
    let fitting = ["add", "fitting", "--at", &fitted, "--radar", "S-band", "--part", "magnetron"];
    let more = ["--serial", "B-2207", "--counter-zeroed", "yes", "--hours-at-fit", "0"];
    place.ship(&[&fitting[..], &more[..]].concat()).fine();
    let json = place.ship(&["due", "--json"]).fine().json();
    let bound = |name: &str| {
        json["parts"][0]["hours"][name].as_f64().unwrap_or_else(|| panic!("no {name} in {json}"))
    };
    let truth_h = desk.on_ns[2] as f64 / 3.6e12;
    println!("transmitted in truth {truth_h:.4} h; due says {}", json["parts"][0]["hours"]);
    assert!(bound("low") <= truth_h && truth_h <= bound("high"), "the truth is outside: {json}");

    stack = desk.stack_high_water().max(stack);
    let (_, statics) = sizes::of_image(&firmware).unwrap();
    let budget = sizes::budgets().unwrap()["pico"];
    println!("static RAM {statics} B + stack {stack} B of {} B", budget.ram_bytes_max);
    sizes::keep_stack(Firmware::Pico, stack).unwrap();
    assert!(statics + stack <= budget.ram_bytes_max);
}

/// A configuration is taken while the button is held, and not otherwise.
fn configure(desk: &mut Desk, config: &Config) {
    let refused =
        desk.ask(&Request::SetConfig(*config), |reply| reply == Reply::Refused(Refusal::HoldButton));
    assert!(refused, "without the button a configuration is refused");
    desk.button(true);
    let done = desk.ask(&Request::SetConfig(*config), |reply| reply == Reply::Done);
    assert!(done, "with the button it is taken");
    desk.button(false);
}

fn config_of(desk: &mut Desk) -> Config {
    desk.ask(&Request::Config, |reply| match reply {
        Reply::Config(config) => config,
        other => panic!("asked for the configuration, got {other:?}"),
    })
}

/// What is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Class {
    Commit,
    JournalErase,
    HistoryRecord,
    HistoryErase,
    Recovery,
    ConfigWord,
    ConfigErase,
}

/// One life, cut over and over in the middle of programming a word or erasing a sector, any subset of the pending bits left.
/// After each cut the totals are held against the truth, and once more after a second, clean one.
#[test]
fn cuts_at_flash_operations() {
    use Class::{Commit, ConfigErase, ConfigWord, HistoryErase, HistoryRecord, JournalErase, Recovery};
    const ROUNDS: [Class; 17] = [
        Commit,
        JournalErase,
        Recovery,
        ConfigWord,
        Commit,
        Recovery,
        HistoryRecord,
        ConfigErase,
        Commit,
        Recovery,
        JournalErase,
        ConfigWord,
        Recovery,
        Commit,
        HistoryRecord,
        HistoryErase,
        Recovery,
    ];
    let (firmware, seed) = (firmware(), seed());
    println!("seed {seed}");
    let mut rng = Rng::with_seed(seed ^ 0x6375_7473);
    let began = Instant::now();
    let mut desk = Desk::new(&firmware);
    let world = World::usual(DEVICE);
    let mut config = Config { heartbeat_s: HEARTBEAT_S, ..Config::as_in_guide() };
    desk.power(&world);
    desk.run_s(3.0);
    configure(&mut desk, &config);

    let (mut owed, mut worst) = ([0; 5], 0);
    let mut cuts: BTreeMap<Class, u32> = BTreeMap::new();
    for round in 0..3 * ROUNDS.len() {
        let class = ROUNDS[round % ROUNDS.len()];
        desk.power(&world);
        if class != Recovery {
            desk.run_s(3.0);
            desk.drive([0b1, 0b11, 0b111, 0b1111, 0b1011][rng.usize(..5)]);
            desk.run_s(1.0 + 10.0 * rng.f64());
        }
        let wanted = |programs, erases, places, skip| Wanted { programs, erases, places, skip };
        let (wanted, seconds) = match class {
            Commit => (wanted(true, false, JOURNAL, rng.u32(..20)), 60.0),
            JournalErase => (wanted(false, true, JOURNAL, 0), 1_200.0),
            HistoryRecord => {
                desk.run_s(61.0);
                let fix = Request::Fix { have: 0 };
                (wanted(true, false, HISTORY, rng.u32(..4)), {
                    send(&mut desk, &fix);
                    5.0
                })
            }
            // Nothing writes so much history so soon as what it is told to be set up as, over and over.
            HistoryErase => {
                let erase = wanted(false, true, HISTORY, 0);
                desk.button(true);
                for _ in 0..200 {
                    config.idle_s = 500 + (config.idle_s - 499) % 100;
                    send(&mut desk, &Request::SetConfig(config));
                    if desk.run_to(erase, 0.5) {
                        break;
                    }
                }
                (erase, 0.0)
            }
            Recovery => (wanted(true, true, STORES, rng.u32(..60)), 3.0),
            ConfigWord | ConfigErase => {
                config.idle_s = 500 + rng.u16(..100);
                desk.button(true);
                send(&mut desk, &Request::SetConfig(config));
                let skip = if class == ConfigWord { rng.u32(..30) } else { 0 };
                (wanted(class == ConfigWord, class == ConfigErase, CONFIG, skip), 5.0)
            }
        };
        let mut told = format!("seed {seed}, round {round}, {class:?}, not reached");
        if desk.stopped.is_some() || desk.run_to(wanted, seconds) {
            let tear = ERASE_TEARS[rng.usize(..ERASE_TEARS.len())];
            let operation = desk.cut_torn(tear, &mut rng);
            *cuts.entry(class).or_default() += 1;
            told = format!("seed {seed}, round {round}, {class:?}, {operation:x?} torn {tear:?}");
        } else {
            desk.cuts += 1;
        }
        desk.power(&world);
        desk.run_s(3.0);
        let first = desk.status().totals;
        for (line, owed) in owed.iter_mut().enumerate() {
            let (truth, logged) = (desk.on_tenths(line), first.on_tenths[line]);
            assert!(logged <= truth, "{told}: line {line} gained {} tenths", logged - truth);
            let lost: u64 = truth - logged;
            let now = lost.saturating_sub(*owed);
            assert!(
                now <= lost_per_cut_tenths(HEARTBEAT_S) + LOST_PER_RUN_TENTHS,
                "{told}: line {line} lost {now} tenths"
            );
            worst = worst.max(now);
            *owed = lost;
        }
        let found = config_of(&mut desk);
        assert!(found == config || found == Config { idle_s: found.idle_s, ..config }, "{told}: {found:?}");
        config = found;
        desk.power(&world);
        desk.run_s(3.0);
        let second = desk.status().totals;
        assert_eq!(second.on_tenths, first.on_tenths, "{told}: what was shown must stay");
        assert!(second.session > first.session, "{told}");
    }
    hold("after all cuts", &mut desk, lost_per_cut_tenths(HEARTBEAT_S));
    println!(
        "torn: {cuts:?}; worst loss {:.1} s; {:.0} emulated seconds in {:.1} s",
        worst as f64 / 10.0,
        desk.powered_ns as f64 / 1e9,
        began.elapsed().as_secs_f64()
    );
    for class in ROUNDS {
        assert!(cuts.get(&class).is_some_and(|cuts| *cuts >= 2), "{class:?} was hardly hit: {cuts:?}");
    }
}

/// Sends a request without waiting for what becomes of it.
fn send(desk: &mut Desk, request: &Request) {
    use halfglass_protocol::frame::{self, Channel, FRAME_MAX};
    let (mut body, mut bytes) = ([0; frame::BODY_MAX], [0; FRAME_MAX]);
    let body = halfglass_protocol::message::encode(1, request, &mut body).expect("a request fits");
    let bytes = frame::encode(Channel::Request, body, &mut bytes).expect("a frame fits").to_vec();
    desk.send_bytes(&bytes);
}

/// Edges that come while the longest erase holds everything up are seen afterwards: the totals stay below the truth, and each
/// costs at most the standstill.
#[test]
fn edges_while_a_sector_erases() {
    let firmware = firmware();
    let mut rng = Rng::with_seed(seed() ^ 0x6564_6765);
    let mut desk = Desk::new(&firmware);
    let world = World { erase_ms: ERASE_MS.1, ..World::usual(DEVICE) };
    desk.power(&world);
    desk.run_s(3.0);
    configure(&mut desk, &Config { heartbeat_s: HEARTBEAT_S, ..Config::as_in_guide() });
    let erases = Wanted { programs: false, erases: true, places: JOURNAL, skip: 0 };
    let at = |part: f64| part * f64::from(world.erase_ms);
    // Line 0 fills the pages; what is on when the erase begins, and what happens within.
    let rounds = [
        ("goes on", 0b1, vec![(at(0.3), 0b11), (5_000.0, 0b1)]),
        ("goes off", 0b11, vec![(at(0.02), 0b1)]),
        ("goes on and off", 0b1, vec![(at(0.1), 0b11), (at(0.5 + 0.4 * rng.f64()), 0b1)]),
        ("goes off and on", 0b11, vec![(at(0.02), 0b1), (at(0.98), 0b11)]),
        ("two go on", 0b1, vec![(at(0.5), 0b111), (6_000.0, 0b1)]),
    ];
    for (what, before, script) in rounds {
        let (truth_before, logged_before, starts_before) =
            (desk.on_ns, desk.status().totals.on_tenths, desk.starts);
        desk.drive(before);
        assert!(desk.run_to(erases, 1_200.0), "a page fills and the next is erased");
        desk.follow(&script, 10_000.0);
        desk.drive(0);
        desk.run_s(3.0);
        let totals = desk.status().totals;
        for line in 0..3 {
            let truth_ms = (desk.on_ns[line] - truth_before[line]) / 1_000_000;
            let logged_ms = 100 * (totals.on_tenths[line] - logged_before[line]);
            assert!(logged_ms <= truth_ms, "{what}: line {line} gained {} ms", logged_ms - truth_ms);
            // Two tenths for each run, and the standstill.
            let runs = u64::from(desk.starts[line] - starts_before[line]);
            let may_ms = 100 * LOST_PER_RUN_TENTHS * runs + u64::from(world.erase_ms);
            assert!(logged_ms + may_ms >= truth_ms, "{what}: line {line} lost {} ms", truth_ms - logged_ms);
            println!("{what}: line {line}: {truth_ms} ms in truth, {logged_ms} ms logged");
        }
    }
}

/// The feed's warning is answered at once: what was on is committed, and a cut right afterwards costs next to nothing.
#[test]
fn a_failing_feed_is_answered() {
    let mut desk = Desk::new(&firmware());
    let world = World::usual(DEVICE);
    desk.power(&world);
    desk.run_s(3.0);
    desk.drive(0b111);
    // In the middle of a heartbeat.
    desk.run_s(37.3);
    let operations = desk.operations;
    desk.feed(false);
    desk.run_ms(2.0);
    assert_eq!(desk.operations, operations + 1, "one word, at once");
    desk.cuts += 1;
    desk.power(&world);
    desk.run_s(3.0);
    hold("after a warning and a cut", &mut desk, 1);
}

/// On the plug's power alone, with the feed gone, the log says so; nothing is written for the first two seconds.
#[test]
fn nothing_is_written_before_the_supply_is_good() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World { usb_power: true, feed: false, levels: 0b11, ..World::usual(DEVICE) });
    desk.run_s(1.99);
    assert_eq!(desk.operations, 0);
    assert!(desk.lamp, "lit while the supply is not trusted");
    desk.run_s(0.5);
    assert!(desk.operations > 0);
    desk.run_s(1.0);
    let blinks: Vec<bool> = (0..80)
        .map(|_| {
            desk.run_ms(100.0);
            desk.lamp
        })
        .collect();
    assert!(blinks.iter().filter(|lit| **lit).count() <= 2, "dark but for a blink every four seconds");
    let place = Place::with_ship(SHIP);
    let _ = halfglass();
    cable::plugged(&mut desk, |port| place.ship(&["pull", "--port", port])).fine();
    let log = pulled(&place);
    assert_eq!(log["sessions"][0]["usb_only"], true, "{log}");
}

/// Two loggers with one number would mix up two radars: a board whose flash chip has none of its own logs nothing, until it
/// was given one.
#[test]
fn a_board_without_a_number_logs_nothing() {
    let firmware = firmware();
    let usual = World::usual(DEVICE);
    for (what, world) in [
        ("blank", World { number: u64::MAX, ..usual.clone() }),
        ("zeros", World { number: 0, ..usual.clone() }),
        // ISSI and Zetta: 16 bytes of which the first eight repeat. Macronix: none.
        ("ISSI", World { maker: "9d6015", ..usual.clone() }),
        ("Zetta", World { maker: "ba6015", ..usual.clone() }),
        ("Macronix", World { maker: "c22015", ..usual.clone() }),
    ] {
        let mut desk = Desk::new(&firmware);
        desk.power(&world);
        let lit: Vec<bool> = (0..20)
            .map(|_| {
                desk.run_ms(250.0);
                desk.lamp
            })
            .collect();
        assert_eq!((desk.operations, desk.device.clone(), desk.resets), (0, None, 0), "{what}");
        assert!(
            lit.windows(2).all(|two| two[0] != two[1]),
            "{what}: on and off every quarter second: {lit:?}"
        );
        // Given when the board was made: the number and its complement.
        let number: u64 = 0x4861_6C66_0000_0007;
        desk.poke(NUMBER, &xtask::uf2::given(number));
        desk.power(&world);
        desk.run_s(2.5);
        let device = desk.device.clone().unwrap_or_else(|| panic!("{what}: no device"));
        assert_eq!(device.strings[2], "48616c6600000007", "{what}");
    }
}

/// Alternating current through an optocoupler: pulses ten milliseconds apart are a line that is on, a lone one is noise.
#[test]
fn alternating_current_is_on() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    let mut config = Config::as_in_guide();
    config.lines[0].kind = Kind::Pulsed { hold_ms: 100 };
    configure(&mut desk, &config);
    // 50 Hz, both half-waves, for twenty seconds; each pulse is six milliseconds long. One alone ten seconds later.
    let pulse = |at_ms: f64| [(at_ms, 0b1), (at_ms + 6.0, 0b0)];
    let mut script: Vec<(f64, u8)> = (0..2_000).flat_map(|n| pulse(100.0 + 10.0 * f64::from(n))).collect();
    script.extend(pulse(30_000.0));
    desk.follow(&script, 40_000.0);
    let totals = desk.status().totals;
    assert_eq!(totals.starts[0], 1);
    // At each edge a tenth and a look, which is 50 ms late at most.
    assert!((197..=200).contains(&totals.on_tenths[0]), "{} tenths of 200", totals.on_tenths[0]);
}

/// A setup that names no time gets the one that this board needs; a shorter one is refused.
#[test]
fn setup_knows_how_long_a_sector_erases() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    let place = Place::with_ship(SHIP);
    let _ = halfglass();
    let setup = |port: &str, line: &str| place.ship(&["setup", "--port", port, "--dry-run", "--line", line]);
    let (usual, short) =
        cable::plugged(&mut desk, |port| (setup(port, "motor=pulsed"), setup(port, "motor=pulsed,300ms")));
    println!("{}", usual.out);
    usual.fine().says(&[
        "motor=pulsed,500ms",
        "supply=contact,50ms,high",
        "motor: 500 ms instead of 200, with which this logger may break a run in two",
    ]);
    short.fails(2, &["with 300 ms this logger may break a run in two", "Give it 500ms or more"]);
}

/// An update by the file for the chip's boot ROM, which erases the sectors that it writes: the firmware is new, the totals are as
/// they were, and the board has the number that it was given.
#[test]
fn an_update_keeps_the_totals() {
    let file = std::fs::read(xtask::uf2::make(Some(0x4861_6C66_0000_0008)).unwrap()).unwrap();
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    desk.drive(0b11);
    desk.run_s(60.0);
    desk.drive(0);
    desk.run_s(3.0);
    let before = desk.status();
    // The flash as it is now, with another firmware in it.
    desk.poke(0, &vec![0; 0x8_0000]);
    let mut erased = BTreeSet::new();
    for block in file.chunks_exact(512) {
        let at = u32::from_le_bytes(block[12..16].try_into().unwrap()) - 0x1000_0000;
        if erased.insert(at / SECTOR) {
            desk.poke(at - at % SECTOR, &[0xFF; SECTOR as usize]);
        }
        desk.poke(at, &block[0x20..0x120]);
    }
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    let after = desk.status();
    assert_eq!(after.totals.on_tenths, before.totals.on_tenths);
    assert_eq!(after.totals.session, before.totals.session + 1);
    assert_eq!(desk.device.as_ref().map(|device| device.strings[2].as_str()), Some("48616c6600000008"));
    assert!(
        erased.iter().all(|sector| sector * SECTOR < FAULTS.0 || sector * SECTOR == NUMBER),
        "{erased:?}"
    );
}

/// A fault resets the chip and is counted: at first where a reset leaves it alone, then in flash, where it outlives the power.
#[test]
fn a_fault_is_counted() {
    let mut desk = Desk::new(&firmware());
    let world = World::usual(DEVICE);
    desk.power(&world);
    desk.run_s(20.0);
    let before = desk.status();
    assert_eq!((before.health.faults, desk.resets), (0, 0));
    // Two in a row, the second before the first could be saved.
    desk.fault();
    desk.run_s(1.0);
    desk.fault();
    desk.run_s(5.0);
    let after = desk.status();
    assert_eq!((after.health.faults, desk.resets), (2, 2));
    assert_eq!(after.totals.session, before.totals.session + 1, "the first began no session");
    desk.power(&world);
    desk.run_s(5.0);
    assert_eq!(desk.status().health.faults, 2, "they outlive the power");
    let place = Place::with_ship(SHIP);
    let _ = halfglass();
    cable::plugged(&mut desk, |port| place.ship(&["pull", "--port", port])).fine();
    let log = pulled(&place);
    let causes: Vec<_> =
        log["sessions"].as_array().unwrap().iter().map(|session| &session["cause"]).collect();
    assert_eq!(causes, ["power", "firmware fault", "power"]);
}

/// What runs while the flash is away lies in RAM and calls nothing but what it was handed: no instruction of it is a call to an
/// address of its own.
#[test]
fn what_runs_without_flash_lies_in_ram() {
    let bytes = std::fs::read(firmware()).unwrap();
    let file = object::File::parse(&*bytes).unwrap();
    let run = file.symbols().find(|symbol| symbol.name().is_ok_and(|name| name.ends_with("3nor3run")));
    let run = run.expect("the function that works the flash");
    let data = file.section_by_name(".data").expect("a .data section");
    let from = (run.address() & !1).checked_sub(data.address()).expect("in RAM") as usize;
    let code = &data.data().unwrap()[from..from + run.size() as usize];
    // Thumb: `bl` is two halfwords, 11110... and 11x1...
    let halves: Vec<u16> = code.chunks_exact(2).map(|half| u16::from_le_bytes([half[0], half[1]])).collect();
    let calls = halves.windows(2).filter(|two| two[0] >> 11 == 0b11110 && two[1] >> 14 == 0b11).count();
    let by_register = halves.iter().filter(|half| **half & 0xFF87 == 0x4780).count();
    assert_eq!(calls, 0);
    assert!(by_register >= 5, "connect, leave, erase or program, flush, and back: {by_register}");
}
