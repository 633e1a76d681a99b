//! What a debug probe reads from the board's memory, decoded by the library that log viewers are made of.
//!
//! The layout of the channel in memory is SEGGER's RTT (real-time transfer): 16 bytes of name, the number of channels up and
//! down, and for each channel up its name, its buffer's address and size, where writing and where reading stand, and flags.

use defmt_decoder::{DecodeError, Table};
use halfglass_protocol::config::Config;
use halfglass_protocol::message::{Refusal, Reply, Request};
use halfglass_protocol::record::ClockSource;
use halfglass_tests::command::DEVICE;
use halfglass_tests::pico;
use halfglass_tests::pico::desk::{Wires, World};
use halfglass_tests::qemu::desk::Desk;
use halfglass_tests::qemu::life::Life;
use halfglass_tests::qemu::machine::Cable;
use object::{Object, ObjectSymbol};
use std::path::PathBuf;
use xtask::firmware::Firmware;

/// The log so far. Nothing takes it away, so the buffer must not have come round. `read` reads the board's memory: where, and how
/// many bytes.
fn log(elf: &[u8], mut read: impl FnMut(u32, u32) -> Vec<u8>) -> Vec<String> {
    let file = object::File::parse(elf).unwrap();
    let symbol = file.symbols().find(|symbol| symbol.name() == Ok("_SEGGER_RTT"));
    let block = symbol.expect("the image has a channel").address() as u32;
    let head = read(block, 44);
    assert_eq!(&head[..10], b"SEGGER RTT");
    let word = |at: usize| u32::from_le_bytes(head[at..at + 4].try_into().unwrap());
    let (buffer, size, written) = (word(28), word(32), word(36));
    assert!(written < size, "{written} of {size} bytes");
    let bytes = read(buffer, written);

    let table = Table::parse(elf).unwrap().expect("the image has log lines");
    let mut decoder = table.new_stream_decoder();
    decoder.received(&bytes);
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => {
                let level = frame.level().map_or("", |level| level.as_str());
                lines.push(format!("{level}: {}", frame.display_message()));
            }
            Err(DecodeError::UnexpectedEof) => return lines,
            Err(DecodeError::Malformed) => panic!("a line that cannot be read after {lines:#?}"),
        }
    }
}

fn talking(board: Firmware) -> (PathBuf, Vec<u8>) {
    let image = board.build_talking().unwrap_or_else(|fault| {
        let name = board.name();
        panic!("the firmware that talks does not build (run `cargo xtask build {name} --log`): {fault:#}")
    });
    let elf = std::fs::read(&image).unwrap();
    (image, elf)
}

#[test]
fn the_microbit_tells_a_probe_what_it_does() {
    let (image, elf) = talking(Firmware::Microbit);

    let mut desk = Desk::power_on(&image, &Life::new(1), 0b11, Cable::Test);
    desk.run_s(5.0);
    let refused = desk.ask(&Request::SetConfig(Config::as_in_guide()), |reply| {
        matches!(reply, Reply::Refused(Refusal::HoldButton))
    });
    assert!(refused);
    assert_eq!(
        log(&elf, |at, length| desk.machine.qtest.read(at, length as usize)),
        [
            "info: mounted: totals on page 0, turned 0 times, 0 words lost; history from record 0 to 0",
            "info: session 1 begins after 0 tenths of uptime, lines 00000011",
            "warn: configuration refused: the button is not held",
        ]
    );

    // The second power-up goes on from what the first left.
    let life = desk.cut();
    let mut desk = Desk::power_on(&image, &life, 0, Cable::Test);
    desk.run_s(5.0);
    let lines = log(&elf, |at, length| desk.machine.qtest.read(at, length as usize));
    assert_eq!(lines.len(), 2, "{lines:#?}");
    assert!(lines[1].starts_with("info: session 2 begins after "), "{lines:#?}");
}

#[test]
fn the_pico_tells_a_probe_what_it_does() {
    let (image, elf) = talking(Firmware::Pico);
    let mut desk = pico::desk::Desk::new(&image);
    desk.power(&World { levels: 0b11, wires: Wires::Sound, ..World::usual(DEVICE) });
    desk.run_s(5.0);
    let refused = desk.ask(&Request::SetConfig(Config::as_in_guide()), |reply| {
        matches!(reply, Reply::Refused(Refusal::HoldButton))
    });
    assert!(refused);
    let anchor =
        Request::Anchor { utc_ms: 1_803_888_000_000, uncertainty_ms: 1_000, source: ClockSource::Host };
    assert!(desk.ask(&anchor, |reply| matches!(reply, Reply::Anchored { .. })));
    desk.run_s(1.0);
    assert_eq!(
        log(&elf, |at, length| desk.ram(at, length)),
        [
            "info: mounted: totals on page 0, turned 0 times, 0 words lost; history from record 0 to 0",
            "info: session 1 begins after 0 tenths of uptime, lines 00000011",
            "info: battery clock read, an anchor: false",
            "warn: configuration refused: the button is not held",
            "info: battery clock set to 1803888000 s since 1970",
        ]
    );
}
