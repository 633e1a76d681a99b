//! What a board supplies. Flash comes as [`embedded_storage::nor_flash::NorFlash`], time and line
//! levels with each [`Sample`], bytes from the host one at a time.

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
    /// Bit n: at least one pulse was latched on input n since the previous look. On a contact: its level moved, and may be
    /// back where it was. A board whose latch does not tell contacts apart leaves their bits at 0; its lines' debounce time
    /// must then be longer than it ever stands still (the longest erase), and so must the hold time of pulsed lines on any board.
    pub pulses: u8,
}
