//! From times that were said to a time that is believed, with a bound.
//!
//! A talker says the time of its latest fix, and says it up to a second later: it sends once a second, behind other sentences
//! (common practice, no source; the standard gives no bound). So when the `$` of a sentence comes, the true time lies between what
//! it says and [`LATE_MAX_MS`] and its last digit's step later; the middle is taken, and half of that is its bound: 505 ms for a
//! time in hundredths, 1 s for whole seconds.

use super::{FIRST_YEAR, Utc};
use core::ops::Range;

/// By how much a sentence may come later than the time that it says, in milliseconds.
pub const LATE_MAX_MS: u16 = 1_000;

/// For so long every sentence must have agreed with the first.
const AGREE_MS: u64 = 10_000;

/// After so long a silence agreement begins anew.
const SILENT_MS: u64 = 60_000;

/// Anchors are of these years.
const YEARS: u64 = 30;

/// A year at least, in milliseconds; and the year 1970 to [`FIRST_YEAR`], at most.
const YEAR_MS: u64 = 365 * 86_400_000;
const FIRST_MS: u64 = days_to(FIRST_YEAR) * 86_400_000;

/// Instants that a clock may say, in milliseconds since 1970.
pub(crate) const PLAUSIBLE_MS: Range<u64> = FIRST_MS..FIRST_MS + YEARS * YEAR_MS;

/// Days from 1970 to the beginning of a year: every fourth is a leap year from 1972 to 2096.
const fn days_to(year: u16) -> u64 {
    (year as u64 - 1970) * 365 + (year as u64 - 1969) / 4
}

/// A time that is believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShipTime {
    /// At this instant since power-up
    pub at_ms: u64,
    /// it was so late, in milliseconds since 1970, UTC,
    pub utc_ms: u64,
    /// give or take so much.
    pub uncertainty_ms: u32,
}

/// What sentences said one after the other.
#[derive(Clone, Debug)]
pub(super) struct Trust {
    /// The first that all since agree with: what it said, and when it came.
    first: Option<(u64, u64)>,
    last_ms: u64,
}

impl Trust {
    pub(super) const fn new() -> Self {
        Self { first: None, last_ms: 0 }
    }

    /// Takes in a time whose `$` came at `at_ms`; a time to believe, once there is reason to.
    pub(super) fn take(&mut self, utc: Utc, at_ms: u64) -> Option<ShipTime> {
        if !PLAUSIBLE_MS.contains(&utc.ms) {
            self.first = None;
            return None;
        }
        let silent = at_ms.saturating_sub(self.last_ms) > SILENT_MS;
        self.last_ms = at_ms;
        let (first_utc_ms, first_at_ms) = match self.first {
            Some(first) if !silent => first,
            _ => *self.first.insert((utc.ms, at_ms)),
        };
        let passed_ms = at_ms.saturating_sub(first_at_ms);
        let said_ms = utc.ms.wrapping_sub(first_utc_ms) as i64;
        // Both were late by something between nothing and the most; the crystal's share in this is far below a step.
        let apart_ms = said_ms.wrapping_sub(passed_ms as i64).unsigned_abs();
        if apart_ms > u64::from(LATE_MAX_MS) + u64::from(utc.step_ms) + passed_ms / 5_000 {
            self.first = Some((utc.ms, at_ms));
            return None;
        }
        if passed_ms < AGREE_MS {
            return None;
        }
        // The next must agree with a recent one: a crystal's error must not add up over days.
        if passed_ms > 6 * AGREE_MS {
            self.first = Some((utc.ms, at_ms));
        }
        let late_ms = u64::from(LATE_MAX_MS) + u64::from(utc.step_ms);
        Some(ShipTime { at_ms, utc_ms: utc.ms + late_ms / 2, uncertainty_ms: late_ms.div_ceil(2) as u32 })
    }
}
