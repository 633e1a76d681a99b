//! A logger that saw the same on every day, as a dump: for answers that can be worked out by hand.

use crate::command::DEVICE;
use halfglass_protocol::config::Config;
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::record::{Anchor, ClockSource, Record, Span, Totals};

/// 2026-01-01T00:00:00Z (`date -u -d 2026-01-01 +%s`): it begins to watch.
pub const START_MS: u64 = 1_767_225_600_000;

/// So many days from the start of 2026, with so many hours of supply, standby, transmission and scanner on each.
#[must_use]
pub fn dump(days: u32, on_h: u32) -> Vec<u8> {
    let anchor = |day: u32| {
        Record::Anchor(Anchor {
            session: 1,
            uptime_tenths: u64::from(day) * 864_000,
            utc_ms: START_MS + u64::from(day) * 86_400_000,
            uncertainty_ms: 1_010,
            source: ClockSource::Host,
        })
    };
    let mut records = vec![
        Record::Base(Totals { session: 1, ..Totals::default() }),
        Record::Config(Config::as_in_guide()),
        anchor(0),
    ];
    for _ in 0..days {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        for input in 0..4 {
            span.on_tenths[input] = on_h * 36_000;
            span.starts[input] = 1;
        }
        records.push(Record::Span(span));
    }
    records.push(anchor(days));
    let header = Header {
        device_id: DEVICE,
        firmware_version: [0, 1, 0],
        lines: 8,
        from: 0,
        to: u32::try_from(records.len()).unwrap_or(u32::MAX),
    };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&header, |piece| bytes.extend_from_slice(piece));
    for record in &records {
        let mut buffer = [0; 160];
        writer.record(record.encode(&mut buffer).expect("a record fits"));
    }
    writer.finish();
    bytes
}
