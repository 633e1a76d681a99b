//! What the board has logged, read record by record.

use super::desk::{Desk, Port};
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{Anchor, ClockSource, Record};

/// Everything in the history, asked for at this port.
///
/// # Panics
/// The board answers otherwise than it should.
pub fn records(desk: &mut Desk, port: Port) -> Vec<Record> {
    let range = desk.ask_at(port, &Request::Fix { have: 0 }, |reply| match reply {
        Reply::Range { from, to, .. } => (from, to),
        other => panic!("{other:?}"),
    });
    let (mut next, to) = range;
    let mut records = Vec::new();
    while next < to {
        let data = desk.ask_at(port, &Request::Read { from: next, to }, |reply| match reply {
            Reply::Records { first, data } if first == next => data.to_vec(),
            other => panic!("{other:?}"),
        });
        assert!(!data.is_empty(), "a reply without records at {next} of {range:?}");
        let mut rest = data.as_slice();
        while let Some((len, after)) = rest.split_first() {
            let (record, after) = after.split_at(usize::from(*len));
            records.push(Record::decode(record).expect("a sound record"));
            next += 1;
            rest = after;
        }
    }
    records
}

/// The anchors from the ship's time, asked for over USB, and the uptime before the session that is on, in tenths of a second.
pub fn ship_anchors(desk: &mut Desk) -> (Vec<Anchor>, u64) {
    let (mut anchors, mut before_tenths) = (Vec::new(), 0);
    for record in records(desk, Port::Usb) {
        match record {
            Record::Anchor(anchor) if anchor.source == ClockSource::Ship => anchors.push(anchor),
            Record::Session(session) => before_tenths = session.uptime_tenths,
            _ => {}
        }
    }
    (anchors, before_tenths)
}
