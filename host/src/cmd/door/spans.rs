//! When a line was on, as far as its log keeps that: supply and isolated.
//!
//! A logger writes a run down when it ends. One that a power cut ended, or that has not ended yet, has no record: it
//! shows as on-time of its session beyond the sum of its runs, and reaches to that session's end.

use crate::reconcile::{Span, When};
use crate::timeline::Logger;
use crate::timeline::Timeline;
use crate::timeline::dating::Dating;

/// A period of a line, and the logger's uptime at its beginning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Lasted {
    pub(super) span: Span,
    pub(super) from_tenths: u64,
    /// It went on when the logger lost its power, or has no end yet.
    open: bool,
    session: u32,
}

/// Less than this beyond the sum of runs is rounding: on-edges round up and off-edges down, each by up to a second.
const ROUNDING_TENTHS: u64 = 600;

/// The periods with an input on, by time, up to an instant. `joined`: what was on before and after a power cut was on
/// all the time.
pub(super) fn lasted(logger: &Logger, input: u8, joined: bool, as_of_ms: i64) -> Vec<Lasted> {
    let Logger { timeline, dating } = logger;
    let sessions = sessions(timeline, input);
    let mut all: Vec<Lasted> = Vec::new();
    for session in &sessions {
        let inside = |from: u64| (session.from_tenths..session.to_tenths).contains(&from);
        let runs: Vec<_> =
            timeline.runs.iter().filter(|run| run.line == input && inside(run.from_tenths)).collect();
        let mut ends: Vec<(u64, u64, bool)> =
            runs.iter().map(|run| (run.from_tenths, run.from_tenths + run.on_tenths, false)).collect();
        let kept: u64 = runs.iter().map(|run| run.on_tenths).sum();
        let rest = session.on_tenths.saturating_sub(kept);
        // Where short runs were left out, what is over need not have been one piece.
        if rest > ROUNDING_TENTHS && timeline.runs_skipped == 0 {
            ends.push((
                session.to_tenths.saturating_sub(rest).max(session.from_tenths),
                session.to_tenths,
                true,
            ));
        }
        ends.sort_unstable();
        for (from, to, open) in ends {
            let span = placed(dating, session.number, from, to);
            let found_on = from <= session.from_tenths + ROUNDING_TENTHS;
            match all.last_mut() {
                Some(last) if joined && last.open && found_on && last.session < session.number => {
                    (last.span.to, last.open, last.session) = (span.to, open, session.number);
                }
                _ => all.push(Lasted { span, from_tenths: from, open, session: session.number }),
            }
        }
    }
    all.retain(|lasted| lasted.span.from.best_ms() <= as_of_ms && !lasted.span.from.is_open_below());
    for Lasted { span, .. } in &mut all {
        let to = span.to;
        span.to = When { lo_ms: to.lo_ms.min(as_of_ms), hi_ms: to.hi_ms.min(as_of_ms) };
    }
    all
}

/// A run in UTC. How long it was is known exactly, also where its session floats: so its place is narrowed to the middle
/// of what is possible, rather than let an isolation of ten minutes pass for one of hours.
fn placed(dating: &Dating, session: u32, from_tenths: u64, to_tenths: u64) -> Span {
    let from = dating.when(session, from_tenths);
    if from.is_open_below() {
        return Span { from, to: dating.when(session, to_tenths) };
    }
    let at_ms = from.best_ms();
    let length_ms =
        i64::try_from(to_tenths.saturating_sub(from_tenths).saturating_mul(100)).unwrap_or(i64::MAX / 4);
    let end_ms = at_ms.saturating_add(length_ms);
    Span { from: When { lo_ms: at_ms, hi_ms: at_ms }, to: When { lo_ms: end_ms, hi_ms: end_ms } }
}

/// A session as far as its records tell.
struct Seen {
    number: u32,
    from_tenths: u64,
    to_tenths: u64,
    on_tenths: u64,
}

fn sessions(timeline: &Timeline, input: u8) -> Vec<Seen> {
    let mut seen: Vec<Seen> = Vec::new();
    let mut first_on = 0;
    for point in &timeline.points {
        let on = point.totals.on_tenths.get(usize::from(input)).copied().unwrap_or(0);
        match seen.last_mut() {
            Some(last) if last.number == point.totals.session => {
                last.to_tenths = last.to_tenths.max(point.totals.uptime_tenths);
                last.on_tenths = on.saturating_sub(first_on);
            }
            _ => {
                first_on = on;
                let at = point.totals.uptime_tenths;
                seen.push(Seen {
                    number: point.totals.session,
                    from_tenths: at,
                    to_tenths: at,
                    on_tenths: 0,
                });
            }
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::record::{
        Anchor, Cause, ClockSource, Record, Run, Session, Span as Grown, Totals,
    };

    const HOUR: u64 = 36_000;
    const HOUR_MS: i64 = 3_600_000;

    fn grown(hours: u64, on_h: u64) -> Record {
        let mut span = Grown { uptime_tenths: (hours * HOUR) as u32, ..Grown::default() };
        span.on_tenths[4] = (on_h * HOUR) as u32;
        Record::Span(span)
    }

    fn session(number: u32, uptime_h: u64) -> Record {
        Record::Session(Session {
            session: number,
            uptime_tenths: uptime_h * HOUR,
            cause: Cause::Power,
            found_on: 0,
            lost_max_tenths: 0,
            usb_only: false,
        })
    }

    fn anchor(session: u32, uptime_h: u64, utc_h: u64) -> Record {
        Record::Anchor(Anchor {
            session,
            uptime_tenths: uptime_h * HOUR,
            utc_ms: utc_h * 3_600_000,
            uncertainty_ms: 0,
            source: ClockSource::Host,
        })
    }

    fn run(from_h: u64, on_h: u64) -> Record {
        Record::Run(Run { line: 4, from_tenths: from_h * HOUR, on_tenths: on_h * HOUR })
    }

    fn spans(records: &[Record], joined: bool, as_of_h: i64) -> Vec<(i64, i64)> {
        let records: Vec<(u32, Record)> = (0..).zip(records.iter().copied()).collect();
        let timeline = Timeline::build(&records);
        let dating = Dating::new(&timeline.anchors, 10_000 * HOUR_MS);
        let hour = |when: When| (when.best_ms() + HOUR_MS / 2).div_euclid(HOUR_MS);
        lasted(&Logger { timeline, dating }, 4, joined, as_of_h * HOUR_MS)
            .iter()
            .map(|lasted| (hour(lasted.span.from), hour(lasted.span.to)))
            .collect()
    }

    /// By hand: session 1 runs from hour 1000 for 20 h, on for 2 h from its 5th and for its last 3; dark for 10 h;
    /// session 2 runs for 20 h, on for its first 4 and its last 1.
    #[test]
    fn runs_and_what_a_power_cut_or_the_end_of_the_log_left_open() {
        let records = [
            Record::Base(Totals { session: 1, ..Totals::default() }),
            anchor(1, 0, 1_000),
            run(5, 2),
            grown(20, 5),
            session(2, 20),
            run(20, 4),
            anchor(2, 24, 1_034),
            grown(20, 5),
        ];
        assert_eq!(
            spans(&records, false, 9_999),
            [(1_005, 1_007), (1_017, 1_020), (1_030, 1_034), (1_049, 1_050)]
        );
        assert_eq!(spans(&records, true, 9_999), [(1_005, 1_007), (1_017, 1_034), (1_049, 1_050)]);
        assert_eq!(spans(&records, true, 1_025), [(1_005, 1_007), (1_017, 1_025)], "as it stood then");
    }
}
