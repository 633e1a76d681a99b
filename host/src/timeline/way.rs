//! Stretches in which the ship made way or made none, by a logger's records of it.
//!
//! ```text
//!  records     session 1   way: none      way: making          session 2     way: none
//!  stretches   |           |---no way-----|---making way---| dark |          |---no way--- ... last record
//! ```
//! A record stands until the next one, at most as long as its session is seen to last: a session begins with nothing known. Where
//! records are missing behind it, it stands no longer than up to them.

use super::dating::{Dating, When};
use super::{Timeline, Way};
use halfglass_protocol::record::Motion;

/// A stretch of one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// From when,
    pub from: When,
    /// until when,
    pub to: When,
    /// she made way; else she made none.
    pub making_way: bool,
    /// For so long, on the logger's clock: exact, however well its dates are known.
    pub tenths: u64,
}

/// All that are known, in order.
#[must_use]
pub fn stretches(line: &Timeline, dating: &Dating) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    for (at, way) in line.ways.iter().enumerate() {
        let making_way = match way.motion {
            Motion::MakingWay => true,
            Motion::NoWay => false,
            Motion::NotKnown => continue,
        };
        let end_tenths = end(line, way, line.ways.get(at + 1));
        if end_tenths > way.uptime_tenths {
            stretches.push(Stretch {
                from: dating.when(way.session, way.uptime_tenths),
                to: dating.when(way.session, end_tenths),
                making_way,
                tenths: end_tenths - way.uptime_tenths,
            });
        }
    }
    stretches
}

/// Up to which uptime a record stands.
fn end(line: &Timeline, way: &Way, next: Option<&Way>) -> u64 {
    let gap = line.gaps.iter().map(|(first, _)| *first).find(|first| *first > way.index);
    let seen_below = gap.unwrap_or(u32::MAX);
    if let Some(next) = next.filter(|next| next.session == way.session && next.index < seen_below) {
        return next.uptime_tenths;
    }
    // Points are in order of index, and those of a session stand together: years of records are not walked for each session.
    let behind = line.points.partition_point(|point| point.index <= way.index);
    let behind = line.points.get(behind..).unwrap_or_default().iter();
    let seen = behind.take_while(|point| point.totals.session == way.session && point.index < seen_below);
    seen.map(|point| point.totals.uptime_tenths).max().unwrap_or(way.uptime_tenths)
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::record::{Anchor, Cause, ClockSource, Record, Session, Span, Totals};

    const HOUR: u64 = 36_000;
    const HOUR_MS: i64 = 3_600_000;

    fn session(session: u32, hour: u64) -> Record {
        Record::Session(Session {
            session,
            uptime_tenths: hour * HOUR,
            cause: Cause::Power,
            found_on: 0,
            lost_max_tenths: 0,
            usb_only: false,
        })
    }

    fn way(hour: u64, motion: Motion) -> Record {
        Record::Way { uptime_tenths: hour * HOUR, motion }
    }

    fn span(hours: u32) -> Record {
        Record::Span(Span { uptime_tenths: hours * HOUR as u32, ..Span::default() })
    }

    fn anchor(session: u32, hour: u64, utc_hour: i64) -> Record {
        Record::Anchor(Anchor {
            session,
            uptime_tenths: hour * HOUR,
            utc_ms: (utc_hour * HOUR_MS) as u64,
            uncertainty_ms: 0,
            source: ClockSource::Ship,
        })
    }

    /// Hours of beginning and end, to the nearest, and whether she made way.
    fn seen(records: &[(u32, Record)]) -> Vec<(i64, i64, bool)> {
        let line = Timeline::build(records);
        let dating = Dating::new(&line.anchors, i64::MAX / 8);
        let hour = |when: When| (when.best_ms() + HOUR_MS / 2).div_euclid(HOUR_MS);
        stretches(&line, &dating).iter().map(|it| (hour(it.from), hour(it.to), it.making_way)).collect()
    }

    /// By hand: session 1 from hour 0 to 30 (she lies until 10, makes way until 20, then it is not known); dark to hour 100, which is
    /// uptime 30; session 2 is seen until uptime 50, and she lies in it from uptime 32 on.
    fn records() -> Vec<(u32, Record)> {
        let base = Record::Base(Totals { session: 1, ..Totals::default() });
        let records = [
            base,
            session(1, 0),
            anchor(1, 0, 0),
            way(0, Motion::NoWay),
            way(10, Motion::MakingWay),
            span(24),
            way(20, Motion::NotKnown),
            span(6),
            session(2, 30),
            anchor(2, 30, 100),
            way(32, Motion::NoWay),
            span(20),
        ];
        (0..).zip(records).collect()
    }

    #[test]
    fn a_record_stands_until_the_next_or_its_sessions_end() {
        assert_eq!(seen(&records()), [(0, 10, false), (10, 20, true), (102, 120, false)]);
    }

    /// By hand: without the record of hour 20 she was seen to make way up to the last total before it, at hour 24. Without the record
    /// of hour 10, nothing is known between the gap and the next base, and of what lies before it nothing was seen.
    #[test]
    fn missing_records_end_what_stood() {
        let mut records = records();
        records.remove(6);
        assert_eq!(seen(&records), [(0, 10, false), (10, 24, true)]);
        records.remove(4);
        assert_eq!(seen(&records), []);
    }
}
