//! The ship's clock: which offset from UTC it had when, and what a time read from it can mean.
//!
//! ```text
//!  UTC          ----------s---------------      s: the instant at which the clock was set to another offset
//!  advanced      .. 00:58 01:59 | 03:00 ..      02:30 was never shown: it is 02:30 by the old offset (after s) or
//!                                               by the new (before s), or anything between
//!  retarded      .. 01:58 02:59 | 02:00 ..      02:30 was shown twice: it is anything from the first to the second
//! ```
//! A bare date is all of that local day, both of them where a date was lived twice at the date line. Before the
//! first offset nothing is known, so nothing is read. Nothing is guessed: what can mean several instants is a
//! [`Moment`] that holds them all.

use super::{Moment, Written, no_offset, read};
use jiff::civil::DateTime;
use jiff::fmt::temporal::{DateTimeParser, DateTimePrinter};
use jiff::tz::{Offset, TimeZone};

/// What to do where no offset of the ship's clock is known.
const IMPORT: &str = "or say once what the ship's clock was, with `halfglass import zones FILE`: then local \
                      times and bare dates are understood";

/// What the ship's clock showed, as far as it is known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Clock {
    /// By time.
    pieces: Vec<Piece>,
}

/// A time in which the offset stayed the same: from an instant to just before another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Piece {
    from_ms: i64,
    to_ms: i64,
    /// Local time less UTC.
    offset_ms: i64,
}

impl Clock {
    /// From instants (milliseconds since 1970, in UTC) and the offsets (seconds, local time less UTC) that held
    /// from then until the next; in any order. Of two offsets from one instant, either may have held.
    #[must_use]
    pub fn new(offsets: &[(i64, i32)]) -> Clock {
        let mut offsets = offsets.to_vec();
        offsets.sort_unstable();
        let piece = |&(from_ms, offset_s): &(i64, i32)| {
            let next = offsets.iter().map(|(from_ms, _)| *from_ms).find(|next_ms| *next_ms > from_ms);
            Piece { from_ms, to_ms: next.unwrap_or(i64::MAX), offset_ms: i64::from(offset_s) * 1_000 }
        };
        Clock { pieces: offsets.iter().map(piece).collect() }
    }

    /// Reads a time: RFC 3339 with an offset (that instant; a time of day is exact, whatever it leaves out), a local
    /// time, a bare date, or two of these with a slash between, for something that was between them.
    ///
    /// # Errors
    /// What is wrong with it and what to write instead, as a sentence to put behind the place where it stood.
    pub fn moment(&self, text: &str) -> Result<Moment, String> {
        let Some((from, to)) = text.split_once('/') else { return self.one(text.trim()) };
        let (from, to) = (self.one(from.trim())?, self.one(to.trim())?);
        if to.hi_ms() < from.lo_ms() {
            return Err(format!("`{text}` ends before it begins: write the earlier time first"));
        }
        Ok(from.hull(to))
    }

    fn one(&self, text: &str) -> Result<Moment, String> {
        let written = read(text)?;
        let (from, to) = match written {
            Written::Instant(ms) => return Ok(Moment::exact(ms)),
            _ if self.pieces.is_empty() => return Err(format!("{}; {IMPORT}", no_offset(text, &written))),
            Written::Local(local) => (as_if_utc_ms(local), None),
            Written::Day(day) => {
                let next = day.tomorrow().map_err(|_| no_offset(text, &written))?;
                let midnight_ms = |day: jiff::civil::Date| as_if_utc_ms(day.at(0, 0, 0, 0));
                (midnight_ms(day), Some(midnight_ms(next)))
            }
        };
        if self.is_before_all(from) {
            let first_ms = self.pieces.first().map_or(0, |piece| piece.from_ms);
            return Err(format!(
                "`{text}` lies before the first offset that is known of the ship's clock, which holds from {}: write \
                 the offset, {}, or add the earlier one with `halfglass add zone`",
                super::rfc3339(first_ms),
                super::EXAMPLE
            ));
        }
        let found = match to {
            None => self.shown(from).or_else(|| self.skipped(from, from)),
            Some(to) => self.day(from, to).or_else(|| self.skipped(from, to)),
        };
        found.ok_or_else(|| no_offset(text, &written))
    }

    /// Whether a local time, or part of what follows it, lies before anything that is known.
    fn is_before_all(&self, local_ms: i64) -> bool {
        let first_ms = self.pieces.first().map_or(i64::MAX, |first| first.from_ms);
        let first = self.pieces.iter().take_while(|piece| piece.from_ms == first_ms);
        first.map(|piece| local_ms.saturating_sub(piece.offset_ms)).any(|utc_ms| utc_ms < first_ms)
            && self.shown(local_ms).is_none()
    }

    /// All instants at which the clock showed this local time.
    fn shown(&self, local_ms: i64) -> Option<Moment> {
        let instants = self.pieces.iter().filter_map(|piece| {
            let utc_ms = local_ms.saturating_sub(piece.offset_ms);
            (piece.from_ms <= utc_ms && utc_ms < piece.to_ms).then_some(Moment::exact(utc_ms))
        });
        instants.reduce(Moment::hull)
    }

    /// All of the time at which the clock showed a local time from one to just before another.
    fn day(&self, from_ms: i64, to_ms: i64) -> Option<Moment> {
        let parts = self.pieces.iter().filter_map(|piece| {
            let lo_ms = from_ms.saturating_sub(piece.offset_ms).max(piece.from_ms);
            let hi_ms = to_ms.saturating_sub(piece.offset_ms).min(piece.to_ms);
            (lo_ms < hi_ms).then_some(Moment::between(lo_ms, hi_ms))
        });
        parts.reduce(Moment::hull)
    }

    /// For local times that were jumped over: from the first by the new offset to the last by the old one.
    fn skipped(&self, from_ms: i64, to_ms: i64) -> Option<Moment> {
        let steps = self.pieces.iter().flat_map(|old| {
            let new = self.pieces.iter().filter(|new| new.from_ms == old.to_ms);
            new.map(move |new| (old, new))
        });
        let spans = steps.filter_map(|(old, new)| {
            let jumped = (old.to_ms.saturating_add(old.offset_ms), new.from_ms + new.offset_ms);
            let inside = jumped.0 <= from_ms && to_ms <= jumped.1;
            inside.then(|| Moment::between(from_ms - new.offset_ms, to_ms - old.offset_ms))
        });
        spans.reduce(Moment::hull)
    }
}

/// A local time as the instant at which UTC shows the same; every civil date is inside jiff's instants for that.
fn as_if_utc_ms(local: DateTime) -> i64 {
    Offset::UTC.to_timestamp(local).map_or(i64::MAX, jiff::Timestamp::as_millisecond)
}

/// Reads an offset from UTC, such as `+02:00`, in seconds.
///
/// # Errors
/// What is wrong with it, as a sentence to put behind the place where it stood.
pub fn parse_offset(text: &str) -> Result<i32, String> {
    /// The civil offsets on earth reach from -12:00 to +14:00.
    const SECONDS: std::ops::RangeInclusive<i32> = -12 * 3_600..=14 * 3_600;
    static PARSER: DateTimeParser = DateTimeParser::new();
    if text == "Z" || text == "UTC" {
        return Ok(0);
    }
    let signed = Some(text).filter(|text| text.starts_with(['+', '-']));
    let zone = signed.and_then(|text| PARSER.parse_time_zone(text).ok());
    match zone.and_then(|zone| zone.to_fixed_offset().ok()).map(Offset::seconds) {
        Some(seconds) if SECONDS.contains(&seconds) => Ok(seconds),
        Some(_) => Err(format!("no clock has the offset `{text}`: they reach from -12:00 to +14:00")),
        None => Err(format!(
            "`{text}` is no offset from UTC: write sign, hours and minutes, for instance +02:00 or -03:30"
        )),
    }
}

/// An offset in seconds as it is written: `+02:00`.
#[must_use]
pub fn written_offset(offset_s: i32) -> String {
    static PRINTER: DateTimePrinter = DateTimePrinter::new();
    let offset = Offset::from_seconds(offset_s).ok().filter(|offset| !offset.is_zero());
    let written = offset.and_then(|offset| PRINTER.time_zone_to_string(&TimeZone::fixed(offset)).ok());
    written.unwrap_or_else(|| "+00:00".to_owned())
}

#[cfg(test)]
#[path = "clock_tests.rs"]
mod tests;
