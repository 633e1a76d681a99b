//! Requests and replies. Variants are only ever appended.
//!
//! A body is one tag byte followed by the postcard encoding. The tag is the asker's own and comes
//! back unchanged, so an answer that arrives late is never taken for the answer to something else.

use crate::config::{Config, ConfigFault};
use crate::record::{ClockSource, Totals};
use serde::{Deserialize, Serialize};

/// What a host may ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request {
    /// Line states, totals and health now.
    Status,
    /// The configuration in force.
    Config,
    /// Append a clock anchor. Needs no leave; at most one a minute.
    Anchor {
        /// The host's UTC at sending, in milliseconds since 1970.
        utc_ms: u64,
        /// By how much it may be off, travel time included.
        uncertainty_ms: u32,
        /// Whose clock it is.
        source: ClockSource,
    },
    /// Bring the history up to now (at most once a minute) and fix the range of a pull.
    Fix {
        /// The first record index that the host lacks. 0 asks for everything.
        have: u32,
    },
    /// Records of a fixed range.
    Read {
        /// The first index wanted.
        from: u32,
        /// The range's end: records at and beyond it are not sent.
        to: u32,
    },
    /// Replace the configuration. The button at the logger must be held.
    SetConfig(Config),
}

/// What a logger answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(
    clippy::large_enum_variant,
    reason = "lives on the stack of one handler; a box would need an allocator"
)]
pub enum Reply<'a> {
    /// The request was not carried out.
    Refused(Refusal),
    /// Answers [`Request::Status`].
    Status(Status),
    /// Answers [`Request::Config`].
    Config(Config),
    /// Answers [`Request::Anchor`]: the anchor is in flash.
    Anchored {
        /// The session and
        session: u32,
        /// the lifetime uptime at which it was taken.
        uptime_tenths: u64,
    },
    /// Answers [`Request::Fix`]: the range to read. `from` is the start of a page at or below `have`
    /// (so the record there is a base), or the oldest record still kept.
    Range {
        /// The first index.
        from: u32,
        /// One past the last index.
        to: u32,
        /// The oldest index that the logger still keeps.
        oldest: u32,
    },
    /// Answers [`Request::Read`]: whole records, each behind its length in one byte. A length of 0 is
    /// a record that was lost.
    Records {
        /// The index of the first record here.
        first: u32,
        /// Lengths and records.
        data: &'a [u8],
    },
    /// Answers [`Request::SetConfig`]: the new configuration is in flash and in force.
    Done,
}

/// Why a request was not carried out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal {
    /// This firmware does not know the request.
    Unknown,
    /// The request is known but its content makes no sense.
    Malformed,
    /// Too soon after the last one.
    Wait {
        /// Ask again after so many seconds.
        seconds: u16,
    },
    /// Hold the button at the logger and ask again.
    HoldButton,
    /// The range is not in the history (any more).
    OutOfRange {
        /// The oldest index kept.
        oldest: u32,
        /// The next index to be written.
        next: u32,
    },
    /// The flash could not be written: see the health figures.
    Flash,
    /// The configuration has a fault.
    Config(ConfigFault),
    /// Supply has not been good for long enough to write. Ask again in a moment.
    NotReady,
}

/// Line states, totals and health.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Status {
    /// Totals up to now; the last moments may not be in flash yet.
    pub totals: Totals,
    /// Which lines are on.
    pub on: u8,
    /// The next history index.
    pub next_index: u32,
    /// The oldest history index kept.
    pub oldest_index: u32,
    /// Flash health.
    pub health: Health,
}

/// How the flash is ageing and what has gone wrong.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Pages of the totals ring turned over in its life. Divided by its pages: erases of each.
    pub journal_turns: u32,
    /// Pages of the totals ring.
    pub journal_pages: u16,
    /// Pages of it that failed and are no longer used.
    pub journal_retired: u16,
    /// The same for the history ring.
    pub history_turns: u32,
    /// Pages of the history ring.
    pub history_pages: u16,
    /// Pages of it that failed.
    pub history_retired: u16,
    /// Words that could not be read at this session's start.
    pub words_lost: u16,
    /// Writes that failed in this session and were made good elsewhere.
    pub write_faults: u16,
    /// How often the firmware ended itself in its life (a panic in a board's own code).
    pub faults: u16,
}

/// Encodes a message behind its tag.
pub fn encode<'a, T: Serialize>(tag: u8, message: &T, out: &'a mut [u8]) -> Option<&'a [u8]> {
    let (first, rest) = out.split_first_mut()?;
    *first = tag;
    let used = to_slice(message, rest)?;
    out.get(..used + 1)
}

/// Splits a body into tag and message. `Ok((tag, None))`: the tag is there but the message is not understood.
#[must_use]
pub fn decode<'a, T: Deserialize<'a>>(body: &'a [u8]) -> Option<(u8, Option<T>)> {
    let (tag, rest) = body.split_first()?;
    Some((*tag, from_slice(rest)))
}

/// How many requests this version knows: a body whose first byte after the tag is at or beyond it is unknown
/// rather than malformed.
pub const REQUESTS: u8 = 6;

/// Encodes anything of this crate into `out`; how many bytes, or `None` if `out` is too short.
pub fn to_slice<T: Serialize>(value: &T, out: &mut [u8]) -> Option<usize> {
    postcard::to_slice(value, out).ok().map(|used| used.len())
}

/// Decodes anything of this crate; `None` for bytes that are none, or have a rest.
#[must_use]
pub fn from_slice<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Option<T> {
    match postcard::take_from_bytes(bytes) {
        Ok((value, [])) => Some(value),
        _ => None,
    }
}
