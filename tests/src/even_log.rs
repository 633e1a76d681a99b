//! A log made by hand: a logger that was powered day and night from the start of 2026, with each line on for the same hours on
//! every day. What such a ship's hours are can be said in the head.

use halfglass_protocol::config::Config;
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::record::{Anchor, ClockSource, Record, Span, Totals};

/// 2026-01-01T00:00:00Z (`date -u -d 2026-01-01 +%s`).
pub const START_MS: u64 = 1_767_225_600_000;
/// A day.
pub const DAY_MS: u64 = 86_400_000;
/// A day of a logger's clock.
pub const DAY_TENTHS: u64 = 864_000;

/// The clock set at a day's beginning, by a computer that is wrong by `off_ms`.
#[must_use]
pub fn anchor(day: u64, off_ms: i64) -> Record {
    Record::Anchor(Anchor {
        session: 1,
        uptime_tenths: day * DAY_TENTHS,
        utc_ms: (START_MS + day * DAY_MS).saturating_add_signed(off_ms),
        uncertainty_ms: 1_010,
        source: ClockSource::Host,
    })
}

/// So many days; on each, line n went on once, for `on_h[n]` hours. `extra`: records behind the day of that number.
#[must_use]
pub fn records(days: u64, config: Config, on_h: [u32; 8], extra: &[(u64, Record)]) -> Vec<Record> {
    let base = Totals { session: 1, ..Totals::default() };
    let mut records = vec![Record::Base(base), Record::Config(config), anchor(0, 0)];
    for day in 1..=days {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        for (input, hours) in on_h.into_iter().enumerate() {
            span.on_tenths[input] = hours * 36_000;
            span.starts[input] = u32::from(hours > 0);
        }
        records.push(Record::Span(span));
        records.extend(extra.iter().filter(|(behind, _)| *behind == day).map(|(_, record)| *record));
    }
    records.push(anchor(days, 0));
    records
}

/// The dump that a pull of these records would have left.
#[must_use]
pub fn dump(device_id: u64, records: &[Record]) -> Vec<u8> {
    let to = u32::try_from(records.len()).unwrap_or(u32::MAX);
    let header = Header { device_id, firmware_version: [0, 1, 0], lines: 8, from: 0, to };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&header, |piece| bytes.extend_from_slice(piece));
    for record in records {
        let mut buffer = [0; 160];
        writer.record(record.encode(&mut buffer).unwrap());
    }
    writer.finish();
    bytes
}
