//! Any value there and back, any bytes without a panic, and the promised lengths for the largest of everything.

use halfglass_protocol::config::{Config, Kind, Line, Role};
use halfglass_protocol::frame::BODY_MAX;
use halfglass_protocol::hello::{HELLO_LEN, Hello};
use halfglass_protocol::message::{self, Health, Refusal, Reply, Request, Status};
use halfglass_protocol::record::{
    Anchor, Cause, ClockSource, Damage, Motion, RECORD_MAX, Record, Run, Session, Span, Totals,
};
use proptest::prelude::*;

fn totals() -> impl Strategy<Value = Totals> {
    let figures = (any::<u64>(), any::<[u64; 8]>(), any::<[u32; 8]>());
    (figures, any::<[u32; 2]>(), any::<[u32; 2]>(), any::<u32>()).prop_map(
        |((uptime_tenths, on_tenths, starts), drop_outs, short_warm_ups, session)| Totals {
            uptime_tenths,
            on_tenths,
            starts,
            drop_outs,
            short_warm_ups,
            session,
        },
    )
}

fn span() -> impl Strategy<Value = Span> {
    (any::<u32>(), any::<[u32; 8]>(), any::<[u32; 8]>(), any::<[u32; 2]>(), any::<[u32; 2]>()).prop_map(
        |(uptime_tenths, on_tenths, starts, drop_outs, short_warm_ups)| Span {
            uptime_tenths,
            on_tenths,
            starts,
            drop_outs,
            short_warm_ups,
        },
    )
}

fn line() -> impl Strategy<Value = Line> {
    let kind = (any::<bool>(), any::<u16>()).prop_map(|(contact, ms)| match contact {
        true => Kind::Contact { debounce_ms: ms },
        false => Kind::Pulsed { hold_ms: ms },
    });
    (prop::sample::select(&Role::ALL[..]), any::<u8>(), kind, any::<bool>())
        .prop_map(|(role, radar, kind, active_low)| Line { role, radar, kind, active_low })
}

fn config() -> impl Strategy<Value = Config> {
    let lines = prop::array::uniform8(line());
    (lines, any::<[u16; 2]>(), any::<u16>(), any::<u16>())
        .prop_map(|(lines, warm_up_s, heartbeat_s, idle_s)| Config { lines, warm_up_s, heartbeat_s, idle_s })
}

fn source() -> impl Strategy<Value = ClockSource> {
    prop::sample::select(&[ClockSource::Host, ClockSource::Battery, ClockSource::Ship][..])
}

fn record() -> impl Strategy<Value = Record> {
    let cause = prop::sample::select(&[Cause::Power, Cause::Watchdog, Cause::Fault, Cause::Request][..]);
    let session = (any::<(u32, u64)>(), cause, any::<(u8, u32, bool)>()).prop_map(
        |((session, uptime_tenths), cause, (found_on, lost_max_tenths, usb_only))| {
            Record::Session(Session { session, uptime_tenths, cause, found_on, lost_max_tenths, usb_only })
        },
    );
    let anchor = (any::<(u32, u64, u64, u32)>(), source()).prop_map(
        |((session, uptime_tenths, utc_ms, uncertainty_ms), source)| {
            Record::Anchor(Anchor { session, uptime_tenths, utc_ms, uncertainty_ms, source })
        },
    );
    let run = any::<(u8, u64, u64)>()
        .prop_map(|(line, from_tenths, on_tenths)| Record::Run(Run { line, from_tenths, on_tenths }));
    let coalesced =
        any::<(u64, u8)>().prop_map(|(uptime_tenths, lines)| Record::Coalesced { uptime_tenths, lines });
    let damage = prop_oneof![
        any::<(u8, u16)>().prop_map(|(region, page)| Damage::PageRetired { region, page }),
        any::<(u8, u16)>().prop_map(|(region, page)| Damage::HeadInvalid { region, page }),
        any::<u16>().prop_map(|words| Damage::WordsLost { words }),
        Just(Damage::ConfigLost),
    ];
    let motion = prop::sample::select(&[Motion::NotKnown, Motion::NoWay, Motion::MakingWay][..]);
    let way =
        (any::<u64>(), motion).prop_map(|(uptime_tenths, motion)| Record::Way { uptime_tenths, motion });
    prop_oneof![
        totals().prop_map(Record::Base),
        span().prop_map(Record::Span),
        session,
        anchor,
        run,
        coalesced,
        any::<u32>().prop_map(|runs| Record::RunsSkipped { runs }),
        damage.prop_map(Record::Damage),
        config().prop_map(Record::Config),
        way,
    ]
}

fn request() -> impl Strategy<Value = Request> {
    prop_oneof![
        Just(Request::Status),
        Just(Request::Config),
        (any::<(u64, u32)>(), source()).prop_map(|((utc_ms, uncertainty_ms), source)| {
            Request::Anchor { utc_ms, uncertainty_ms, source }
        }),
        any::<u32>().prop_map(|have| Request::Fix { have }),
        any::<(u32, u32)>().prop_map(|(from, to)| Request::Read { from, to }),
        config().prop_map(Request::SetConfig),
    ]
}

/// The largest of every part: each figure at its maximum, which is also its longest varint.
fn largest_totals() -> Totals {
    Totals {
        uptime_tenths: u64::MAX,
        on_tenths: [u64::MAX; 8],
        starts: [u32::MAX; 8],
        drop_outs: [u32::MAX; 2],
        short_warm_ups: [u32::MAX; 2],
        session: u32::MAX,
    }
}

fn largest_config() -> Config {
    let kind = Kind::Pulsed { hold_ms: u16::MAX };
    let line = Line { role: Role::Isolated, radar: u8::MAX, kind, active_low: true };
    Config { lines: [line; 8], warm_up_s: [u16::MAX; 2], heartbeat_s: u16::MAX, idle_s: u16::MAX }
}

/// The lengths follow from the specification's "Maximum Encoded Length": 1 a byte or bool, 3 a u16, 5 a u32,
/// 10 a u64, 1 a discriminant.
#[test]
fn the_largest_records_fit() {
    let span = Span {
        uptime_tenths: u32::MAX,
        on_tenths: [u32::MAX; 8],
        starts: [u32::MAX; 8],
        drop_outs: [u32::MAX; 2],
        short_warm_ups: [u32::MAX; 2],
    };
    let session = Session {
        session: u32::MAX,
        uptime_tenths: u64::MAX,
        cause: Cause::Request,
        found_on: u8::MAX,
        lost_max_tenths: u32::MAX,
        usb_only: true,
    };
    let anchor = Anchor {
        session: u32::MAX,
        uptime_tenths: u64::MAX,
        utc_ms: u64::MAX,
        uncertainty_ms: u32::MAX,
        source: ClockSource::Ship,
    };
    let run = Run { line: u8::MAX, from_tenths: u64::MAX, on_tenths: u64::MAX };
    let head = Damage::HeadInvalid { region: u8::MAX, page: u16::MAX };
    for (record, len) in [
        (Record::Base(largest_totals()), 1 + 10 + 8 * 10 + 8 * 5 + 2 * 5 + 2 * 5 + 5),
        (Record::Span(span), 1 + 5 + 8 * 5 + 8 * 5 + 2 * 5 + 2 * 5),
        (Record::Session(session), 1 + 5 + 10 + 1 + 1 + 5 + 1),
        (Record::Anchor(anchor), 1 + 5 + 10 + 10 + 5 + 1),
        (Record::Run(run), 1 + 1 + 10 + 10),
        (Record::Coalesced { uptime_tenths: u64::MAX, lines: u8::MAX }, 1 + 10 + 1),
        (Record::RunsSkipped { runs: u32::MAX }, 1 + 5),
        (Record::Damage(head), 1 + 1 + 1 + 3),
        (Record::Config(largest_config()), 1 + 8 * (1 + 1 + 1 + 3 + 1) + 2 * 3 + 3 + 3),
        (Record::Way { uptime_tenths: u64::MAX, motion: Motion::MakingWay }, 1 + 10 + 1),
    ] {
        let mut out = [0; 256];
        assert_eq!(record.encode(&mut out).map(<[u8]>::len), Some(len), "{record:?}");
        assert!(len <= RECORD_MAX, "{record:?}");
        let mut tight = [0; RECORD_MAX];
        assert_eq!(record.encode(&mut tight[..len - 1]), None, "a byte too little");
    }
}

/// A record of any length, with its length byte, goes into one reply: history can always be read.
#[test]
fn a_reply_holds_any_record() {
    let data = [0xFF; BODY_MAX];
    let mut out = [0; BODY_MAX];
    let mut fits = |first, len| {
        let records = Reply::Records { first, data: &data[..len] };
        message::encode(1, &records, &mut out).is_some()
    };
    // Tag, discriminant, `first` as a varint, two bytes of length.
    assert!(fits(u32::MAX, BODY_MAX - 1 - 1 - 5 - 2));
    assert!(!fits(u32::MAX, BODY_MAX - 1 - 1 - 5 - 2 + 1));
    assert!(fits(0, BODY_MAX - 1 - 1 - 1 - 2));
    assert!(!fits(0, BODY_MAX - 1 - 1 - 1 - 2 + 1));
    assert!(fits(u32::MAX, 1 + RECORD_MAX));
}

#[test]
fn the_largest_messages_fit() {
    let health = Health {
        journal_turns: u32::MAX,
        journal_pages: u16::MAX,
        journal_retired: u16::MAX,
        history_turns: u32::MAX,
        history_pages: u16::MAX,
        history_retired: u16::MAX,
        words_lost: u16::MAX,
        write_faults: u16::MAX,
        faults: u16::MAX,
    };
    let status = Status {
        totals: largest_totals(),
        on: u8::MAX,
        next_index: u32::MAX,
        oldest_index: u32::MAX,
        health,
    };
    let out_of_range = Refusal::OutOfRange { oldest: u32::MAX, next: u32::MAX };
    for reply in [
        Reply::Status(status),
        Reply::Config(largest_config()),
        Reply::Refused(out_of_range),
        Reply::Anchored { session: u32::MAX, uptime_tenths: u64::MAX },
        Reply::Range { from: u32::MAX, to: u32::MAX, oldest: u32::MAX },
    ] {
        let mut out = [0; BODY_MAX];
        let body = message::encode(u8::MAX, &reply, &mut out).expect("fits a body");
        assert_eq!(message::decode(body), Some((u8::MAX, Some(reply))));
    }
    let mut out = [0; BODY_MAX];
    assert!(message::encode(0, &Request::SetConfig(largest_config()), &mut out).is_some());
}

#[test]
fn a_body_needs_a_tag() {
    assert_eq!(message::decode::<Request>(&[]), None);
    assert_eq!(message::decode::<Request>(&[7]), Some((7, None)), "a tag and nothing to do");
    assert_eq!(message::decode::<Request>(&[7, 0, 0]), Some((7, None)), "a rest behind the request");
    assert_eq!(message::encode(7, &Request::Status, &mut []), None);
    assert_eq!(message::encode(7, &Request::Status, &mut [0]), None);
}

/// An old firmware has zeros in the last four bytes of a hello; whatever is there, the rest is read.
#[test]
fn a_hello_of_any_age_is_read() {
    let hello = Hello {
        protocol_version: 0xBEEF,
        device_id: 1,
        firmware_version: [255, 0, 9],
        lines: 0,
        session: u32::MAX,
        uptime_s: u32::MAX,
        debounce_min_ms: 0,
        hold_min_ms: 0,
    };
    let mut bytes = hello.encode();
    assert_eq!(bytes[24..], [0; 4]);
    bytes[24..].fill(0xFF);
    let read = Hello { debounce_min_ms: u16::MAX, hold_min_ms: u16::MAX, ..hello };
    assert_eq!(Hello::decode(&bytes), Some(read));
}

proptest! {
    #[test]
    fn records_round_trip(record in record()) {
        let mut out = [0; RECORD_MAX];
        let bytes = record.encode(&mut out).expect("RECORD_MAX suffices");
        prop_assert!(!bytes.is_empty(), "an empty record would read as lost");
        prop_assert_eq!(Record::decode(bytes), Some(record));
        prop_assert_eq!(Record::decode(&bytes[..bytes.len() - 1]), None);
        prop_assert_eq!(Record::decode(&[bytes, &[0]].concat()), None);
    }

    #[test]
    fn requests_round_trip(tag in any::<u8>(), request in request()) {
        let mut out = [0; BODY_MAX];
        let body = message::encode(tag, &request, &mut out).expect("fits a body");
        prop_assert_eq!(message::decode(body), Some((tag, Some(request))));
    }

    #[test]
    fn records_replies_round_trip(
        tag in any::<u8>(),
        first in any::<u32>(),
        data in prop::collection::vec(any::<u8>(), 0..=BODY_MAX - 9),
    ) {
        let mut out = [0; BODY_MAX];
        let reply = Reply::Records { first, data: &data };
        let body = message::encode(tag, &reply, &mut out).expect("fits a body");
        prop_assert_eq!(message::decode(body), Some((tag, Some(reply))));
    }

    #[test]
    fn hellos_round_trip(
        ids in any::<(u16, u64)>(), firmware_version in any::<[u8; 3]>(), rest in any::<(u8, u32, u32)>(),
        least in any::<(u16, u16)>(),
    ) {
        let (protocol_version, device_id) = ids;
        let (debounce_min_ms, hold_min_ms) = least;
        let (lines, session, uptime_s) = rest;
        let hello = Hello {
            protocol_version, device_id, firmware_version, lines, session, uptime_s, debounce_min_ms, hold_min_ms,
        };
        prop_assert_eq!(Hello::decode(&hello.encode()), Some(hello));
    }

    /// Decoders meet whatever a broken line or a hostile file brings.
    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = message::decode::<Request>(&bytes);
        let _ = message::decode::<Reply<'_>>(&bytes);
        if let Some(record) = Record::decode(&bytes) {
            let mut out = [0; RECORD_MAX];
            prop_assert!(record.encode(&mut out).is_some());
        }
        prop_assert!(bytes.len() == HELLO_LEN || Hello::decode(&bytes).is_none());
    }

    /// The same with a true discriminant in front, so that the insides are reached.
    #[test]
    fn any_bytes_behind_a_discriminant(kind in 0u8..10, bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let bytes = [&[kind], &bytes[..]].concat();
        let _ = Record::decode(&bytes);
        let _ = message::decode::<Request>(&bytes);
        let _ = message::decode::<Reply<'_>>(&[&[1], &bytes[..]].concat());
    }

    /// Base and spans give the next base: what the history promises.
    #[test]
    fn spans_add_up(earlier in totals(), grown in span()) {
        let earlier = Totals {
            uptime_tenths: earlier.uptime_tenths >> 1,
            on_tenths: earlier.on_tenths.map(|tenths| tenths >> 1),
            starts: earlier.starts.map(|starts| starts >> 1),
            drop_outs: earlier.drop_outs.map(|count| count >> 1),
            short_warm_ups: earlier.short_warm_ups.map(|count| count >> 1),
            ..earlier
        };
        let grown = Span {
            starts: grown.starts.map(|starts| starts >> 1),
            drop_outs: grown.drop_outs.map(|count| count >> 1),
            short_warm_ups: grown.short_warm_ups.map(|count| count >> 1),
            ..grown
        };
        let mut later = earlier;
        later.add(&grown);
        prop_assert_eq!(later.since(&earlier), grown);
        prop_assert_eq!(later.on_tenths[7], earlier.on_tenths[7] + u64::from(grown.on_tenths[7]));
        prop_assert_eq!(later.session, earlier.session, "a span lies within a session");
        prop_assert_eq!(earlier.since(&later).uptime_tenths, 0, "nothing falls");
    }
}
