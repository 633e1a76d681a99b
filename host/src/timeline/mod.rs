//! A logger's records made into totals at each instant. Pure: no I/O, no clock.
//!
//! Records carry no date of their own: they stand on the logger's uptime, and anchors tie that to UTC
//! ([`dating`]). Between two records a total goes straight, where only the likeliest is asked for ([`curve`]). What the ship did
//! meanwhile, her speed may tell ([`way`]).

pub mod curve;
pub mod dating;
pub mod way;

use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Anchor, Damage, Motion, Record, Run, Session, Totals};

/// Tenths of a second in an hour.
pub const TENTHS_PER_HOUR: f64 = 36_000.0;

/// Milliseconds in an hour.
pub const MS_PER_HOUR: f64 = 3_600_000.0;

/// Hours from one instant (milliseconds) to a later one; 0 if it is not later.
#[must_use]
pub fn hours_between(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / MS_PER_HOUR
}

/// By how much a logger's clock may run fast or slow, in parts of one: 100 ppm. A crystal's cut, age and
/// temperature together stay well inside (20 ppm of cut, 54 ppm at -15 C, 5 ppm a year at first).
pub const DRIFT: f64 = 100e-6;

/// One logger's log.
#[derive(Clone, Debug)]
pub struct Logger {
    /// Its records joined.
    pub timeline: Timeline,
    /// Its clock.
    pub dating: dating::Dating,
}

/// Everything known about one logger.
#[derive(Clone, Debug, Default)]
pub struct Timeline {
    /// Totals where they are known, in order of index.
    pub points: Vec<Point>,
    /// Beginnings of sessions, in order.
    pub sessions: Vec<Start>,
    /// Clock readings, in order of index.
    pub anchors: Vec<Anchor>,
    /// Configurations, with the index from which each is in force.
    pub configs: Vec<(u32, Config)>,
    /// On-periods of lines whose periods are kept one by one.
    pub runs: Vec<Run>,
    /// Changes of the ship's way, in order of index.
    pub ways: Vec<Way>,
    /// On-periods that were not kept one by one.
    pub runs_skipped: u64,
    /// Times at which edges began to be merged.
    pub coalesced: Vec<u64>,
    /// Flash trouble: the index, and how many points came before it.
    pub damage: Vec<(u32, usize, Damage)>,
    /// Missing indices: first, and one past the last.
    pub gaps: Vec<(u32, u32)>,
    /// Bases that say less than the sum before them, by index: something is wrong with the logger.
    pub contradictions: Vec<u32>,
    /// Sums that could be checked against a base, and were found equal.
    pub sums_checked: u32,
    /// The first index and one past the last.
    pub range: Option<(u32, u32)>,
}

/// The totals at one instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    /// The record that says so.
    pub index: u32,
    /// The totals; session and uptime are among them.
    pub totals: Totals,
}

/// The beginning of a session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Start {
    /// The record's index.
    pub index: u32,
    /// What it says.
    pub session: Session,
    /// Numbers missing since the session before: sessions too short to write anything.
    pub skipped: u32,
}

/// A change of the ship's way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Way {
    /// The record that says so.
    pub index: u32,
    /// The session in which it was.
    pub session: u32,
    /// The uptime from which on it was so.
    pub uptime_tenths: u64,
    /// What it was from then on.
    pub motion: Motion,
}

impl Timeline {
    /// Joins records, which must come in order of index. Missing indices are gaps: what a gap
    /// took from the totals, the next base gives back.
    #[must_use]
    pub fn build(records: &[(u32, Record)]) -> Timeline {
        Self::passing_over(records, &[])
    }

    /// The same, where `later` are the indices, in order, of records of a kind that a later version has added: they move no totals
    /// (see [`Record`]), so they are no gap.
    #[must_use]
    pub fn passing_over(records: &[(u32, Record)], later: &[u32]) -> Timeline {
        let mut line = Timeline::default();
        // Totals by base and spans, as long as nothing is missing.
        let mut sum: Option<Totals> = None;
        let mut expected: Option<u32> = None;
        for (index, record) in records {
            let index = *index;
            if let Some(expected) = expected.filter(|expected| *expected < index)
                && !(expected..index).all(|missing| later.binary_search(&missing).is_ok())
            {
                line.gaps.push((expected, index));
                sum = None;
            }
            expected = index.checked_add(1);
            line.range = Some((line.range.map_or(index, |(first, _)| first), index.saturating_add(1)));
            match record {
                Record::Base(totals) => {
                    line.take_base(index, totals, sum.as_ref());
                    sum = Some(*totals);
                }
                Record::Span(span) => {
                    if let Some(totals) = &mut sum {
                        totals.add(span);
                        line.points.push(Point { index, totals: *totals });
                    }
                }
                Record::Session(session) => {
                    line.start(index, session);
                    if let Some(totals) = &mut sum {
                        // The same totals again, but on the other side of the dark.
                        totals.session = session.session;
                        line.points.push(Point { index, totals: *totals });
                    }
                }
                Record::Anchor(anchor) => line.anchors.push(*anchor),
                Record::Run(run) => line.runs.push(*run),
                Record::Coalesced { uptime_tenths, .. } => line.coalesced.push(*uptime_tenths),
                Record::RunsSkipped { runs } => line.runs_skipped += u64::from(*runs),
                Record::Damage(damage) => line.damage.push((index, line.points.len(), *damage)),
                Record::Config(config) => {
                    if line.configs.last().is_none_or(|(_, before)| before != config) {
                        line.configs.push((index, *config));
                    }
                }
                Record::Way { uptime_tenths, motion } => {
                    // Where a session's beginning may be lost, it is not known which session it was in.
                    if let Some(totals) = &sum {
                        let session = totals.session;
                        line.ways.push(Way {
                            index,
                            session,
                            uptime_tenths: *uptime_tenths,
                            motion: *motion,
                        });
                    }
                }
            }
        }
        line
    }

    fn take_base(&mut self, index: u32, base: &Totals, sum: Option<&Totals>) {
        let before = sum.or(self.points.last().map(|point| &point.totals));
        if let Some(before) = before
            && fell(base, before)
        {
            self.contradictions.push(index);
        } else if let Some(sum) = sum
            && sum.on_tenths == base.on_tenths
            && sum.uptime_tenths == base.uptime_tenths
        {
            self.sums_checked += 1;
        }
        self.points.push(Point { index, totals: *base });
    }

    fn start(&mut self, index: u32, session: &Session) {
        let before = self.sessions.last().map(|start| start.session.session);
        let skipped = before.map_or(0, |before| session.session.saturating_sub(before).saturating_sub(1));
        // A number missing where records are missing is a session not seen, not one too short.
        let gap = self
            .gaps
            .last()
            .is_some_and(|(_, end)| self.sessions.last().is_none_or(|start| *end > start.index));
        let skipped = if gap { 0 } else { skipped };
        self.sessions.push(Start { index, session: *session, skipped });
    }

    /// The configurations in force at some time at or after the record `index`.
    pub fn configs_since(&self, index: u32) -> impl Iterator<Item = &Config> {
        let first = self.configs.iter().rposition(|(from, _)| *from <= index).unwrap_or(0);
        self.configs.iter().skip(first).map(|(_, config)| config)
    }
}

/// Whether any figure fell from `before` to `after`.
fn fell(after: &Totals, before: &Totals) -> bool {
    after.uptime_tenths < before.uptime_tenths
        || after.on_tenths.iter().zip(&before.on_tenths).any(|(after, before)| after < before)
        || after.starts.iter().zip(&before.starts).any(|(after, before)| after < before)
        || after.session < before.session
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::record::{Cause, Span};

    fn base(uptime: u64, on: u64, session: u32) -> Record {
        let mut totals = Totals { uptime_tenths: uptime, session, ..Totals::default() };
        totals.on_tenths[2] = on;
        Record::Base(totals)
    }

    fn span(uptime: u32, on: u32) -> Record {
        let mut span = Span { uptime_tenths: uptime, ..Span::default() };
        span.on_tenths[2] = on;
        Record::Span(span)
    }

    fn session(session: u32, uptime_tenths: u64) -> Record {
        Record::Session(Session {
            session,
            uptime_tenths,
            cause: Cause::Power,
            found_on: 0,
            lost_max_tenths: 100,
            usb_only: false,
        })
    }

    fn seen(line: &Timeline) -> Vec<(u32, u64, u64, u32)> {
        line.points
            .iter()
            .map(|p| (p.index, p.totals.uptime_tenths, p.totals.on_tenths[2], p.totals.session))
            .collect()
    }

    fn numbered(records: &[Record]) -> Vec<(u32, Record)> {
        (0..).zip(records.iter().copied()).collect()
    }

    /// By hand: 0/0, +100/+40, power cut, session 2 at the same totals, +50/+50, and a base that agrees.
    #[test]
    fn base_plus_spans_are_totals_and_the_next_base_checks_the_sum() {
        let records = [base(0, 0, 1), span(100, 40), session(2, 100), span(50, 50), base(150, 90, 2)];
        let line = Timeline::build(&numbered(&records));
        let expected = [(0, 0, 0, 1), (1, 100, 40, 1), (2, 100, 40, 2), (3, 150, 90, 2), (4, 150, 90, 2)];
        assert_eq!(seen(&line), expected);
        assert_eq!((line.sums_checked, line.contradictions.len(), line.gaps.len()), (1, 0, 0));
    }

    /// A lost span: nothing is said until the next base, which gives back what the span had.
    #[test]
    fn the_next_base_heals_what_a_lost_record_took() {
        let mut records = numbered(&[
            base(0, 0, 1),
            span(100, 40),
            span(100, 100),
            span(100, 0),
            base(300, 140, 1),
            span(9, 9),
        ]);
        records.remove(2);
        let line = Timeline::build(&records);
        assert_eq!(seen(&line), [(0, 0, 0, 1), (1, 100, 40, 1), (4, 300, 140, 1), (5, 309, 149, 1)]);
        assert_eq!(line.gaps, [(2, 3)]);
        assert!(line.contradictions.is_empty());
    }

    /// The same record missing because it is of a later kind: the sum goes on.
    #[test]
    fn a_record_of_a_later_kind_is_no_gap() {
        let mut records =
            numbered(&[base(0, 0, 1), span(100, 40), span(0, 0), span(100, 0), base(200, 40, 1)]);
        records.remove(2);
        let line = Timeline::passing_over(&records, &[2]);
        assert_eq!(seen(&line), [(0, 0, 0, 1), (1, 100, 40, 1), (3, 200, 40, 1), (4, 200, 40, 1)]);
        assert_eq!((line.sums_checked, line.gaps.len()), (1, 0));
        assert_eq!(Timeline::passing_over(&records, &[1, 3]).gaps, [(2, 3)]);
    }

    #[test]
    fn a_base_below_the_sum_is_a_contradiction() {
        let line = Timeline::build(&numbered(&[base(0, 0, 1), span(100, 40), base(100, 39, 1)]));
        assert_eq!(line.contradictions, [2]);
    }

    #[test]
    fn a_missing_session_number_is_a_short_session_unless_records_are_missing() {
        let records = numbered(&[base(0, 0, 1), session(1, 0), session(4, 0)]);
        assert_eq!(Timeline::build(&records).sessions[1].skipped, 2);
        let mut records = numbered(&[base(0, 0, 1), session(1, 0), span(1, 1), session(4, 0)]);
        records.remove(2);
        assert_eq!(Timeline::build(&records).sessions[1].skipped, 0);
    }
}
