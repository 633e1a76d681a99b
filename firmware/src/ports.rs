//! What a board supplies. Flash comes as [`embedded_storage::nor_flash::NorFlash`], time and line
//! levels with each [`Sample`], bytes from the host one at a time.

use halfglass_protocol::config::{Config, Kind, Role};
use halfglass_protocol::record::Cause;

/// A stretch of flash that belongs to one store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// Where it starts, in bytes; a multiple of the flash's erase size.
    pub start: u32,
    /// Bytes in a page of the store; a multiple of the flash's erase size.
    pub page_len: u32,
    /// Pages; 2 to 64.
    pub pages: u16,
}

/// Where the three stores live.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layout {
    /// The totals, committed every heartbeat.
    pub journal: Region,
    /// Spans and events, kept for the host to pull.
    pub history: Region,
    /// The configuration; two pages suffice.
    pub config: Region,
}

/// What a board knows of itself at power-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Board {
    /// The logger's own number, from its chip; never 0.
    pub device_id: u64,
    /// Why it started.
    pub cause: Cause,
    /// It runs on USB power alone.
    pub usb_only: bool,
    /// How often its firmware ended itself in its life.
    pub faults: u16,
    /// The debounce time that its contacts need at least, in milliseconds, and
    pub debounce_min_ms: u16,
    /// the hold time that its pulsed lines do: see [`Sample::pulses`]. 0: whatever.
    pub hold_min_ms: u16,
}

/// One look at the inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    /// Now, in milliseconds since power-up.
    pub now_ms: u64,
    /// Every line is known to have kept its previous level until this instant at least. With edge
    /// interrupts: the time of the edge that woke the board. When merely polling: the previous look.
    pub held_until_ms: u64,
    /// Bit n: the raw level of input n.
    pub levels: u8,
    /// Bit n: at least one pulse was latched on input n since the previous look. Each pulse is told at one look and no other: a lone
    /// one is noise, but the same one told twice would be two within the hold time, and the line on. On a contact: its level moved,
    /// and may be back where it was. A board whose latch does not tell contacts apart leaves their bits at 0; its lines' debounce time
    /// must then be longer than it ever stands still (the longest erase), and so must the hold time of pulsed lines on any board.
    pub pulses: u8,
}

/// How a board must treat its inputs, bit n for input n.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Watched {
    /// Contact lines: their edges wake the logger at once.
    pub contacts: u8,
    /// Pulsed lines: their pulses may wait a little.
    pub pulsed: u8,
    /// Inputs that rest high, so that an open contact reads as off.
    pub pulled_up: u8,
}

impl Watched {
    /// As `config` says.
    pub fn of(config: &Config) -> Self {
        let mut watched = Self::default();
        for (input, line) in config.lines.iter().enumerate() {
            let bit = crate::journal::state::bit(input);
            match line.kind {
                _ if line.role == Role::Unused => {}
                Kind::Contact { .. } => watched.contacts |= bit,
                Kind::Pulsed { .. } => watched.pulsed |= bit,
            }
            if line.active_low {
                watched.pulled_up |= bit;
            }
        }
        watched
    }
}
