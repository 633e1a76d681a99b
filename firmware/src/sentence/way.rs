//! Whether the ship makes way, from her speed over ground as sentences say it.
//!
//! ```text
//!               3.0 kn or more for 10 min
//!            ┌──────────────────────────────> making way ──┐ nobody says the
//!  not known │                  ^   │ under 1.0 kn         │ speed for 30 min
//!      ^     │  3.0 kn or more  │   v for 20 min           │
//!      │     └──────────────> no way ──────────────────────┤
//!      │        under 1.0 kn                               │
//!      └───────────────────────────────────────────────────┘
//! ```
//! A change is told when it has lasted, and stamped with the instant at which it began. A receiver at a berth says 0.0 to 0.4 kn, a
//! ship that passes a lock or takes a pilot slows for minutes, shifting along the quay lasts minutes too: none of them is a change.
//! Between 1 and 3 kn she is what she was. All figures are common practice, no source.
//!
//! What a speed cannot tell: alongside from at anchor; drifting in a stream of 3 kn from making way; a passage of a canal or of ice
//! below 3 kn from what went before.
//!
//! # How many records
//!
//! Each costs one, and one an hour is earned, up to [`RECORDS_MAX`] of them; a session begins with [`RECORDS_FIRST`]. So over a long
//! time there are at most 24 a day, in no 24 hours of a session more than 48, and since a change must last, never more than 4 an
//! hour, however often power comes and goes. When one is left it says [`Motion::NotKnown`], and nothing more is said until half of
//! them are there again.

use halfglass_protocol::record::Motion;

/// She makes way at this speed over ground or more, in tenths of a knot, for so long.
pub const MAKES_WAY_TENTH_KNOTS: u16 = 30;
/// How long.
pub const MAKES_WAY_MS: u64 = 10 * 60_000;

/// She makes none below this speed, for so long.
pub const NO_WAY_TENTH_KNOTS: u16 = 10;
/// How long.
pub const NO_WAY_MS: u64 = 20 * 60_000;

/// When nobody has said the speed for so long, it is not known.
pub const SILENT_MS: u64 = 30 * 60_000;

/// What lasts is said at least this often; after a longer silence it must last anew.
pub const APART_MS: u64 = 2 * 60_000;

/// So many records can be saved up, one an hour.
pub const RECORDS_MAX: u8 = 24;

/// With so many a session begins.
pub const RECORDS_FIRST: u8 = 12;

/// One more in so long.
const EARN_MS: u64 = 3_600_000;

/// What has become of her way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Since this instant
    pub since_ms: u64,
    /// it is so.
    pub motion: Motion,
}

/// Follows the ship's way.
#[derive(Clone, Debug)]
pub struct Tracker {
    /// What she does, as far as it has lasted.
    now: Change,
    /// What was told last.
    told: Motion,
    /// What the last speeds mean, if they mean one thing, and since when.
    lasts: Option<Change>,
    /// When a speed was said last.
    heard_ms: u64,
    records: u8,
    earned_ms: u64,
    /// Too many changes: nothing is told until there is room for many again.
    mute: bool,
}

impl Default for Tracker {
    fn default() -> Self {
        Self::new()
    }
}

impl Tracker {
    /// Nothing is known.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            now: Change { since_ms: 0, motion: Motion::NotKnown },
            told: Motion::NotKnown,
            lasts: None,
            heard_ms: 0,
            records: RECORDS_FIRST,
            earned_ms: 0,
            mute: false,
        }
    }

    /// Takes in a speed over ground that was said at `now_ms`. A change to be recorded, if it makes one.
    pub fn hear(&mut self, speed_tenth_knots: u16, now_ms: u64) -> Option<Change> {
        let silent_ms = now_ms.saturating_sub(self.heard_ms);
        if silent_ms >= SILENT_MS {
            self.forget();
        }
        if silent_ms > APART_MS {
            self.lasts = None;
        }
        self.heard_ms = now_ms;
        let meant = if speed_tenth_knots >= MAKES_WAY_TENTH_KNOTS {
            Some((Motion::MakingWay, MAKES_WAY_MS))
        } else if speed_tenth_knots < NO_WAY_TENTH_KNOTS {
            Some((Motion::NoWay, NO_WAY_MS))
        } else {
            None
        };
        match meant {
            Some((motion, enough_ms)) => {
                let lasts = match self.lasts {
                    Some(lasts) if lasts.motion == motion => lasts,
                    _ => *self.lasts.insert(Change { since_ms: now_ms, motion }),
                };
                if motion != self.now.motion && now_ms.saturating_sub(lasts.since_ms) >= enough_ms {
                    self.now = lasts;
                }
            }
            None => self.lasts = None,
        }
        self.tell(now_ms)
    }

    /// Time passes. A change to be recorded, if nobody has said the speed for too long.
    pub fn wait(&mut self, now_ms: u64) -> Option<Change> {
        if now_ms.saturating_sub(self.heard_ms) >= SILENT_MS {
            self.forget();
        }
        self.tell(now_ms)
    }

    /// Since the last speed nothing is known.
    fn forget(&mut self) {
        self.lasts = None;
        if self.now.motion != Motion::NotKnown {
            self.now = Change { since_ms: self.heard_ms, motion: Motion::NotKnown };
        }
    }

    /// Whether what she does is to be recorded.
    fn tell(&mut self, now_ms: u64) -> Option<Change> {
        let earned = now_ms.saturating_sub(self.earned_ms) / EARN_MS;
        self.earned_ms = self.earned_ms.saturating_add(earned.saturating_mul(EARN_MS));
        let records = u64::from(self.records).saturating_add(earned).min(u64::from(RECORDS_MAX));
        self.records = records as u8;
        self.mute &= self.records < RECORDS_MAX / 2;
        if self.now.motion == self.told || self.mute {
            return None;
        }
        let mut change = self.now;
        if self.records <= 1 {
            self.mute = true;
            change.motion = Motion::NotKnown;
        }
        if change.motion == self.told {
            return None;
        }
        self.records = self.records.saturating_sub(1);
        self.told = change.motion;
        Some(change)
    }
}
