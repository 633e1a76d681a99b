//! The flashes that are measured on.

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use halfglass_bench_stores::{GRANULE_LEN, PAGE_LEN, PAGES};
use halfglass_sim::flash as sim;

/// The fault flash, which enforces the chip's rules, counts and tears.
pub(crate) type Faulty = sim::Flash<GRANULE_LEN, PAGE_LEN>;

/// More reads than any store needs for a session of a cut; beyond it the store is taken to be caught in a loop.
const READS_MAX: u64 = 20_000_000;

/// The fault flash for stores that may never come back from a damaged one: its reads are numbered, and end.
pub(crate) struct Patient<'a> {
    pub(crate) flash: &'a mut Faulty,
    reads: u64,
}

impl<'a> Patient<'a> {
    pub(crate) fn new(flash: &'a mut Faulty) -> Self {
        Self { flash, reads: 0 }
    }

    /// The store has read far more than it could need.
    pub(crate) fn looped(&self) -> bool {
        self.reads >= READS_MAX
    }
}

impl ErrorType for Patient<'_> {
    type Error = sim::Error;
}

impl ReadNorFlash for Patient<'_> {
    const READ_SIZE: usize = Faulty::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), sim::Error> {
        self.reads += 1;
        if self.looped() {
            // A store that goes on asking all the same is ended like one that panics.
            assert!(self.reads < 2 * READS_MAX, "a store that never ends");
            return Err(sim::Error::Off);
        }
        self.flash.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.flash.capacity()
    }
}

impl NorFlash for Patient<'_> {
    const WRITE_SIZE: usize = Faulty::WRITE_SIZE;
    const ERASE_SIZE: usize = Faulty::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), sim::Error> {
        self.flash.erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), sim::Error> {
        self.flash.write(offset, bytes)
    }
}

/// Plain memory that behaves like flash and does nothing else: for timing.
pub(crate) struct Memory(Vec<u8>);

impl Memory {
    pub(crate) fn new() -> Self {
        Self(vec![0xFF; PAGES * PAGE_LEN])
    }

    fn range(&mut self, offset: u32, len: usize) -> Result<&mut [u8], NorFlashErrorKind> {
        let from = offset as usize;
        self.0.get_mut(from..from + len).ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl ErrorType for Memory {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Memory {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        bytes.copy_from_slice(self.range(offset, bytes.len())?);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.0.len()
    }
}

impl NorFlash for Memory {
    const WRITE_SIZE: usize = GRANULE_LEN;
    const ERASE_SIZE: usize = PAGE_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.range(from, (to - from) as usize)?.fill(0xFF);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        for (cell, byte) in self.range(offset, bytes.len())?.iter_mut().zip(bytes) {
            *cell &= byte;
        }
        Ok(())
    }
}
