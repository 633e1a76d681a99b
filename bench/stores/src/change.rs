//! What is stored, and the stream of it that every store gets.

use crate::Failed;

/// Lines that are counted.
pub const LINES: usize = 4;

/// The lines in `mask` were on for `tenths` of a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Bit n: line n was on.
    pub mask: u8,
    /// For how long.
    pub tenths: u16,
}

impl Change {
    /// Length of [`Change::to_bytes`].
    pub const LEN: usize = 4;

    /// One granule.
    #[must_use]
    pub fn to_bytes(self) -> [u8; Self::LEN] {
        let [low, high] = self.tenths.to_le_bytes();
        [self.mask, 0, low, high]
    }

    /// The reverse of [`Change::to_bytes`].
    #[must_use]
    pub fn from_bytes([mask, _, low, high]: [u8; Self::LEN]) -> Self {
        Self { mask, tenths: u16::from_le_bytes([low, high]) }
    }
}

/// What all changes add up to, in tenths of a second.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// All time.
    pub uptime_tenths: u64,
    /// On-time of each line.
    pub on_tenths: [u64; LINES],
}

impl Totals {
    /// Length of [`Totals::to_bytes`]: five totals of 40 bits.
    pub const LEN: usize = 5 * (LINES + 1);

    /// These, and one change more.
    #[must_use]
    pub fn with(mut self, change: Change) -> Self {
        self.uptime_tenths += u64::from(change.tenths);
        for (line, on_tenths) in self.on_tenths.iter_mut().enumerate() {
            if change.mask >> line & 1 == 1 {
                *on_tenths += u64::from(change.tenths);
            }
        }
        self
    }

    /// Five bytes for each total, little-endian, the uptime first.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; Self::LEN] {
        let mut out = [0; Self::LEN];
        let totals = core::iter::once(&self.uptime_tenths).chain(&self.on_tenths);
        for (chunk, total) in out.chunks_exact_mut(5).zip(totals) {
            chunk.copy_from_slice(&total.to_le_bytes()[..5]);
        }
        out
    }

    /// The reverse of [`Totals::to_bytes`].
    ///
    /// # Errors
    /// Another length.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, Failed> {
        let bytes: &[u8; Self::LEN] = bytes.try_into().map_err(|_| Failed)?;
        let mut totals = Self::default();
        let fields = core::iter::once(&mut totals.uptime_tenths).chain(&mut totals.on_tenths);
        for (chunk, total) in bytes.chunks_exact(5).zip(fields) {
            let mut wide = [0; 8];
            wide[..5].copy_from_slice(chunk);
            *total = u64::from_le_bytes(wide);
        }
        Ok(totals)
    }
}

/// Tenths between two heartbeats.
const HEARTBEAT_TENTHS: u16 = 100;

/// One change in so many ends at an edge instead of a heartbeat: about 200 a day at 10 s.
const EDGE_ONE_IN: u32 = 40;

/// A stream of changes, the same for every store: heartbeats, and now and then an edge of one line.
#[derive(Clone, Debug)]
pub struct Workload {
    random: u32,
    mask: u8,
}

impl Workload {
    /// The stream that belongs to a seed; 0 counts as 1.
    #[must_use]
    pub fn new(seed: u32) -> Self {
        Self { random: seed.max(1), mask: 0b0011 }
    }

    /// Marsaglia's xorshift: small enough for the smallest core, and the same everywhere.
    fn random(&mut self) -> u32 {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 17;
        self.random ^= self.random << 5;
        self.random
    }

    /// The next change.
    pub fn next_change(&mut self) -> Change {
        let mask = self.mask;
        let random = self.random();
        let tenths = if random.is_multiple_of(EDGE_ONE_IN) {
            self.mask ^= 1 << ((random >> 8) as usize % LINES);
            1 + (random >> 16) as u16 % HEARTBEAT_TENTHS
        } else {
            HEARTBEAT_TENTHS
        };
        Change { mask, tenths }
    }
}
