//! The pieces the wire is built from, held against values from outside the project.
//!
//! Sources: the postcard wire-format specification (postcard.jamesmunns.com, "varint" and "Maximum Encoded
//! Length"); the catalogue of parametrised CRC algorithms (reveng.sourceforge.io, CRC-32/ISO-HDLC);
//! Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), 1999,
//! and the example set of the Python package `cobs` 1.2.2.

use halfglass_protocol::message::Refusal;
use halfglass_protocol::{crc32, message, record::Record};

/// Refusal::Wait carries the only bare u16 of the wire: discriminant 2, then the varint.
fn varint_u16(value: u16) -> Vec<u8> {
    let mut out = [0; 8];
    let wait = Refusal::Wait { seconds: value };
    let bytes = message::encode(0, &wait, &mut out).expect("a refusal fits eight bytes");
    assert_eq!(bytes[..2], [0, 2], "tag 0, then the discriminant of Wait");
    bytes[2..].to_vec()
}

/// What a u16's bytes decode to, if they are allowed.
fn u16_of(varint: &[u8]) -> Option<u16> {
    let body = [&[0, 2], varint].concat();
    match message::decode(&body) {
        Some((0, Some(Refusal::Wait { seconds }))) => Some(seconds),
        _ => None,
    }
}

/// Specification, table of u16 examples (checks K8).
#[test]
fn varint_of_a_u16() {
    let table: [(u16, &[u8]); 7] = [
        (0, &[0x00]),
        (127, &[0x7F]),
        (128, &[0x80, 0x01]),
        (16_383, &[0xFF, 0x7F]),
        (16_384, &[0x80, 0x80, 0x01]),
        (16_385, &[0x81, 0x80, 0x01]),
        (65_535, &[0xFF, 0xFF, 0x03]),
    ];
    for (value, bytes) in table {
        assert_eq!(varint_u16(value), bytes, "{value}");
        assert_eq!(u16_of(bytes), Some(value), "{bytes:02x?}");
    }
}

/// Specification, "Maximum Encoded Length" and "Canonicalization" (checks K10): at most 3 bytes for a u16, nothing beyond its
/// 16 bits, but a longer spelling of a small number is let through.
#[test]
fn varint_limits() {
    assert_eq!(u16_of(&[0x80, 0x80, 0x80, 0x00]), None, "four bytes");
    assert_eq!(u16_of(&[0xFF, 0xFF, 0x07]), None, "bits beyond 16");
    assert_eq!(u16_of(&[0x80, 0x00]), Some(0), "zero spelt long");
    assert_eq!(u16_of(&[0x80]), None, "cut short");
    assert_eq!(u16_of(&[]), None, "nothing");
}

/// Specification, "Maximum Encoded Length" (checks K10): 5 bytes for a u32.
#[test]
fn varint_of_a_u32() {
    let skipped = |varint: &[u8]| match Record::decode(&[&[6], varint].concat()) {
        Some(Record::RunsSkipped { runs }) => Some(runs),
        _ => None,
    };
    assert_eq!(skipped(&[0xFF, 0xFF, 0xFF, 0xFF, 0x0F]), Some(u32::MAX));
    assert_eq!(skipped(&[0xFF, 0xFF, 0xFF, 0xFF, 0x1F]), None, "bits beyond 32");
    assert_eq!(skipped(&[0x80, 0x80, 0x80, 0x80, 0x80, 0x00]), None, "six bytes");
    let mut out = [0; 8];
    let longest = Record::RunsSkipped { runs: u32::MAX };
    assert_eq!(longest.encode(&mut out), Some(&[6, 0xFF, 0xFF, 0xFF, 0xFF, 0x0F][..]));
}

/// Specification, "Maximum Encoded Length" (checks K10): 10 bytes for a u64.
#[test]
fn varint_of_a_u64() {
    let coalesced = |varint: &[u8]| match Record::decode(&[&[5], varint, &[0]].concat()) {
        Some(Record::Coalesced { uptime_tenths, lines: 0 }) => Some(uptime_tenths),
        _ => None,
    };
    let longest = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x01];
    let beyond = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x03];
    assert_eq!(coalesced(&longest), Some(u64::MAX));
    assert_eq!(coalesced(&beyond), None, "bits beyond 64");
    let mut out = [0; 16];
    let bytes = Record::Coalesced { uptime_tenths: u64::MAX, lines: 0 }.encode(&mut out).expect("fits");
    assert_eq!(bytes, [&[5][..], &longest, &[0]].concat());
}

/// Specification, "bool": 0 or 1, nothing else.
#[test]
fn a_bool_is_zero_or_one() {
    // Session 1 at uptime 0, power, nothing found on, nothing lost, usb_only last.
    let session = |usb_only: u8| Record::decode(&[2, 1, 0, 0, 0, 0, usb_only]).is_some();
    assert!(session(0));
    assert!(session(1));
    assert!(!session(2));
}

/// The catalogue's check value (checks K1), and Python zlib's for the empty string and four zeros.
#[test]
fn crc_32_iso_hdlc() {
    assert_eq!(crc32::of(b"123456789"), 0xCBF4_3926);
    assert_eq!(crc32::of(b""), 0);
    assert_eq!(crc32::of(&[0; 4]), 0x2144_DF1C);
}

fn cobs_of(plain: &[u8]) -> Vec<u8> {
    let mut out = vec![0; cobs::max_encoding_length(plain.len())];
    let used = cobs::try_encode(plain, &mut out).expect("the buffer is as long as the crate asks for");
    out.truncate(used);
    out
}

fn assert_cobs(plain: &[u8], coded: &[u8]) {
    assert_eq!(cobs_of(plain), coded, "coding {plain:02x?}");
    let mut bytes = coded.to_vec();
    let len = cobs::decode_in_place(&mut bytes).expect("an example from the source");
    assert_eq!(&bytes[..len], plain, "decoding {coded:02x?}");
}

/// Short examples (checks K5; Python `cobs` 1.2.2).
#[test]
fn cobs_short() {
    assert_cobs(&[0x00], &[0x01, 0x01]);
    assert_cobs(&[0x00, 0x00], &[0x01, 0x01, 0x01]);
    assert_cobs(&[0x00, 0x11, 0x00], &[0x01, 0x02, 0x11, 0x01]);
    assert_cobs(&[0x11, 0x22, 0x00, 0x33], &[0x03, 0x11, 0x22, 0x02, 0x33]);
    assert_cobs(&[0x11, 0x22, 0x33, 0x44], &[0x05, 0x11, 0x22, 0x33, 0x44]);
    assert_cobs(&[0x11, 0x00, 0x00, 0x00], &[0x02, 0x11, 0x01, 0x01, 0x01]);
}

/// Around the 254-byte block (checks K6; Python `cobs` 1.2.2). A frame's content may be longer than a block.
#[test]
fn cobs_long() {
    let run = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
    assert_cobs(&run(0x01, 0xFE), &[&[0xFF][..], &run(0x01, 0xFE)].concat());
    assert_cobs(&run(0x00, 0xFE), &[&[0x01, 0xFF][..], &run(0x01, 0xFE)].concat());
    assert_cobs(&run(0x01, 0xFF), &[&[0xFF][..], &run(0x01, 0xFE), &[0x02, 0xFF]].concat());
    assert_cobs(
        &[&run(0x02, 0xFF)[..], &[0x00]].concat(),
        &[&[0xFF][..], &run(0x02, 0xFF), &[0x01, 0x01]].concat(),
    );
    assert_cobs(
        &[&run(0x03, 0xFF)[..], &[0x00, 0x01]].concat(),
        &[&[0xFE][..], &run(0x03, 0xFF), &[0x02, 0x01]].concat(),
    );
}

/// The packet header of Cheshire and Baker's example (checks K7).
#[test]
fn cobs_packet() {
    assert_cobs(
        &[0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37],
        &[0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37],
    );
}
