//! What a logger writes into its history, record by record.
//!
//! A record has an index that only grows; a missing index is a record that was lost and is said to
//! be lost. A history always starts with a [`Record::Base`] (absolute totals), which is repeated at
//! every page of the logger's flash; a [`Record::Span`] says how far everything moved since the base
//! or span before it. So `base + spans` are the totals at any span's end, and the next base checks the sum.

use crate::config::Config;
use crate::{LINES_MAX, RADARS_MAX};
use serde::{Deserialize, Serialize};

/// The longest encoding of a record, in bytes.
pub const RECORD_MAX: usize = 160;

/// Lifetime totals at one instant. Nothing in here ever falls.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// The logger's own powered time, all sessions added.
    pub uptime_tenths: u64,
    /// On-time of each line.
    pub on_tenths: [u64; LINES_MAX],
    /// How often each line went on. A line found on at power-up counts as a start; the
    /// [`Session`] record says which were.
    pub starts: [u32; LINES_MAX],
    /// Transmit lost for under 10 s while the heater stayed on, per radar.
    pub drop_outs: [u32; RADARS_MAX],
    /// Transmit begun sooner after heater-on than the stated warm-up, per radar.
    pub short_warm_ups: [u32; RADARS_MAX],
    /// The number of the current session; the first is 1.
    pub session: u32,
}

/// Growth of the totals since the base or span before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Span {
    /// Growth of the uptime.
    pub uptime_tenths: u32,
    /// Growth of each line's on-time.
    pub on_tenths: [u32; LINES_MAX],
    /// Growth of each line's starts.
    pub starts: [u32; LINES_MAX],
    /// Growth of the drop-outs.
    pub drop_outs: [u32; RADARS_MAX],
    /// Growth of the short warm-ups.
    pub short_warm_ups: [u32; RADARS_MAX],
}

impl Totals {
    /// How far `self` lies beyond `earlier`; figures that fell or grew past 32 bits saturate.
    #[must_use]
    pub fn since(&self, earlier: &Totals) -> Span {
        let long = |now: u64, then: u64| u32::try_from(now.saturating_sub(then)).unwrap_or(u32::MAX);
        let mut span =
            Span { uptime_tenths: long(self.uptime_tenths, earlier.uptime_tenths), ..Span::default() };
        for (out, (now, then)) in span.on_tenths.iter_mut().zip(self.on_tenths.iter().zip(&earlier.on_tenths))
        {
            *out = long(*now, *then);
        }
        for (out, (now, then)) in span.starts.iter_mut().zip(self.starts.iter().zip(&earlier.starts)) {
            *out = now.saturating_sub(*then);
        }
        for (out, (now, then)) in span.drop_outs.iter_mut().zip(self.drop_outs.iter().zip(&earlier.drop_outs))
        {
            *out = now.saturating_sub(*then);
        }
        let pairs = self.short_warm_ups.iter().zip(&earlier.short_warm_ups);
        for (out, (now, then)) in span.short_warm_ups.iter_mut().zip(pairs) {
            *out = now.saturating_sub(*then);
        }
        span
    }

    /// Moves the totals on by a span.
    pub fn add(&mut self, span: &Span) {
        self.uptime_tenths = self.uptime_tenths.saturating_add(u64::from(span.uptime_tenths));
        for (total, more) in self.on_tenths.iter_mut().zip(span.on_tenths) {
            *total = total.saturating_add(u64::from(more));
        }
        for (total, more) in self.starts.iter_mut().zip(span.starts) {
            *total = total.saturating_add(more);
        }
        for (total, more) in self.drop_outs.iter_mut().zip(span.drop_outs) {
            *total = total.saturating_add(more);
        }
        for (total, more) in self.short_warm_ups.iter_mut().zip(span.short_warm_ups) {
            *total = total.saturating_add(more);
        }
    }
}

impl Totals {
    /// Takes in what an encoded record says of the totals: spans and sessions do. Decodes no more than it needs, so that
    /// a logger need not hold the decoding of every kind.
    pub fn count(&mut self, record: &[u8]) {
        match record.split_first() {
            Some((&Record::SPAN, content)) => {
                if let Some(span) = crate::message::from_slice::<Span>(content) {
                    self.add(&span);
                }
            }
            Some((&Record::SESSION, content)) => {
                if let Some(session) = crate::message::from_slice::<Session>(content) {
                    self.session = session.session;
                }
            }
            _ => {}
        }
    }
}

/// Why the logger started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Cause {
    /// Power came, or nothing more is known.
    Power,
    /// The watchdog bit.
    Watchdog,
    /// The firmware ended itself (a panic in a board's own code).
    Fault,
    /// The reset pin, a debugger or a firmware update.
    Request,
}

/// The beginning of a session. It follows a span that closed the session before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Session {
    /// Its number; a number that is missing was a session too short to write anything.
    pub session: u32,
    /// The lifetime uptime at which it begins.
    pub uptime_tenths: u64,
    /// Why the logger started.
    pub cause: Cause,
    /// Which lines were on when the inputs first settled: their starts may be no starts of the radar.
    pub found_on: u8,
    /// The most that any one line, and the uptime, can have lost at the end of the session before.
    pub lost_max_tenths: u32,
    /// The logger ran on USB power alone when it started.
    pub usb_only: bool,
}

/// Where a clock reading came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClockSource {
    /// The computer that pulled.
    Host,
    /// A battery-backed clock on the logger's board.
    Battery,
    /// A date and time sentence on the IEC 61162-1 listener.
    Ship,
}

/// One instant known on both clocks. Appended, never used to step the logger's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Anchor {
    /// The session in which it was taken.
    pub session: u32,
    /// The lifetime uptime at that instant.
    pub uptime_tenths: u64,
    /// The same instant in UTC, in milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: u64,
    /// By how much the pair may be off, either way.
    pub uncertainty_ms: u32,
    /// Who said so.
    pub source: ClockSource,
}

/// One on-period of a line whose periods are kept one by one (supply and isolated).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Run {
    /// The input.
    pub line: u8,
    /// The lifetime uptime at which it went on, rounded up.
    pub from_tenths: u64,
    /// How long it stayed on.
    pub on_tenths: u64,
}

/// Whether the ship moves, by her speed over ground. The words are those of the collision regulations (rule 35), which mean
/// the water where this means the ground: in a strong stream the two differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
// One byte on the wire, as the enum itself would be; but a logger that never says it carries nothing of it.
#[serde(into = "u8", try_from = "u8")]
#[repr(u8)]
pub enum Motion {
    /// Nobody said her speed for long, or it changed more often than is kept.
    NotKnown = 0,
    /// She makes no way: alongside, moored or at anchor, which her speed does not tell apart; or adrift.
    NoWay = 1,
    /// She makes way.
    MakingWay = 2,
}

impl From<Motion> for u8 {
    fn from(motion: Motion) -> u8 {
        motion as u8
    }
}

impl TryFrom<u8> for Motion {
    type Error = &'static str;

    fn try_from(byte: u8) -> Result<Self, Self::Error> {
        match byte {
            0 => Ok(Motion::NotKnown),
            1 => Ok(Motion::NoWay),
            2 => Ok(Motion::MakingWay),
            _ => Err("no such motion"),
        }
    }
}

/// Something that costs or may have cost history, totals or endurance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Damage {
    /// A flash page failed to erase or program and is no longer used.
    PageRetired {
        /// Which page of which region (0 totals, 1 history, 2 configuration).
        region: u8,
        /// The page within the region.
        page: u16,
    },
    /// A page's head no longer matched its check; the page before it was replayed instead.
    HeadInvalid {
        /// The region, as above.
        region: u8,
        /// The page within the region.
        page: u16,
    },
    /// Words that had been written could no longer be read; totals may be short by them.
    WordsLost {
        /// How many.
        words: u16,
    },
    /// The configuration could not be read: the one in the guide is used until a new one is written.
    ConfigLost,
}

/// One entry of the history.
///
/// A kind that is added here moves neither totals nor sessions, so that a program that does not know it may pass over it and go on
/// counting. A record that did would be the business of a new version of the dump, which an older program refuses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "never stored in bulk; a box would need an allocator")]
pub enum Record {
    /// Absolute totals, at the head of every page.
    Base(Totals),
    /// Growth since the base or span before; at most 24 h of uptime.
    Span(Span),
    /// A session begins.
    Session(Session),
    /// The clock was read.
    Anchor(Anchor),
    /// An on-period ended.
    Run(Run),
    /// Edges came faster than the wear budget allows: from here on they were merged per heartbeat.
    /// On-times stay within the rules and starts stay exact; drop-outs may be missed.
    Coalesced {
        /// The lifetime uptime at which it began.
        uptime_tenths: u64,
        /// The lines that changed while merging.
        lines: u8,
    },
    /// Runs that ended so often that they were not kept one by one.
    RunsSkipped {
        /// How many since the record before.
        runs: u32,
    },
    /// Flash trouble.
    Damage(Damage),
    /// The configuration in force from here on.
    Config(Config),
    /// The ship's way changed, in the session that was running when this was written. A session begins with
    /// [`Motion::NotKnown`], which is not written; of the dark between sessions nothing is known either.
    Way {
        /// The lifetime uptime at which it began to be so; it was written later, when it had lasted.
        uptime_tenths: u64,
        /// What it is since then.
        motion: Motion,
    },
}

impl Record {
    /// The first byte of a span, as the golden tests hold it.
    const SPAN: u8 = 1;

    /// The first byte of a session.
    const SESSION: u8 = 2;

    /// Kinds of record that this version knows.
    pub const KINDS: u8 = 10;

    /// Whether these bytes are of a kind that a later version has added: nothing to understand, nothing wrong either.
    #[must_use]
    pub fn is_of_later_version(bytes: &[u8]) -> bool {
        bytes.first().is_some_and(|kind| (Self::KINDS..0x80).contains(kind))
    }

    /// Encodes into `out`; the bytes used, or `None` if `out` is shorter than needed.
    pub fn encode<'a>(&self, out: &'a mut [u8]) -> Option<&'a [u8]> {
        postcard::to_slice(self, out).ok().map(|used| &*used)
    }

    /// Decodes a record; `None` for bytes that are no record of this version, or have a rest.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Record> {
        match postcard::take_from_bytes(bytes) {
            Ok((record, [])) => Some(record),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counting encoded records comes to the same as decoding them.
    #[test]
    fn counting_is_decoding() {
        let span =
            Span { uptime_tenths: 864_000, on_tenths: [1, 2, 3, 4, 5, 6, 7, 800_000], ..Span::default() };
        let session = Session {
            session: 7,
            uptime_tenths: 9,
            cause: Cause::Power,
            found_on: 3,
            lost_max_tenths: 112,
            usb_only: false,
        };
        let mut totals = Totals::default();
        for record in [Record::Span(span), Record::Session(session), Record::RunsSkipped { runs: 5 }] {
            let mut bytes = [0; RECORD_MAX];
            totals.count(record.encode(&mut bytes).expect("it fits"));
        }
        let mut expected = Totals { session: 7, ..Totals::default() };
        expected.add(&span);
        assert_eq!(totals, expected);
    }
}
