//! Every variant that may cross the wire or stand in a dump, as literal bytes.
//!
//! A failing test here means that loggers and hosts of different ages no longer understand each other: put the
//! old shape back and append a new variant. The bytes were written by hand from the postcard wire-format
//! specification (a discriminant is a varint u32, an array or struct is its parts, a slice is its length first)
//! and never copied from this program's output. The matches without a `_` arm make a new variant fail to
//! compile until it has its line here.

use halfglass_protocol::config::{Config, ConfigFault, Kind, Line, Role};
use halfglass_protocol::message::{self, Health, Refusal, Reply, Request, Status};
use halfglass_protocol::record::{
    Anchor, Cause, ClockSource, Damage, Motion, Record, Run, Session, Span, Totals,
};
use serde::{Deserialize, Serialize};
use std::fmt::Debug;

/// Holds one value against its bytes, both ways.
#[track_caller]
fn pin<T: Serialize + for<'a> Deserialize<'a> + PartialEq + Debug>(value: &T, bytes: &[u8]) {
    let mut out = [0; 256];
    let used = message::to_slice(value, &mut out).expect("fits");
    assert_eq!(&out[..used], bytes, "coding {value:?}");
    assert_eq!(message::from_slice::<T>(bytes).as_ref(), Some(value), "decoding {bytes:02x?}");
    assert_eq!(message::from_slice::<T>(&[bytes, &[0]].concat()), None, "a rest behind {value:?}");
    assert_eq!(message::to_slice(value, &mut out[..used - 1]), None, "a byte too little for {value:?}");
}

/// The same for a record, through the crate's own door.
#[track_caller]
fn pin_record(record: &Record, bytes: &[u8]) {
    let discriminant = match record {
        Record::Base(_) => 0,
        Record::Span(_) => 1,
        Record::Session(_) => 2,
        Record::Anchor(_) => 3,
        Record::Run(_) => 4,
        Record::Coalesced { .. } => 5,
        Record::RunsSkipped { .. } => 6,
        Record::Damage(_) => 7,
        Record::Config(_) => 8,
        Record::Way { .. } => 9,
    };
    assert_eq!(bytes[0], discriminant);
    let mut out = [0; 256];
    assert_eq!(record.encode(&mut out), Some(bytes), "coding {record:?}");
    assert_eq!(Record::decode(bytes).as_ref(), Some(record), "decoding {bytes:02x?}");
}

/// The same for a request behind tag 0xA5.
#[track_caller]
fn pin_request(request: &Request, bytes: &[u8]) {
    let discriminant = match request {
        Request::Status => 0,
        Request::Config => 1,
        Request::Anchor { .. } => 2,
        Request::Fix { .. } => 3,
        Request::Read { .. } => 4,
        Request::SetConfig(_) => 5,
    };
    assert_eq!(bytes[0], discriminant);
    assert!(discriminant < message::REQUESTS, "REQUESTS counts the variants");
    let body = [&[0xA5], bytes].concat();
    let mut out = [0; 256];
    assert_eq!(message::encode(0xA5, request, &mut out), Some(&body[..]), "coding {request:?}");
    assert_eq!(message::decode(&body), Some((0xA5, Some(*request))), "decoding {body:02x?}");
}

/// The same for a reply.
#[track_caller]
fn pin_reply(reply: &Reply<'_>, bytes: &[u8]) {
    let discriminant = match reply {
        Reply::Refused(_) => 0,
        Reply::Status(_) => 1,
        Reply::Config(_) => 2,
        Reply::Anchored { .. } => 3,
        Reply::Range { .. } => 4,
        Reply::Records { .. } => 5,
        Reply::Done => 6,
    };
    assert_eq!(bytes[0], discriminant);
    let body = [&[0xA5], bytes].concat();
    let mut out = [0; 256];
    assert_eq!(message::encode(0xA5, reply, &mut out), Some(&body[..]), "coding {reply:?}");
    assert_eq!(message::decode(&body), Some((0xA5, Some(*reply))), "decoding {body:02x?}");
}

/// `Config::as_in_guide()`: eight lines of role, radar, kind, filter, sense; two warm-ups; 10 s; 600 s.
const GUIDE: [u8; 45] = [
    1, 0, 0, 50, 0, //
    2, 0, 0, 50, 0, //
    3, 0, 0, 50, 0, //
    4, 0, 0, 50, 0, //
    5, 0, 0, 50, 0, //
    0, 0, 0, 50, 0, //
    0, 0, 0, 50, 0, //
    0, 0, 0, 50, 0, //
    0, 0, 10, 0xD8, 0x04,
];

/// Totals in which every figure differs, so that two swapped fields show.
fn totals() -> Totals {
    Totals {
        uptime_tenths: 1_000_000,
        on_tenths: [36_000, 300, 128, 3, 4, 5, 6, 7],
        starts: [8, 9, 10, 11, 12, 13, 14, 600],
        drop_outs: [15, 16],
        short_warm_ups: [17, 18],
        session: 19,
    }
}

const TOTALS: [u8; 29] = [
    0xC0, 0x84, 0x3D, // 1,000,000
    0xA0, 0x99, 0x02, 0xAC, 0x02, 0x80, 0x01, 3, 4, 5, 6, 7, // 36,000, 300, 128, ...
    8, 9, 10, 11, 12, 13, 14, 0xD8, 0x04, // ..., 600
    15, 16, 17, 18, 19,
];

#[test]
fn every_request() {
    pin_request(&Request::Status, &[0]);
    pin_request(&Request::Config, &[1]);
    // 2026-01-01T00:00:00Z.
    let anchor = |source| Request::Anchor { utc_ms: 1_767_225_600_000, uncertainty_ms: 300, source };
    let utc = [0x80, 0xD0, 0xEA, 0xB6, 0xB7, 0x33];
    pin_request(&anchor(ClockSource::Host), &[&[2][..], &utc, &[0xAC, 0x02, 0]].concat());
    pin_request(&anchor(ClockSource::Ship), &[&[2][..], &utc, &[0xAC, 0x02, 2]].concat());
    pin_request(&Request::Fix { have: 128 }, &[3, 0x80, 0x01]);
    pin_request(&Request::Read { from: 16_383, to: 16_384 }, &[4, 0xFF, 0x7F, 0x80, 0x80, 0x01]);
    pin_request(&Request::SetConfig(Config::as_in_guide()), &[&[5][..], &GUIDE].concat());
}

/// A firmware tells a request from a newer host by this number.
#[test]
fn requests_are_counted() {
    assert_eq!(message::REQUESTS, 6);
    let newer = [0xA5, message::REQUESTS];
    assert_eq!(message::decode::<Request>(&newer), Some((0xA5, None)));
}

#[test]
fn every_reply() {
    pin_reply(&Reply::Refused(Refusal::Unknown), &[0, 0]);
    let status = Status {
        totals: totals(),
        on: 0b0001_0111,
        next_index: 300,
        oldest_index: 128,
        health: Health {
            journal_turns: 1,
            journal_pages: 64,
            journal_retired: 2,
            history_turns: 3,
            history_pages: 24,
            history_retired: 4,
            words_lost: 5,
            write_faults: 6,
            faults: 7,
        },
    };
    let tail = [0x17, 0xAC, 0x02, 0x80, 0x01, 1, 64, 2, 3, 24, 4, 5, 6, 7];
    pin_reply(&Reply::Status(status), &[&[1][..], &TOTALS, &tail].concat());
    pin_reply(&Reply::Config(Config::as_in_guide()), &[&[2][..], &GUIDE].concat());
    pin_reply(&Reply::Anchored { session: 7, uptime_tenths: 1_000_000 }, &[3, 7, 0xC0, 0x84, 0x3D]);
    pin_reply(&Reply::Range { from: 1, to: 300, oldest: 2 }, &[4, 1, 0xAC, 0x02, 2]);
    pin_reply(&Reply::Records { first: 300, data: &[2, 6, 3, 0] }, &[5, 0xAC, 0x02, 4, 2, 6, 3, 0]);
    pin_reply(&Reply::Done, &[6]);
}

#[test]
fn every_refusal() {
    for (refusal, bytes) in [
        (Refusal::Unknown, &[0][..]),
        (Refusal::Malformed, &[1]),
        (Refusal::Wait { seconds: 60 }, &[2, 60]),
        (Refusal::HoldButton, &[3]),
        (Refusal::OutOfRange { oldest: 5, next: 300 }, &[4, 5, 0xAC, 0x02]),
        (Refusal::Flash, &[5]),
        (Refusal::Config(ConfigFault::Idle), &[6, 1]),
        (Refusal::NotReady, &[7]),
    ] {
        let discriminant = match refusal {
            Refusal::Unknown => 0,
            Refusal::Malformed => 1,
            Refusal::Wait { .. } => 2,
            Refusal::HoldButton => 3,
            Refusal::OutOfRange { .. } => 4,
            Refusal::Flash => 5,
            Refusal::Config(_) => 6,
            Refusal::NotReady => 7,
        };
        assert_eq!(bytes[0], discriminant);
        pin(&refusal, bytes);
        pin_reply(&Reply::Refused(refusal), &[&[0], bytes].concat());
    }
}

#[test]
fn every_config_fault() {
    use ConfigFault::{Filter, Heartbeat, Idle, Radar, Twice};
    for fault in [Heartbeat, Idle, Radar, Filter, Twice] {
        let byte = match fault {
            Heartbeat => 0,
            Idle => 1,
            Radar => 2,
            Filter => 3,
            Twice => 4,
        };
        pin(&fault, &[byte]);
    }
}

#[test]
fn every_role() {
    for role in Role::ALL {
        let byte = match role {
            Role::Unused => 0,
            Role::Supply => 1,
            Role::Heater => 2,
            Role::Transmit => 3,
            Role::Motor => 4,
            Role::Isolated => 5,
        };
        assert_eq!(Role::ALL[usize::from(byte)], role, "ALL is in wire order");
        pin(&role, &[byte]);
    }
}

#[test]
fn every_kind() {
    for (kind, bytes) in [
        (Kind::Contact { debounce_ms: 50 }, &[0, 50][..]),
        (Kind::Pulsed { hold_ms: 5_000 }, &[1, 0x88, 0x27]),
    ] {
        let discriminant = match kind {
            Kind::Contact { .. } => 0,
            Kind::Pulsed { .. } => 1,
        };
        assert_eq!(bytes[0], discriminant);
        pin(&kind, bytes);
    }
    let line = Line { role: Role::Motor, radar: 1, kind: Kind::Pulsed { hold_ms: 100 }, active_low: true };
    pin(&line, &[4, 1, 1, 100, 1]);
}

#[test]
fn every_clock_source() {
    for source in [ClockSource::Host, ClockSource::Battery, ClockSource::Ship] {
        let byte = match source {
            ClockSource::Host => 0,
            ClockSource::Battery => 1,
            ClockSource::Ship => 2,
        };
        pin(&source, &[byte]);
    }
}

#[test]
fn every_cause() {
    for cause in [Cause::Power, Cause::Watchdog, Cause::Fault, Cause::Request] {
        let byte = match cause {
            Cause::Power => 0,
            Cause::Watchdog => 1,
            Cause::Fault => 2,
            Cause::Request => 3,
        };
        pin(&cause, &[byte]);
    }
}

#[test]
fn every_damage() {
    for (damage, bytes) in [
        (Damage::PageRetired { region: 1, page: 300 }, &[0, 1, 0xAC, 0x02][..]),
        (Damage::HeadInvalid { region: 2, page: 3 }, &[1, 2, 3]),
        (Damage::WordsLost { words: 128 }, &[2, 0x80, 0x01]),
        (Damage::ConfigLost, &[3]),
    ] {
        let discriminant = match damage {
            Damage::PageRetired { .. } => 0,
            Damage::HeadInvalid { .. } => 1,
            Damage::WordsLost { .. } => 2,
            Damage::ConfigLost => 3,
        };
        assert_eq!(bytes[0], discriminant);
        pin_record(&Record::Damage(damage), &[&[7], bytes].concat());
    }
}

#[test]
fn every_record() {
    pin_record(&Record::Base(totals()), &[&[0][..], &TOTALS].concat());

    let span = Span {
        uptime_tenths: 864_000,
        on_tenths: [36_000, 300, 128, 3, 4, 5, 6, 7],
        starts: [8, 9, 10, 11, 12, 13, 14, 600],
        drop_outs: [15, 16],
        short_warm_ups: [17, 18],
    };
    let day = [0x80, 0xDE, 0x34]; // 864,000 tenths: 24 h
    let growth = &TOTALS[3..28]; // the same figures, without a session at the end
    pin_record(&Record::Span(span), &[&[1][..], &day, growth].concat());

    let session = Session {
        session: 300,
        uptime_tenths: 1_000_000,
        cause: Cause::Watchdog,
        found_on: 0b0000_0111,
        lost_max_tenths: 100,
        usb_only: true,
    };
    pin_record(&Record::Session(session), &[2, 0xAC, 0x02, 0xC0, 0x84, 0x3D, 1, 7, 100, 1]);

    let anchor = Anchor {
        session: 7,
        uptime_tenths: 1_000_000,
        utc_ms: 1_767_225_600_000,
        uncertainty_ms: 128,
        source: ClockSource::Battery,
    };
    let utc = [0x80, 0xD0, 0xEA, 0xB6, 0xB7, 0x33];
    pin_record(&Record::Anchor(anchor), &[&[3, 7, 0xC0, 0x84, 0x3D][..], &utc, &[0x80, 0x01, 1]].concat());

    // 12,345,678,901 tenths: past 32 bits, 39 years of on-time.
    let run = Run { line: 4, from_tenths: 1_000_000, on_tenths: 12_345_678_901 };
    pin_record(&Record::Run(run), &[4, 4, 0xC0, 0x84, 0x3D, 0xB5, 0xB8, 0xF0, 0xFE, 0x2D]);

    let coalesced = Record::Coalesced { uptime_tenths: 1_000_000, lines: 0b100 };
    pin_record(&coalesced, &[5, 0xC0, 0x84, 0x3D, 4]);
    pin_record(&Record::RunsSkipped { runs: 16_384 }, &[6, 0x80, 0x80, 0x01]);
    pin_record(&Record::Damage(Damage::ConfigLost), &[7, 3]);
    pin_record(&Record::Config(Config::as_in_guide()), &[&[8][..], &GUIDE].concat());

    for (motion, byte) in [(Motion::NotKnown, 0), (Motion::NoWay, 1), (Motion::MakingWay, 2)] {
        let discriminant = match motion {
            Motion::NotKnown => 0,
            Motion::NoWay => 1,
            Motion::MakingWay => 2,
        };
        assert_eq!(byte, discriminant);
        let way = Record::Way { uptime_tenths: 1_000_000, motion };
        pin_record(&way, &[9, 0xC0, 0x84, 0x3D, byte]);
    }
    assert_eq!(Record::decode(&[9, 0xC0, 0x84, 0x3D, 3]), None, "no such motion");

    assert_eq!(Record::decode(&[10]), None, "a record of a later version is told from garbage by its reader");
}
