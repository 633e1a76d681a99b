//! How often a board's firmware ended itself in its life: a page of flash in which every fault takes one word.
//!
//! A board keeps the newest faults where a reset leaves them alone, and moves them here once the supply is trusted.

use embedded_storage::nor_flash::{NorFlash, ReadNorFlash};

const NONE: [u8; 4] = [0xFF; 4];
const ONE: [u8; 4] = *b"FLT\0";

/// The page.
#[derive(Clone, Copy, Debug)]
pub struct FaultPage {
    /// Where it starts, in bytes.
    pub start: u32,
    /// Its words: faults beyond them are no longer counted apart.
    pub words: u16,
}

impl FaultPage {
    fn address(self, word: u16) -> u32 {
        self.start + 4 * u32::from(word)
    }

    /// The faults in it.
    pub fn count(self, flash: &mut impl ReadNorFlash) -> u16 {
        let mut count = 0;
        let mut bytes = NONE;
        while count < self.words && flash.read(self.address(count), &mut bytes).is_ok() && bytes != NONE {
            count += 1;
        }
        count
    }

    /// Adds `faults`, as far as there is room.
    pub fn add(self, flash: &mut impl NorFlash, faults: u16) {
        let first = self.count(flash);
        for word in (first..self.words).take(usize::from(faults)) {
            // A word that does not take stays blank or half written; either way nothing else depends on it.
            let _ = flash.write(self.address(word), &ONE);
        }
    }
}
