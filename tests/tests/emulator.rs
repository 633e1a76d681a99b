//! The first board's firmware in an emulator: lines driven, power cut, flash carried over, the log pulled by the built
//! program, and everything held against a clock that the firmware cannot touch.
//!
//! Needs qemu-system-arm and a compiler for the board: `cargo xtask setup` installs both or says how.

use fastrand::Rng;
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{ClockSource, Totals};
use halfglass_tests::command::{DEVICE, Place, SHIP};
use halfglass_tests::qemu::cuts::{Bases, Case, Class, LOST_TENTHS_MAX};
use halfglass_tests::qemu::desk::{Desk, TICKS_PER_S};
use halfglass_tests::qemu::life::Life;
use halfglass_tests::qemu::machine::Cable;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;
use xtask::firmware::Firmware;
use xtask::sizes;

/// Cuts per class; thirteen classes.
const CUTS: u32 = 17;

/// What one unclean cut may cost a line: a heartbeat of 10 s, the second for which a contact may chatter before it is
/// believed, and a tenth of rounding at either end. The board itself says so in its session record.
const LOST_PER_CUT_TENTHS: u64 = 100 + 10 + 2;

/// What rounding may cost a run that ended by itself: on-edges round up to a tenth, off-edges down.
const LOST_PER_RUN_TENTHS: u64 = 2;

const NAMES: [&str; 5] = ["supply", "heater", "transmit", "motor", "isolated"];

fn firmware() -> PathBuf {
    Firmware::Microbit.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build microbit`): {fault:#}")
    })
}

/// Chance decides by this number; `HALFGLASS_SEED` sets another.
fn seed() -> u64 {
    std::env::var("HALFGLASS_SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(20_261_125)
}

/// Holds the totals against the truth and shows both, line by line. All lines must be off.
fn hold(title: &str, totals: &Totals, life: &Life) {
    println!(
        "{title}\n{:<10}{:>14}{:>14}{:>10}{:>10}",
        "line", "truth, s", "logged, s", "lost, s", "may lose"
    );
    let mut wrong = Vec::new();
    for (line, name) in NAMES.iter().enumerate() {
        let (truth, logged) = (life.on_tenths(line), totals.on_tenths[line]);
        let may =
            u64::from(life.cuts) * LOST_PER_CUT_TENTHS + u64::from(life.starts[line]) * LOST_PER_RUN_TENTHS;
        let s = |tenths: u64| tenths as f64 / 10.0;
        let lost = s(truth) - s(logged);
        println!("{name:<10}{:>14.1}{:>14.1}{lost:>10.1}{:>10.1}", s(truth), s(logged), s(may));
        if logged > truth {
            wrong.push(format!("{name} gained {} tenths", logged - truth));
        }
        if logged + may < truth {
            wrong.push(format!("{name} lost {} tenths of at most {may}", truth - logged));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// One more session of a life: lines come and go by chance for about `seconds`. First the totals so far are asked for.
fn session(
    firmware: &Path,
    life: &Life,
    seconds: f64,
    rng: &mut Rng,
    utc_ms: Option<u64>,
) -> (Life, Totals, u64) {
    let mut desk = Desk::power_on(firmware, life, 0, Cable::Test);
    desk.run_s(2.5);
    let totals = desk.status().totals;
    if let Some(utc_ms) = utc_ms {
        let utc_ms = utc_ms + desk.now() * 1_000 / TICKS_PER_S;
        let anchor = Request::Anchor { utc_ms, uncertainty_ms: 1_000, source: ClockSource::Host };
        let anchored = desk.ask(&anchor, |reply| matches!(reply, Reply::Anchored { .. }));
        assert!(anchored, "an anchor is taken");
    }
    let end = desk.now() + (seconds * TICKS_PER_S as f64) as u64;
    // Supply, standby, transmit, and the scanner with it; the switch aloft is open only with everything off.
    let steps = [0b1, 0b11, 0b1111, 0b11, 0b1111, 0b111, 0b1111, 0b11, 0b1, 0b1_0001, 0b1, 0];
    let mut at = rng.usize(..steps.len());
    while desk.now() < end {
        at = (at + 1) % steps.len();
        if rng.u8(..) < 40 {
            desk.drive_unnoticed(steps[at]);
        } else {
            desk.drive(steps[at]);
        }
        // Long stretches and short ones, some shorter than it takes to be believed.
        let scale = [0.03, 5.0, 120.0, 1_500.0, 3_000.0][rng.usize(..5)];
        let next = desk.now() + 1 + (rng.f64() * scale * TICKS_PER_S as f64) as u64;
        desk.run_until(next.min(end));
    }
    let stack = desk.stack_high_water();
    (desk.cut(), totals, stack)
}

#[test]
fn from_line_to_due_date() {
    let (firmware, seed) = (firmware(), seed());
    println!("seed {seed}");
    let mut rng = Rng::with_seed(seed);
    let mut life = Life::new(DEVICE);
    let powered_h = |life: &Life| life.powered_ticks as f64 / TICKS_PER_S as f64 / 3_600.0;

    // Four sessions of about five hours, cut off; the last ended an hour before now.
    let now_ms = jiff::Timestamp::now().as_millisecond() as u64;
    let began_ms = now_ms - 25 * 3_600_000;
    let mut dark_ms = 0;
    let mut stack = 0;
    for _ in 0..4 {
        let utc_ms = began_ms + dark_ms + (powered_h(&life) * 3_600_000.0) as u64;
        let (after, _, deepest) = session(&firmware, &life, 5.0 * 3_600.0, &mut rng, Some(utc_ms));
        (life, stack) = (after, deepest.max(stack));
        dark_ms += 20 * 60_000;
    }

    // Power again, now on a clock that runs with ours, and a cable to the built program.
    let place = Place::with_ship(SHIP);
    let mut desk = Desk::power_on(&firmware, &life, 0, Cable::Terminal);
    desk.machine.gdb.release();
    let port = desk.machine.terminal();
    let pull = place.ship(&["pull", "--port", port.to_str().unwrap()]);
    println!("{}{}", pull.out, pull.err);
    pull.fine();
    stack = stack.max(desk.stack_high_water());
    drop(desk);

    let fitted = jiff::Timestamp::from_millisecond(began_ms as i64 - 3_600_000).unwrap().to_string();
    let fitting = ["add", "fitting", "--at", &fitted, "--radar", "S-band", "--part", "magnetron"];
    let more = ["--serial", "B-2207", "--counter-zeroed", "yes", "--hours-at-fit", "0"];
    place.ship(&[&fitting[..], &more[..]].concat()).fine();
    let due = place.ship(&["due"]);
    println!("{}", due.out);
    due.fine().says(&["magnetron"]);
    let json = place.ship(&["due", "--json"]).fine().json();
    let hours = &json["parts"][0]["hours"];
    let bound = |name: &str| hours[name].as_f64().unwrap_or_else(|| panic!("no {name} in {json}"));
    let truth_h = life.on_ticks[2] as f64 / TICKS_PER_S as f64 / 3_600.0;
    println!("transmitted in truth {truth_h:.4} h; due says {hours}");
    assert!(bound("low") <= truth_h && truth_h <= bound("high"), "the truth is outside: {json}");

    // And the board's own word, line by line.
    let mut desk = Desk::power_on(&firmware, &life, 0, Cable::Test);
    desk.run_s(2.5);
    let totals = desk.status().totals;
    hold("after four sessions and a pull", &totals, &life);
    budget(stack.max(desk.stack_high_water()));
}

/// Static RAM and this stack stay within the board's budget.
fn budget(stack: u64) {
    let image = Firmware::Microbit.image();
    let (_, statics) = sizes::of_image(&image).unwrap();
    let budget = sizes::budgets().unwrap()["microbit"];
    println!("static RAM {statics} B + stack {stack} B of {} B", budget.ram_bytes_max);
    sizes::keep_stack(Firmware::Microbit, stack).unwrap();
    assert!(statics + stack <= budget.ram_bytes_max);
}

#[test]
fn twenty_kills_in_twenty_hours() {
    let (firmware, seed) = (firmware(), seed());
    println!("seed {seed}");
    let mut rng = Rng::with_seed(seed ^ 0x6b69_6c6c);
    let mut life = Life::new(DEVICE);
    let began = Instant::now();
    let (mut owed, mut worst) = ([0; 8], 0);
    let mut kills = 0;
    while kills < 20 {
        // Half an hour to an hour and a half; twenty hours in all.
        let left_s = 72_000.0 - life.powered_ticks as f64 / TICKS_PER_S as f64;
        let seconds = if kills == 19 { left_s.max(60.0) } else { 3_600.0 * (0.5 + rng.f64()) };
        let before = life.clone();
        let (after, totals, _) = session(&firmware, &life, seconds, &mut rng, None);
        for (line, owed) in owed.iter_mut().enumerate() {
            let truth = before.on_tenths(line);
            assert!(
                totals.on_tenths[line] <= truth,
                "line {line} gained: {} > {truth}",
                totals.on_tenths[line]
            );
            let lost: u64 = truth - totals.on_tenths[line];
            worst = worst.max(lost.saturating_sub(*owed));
            *owed = lost;
        }
        life = after;
        kills += 1;
    }
    let mut desk = Desk::power_on(&firmware, &life, 0, Cable::Test);
    desk.run_s(2.5);
    let totals = desk.status().totals;
    hold(&format!("after {} kills", life.cuts), &totals, &life);
    let (virtual_h, wall_s) =
        (life.powered_ticks as f64 / TICKS_PER_S as f64 / 3_600.0, began.elapsed().as_secs_f64());
    println!("worst loss in one session and its kill {:.1} s, no gain", worst as f64 / 10.0);
    println!("{virtual_h:.1} emulated hours in {wall_s:.1} s: {:.1} hours a second", virtual_h / wall_s);
    assert!(virtual_h >= 20.0 && life.cuts == 20);
}

#[test]
fn cuts_at_flash_operations() {
    let (firmware, seed) = (firmware(), seed());
    println!("seed {seed}");
    let began = Instant::now();
    let bases = Bases::make(&firmware);
    let mut cases: BTreeMap<Class, Vec<Case>> = BTreeMap::new();
    let mut wrong = Vec::new();
    for class in Class::ALL {
        for number in 0..CUTS {
            let mut rng = Rng::with_seed(seed ^ (class as u64) << 32 ^ u64::from(number));
            if let Some(case) = bases.case(&firmware, class, &mut rng) {
                wrong.extend(case.wrong.iter().map(|what| format!("{class:?}, case {number}: {what}")));
                cases.entry(class).or_default().push(case);
            }
        }
    }
    println!("{:<18}{:>6}{:>16}   erases torn", "cut at", "cuts", "worst loss, s");
    for (class, cases) in &cases {
        let lost = cases.iter().map(|case| case.lost_tenths).max().unwrap_or(0);
        let mut tears: BTreeMap<String, u32> = BTreeMap::new();
        for tear in cases.iter().filter_map(|case| case.tear) {
            *tears.entry(format!("{tear:?}")).or_default() += 1;
        }
        let name = format!("{class:?}");
        println!("{name:<18}{:>6}{:>16.1}   {tears:?}", cases.len(), lost as f64 / 10.0);
    }
    let all: usize = cases.values().map(Vec::len).sum();
    println!(
        "{all} cuts in {:.0} s; at most {:.1} s may be lost",
        began.elapsed().as_secs_f64(),
        LOST_TENTHS_MAX as f64 / 10.0
    );
    assert!(wrong.is_empty(), "{wrong:#?}");
    for class in Class::ALL {
        assert!(cases.get(&class).is_some_and(|cases| cases.len() >= 10), "{class:?} was hardly hit");
    }
    assert!(all >= 200);
}

#[test]
fn a_stack_overflow_is_a_fault() {
    let firmware = firmware();
    let mut desk = Desk::power_on(&firmware, &Life::new(DEVICE), 0b1, Cable::Test);
    desk.run_s(60.0);
    desk.drive(0);
    desk.run_s(2.0);
    let before = desk.status();
    assert_eq!(before.health.faults, 0);
    assert!(desk.overflow(), "the stack overflowed without a fault, or something else was overwritten");
    // The board has reset itself: the session is another, the totals are the same, the fault is counted.
    desk.run_s(5.0);
    let after = desk.status();
    assert_eq!(after.totals.on_tenths, before.totals.on_tenths);
    assert_eq!((after.health.faults, after.totals.session), (1, before.totals.session + 1));
    // It outlives the power.
    let mut desk = Desk::power_on(&firmware, &desk.cut(), 0, Cable::Test);
    desk.run_s(5.0);
    assert_eq!(desk.status().health.faults, 1);
}
