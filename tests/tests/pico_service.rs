//! The RP2040 board's two ports at once, in the emulator: the USB plug and the service port on a serial line.
//!
//! Needs node, npm and a compiler for the board: `cargo xtask setup` installs them or says how.

use halfglass_protocol::config::Config;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Refusal, Reply, Request};
use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use halfglass_tests::pico::cable::plugged_at;
use halfglass_tests::pico::desk::{Desk, Port, World};
use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::scope;
use std::time::{Duration, Instant};
use xtask::firmware::Firmware;
use xtask::sizes;

const PORTS: [Port; 2] = [Port::Usb, Port::Service];

fn firmware() -> PathBuf {
    Firmware::Pico.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build pico`): {fault:#}")
    })
}

/// A board with something in its log: a session's start, the runs of a supply that comes and goes, and configurations.
fn logged() -> Desk {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    let script: Vec<(f64, u8)> =
        (0..60).map(|n| (f64::from(n) * 20_000.0, if n % 2 == 0 { 0b11 } else { 0 })).collect();
    desk.follow(&script, 1_210_000.0);
    desk.button(true);
    for idle_s in 600..640 {
        let config = Config { idle_s, ..Config::as_in_guide() };
        assert!(desk.ask(&Request::SetConfig(config), |reply| reply == Reply::Done));
    }
    desk.button(false);
    desk
}

/// The dump that a pull brought into this place.
fn dump(place: &Place) -> Vec<u8> {
    let names = place.files("ship/dumps");
    let [name] = names.as_slice() else { panic!("one dump is to be there: {names:?}") };
    std::fs::read(place.path("ship/dumps").join(name)).unwrap()
}

/// Two computers, one at each port, pull the whole log at the same time. Both get the same, byte by byte.
#[test]
fn two_hosts_pull_at_once() {
    let mut desk = logged();
    let places = [Place::with_ship(SHIP), Place::with_ship(SHIP)];
    let _ = halfglass();
    let began = Instant::now();
    // From when to when each ran: they are to overlap.
    let spans = plugged_at(&mut desk, PORTS, |ports| {
        scope(|threads| {
            let pulls = [0, 1].map(|n| {
                let (place, port) = (&places[n], ports[n]);
                threads.spawn(move || {
                    let from = began.elapsed();
                    place.ship(&["pull", "--port", port]).fine();
                    (from, began.elapsed())
                })
            });
            pulls.map(|pull| pull.join().expect("a pull"))
        })
    });
    println!("pulled from and to: {spans:.1?}");
    assert!(spans[0].0 < spans[1].1 && spans[1].0 < spans[0].1, "at once: {spans:?}");
    let [by_usb, by_wire] = places.each_ref().map(dump);
    assert_eq!(by_usb, by_wire);
    println!("{} bytes each", by_usb.len());
    // Thirty runs and forty configurations, each a record, in replies of 240 bytes at most.
    assert!(by_usb.len() > 2_000, "{} bytes are no log to speak of", by_usb.len());

    let stack = desk.stack_high_water();
    let (_, statics) = sizes::of_image(&firmware()).unwrap();
    let most = sizes::budgets().unwrap()["pico"].ram_bytes_max;
    println!("static RAM {statics} B + stack {stack} B of {most} B");
    assert!(statics + stack <= most);
}

/// Noise at one port, now and then with whole frames' delimiters in it, while a computer pulls at the other, and the other way
/// round: the pull does not notice.
#[test]
fn garbage_at_one_port_leaves_the_other_alone() {
    let mut desk = logged();
    let _ = halfglass();
    let mut dumps = Vec::new();
    for quiet in [0, 1] {
        let place = Place::with_ship(SHIP);
        let done = AtomicBool::new(false);
        let sent = plugged_at(&mut desk, PORTS, |ports| {
            scope(|threads| {
                let noise = threads.spawn(|| {
                    let mut random = fastrand::Rng::with_seed(7);
                    let mut port = std::fs::OpenOptions::new().write(true).open(ports[1 - quiet]).unwrap();
                    let mut sent = 0;
                    while !done.load(Ordering::Relaxed) {
                        let bytes: Vec<u8> =
                            (0..64).map(|_| if random.u8(..8) == 0 { 0 } else { random.u8(..) }).collect();
                        port.write_all(&bytes).unwrap();
                        sent += bytes.len();
                        std::thread::sleep(Duration::from_millis(20));
                    }
                    sent
                });
                let pull = place.ship(&["pull", "--port", ports[quiet]]);
                done.store(true, Ordering::Relaxed);
                pull.fine();
                noise.join().expect("noise")
            })
        });
        println!("{sent} bytes of noise at {:?}", PORTS[1 - quiet]);
        assert!(sent > 500, "{sent} bytes are hardly noise");
        dumps.push(dump(&place));
        // The clock may be set again, and the next range begins where the history stands then.
        desk.run_s(61.0);
    }
    // What the second pull brought begins with what the first did.
    let records = |dump: &[u8]| {
        let dump = halfglass_protocol::dump::Dump::read(dump).expect("a sound dump");
        dump.raw_records().map(|(index, record)| (index, record.to_vec())).collect::<Vec<_>>()
    };
    let (first, second) = (records(&dumps[0]), records(&dumps[1]));
    assert!(first.len() > 30 && second.starts_with(&first), "{} and {}", first.len(), second.len());
    // And the noisy port is no worse for it.
    assert!(desk.ask_at(Port::Service, &Request::Status, |reply| matches!(reply, Reply::Status(_))));
}

/// The button counts at either port, and nowhere without it.
#[test]
fn the_button_counts_at_both_ports() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    for (port, idle_s) in [(Port::Service, 700), (Port::Usb, 800)] {
        let config = Config { idle_s, ..Config::as_in_guide() };
        let set = |desk: &mut Desk| {
            desk.ask_at(port, &Request::SetConfig(config), |reply| match reply {
                Reply::Done => true,
                Reply::Refused(Refusal::HoldButton) => false,
                other => panic!("{other:?}"),
            })
        };
        assert!(!set(&mut desk), "{port:?} without the button");
        desk.button(true);
        assert!(set(&mut desk), "{port:?} with it");
        desk.button(false);
        for port in PORTS {
            let found = desk.ask_at(port, &Request::Config, |reply| match reply {
                Reply::Config(config) => config,
                other => panic!("{other:?}"),
            });
            assert_eq!(found, config);
        }
    }
}

/// A request with its frame.
fn framed(tag: u8, request: &Request) -> Vec<u8> {
    let (mut body, mut bytes) = ([0; frame::BODY_MAX], [0; FRAME_MAX]);
    let body = message::encode(tag, request, &mut body).unwrap();
    frame::encode(Channel::Request, body, &mut bytes).unwrap().to_vec()
}

/// Tags of the replies that come at a port within so many milliseconds.
fn replies(desk: &mut Desk, port: Port, ms: u32) -> Vec<u8> {
    let mut decoder = Decoder::<FRAME_MAX>::new();
    let mut tags = Vec::new();
    for _ in 0..ms {
        desk.run_ms(1.0);
        for byte in desk.take_from(port) {
            if let Some((Channel::Reply, body)) = decoder.push(byte) {
                tags.push(body[0]);
            }
        }
    }
    tags
}

/// Half a request at one port, a whole one at the other, the other half: both are answered, each where it was asked.
#[test]
fn frames_at_two_ports_do_not_mix() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(3.0);
    for (one, other) in [(Port::Usb, Port::Service), (Port::Service, Port::Usb)] {
        let (first, second) = (framed(1, &Request::Status), framed(2, &Request::Config));
        let (begin, end) = first.split_at(first.len() / 2);
        desk.send_to(one, begin);
        desk.run_ms(5.0);
        desk.send_to(other, &second);
        assert_eq!(replies(&mut desk, other, 20), [2], "{other:?} while half a frame waits at {one:?}");
        desk.send_to(one, end);
        assert_eq!(replies(&mut desk, one, 20), [1], "{one:?}");
        assert!(desk.take_from(other).is_empty(), "{other:?} hears what {one:?} asked");
    }
}

/// Asked over the serial line alone, in the middle of a long sleep: the answer comes as fast as the line is, and requests that
/// come one behind the other are all answered.
#[test]
fn a_byte_on_the_line_ends_the_sleep() {
    let mut desk = Desk::new(&firmware());
    desk.power(&World::usual(DEVICE));
    desk.run_s(4.5);
    let asked: Vec<u8> = (1..=3).flat_map(|tag| framed(tag, &Request::Status)).collect();
    desk.send_to(Port::Service, &asked);
    // 87 us a byte both ways; a reply has about 90.
    assert_eq!(replies(&mut desk, Port::Service, 40), [1, 2, 3]);
}
