//! A board that stands still while its flash erases: edges that come meanwhile are seen afterwards, and of when they came only
//! this much is known, that it was not before the standstill began, and which lines moved.

use crate::flash::Flash;
use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use halfglass_firmware::Logger;
use halfglass_firmware::ports::{Board, Layout, Sample};
use std::iter::Peekable;

/// A flash whose erases take time.
pub struct Slow<const GRANULE: usize, const PAGE: usize> {
    /// The flash itself.
    pub flash: Flash<GRANULE, PAGE>,
    /// The shortest and the longest that one erase takes.
    erase_ms: (u64, u64),
    random: fastrand::Rng,
    /// How long the erases since the last look took.
    stalled_ms: u64,
}

impl<const G: usize, const P: usize> Slow<G, P> {
    /// A flash whose erases take a random time within these bounds each.
    #[must_use]
    pub fn new(flash: Flash<G, P>, erase_ms: (u64, u64), seed: u64) -> Self {
        Self { flash, erase_ms, random: fastrand::Rng::with_seed(seed), stalled_ms: 0 }
    }
}

impl<const G: usize, const P: usize> ErrorType for Slow<G, P> {
    type Error = crate::flash::Error;
}

impl<const G: usize, const P: usize> ReadNorFlash for Slow<G, P> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        self.flash.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.flash.capacity()
    }
}

impl<const G: usize, const P: usize> NorFlash for Slow<G, P> {
    const WRITE_SIZE: usize = G;
    const ERASE_SIZE: usize = P;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        let pages = u64::from(to.saturating_sub(from)) / P as u64;
        for _ in 0..pages {
            self.stalled_ms += self.random.u64(self.erase_ms.0..=self.erase_ms.1);
        }
        self.flash.erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        self.flash.write(offset, bytes)
    }
}

/// A standstill.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stall {
    /// When it began.
    pub from_ms: u64,
    /// When the board looked at its inputs again.
    pub to_ms: u64,
    /// Edges that came within.
    pub edges: u32,
}

/// A board under power that lives through a list of edges and stands still during erases.
pub struct Standing<const G: usize, const P: usize, const L: usize> {
    /// The firmware.
    pub logger: Logger<Slow<G, P>, L>,
    levels: u8,
    now_ms: u64,
    /// Every standstill so far.
    pub stalls: Vec<Stall>,
}

impl<const G: usize, const P: usize, const L: usize> Standing<G, P, L> {
    /// Power comes, with these levels on the inputs.
    pub fn on(flash: Slow<G, P>, layout: Layout, board: Board, levels: u8) -> Self {
        let logger = Logger::start(flash, layout, board, 0);
        let mut standing = Self { logger, levels, now_ms: 0, stalls: Vec::new() };
        standing.look(0, 0);
        standing
    }

    /// Milliseconds since power came.
    pub const fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// The levels as they last were.
    pub const fn levels(&self) -> u8 {
        self.levels
    }

    /// `moved`: the lines that moved since the last look, as the board's edge latch tells.
    fn look(&mut self, held_until_ms: u64, moved: u8) {
        let sample = Sample { now_ms: self.now_ms, held_until_ms, levels: self.levels, pulses: moved };
        self.logger.sample(sample);
    }

    /// Lets time pass until `until_ms`. `edges` are instants and the levels from then on, in order and none of them before now; those up to
    /// `until_ms` are taken off.
    pub fn run_until(&mut self, until_ms: u64, edges: &mut Peekable<impl Iterator<Item = (u64, u8)>>) {
        loop {
            let stalled_ms = std::mem::take(&mut self.logger.flash().stalled_ms);
            if stalled_ms > 0 {
                self.stand_still(stalled_ms, edges);
                continue;
            }
            let wake_ms = self.logger.next_wake_ms();
            if let Some((at_ms, levels)) = edges.next_if(|(at_ms, _)| *at_ms <= wake_ms.min(until_ms)) {
                self.now_ms = at_ms.max(self.now_ms);
                let moved = self.levels ^ levels;
                self.levels = levels;
                self.look(self.now_ms, moved);
            } else if wake_ms <= until_ms {
                self.now_ms = wake_ms.max(self.now_ms);
                self.look(self.now_ms, 0);
            } else {
                break;
            }
        }
        self.now_ms = until_ms.max(self.now_ms);
    }

    /// Edges come and go unseen; afterwards the board sees what the levels are then.
    fn stand_still(&mut self, stalled_ms: u64, edges: &mut Peekable<impl Iterator<Item = (u64, u8)>>) {
        let from_ms = self.now_ms;
        let to_ms = from_ms + stalled_ms;
        let (mut within, mut moved) = (0, 0);
        while let Some((_, levels)) = edges.next_if(|(at_ms, _)| *at_ms <= to_ms) {
            moved |= self.levels ^ levels;
            self.levels = levels;
            within += 1;
        }
        self.stalls.push(Stall { from_ms, to_ms, edges: within });
        self.now_ms = to_ms;
        // An edge that was seen before the standstill has its own time; one within has the time at which it began.
        self.look(if within > 0 { from_ms } else { to_ms }, moved);
    }
}
