//! Dumps: the layout as literal bytes, and that nothing but a whole and untouched dump is ever accepted.

use halfglass_protocol::config::Config;
use halfglass_protocol::crc32;
use halfglass_protocol::dump::{Dump, Fault, HEADER_LEN, Header, Writer};
use halfglass_protocol::record::{
    Anchor, Cause, ClockSource, Damage, Motion, RECORD_MAX, Record, Run, Session, Span, Totals,
};
use proptest::prelude::*;

const HEADER: Header =
    Header { device_id: 0x3f9c_11d2_a07b_e458, firmware_version: [0, 1, 0], lines: 8, from: 40, to: 43 };

/// A small dump, written by Python (`struct`, `zlib.crc32`): two runs skipped, a lost record, a lost configuration.
const SMALL: [u8; 44] = [
    b'H', b'A', b'L', b'F', b'G', b'L', b'S', 1, // magic and format version
    0x58, 0xe4, 0x7b, 0xa0, 0xd2, 0x11, 0x9c, 0x3f, // device
    0, 1, 0, 8, // firmware 0.1.0, eight inputs
    40, 0, 0, 0, 43, 0, 0, 0, // from, to
    2, 6, 3, // record 40
    0, // record 41, lost
    2, 7, 3, // record 42
    0xff, 3, 0, 0, 0, // end, three records
    0xb1, 0xe7, 0xf9, 0xdf, // CRC-32
];

/// No records at all, from the same Python.
const EMPTY: [u8; 37] = [
    b'H', b'A', b'L', b'F', b'G', b'L', b'S', 1, 0x58, 0xe4, 0x7b, 0xa0, 0xd2, 0x11, 0x9c, 0x3f, 0, 1, 0, 8,
    40, 0, 0, 0, 40, 0, 0, 0, 0xff, 0, 0, 0, 0, 0x39, 0xeb, 0x78, 0xd8,
];

fn written(header: &Header, records: &[&[u8]]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut writer = Writer::new(header, |piece: &[u8]| bytes.extend_from_slice(piece));
    for record in records {
        writer.record(record);
    }
    writer.finish();
    bytes
}

/// A dump with every kind of record in it, and its records.
fn mixed() -> (Vec<u8>, Vec<Option<Record>>) {
    let totals = Totals {
        uptime_tenths: u64::MAX,
        on_tenths: [u64::MAX; 8],
        starts: [u32::MAX; 8],
        drop_outs: [u32::MAX; 2],
        short_warm_ups: [u32::MAX; 2],
        session: u32::MAX,
    };
    let session = Session {
        session: 3,
        uptime_tenths: 864_000,
        cause: Cause::Power,
        found_on: 1,
        lost_max_tenths: 100,
        usb_only: false,
    };
    let anchor = Anchor {
        session: 3,
        uptime_tenths: 864_010,
        utc_ms: 1_767_225_600_000,
        uncertainty_ms: 500,
        source: ClockSource::Host,
    };
    let records = vec![
        Some(Record::Base(totals)),
        Some(Record::Span(Span { uptime_tenths: 864_000, ..Span::default() })),
        Some(Record::Session(session)),
        None,
        Some(Record::Anchor(anchor)),
        Some(Record::Run(Run { line: 4, from_tenths: 12, on_tenths: 345_678 })),
        Some(Record::Coalesced { uptime_tenths: 864_020, lines: 4 }),
        Some(Record::RunsSkipped { runs: 9 }),
        Some(Record::Damage(Damage::WordsLost { words: 2 })),
        Some(Record::Config(Config::as_in_guide())),
        Some(Record::Way { uptime_tenths: 870_000, motion: Motion::MakingWay }),
    ];
    let header = Header { from: 300, to: 300 + records.len() as u32, ..HEADER };
    let coded: Vec<Vec<u8>> = records.iter().map(coded).collect();
    (written(&header, &coded.iter().map(Vec::as_slice).collect::<Vec<_>>()), records)
}

/// A record's bytes; a lost one has none.
fn coded(record: &Option<Record>) -> Vec<u8> {
    let mut out = [0; RECORD_MAX];
    record
        .map(|record| record.encode(&mut out).expect("RECORD_MAX always suffices").to_vec())
        .unwrap_or_default()
}

/// Puts the right check sum under changed bytes: what a faulty or newer program would have written.
fn rechecked(mut bytes: Vec<u8>) -> Vec<u8> {
    let end = bytes.len() - 4;
    let check = crc32::of(&bytes[..end]).to_le_bytes();
    bytes[end..].copy_from_slice(&check);
    bytes
}

#[test]
fn layout() {
    assert_eq!(written(&HEADER, &[&[6, 3], &[], &[7, 3]]), SMALL);
    assert_eq!(written(&Header { to: 40, ..HEADER }, &[]), EMPTY);
}

#[test]
fn what_was_written_is_read() {
    let dump = Dump::read(&SMALL).expect("sound");
    assert_eq!(dump.header, HEADER);
    let skipped = Record::RunsSkipped { runs: 3 };
    let lost = Record::Damage(Damage::ConfigLost);
    let expected = [(40, Some(skipped)), (41, None), (42, Some(lost))];
    assert_eq!(dump.records().collect::<Vec<_>>(), expected);
    assert_eq!(dump.raw_records().collect::<Vec<_>>(), [(40, &[6, 3][..]), (41, &[]), (42, &[7, 3])]);

    let empty = Dump::read(&EMPTY).expect("sound");
    assert_eq!((empty.header.from, empty.header.to, empty.records().count()), (40, 40, 0));

    let (bytes, records) = mixed();
    let dump = Dump::read(&bytes).expect("sound");
    assert_eq!(dump.records().collect::<Vec<_>>(), (300..).zip(records).collect::<Vec<_>>());
}

/// A dump cut short anywhere is refused as cut short, and says how far it got.
#[test]
fn every_truncation_is_named() {
    for whole in [SMALL.to_vec(), EMPTY.to_vec(), mixed().0] {
        assert_eq!(Dump::read(&[]).err(), Some(Fault::NotADump));
        let mut seen_before = 0;
        for len in 1..whole.len() {
            match Dump::read(&whole[..len]) {
                Err(Fault::Truncated { len: said, records, of }) => {
                    assert_eq!(said, len);
                    assert!(records >= seen_before && records <= of, "{records} of {of} at {len}");
                    if len >= HEADER_LEN {
                        assert_eq!(of, u32::from(whole[24]) - u32::from(whole[20]));
                    }
                    seen_before = records;
                }
                other => panic!("{len} of {} bytes gave {other:?}", whole.len()),
            }
        }
    }
}

/// Every byte set to every other value: never accepted, and called what it is.
#[test]
fn every_changed_byte_is_refused() {
    for whole in [SMALL.to_vec(), EMPTY.to_vec(), mixed().0] {
        for at in 0..whole.len() {
            for change in 1..=255 {
                let mut bytes = whole.clone();
                bytes[at] ^= change;
                let expected = match at {
                    0..7 => Fault::NotADump,
                    7 => Fault::Version(bytes[7]),
                    _ => Fault::Check,
                };
                let got = Dump::read(&bytes).err();
                assert_eq!(got, Some(expected), "byte {at} changed by {change:02x}");
            }
        }
    }
}

#[test]
fn bytes_after_the_end_are_refused() {
    for whole in [SMALL.to_vec(), EMPTY.to_vec(), mixed().0] {
        for rest in [&[0][..], &[0xFF], &whole, b"\r\n"] {
            let bytes = [&whole, rest].concat();
            assert_eq!(Dump::read(&bytes).err(), Some(Fault::Rest { bytes: rest.len() }));
        }
    }
}

#[test]
fn what_is_no_dump_is_said_to_be_none() {
    for bytes in
        [&b"SQLite format 3\0"[..], b"{\"version\":1}", b"at,line,on\n", &[0], &[0xFF; 100], b"HALFGLX"]
    {
        assert_eq!(Dump::read(bytes).err(), Some(Fault::NotADump));
    }
    assert_eq!(Dump::read(b"HALFGLS\x02 of a later format").err(), Some(Fault::Version(2)));
}

/// The sum is right but the content is not: a record of a later version, or a program with a fault.
#[test]
fn sense_is_checked_too() {
    // Kinds are only ever added: one that is not known yet is passed over, and the others are still read.
    let later = written(&HEADER, &[&[6, 3], &[Record::KINDS, 1, 2], &[6, 4]]);
    let read: Vec<_> = Dump::read(&later).expect("a later record is no fault").records().collect();
    assert!(matches!(read[..], [(40, Some(_)), (41, None), (42, Some(_))]), "{read:?}");
    let nonsense = written(&HEADER, &[&[6, 3], &[200, 1], &[7, 3]]);
    assert_eq!(Dump::read(&nonsense).err(), Some(Fault::Record { index: 41 }));
    let with_a_rest = written(&HEADER, &[&[6, 3], &[], &[7, 3, 0]]);
    assert_eq!(Dump::read(&with_a_rest).err(), Some(Fault::Record { index: 42 }));

    let too_few = written(&HEADER, &[&[6, 3], &[7, 3]]);
    assert_eq!(Dump::read(&too_few).err(), Some(Fault::Record { index: 42 }), "promised three, wrote two");
    let too_many = written(&HEADER, &[&[6, 3], &[], &[7, 3], &[7, 3]]);
    assert!(Dump::read(&too_many).is_err(), "promised three, wrote four");
    let backwards = written(&Header { from: 43, to: 40, ..HEADER }, &[]);
    assert_eq!(Dump::read(&backwards).err(), Some(Fault::Record { index: 43 }), "ends before it begins");

    let mut other_mark = SMALL.to_vec();
    other_mark[35] = 0xFE;
    assert_eq!(Dump::read(&rechecked(other_mark)).err(), Some(Fault::Record { index: 43 }));
    let mut other_count = SMALL.to_vec();
    other_count[36] = 4;
    assert_eq!(Dump::read(&rechecked(other_count)).err(), Some(Fault::Record { index: 43 }));
}

/// What is longer than any record was never one: it is written as lost.
#[test]
fn an_overlong_record_is_written_as_lost() {
    let header = Header { to: 41, ..HEADER };
    for len in [RECORD_MAX + 1, 255, 256, 1000] {
        let bytes = written(&header, &[&vec![0; len]]);
        let dump = Dump::read(&bytes).expect("sound");
        assert_eq!(dump.records().collect::<Vec<_>>(), [(40, None)]);
    }
}

proptest! {
    /// Whatever stands in a file, reading it does not panic.
    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        prop_assert!(Dump::read(&bytes).is_err());
    }

    /// The same behind a true header, where the walk over the records begins.
    #[test]
    fn any_bytes_behind_a_header(
        from in any::<u32>(),
        to in any::<u32>(),
        body in prop::collection::vec(any::<u8>(), 0..600),
    ) {
        let mut bytes = written(&Header { from, to, ..HEADER }, &[]);
        bytes.truncate(HEADER_LEN);
        bytes.extend_from_slice(&body);
        let _ = Dump::read(&bytes);
        if bytes.len() > HEADER_LEN + 4
            && let Ok(dump) = Dump::read(&rechecked(bytes))
        {
            prop_assert_eq!(dump.records().count() as u32, to - from);
        }
    }

    /// A piece taken out of the middle is not missed.
    #[test]
    fn a_piece_missing(from in 0usize..400, len in 1usize..400) {
        let (mut bytes, _) = mixed();
        let from = from % bytes.len();
        let to = (from + len).min(bytes.len());
        bytes.drain(from..to);
        prop_assert!(Dump::read(&bytes).is_err());
    }
}
