//! A clock with a battery of its own beside the logger, on boards that have one: what it is believed, and who sets it.
//!
//! ```text
//!  at start, and once a day:        chip --> time, note --> bound --> Logger::anchor     source `Battery`
//!  after an anchor of the host
//!  or the ship, once a day at most:            time, note --> chip
//!
//!  the note, 7 bytes that the chip keeps with the time:
//!  0               4              5              7
//!  | set at        | how certain  | check        |
//!  | s since 1970  | that was, s  | of the five  |
//!  | u32           | u8           | CRC-32, low  |   little-endian
//! ```
//!
//! A board calls [`Keeper::tend`] at every turn of its loop, and that is all. A board without such a clock never names this module, and
//! none of it is in its image.
//!
//! # How far it is believed
//!
//! Not at all, unless the chip says that its oscillator never stood still, its digits are a date within thirty years of this firmware, and
//! the note says when it was set and from how certain a time. Then the bound is that certainty and [`DRIFT_PPM`] of the time since,
//! whatever the temperature was and however old the chip is. A clock that nobody of ours has set makes no anchor.

use crate::Logger;
use crate::sentence::trust::PLAUSIBLE_MS;
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::crc32;
use halfglass_protocol::record::ClockSource;

/// Bytes that a chip keeps for the board beside the time.
pub const NOTE_LEN: usize = 7;

/// By how much a chip may run wrong, in parts in a million.
///
/// The DS3231's data sheet (19-5170) gives, with the ageing offset at 0, 3.5 from -40 to 85 °C; and, from memory: 1 for each volt that
/// the supply is away from 3.3 V, so 1.5 at most between 2.3 V of battery and 4.8 V; 5 for ten years of ageing. It says nothing of later
/// years: taken on in a straight line, 12.5 for the 25 years of a logger. Together 17.5, and a little over.
pub const DRIFT_PPM: u32 = 20;

/// The chip knows whole seconds, so half of one either way: at setting, and again at reading.
const HALF_SECOND_MS: u32 = 500;

/// A call may take so long, and the time is of some instant within.
pub const CALL_MAX_MS: u32 = 100;

/// Read and set this often at most.
const DAY_MS: u64 = 24 * 3_600_000;

/// After a reading that came to nothing: the chip may be new, or the bus disturbed.
const AGAIN_MS: u64 = 3_600_000;

/// Nothing is read before the logger takes anchors.
const FIRST_MS: u64 = 3_000;

/// What a chip holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Its time, in whole seconds since 1970, UTC.
    pub utc_s: u64,
    /// The board's bytes.
    pub note: [u8; NOTE_LEN],
}

/// A clock chip. Each call must end within [`CALL_MAX_MS`], whatever the chip does.
pub trait Chip {
    /// What it holds. `None`: there is no chip, it does not answer, its oscillator has stood still, or its digits are no date.
    fn read(&mut self) -> Option<Reading>;

    /// Voids the note, sets the time, and leaves the new note last: a board that loses its power in between leaves a void one.
    /// False: not wholly done.
    fn set(&mut self, to: &Reading) -> bool;
}

/// A time that a chip's reading comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Claim {
    set_s: u64,
    utc_ms: u64,
    uncertainty_ms: u32,
}

/// Sees to a clock chip.
#[derive(Clone, Debug)]
pub struct Keeper {
    /// The next reading is wanted from here on.
    read_from_ms: u64,
    /// And the next setting.
    set_from_ms: u64,
    /// Of the newest anchor that was looked at.
    heard_at_ms: Option<u64>,
}

impl Default for Keeper {
    fn default() -> Self {
        Self::new()
    }
}

impl Keeper {
    /// Nothing was read or set yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { read_from_ms: FIRST_MS, set_from_ms: 0, heard_at_ms: None }
    }

    /// Reads or sets the chip if it is time to; `now_ms` since power-up. Mostly does nothing.
    pub fn tend<F: NorFlash, const L: usize>(
        &mut self,
        logger: &mut Logger<F, L>,
        chip: &mut impl Chip,
        now_ms: u64,
    ) {
        if let Some(heard) = logger.heard()
            && self.heard_at_ms != Some(heard.at_ms)
        {
            self.heard_at_ms = Some(heard.at_ms);
            if now_ms >= self.set_from_ms
                && let Some(to) = worth_setting(&heard, chip, now_ms)
            {
                // Also if it failed: the note is void then, and no worse can come of it.
                self.set_from_ms = now_ms.saturating_add(DAY_MS);
                if chip.set(&to) {
                    log!(info, "battery clock set to {=u64} s since 1970", to.utc_s);
                } else {
                    log!(warn, "battery clock could not be set");
                }
            }
        } else if now_ms >= self.read_from_ms {
            let anchored = chip.read().and_then(claim).is_some_and(|claim| {
                logger.anchor(now_ms, claim.utc_ms, claim.uncertainty_ms, ClockSource::Battery)
            });
            log!(info, "battery clock read, an anchor: {=bool}", anchored);
            self.read_from_ms = now_ms.saturating_add(if anchored { DAY_MS } else { AGAIN_MS });
        }
    }
}

/// What somebody outside has told the logger of the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// At this instant since power-up
    pub at_ms: u64,
    /// it was so late, in milliseconds since 1970, UTC,
    pub utc_ms: u64,
    /// give or take so much.
    pub uncertainty_ms: u32,
}

/// What to set the chip to, unless what it claims by itself is as good, or it was set within a day.
fn worth_setting(heard: &Heard, chip: &mut impl Chip, now_ms: u64) -> Option<Reading> {
    let utc_ms = heard.utc_ms.saturating_add(now_ms.saturating_sub(heard.at_ms));
    if !PLAUSIBLE_MS.contains(&utc_ms) {
        return None;
    }
    // A reading goes before the setting.
    let own_ms = heard.uncertainty_ms.saturating_add(HALF_SECOND_MS + 2 * CALL_MAX_MS);
    let certain_s = u8::try_from(own_ms.div_ceil(1_000)).ok()?;
    let utc_s = (utc_ms + u64::from(HALF_SECOND_MS)) / 1_000;
    if let Some(claim) = chip.read().and_then(claim) {
        let apart_ms = claim.utc_ms.abs_diff(utc_ms);
        let agree = apart_ms <= u64::from(claim.uncertainty_ms) + u64::from(heard.uncertainty_ms);
        let lately = claim.set_s.abs_diff(utc_s) < DAY_MS / 1_000;
        if lately || agree && claim.uncertainty_ms <= u32::from(certain_s) * 1_000 {
            return None;
        }
    }
    Some(Reading { utc_s, note: note(u32::try_from(utc_s).ok()?, certain_s) })
}

/// What a reading comes to. `None`: the note is none, or the time is not one that can follow from it.
fn claim(reading: Reading) -> Option<Claim> {
    let [a, b, c, d, certain_s, ..] = reading.note;
    let set_s = u32::from_le_bytes([a, b, c, d]);
    if note(set_s, certain_s) != reading.note {
        return None;
    }
    let utc_ms = reading.utc_s.saturating_mul(1_000).saturating_add(u64::from(HALF_SECOND_MS));
    let gone_s = u32::try_from(reading.utc_s.checked_sub(u64::from(set_s))?).ok()?;
    if !PLAUSIBLE_MS.contains(&utc_ms) {
        return None;
    }
    let drift_ms = (gone_s / 1_000).saturating_add(1).saturating_mul(DRIFT_PPM);
    let uncertainty_ms = drift_ms.saturating_add(u32::from(certain_s) * 1_000 + HALF_SECOND_MS + CALL_MAX_MS);
    Some(Claim { set_s: u64::from(set_s), utc_ms, uncertainty_ms })
}

fn note(set_s: u32, certain_s: u8) -> [u8; NOTE_LEN] {
    let [a, b, c, d] = set_s.to_le_bytes();
    let [low, high, ..] = crc32::of(&[a, b, c, d, certain_s]).to_le_bytes();
    [a, b, c, d, certain_s, low, high]
}
