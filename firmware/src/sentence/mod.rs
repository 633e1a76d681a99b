//! The ship's time, and her speed, from sentences on an IEC 61162-1 listener (NMEA 0183 is the same on the wire).
//!
//! ```text
//!  bytes --> Listener --> parse -+-> trust --> Logger::anchor     an anchor a day, source `Ship`
//!            $ ... CR LF  ZDA    | 10 s of agreement
//!            82 at most   RMC    |
//!                         VTG    +-> way ----> Logger::way        a record when she makes way, and when she does no more
//! ```
//!
//! A board with a listener calls [`Listener::hear`] with every byte, stamped as it came, and [`Listener::wait`] whenever it wakes: that a
//! talker has fallen silent, no byte says. That is all. A board without one never names this module, and none of it is in its image.
//!
//! # How far a sentence is believed
//!
//! Its check sum is 8 bits, so of 256 sentences garbled at random one passes. And a talker that was switched on without
//! satellites, or whose count of weeks has come round (1,024 weeks, 19.6 years), sends sound sentences with a wrong date. So
//! a time counts only
//! * within thirty years of the year in which this firmware was written, and
//! * after ten seconds in which every sentence agreed with the first, on the logger's own clock.
//!
//! What is left is bounded: see [`trust`]. The ship's own clock may still be wrong; then the anchors of pulls contradict
//! it, and the host says so.
//!
//! # Why no library
//!
//! The crate `nmea` 0.8.0 without its default features, with ZDA, RMC and VTG alone, was linked for thumbv6m at `opt-level = "z"`
//! with fat LTO: 42,309 bytes of flash, more than the smallest board's whole budget; and a panic stays reachable in it, which no
//! firmware here may have. It also reads the seconds `nan` as 0. It serves as the other witness in the tests instead. This
//! module with its listener made the smallest board's image 3,144 bytes larger.

mod parse;
pub mod trust;
pub mod way;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod way_tests;

use crate::Logger;
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::record::ClockSource;
pub use parse::{Said, Utc, parse};
use trust::Trust;
use way::{Change, Tracker};

/// The longest sentence, from `$` to CR LF (IEC 61162-1).
pub const SENTENCE_MAX: usize = 82;

/// The year in which this firmware was written: no anchor is older. RMC's two digits mean a year of the hundred from here on.
pub const FIRST_YEAR: u16 = 2026;

/// A sentence without its CR LF.
const TEXT_MAX: usize = SENTENCE_MAX - 2;

/// While the ship's time is there it becomes an anchor this often: a crystal that is off by 100 ppm has gone 8.6 s by then.
const ANCHOR_EVERY_MS: u64 = 24 * 3_600_000;

/// Collects bytes to sentences, and sentences to anchors and to the ship's way.
#[derive(Clone, Debug)]
pub struct Listener {
    text: [u8; TEXT_MAX],
    /// Bytes of the sentence so far; `None`: waiting for the next `$`.
    len: Option<usize>,
    /// When its `$` came.
    began_ms: u64,
    trust: Trust,
    /// The next anchor is wanted from here on.
    anchor_from_ms: u64,
    way: Tracker,
}

impl Default for Listener {
    fn default() -> Self {
        Self::new()
    }
}

impl Listener {
    /// Nothing was heard yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            text: [0; TEXT_MAX],
            len: None,
            began_ms: 0,
            trust: Trust::new(),
            anchor_from_ms: 0,
            way: Tracker::new(),
        }
    }

    /// Takes one byte that came at `came_ms` (since power-up); now it is `now_ms`, and no earlier than the logger's last look.
    /// Appends an anchor to the logger when one is due and the time is to be believed, and a change of the ship's way when it has
    /// lasted. The ship's speed over ground in tenths of a knot, when a sentence has just said it.
    pub fn hear<F: NorFlash, const L: usize>(
        &mut self,
        logger: &mut Logger<F, L>,
        byte: u8,
        came_ms: u64,
        now_ms: u64,
    ) -> Option<u16> {
        let said = self.push(byte, came_ms)?;
        if let Some(utc) = said.utc
            && let Some(time) = self.trust.take(utc, self.began_ms)
            && now_ms >= self.anchor_from_ms
        {
            let utc_ms = time.utc_ms.saturating_add(now_ms.saturating_sub(time.at_ms));
            // Refused within a minute of another anchor: the next sentence tries again.
            if logger.anchor(now_ms, utc_ms, time.uncertainty_ms, ClockSource::Ship) {
                self.anchor_from_ms = now_ms.saturating_add(ANCHOR_EVERY_MS);
            }
        }
        let speed_tenth_knots = said.speed_tenth_knots?;
        if let Some(Change { since_ms, motion }) = self.way.hear(speed_tenth_knots, now_ms) {
            logger.way(since_ms, motion);
        }
        Some(speed_tenth_knots)
    }

    /// Time passes, with or without a byte. Appends to the logger that the ship's way is not known, when nobody has said her speed
    /// for half an hour.
    pub fn wait<F: NorFlash, const L: usize>(&mut self, logger: &mut Logger<F, L>, now_ms: u64) {
        if let Some(Change { since_ms, motion }) = self.way.wait(now_ms) {
            logger.way(since_ms, motion);
        }
    }

    /// Takes one byte that came at `came_ms`; what a sentence says when it is whole and sound.
    pub fn push(&mut self, byte: u8, came_ms: u64) -> Option<Said> {
        match byte {
            b'$' => {
                self.len = Some(0);
                self.began_ms = came_ms;
                self.keep(byte);
                None
            }
            b'\r' | b'\n' => {
                let len = self.len.take()?;
                parse(self.text.get(..len)?, FIRST_YEAR)
            }
            // `!` begins a sentence of another kind; anything that is no printable character is noise.
            b'!' | 0..=0x1F | 0x7F..=0xFF => {
                self.len = None;
                None
            }
            _ => {
                self.keep(byte);
                None
            }
        }
    }

    fn keep(&mut self, byte: u8) {
        // A sentence that is too long is none.
        self.len = self.len.and_then(|len| {
            *self.text.get_mut(len)? = byte;
            Some(len + 1)
        });
    }
}
