//! The RP2040 board hears the ship's time, in the emulator: a talker on its serial line, bit by bit at 4800 baud, and a truth that
//! neither of them can touch.
//!
//! Needs node, npm and a compiler for the board: `cargo xtask setup` installs them or says how.

use halfglass_protocol::config::Config;
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{Anchor, Motion, Record};
use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use halfglass_tests::pico::cable;
use halfglass_tests::pico::desk::{Desk, ERASE_MS, Port, Wanted, World};
use halfglass_tests::pico::log::{records, ship_anchors};
use std::path::{Path, PathBuf};
use xtask::firmware::Firmware;

/// The totals' place, and all stores: the table in `boards/README.md`.
const JOURNAL: (u32, u32) = (0x9_0000, 0xA_0000);
const STORES: (u32, u32) = (0x8_0000, 0xE_0000);

/// By so much the firmware's clock starts after power comes, at most: counted in the emulator, and far below a tenth.
const BOOT_MS: f64 = 5.0;

/// 4 July 2026, 20:15:00, in milliseconds since 1970.
const DAY_MS: f64 = 1_783_196_100_000.0;

/// How late after its `$` a talker's time may be by what it says (`firmware/src/sentence/trust.rs`), less the `$` itself.
const LATE_MAX_MS: f64 = 997.0;

fn firmware() -> PathBuf {
    Firmware::Pico.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build pico`): {fault:#}")
    })
}

/// A sentence with its check sum and its end.
fn sealed(content: &str) -> Vec<u8> {
    let sum = content.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${content}*{sum:02X}\r\n").into_bytes()
}

/// A ZDA that says this time, in whole seconds and hundredths.
fn zda(utc_ms: f64) -> Vec<u8> {
    let at = jiff::Timestamp::from_millisecond(utc_ms as i64).unwrap();
    assert_eq!(utc_ms % 10.0, 0.0, "hundredths");
    let hundredths = utc_ms as i64 % 1_000 / 10;
    sealed(&at.strftime(&format!("GPZDA,%H%M%S.{hundredths:02},%d,%m,%Y,00,00")).to_string())
}

/// A ship whose clock is right.
struct Ship {
    /// UTC when power came to the board.
    power_utc_ms: f64,
}

impl Ship {
    fn now_ms(&self, desk: &Desk) -> f64 {
        self.power_utc_ms + desk.powered_ns as f64 / 1e6
    }

    /// The truth lies within what the anchor says. `session_tenths`: the uptime before this session. How far off its middle is.
    fn hold(&self, anchor: &Anchor, session_tenths: u64) -> f64 {
        let truth_ms = self.power_utc_ms + (anchor.uptime_tenths - session_tenths) as f64 * 100.0;
        let off_ms = truth_ms - anchor.utc_ms as f64;
        let may_ms = f64::from(anchor.uncertainty_ms);
        assert!(
            -may_ms <= off_ms && off_ms + BOOT_MS <= may_ms,
            "off by {off_ms:.0} ms of {may_ms}: {anchor:?}"
        );
        off_ms
    }
}

/// A talker that is up to 0.7 s late, with position, speed and another's sentences between, is believed after ten seconds; the
/// built program pulls an anchor of the ship's that holds the truth.
#[test]
fn the_ships_time_comes_with_the_pull() {
    let mut random = fastrand::Rng::with_seed(20_261_126);
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    // Half a minute before this computer's now: a pull brings its clock along.
    let now_ms = jiff::Timestamp::now().as_millisecond() as f64;
    let ship = Ship { power_utc_ms: now_ms - 30_000.0 };
    desk.run_s(2.0);
    let first_ms = (ship.now_ms(&desk) / 1_000.0).ceil() * 1_000.0;
    for second in 0..20 {
        let utc_ms = first_ms + 1_000.0 * f64::from(second);
        let in_ms = utc_ms - ship.now_ms(&desk) + 700.0 * random.f64();
        let mut said = zda(utc_ms);
        said.extend(sealed("GPVTG,054.7,T,034.4,M,005.5,N,010.2,K"));
        said.extend(b"!AIVDM,1,1,,A,14eG,0*7D\r\n\xFF\x00");
        desk.talk(in_ms, &said);
    }
    desk.run_s(23.0);
    let place = Place::with_ship(SHIP);
    let _ = halfglass();
    cable::plugged(&mut desk, |port| place.ship(&["pull", "--port", port])).fine();
    let dump = place.files("ship/dumps").pop().expect("a dump");
    let log = place.run(&["show", "--json", &format!("ship/dumps/{dump}")]).fine().json();
    let sources: Vec<_> = log["anchors"].as_array().unwrap().iter().map(|anchor| &anchor["source"]).collect();
    assert_eq!(sources, ["ship's clock"], "{log}");
    let (anchors, session_tenths) = ship_anchors(&mut desk);
    let [anchor] = anchors.as_slice() else { panic!("one a day: {anchors:?}") };
    println!(
        "off by {:.0} ms, give or take {} ms: {anchor:?}",
        ship.hold(anchor, session_tenths),
        anchor.uncertainty_ms
    );
    assert_eq!(log["anchors"][0]["uncertainty_ms"], anchor.uncertainty_ms);
}

/// Twelve knots for a quarter of an hour, said once a minute, are a ship that makes way since the first of them; half an hour of
/// silence, and nobody knows.
#[test]
fn her_speed_becomes_her_way() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(10.0);
    let began_tenths = desk.powered_ns / 100_000_000;
    for minute in 0..15 {
        desk.talk(60_000.0 * f64::from(minute) + 1.0, &sealed("GPVTG,054.7,T,034.4,M,012.0,N,022.2,K"));
    }
    desk.run_s(15.0 * 60.0 + 30.0 * 60.0);
    let ways = records(&mut desk, Port::Usb).into_iter().filter_map(|record| match record {
        Record::Way { uptime_tenths, motion } => Some((motion, uptime_tenths - began_tenths)),
        _ => None,
    });
    let ways: Vec<(Motion, u64)> = ways.collect();
    let [(Motion::MakingWay, since), (Motion::NotKnown, until)] = ways.as_slice() else { panic!("{ways:?}") };
    // A sentence is 83 ms long, and the last begins after fourteen minutes.
    assert!(*since <= 2 && (8_400..=8_402).contains(until), "{ways:?}");
}

/// What is garbled, of another year, or jumps about is never believed; the same talker is as soon as it makes sense.
#[test]
fn what_makes_no_sense_gives_no_anchor() {
    let mut random = fastrand::Rng::with_seed(20_261_127);
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    let ship = Ship { power_utc_ms: DAY_MS };
    desk.run_s(3.0);
    let speak = |desk: &mut Desk, sentence: &mut dyn FnMut(f64, i32) -> Vec<u8>| {
        let first_ms = (ship.now_ms(desk) / 1_000.0).ceil() * 1_000.0;
        for second in 0..20 {
            let utc_ms = first_ms + 1_000.0 * f64::from(second);
            desk.talk(utc_ms - ship.now_ms(desk) + 300.0, &sentence(utc_ms, second));
        }
        desk.run_s(22.0);
        ship_anchors(desk).0
    };
    let mut garbled = |utc_ms: f64, _| {
        let mut text = zda(utc_ms);
        let at = random.usize(1..text.len() - 2);
        text[at] ^= 1 << random.u8(..7);
        text
    };
    // A receiver whose count of weeks has come round: 1,024 weeks.
    let mut old = |utc_ms: f64, _| zda(utc_ms - 1_024.0 * 7.0 * 86_400_000.0);
    let mut jumps = |utc_ms: f64, second| zda(utc_ms + if second % 4 == 0 { 3_600_000.0 } else { 0.0 });
    let mut stands = |_, _| zda(DAY_MS);
    let mut sound = |utc_ms: f64, _| zda(utc_ms);
    assert_eq!(speak(&mut desk, &mut garbled), [], "garbled");
    assert_eq!(speak(&mut desk, &mut old), [], "of another year");
    assert_eq!(speak(&mut desk, &mut jumps), [], "jumping by an hour");
    assert_eq!(speak(&mut desk, &mut stands), [], "standing");
    let anchors = speak(&mut desk, &mut sound);
    let [anchor] = anchors.as_slice() else { panic!("sound at last: {anchors:?}") };
    ship.hold(anchor, 0);
}

const ERASE: Wanted = Wanted { programs: false, erases: true, places: JOURNAL, skip: 0 };

/// When the board stands now, from power-up.
fn at_ms(desk: &Desk, power_ns: u64) -> f64 {
    (desk.powered_ns - power_ns) as f64 / 1e6
}

/// What the stores of a board hold whose first page of totals is full but for half a minute.
fn nearly_full(firmware: &Path) -> Vec<u8> {
    let desk = || {
        let mut desk = Desk::new(firmware);
        desk.power(&World::usual(DEVICE));
        desk.run_s(3.0);
        desk.button(true);
        let config = Config { heartbeat_s: 1, ..Config::as_in_guide() };
        assert!(desk.ask(&Request::SetConfig(config), |reply| reply == Reply::Done));
        desk.button(false);
        desk.drive(0b1);
        desk
    };
    let mut first = desk();
    assert!(first.run_to(ERASE, 1_500.0), "a page fills and the next is erased");
    let mut again = desk();
    let to_go_ms = (first.powered_ns - again.powered_ns) as f64 / 1e6 - 30_000.0;
    again.run_ms(to_go_ms);
    again.flash(STORES.0, STORES.1 - STORES.0)
}

/// A board with these stores, under power; and when power came, of its time under power.
fn with_stores(firmware: &Path, stores: &[u8], erase_ms: u32) -> (Desk, u64) {
    let world = World { erase_ms, levels: 0b1, ..World::usual(DEVICE) };
    let mut desk = Desk::new(firmware);
    desk.power(&world);
    desk.poke(STORES.0, stores);
    desk.power(&world);
    let power_ns = desk.powered_ns;
    (desk, power_ns)
}

/// The sentence that would be believed first falls into an erase. In a usual one its bytes wait in the chip and are stamped late, by
/// less than the anchor allows for; in the longest they are lost or thrown away, and the next sentence is believed. Whenever its `$`
/// comes, and however late the talker is, the anchor holds the truth.
#[test]
fn a_sentence_that_spans_an_erase_gives_no_wrong_anchor() {
    let firmware = firmware();
    let stores = nearly_full(&firmware);
    for erase_ms in [ERASE_MS.0, ERASE_MS.1] {
        let (mut desk, power_ns) = with_stores(&firmware, &stores, erase_ms);
        assert!(desk.run_to(ERASE, 60.0), "the next page is erased");
        let erase_at_ms = at_ms(&desk, power_ns);
        assert!(erase_at_ms > 14_000.0, "{erase_at_ms} ms leave no room for ten seconds of sentences");
        // When the sentence begins, from the erase's beginning, and how long its talker pauses behind the first letters: then the chip
        // does not run over, and nothing but the firmware knows that the `$` waited.
        let end_ms = f64::from(erase_ms);
        let all = [
            (-40.0, 0.0),
            (-5.0, 0.0),
            (1.0, 0.0),
            (end_ms - 40.0, 0.0),
            (-5.0, end_ms - 20.0),
            (1.0, end_ms - 20.0),
        ];
        for (begins_ms, pause_ms) in all {
            for late_ms in [0.0, LATE_MAX_MS] {
                let (mut desk, power_ns) = with_stores(&firmware, &stores, erase_ms);
                // The eleventh is the first that ten seconds of agreement stand behind. It says a whole second.
                let first_ms = erase_at_ms + begins_ms - 10_000.0;
                let ship = Ship { power_utc_ms: DAY_MS + late_ms - first_ms };
                for n in 0..14 {
                    let second_ms = 1_000.0 * f64::from(n);
                    let text = zda(DAY_MS + second_ms);
                    let (first, rest) = text.split_at(3);
                    desk.talk(first_ms + second_ms, first);
                    // Behind the first, if that is not through yet.
                    desk.talk(first_ms + second_ms + 0.1 + pause_ms, rest);
                }
                assert!(desk.run_to(ERASE, 60.0), "the erase");
                let shift_ms = at_ms(&desk, power_ns) - erase_at_ms;
                assert!(shift_ms.abs() < 1.0, "the erase comes {shift_ms} ms later than without a talker");
                desk.run_s(6.0);
                let (anchors, session_tenths) = ship_anchors(&mut desk);
                let what = format!(
                    "erase of {erase_ms} ms, `$` {begins_ms} ms from it, a pause of {pause_ms} ms, {late_ms} ms late"
                );
                let [anchor] = anchors.as_slice() else { panic!("{what}: {anchors:?}") };
                let off_ms = ship.hold(anchor, session_tenths);
                let from_erase_ms = (anchor.uptime_tenths - session_tenths) as f64 * 100.0 - erase_at_ms;
                println!("{what}: off by {off_ms:.0} ms, {from_erase_ms:.0} ms from the erase");
                // In a long erase only a sentence that was stamped before it would be whole, and none is.
                assert_eq!(
                    from_erase_ms < 700.0,
                    erase_ms == ERASE_MS.0,
                    "{what}: {from_erase_ms} ms from the erase"
                );
            }
        }
    }
}
