//! What the commit words add up to, and the snapshot of it at the head of a page.
//!
//! ```text
//!  snapshot of a logger with n lines, 31 + 8 n bytes, little-endian
//!   0        1         6         10     11                  31                   31 + 5 n   31 + 8 n
//!   | format | uptime  | session | mask | radar 0 | radar 1 | on-time, n x 5 bytes | starts, n x 3 |
//!   | u8     | 40 bit  | u32     | u8   | 10 B    | 10 B    | tenths, 40 bit       | 24 bit        |
//!  a radar: drop-outs 24 bit, short warm-ups 24 bit, transmit-off tenths u16, heater-on tenths u16
//! ```
//!
//! 40 bits of tenths are 3,484 years; counts stop at 16,777,215.

use super::word::{Kind, SESSION_BITS, Word};
use halfglass_protocol::config::{Config, Role};
use halfglass_protocol::record::Totals;
use halfglass_protocol::{LINES_MAX, RADARS_MAX};

/// The format of the snapshot and of the words behind it.
const FORMAT: u8 = 1;

/// The most tenths that a snapshot holds. A total stops there rather than begin anew.
const TOTAL_MAX: u64 = (1 << 40) - 1;

/// A transmit loss shorter than this, with the heater on throughout, is a drop-out.
const DROP_OUT_TENTHS: u16 = 100;

/// "Not known": too long ago, or it began before this session.
const UNKNOWN: u16 = u16::MAX;

/// Which inputs tell drop-outs and short warm-ups, per radar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Watch {
    /// The mask of its heater line.
    pub heater: u8,
    /// The mask of its transmit line.
    pub transmit: u8,
    /// The stated warm-up; 0: not known.
    pub warm_up_tenths: u16,
}

impl Watch {
    /// The masks of each radar's heater and transmit line.
    pub fn from_config(config: &Config) -> [Watch; RADARS_MAX] {
        let mut out = [Watch::default(); RADARS_MAX];
        for (radar, (watch, warm_up_s)) in (0..).zip(out.iter_mut().zip(config.warm_up_s)) {
            let mask = |role| config.line_of(role, radar).map_or(0, bit);
            *watch = Watch {
                heater: mask(Role::Heater),
                transmit: mask(Role::Transmit),
                warm_up_tenths: warm_up_s.saturating_mul(10).min(UNKNOWN - 1),
            };
        }
        out
    }
}

/// The mask of one line.
pub(crate) fn bit(line: usize) -> u8 {
    u8::try_from(line).ok().and_then(|line| 1u8.checked_shl(u32::from(line))).unwrap_or(0)
}

/// How long ago things were, for drop-outs and short warm-ups.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Since {
    transmit_off_tenths: u16,
    heater_on_tenths: u16,
}

const SINCE_UNKNOWN: Since = Since { transmit_off_tenths: UNKNOWN, heater_on_tenths: UNKNOWN };

/// Totals and what is needed to go on counting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct State {
    /// What has been counted.
    pub totals: Totals,
    /// The lines that were on at the end of the last word.
    pub mask: u8,
    since: [Since; RADARS_MAX],
}

impl Default for State {
    fn default() -> Self {
        Self { totals: Totals::default(), mask: 0, since: [SINCE_UNKNOWN; RADARS_MAX] }
    }
}

impl State {
    /// These totals, and nothing known of the moments before.
    pub fn with_totals(totals: &Totals) -> Self {
        Self { totals: *totals, ..Self::default() }
    }

    /// Length of a snapshot for so many lines, in bytes.
    pub const fn snapshot_len(lines: usize) -> usize {
        31 + 8 * lines
    }

    /// Takes a word in.
    pub fn apply(&mut self, word: Word, watch: &[Watch; RADARS_MAX]) {
        match word.kind {
            Kind::Hold => {
                let rising = word.mask & !self.mask;
                self.add_starts(rising, 1);
                self.watch_hold(word, rising, watch);
                self.hold(word);
            }
            Kind::Blend => {
                self.since = [SINCE_UNKNOWN; RADARS_MAX];
                self.hold(word);
            }
            Kind::Starts => self.add_starts(word.mask, u32::from(word.tenths)),
            Kind::Resume => {}
        }
    }

    /// A new session: all lines are off until they are seen to be on.
    pub fn begin_session(&mut self, session: u32) {
        self.totals.session = session;
        self.mask = 0;
        self.since = [SINCE_UNKNOWN; RADARS_MAX];
    }

    /// The full session number that goes with the low bits in a Resume: the nearest at or above the one known.
    pub fn session_from_low(&self, low: u32) -> u32 {
        let ahead = low.wrapping_sub(self.totals.session) & ((1 << SESSION_BITS) - 1);
        self.totals.session.wrapping_add(ahead)
    }

    fn add_starts(&mut self, mask: u8, times: u32) {
        for (line, starts) in self.totals.starts.iter_mut().enumerate() {
            if mask & bit(line) != 0 {
                *starts = starts.saturating_add(times).min(0xFF_FFFF);
            }
        }
    }

    fn hold(&mut self, word: Word) {
        let grown = |tenths: u64| (tenths + u64::from(word.tenths)).min(TOTAL_MAX);
        self.totals.uptime_tenths = grown(self.totals.uptime_tenths);
        for (line, on_tenths) in self.totals.on_tenths.iter_mut().enumerate() {
            if word.mask & bit(line) != 0 {
                *on_tenths = grown(*on_tenths);
            }
        }
        self.mask = word.mask;
    }

    fn watch_hold(&mut self, word: Word, rising: u8, watch: &[Watch; RADARS_MAX]) {
        let counts = self.totals.drop_outs.iter_mut().zip(&mut self.totals.short_warm_ups);
        for ((since, watch), (drop_outs, short_warm_ups)) in self.since.iter_mut().zip(watch).zip(counts) {
            let on = |mask: u8| word.mask & mask != 0;
            let later = |tenths: u16| tenths.saturating_add(word.tenths).min(UNKNOWN - 1);
            if rising & watch.heater != 0 {
                since.heater_on_tenths = 0;
            }
            if rising & watch.transmit != 0 {
                if since.transmit_off_tenths < DROP_OUT_TENTHS && on(watch.heater) {
                    *drop_outs = drop_outs.saturating_add(1).min(0xFF_FFFF);
                }
                if since.heater_on_tenths < watch.warm_up_tenths {
                    *short_warm_ups = short_warm_ups.saturating_add(1).min(0xFF_FFFF);
                }
            }
            since.heater_on_tenths = match (on(watch.heater), since.heater_on_tenths) {
                (false, _) | (true, UNKNOWN) => UNKNOWN,
                (true, known) => later(known),
            };
            since.transmit_off_tenths =
                match (on(watch.transmit), on(watch.heater), since.transmit_off_tenths) {
                    (true, ..) => 0,
                    (false, true, known) if known != UNKNOWN => later(known),
                    _ => UNKNOWN,
                };
        }
    }

    /// Writes the snapshot of the first `lines` lines; `None` if `out` has another length than [`State::snapshot_len`].
    pub fn snapshot<'a>(&self, lines: usize, out: &'a mut [u8]) -> Option<&'a [u8]> {
        let out = out.get_mut(..Self::snapshot_len(lines))?;
        let mut put = Put(out.iter_mut());
        put.number(1, FORMAT.into());
        put.number(5, self.totals.uptime_tenths);
        put.number(4, self.totals.session.into());
        put.number(1, self.mask.into());
        for (since, (drop_outs, short)) in
            self.since.iter().zip(self.totals.drop_outs.iter().zip(&self.totals.short_warm_ups))
        {
            put.number(3, (*drop_outs).into());
            put.number(3, (*short).into());
            put.number(2, since.transmit_off_tenths.into());
            put.number(2, since.heater_on_tenths.into());
        }
        for on_tenths in self.totals.on_tenths.iter().take(lines) {
            put.number(5, *on_tenths);
        }
        for starts in self.totals.starts.iter().take(lines) {
            put.number(3, (*starts).into());
        }
        Some(out)
    }

    /// Reads a snapshot.
    pub fn from_snapshot(lines: usize, bytes: &[u8]) -> Option<State> {
        let mut take = Take(bytes.iter());
        let mut state = State::default();
        if bytes.len() < Self::snapshot_len(lines) || take.number(1) != FORMAT.into() {
            return None;
        }
        state.totals.uptime_tenths = take.number(5);
        state.totals.session = take.number(4) as u32;
        state.mask = take.number(1) as u8;
        let counts = state.totals.drop_outs.iter_mut().zip(&mut state.totals.short_warm_ups);
        for (since, (drop_outs, short)) in state.since.iter_mut().zip(counts) {
            *drop_outs = take.number(3) as u32;
            *short = take.number(3) as u32;
            since.transmit_off_tenths = take.number(2) as u16;
            since.heater_on_tenths = take.number(2) as u16;
        }
        for on_tenths in state.totals.on_tenths.iter_mut().take(lines.min(LINES_MAX)) {
            *on_tenths = take.number(5);
        }
        for starts in state.totals.starts.iter_mut().take(lines.min(LINES_MAX)) {
            *starts = take.number(3) as u32;
        }
        Some(state)
    }
}

/// Little-endian numbers of any length, one after another. Behind the end nothing is written.
struct Put<'a>(core::slice::IterMut<'a, u8>);

impl Put<'_> {
    fn number(&mut self, len: usize, value: u64) {
        let mut value = value;
        for byte in self.0.by_ref().take(len) {
            *byte = value as u8;
            value >>= 8;
        }
    }
}

/// The reverse of [`Put`]. Behind the end there are zeros.
struct Take<'a>(core::slice::Iter<'a, u8>);

impl Take<'_> {
    fn number(&mut self, len: usize) -> u64 {
        let mut value = 0;
        let mut shift = 0;
        for byte in self.0.by_ref().take(len) {
            value |= u64::from(*byte) << shift;
            shift += 8;
        }
        value
    }
}
