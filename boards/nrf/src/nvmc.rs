//! The chip's flash, in words of 4 bytes.
//!
//! The processor stands still while the controller works: 46 us for a word and 21 ms for a page on the nRF51822, 41 us and 85 ms
//! on the nRF52840 (product specifications, from memory). Edges that come meanwhile are latched afterwards with the time at which the standstill began, the earliest they can have.
//!
//! The controller reports no failures: whoever writes reads back.

use crate::board::{FLASH_LEN, NVMC, PAGE_LEN, WRITABLE_FROM};
use crate::{clock, inputs};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

const WORD_LEN: u32 = 4;

/// CONFIG: read only, write enabled, erase enabled.
const READ_ONLY: u32 = 0;
const WRITE: u32 = 1;
const ERASE: u32 = 2;

/// The flash controller.
pub struct Nvmc(NVMC);

impl Nvmc {
    /// Takes the controller: whoever has it is alone with the flash.
    pub fn new(nvmc: NVMC) -> Self {
        Self(nvmc)
    }

    /// Runs `work` with the controller in `mode` and waits until it is done.
    fn in_mode(&mut self, mode: u32, work: impl FnOnce(&NVMC)) {
        critical_section::with(|cs| {
            let from_ms = clock::now_ms_in(cs);
            self.set(mode);
            work(&self.0);
            self.wait();
            self.set(READ_ONLY);
            if mode == ERASE {
                inputs::latch(cs, from_ms);
            }
        });
    }

    fn set(&self, mode: u32) {
        self.0.config.write(|w| {
            // SAFETY: one of the three modes above.
            unsafe { w.bits(mode) }
        });
        self.wait();
    }

    fn wait(&self) {
        while self.0.ready.read().bits() & 1 == 0 {}
    }
}

impl ErrorType for Nvmc {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Nvmc {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len())?;
        for (at, byte) in (offset..).zip(bytes) {
            // SAFETY: checked to lie in flash, all of which is readable.
            *byte = unsafe { (at as *const u8).read_volatile() };
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH_LEN as usize
    }
}

impl NorFlash for Nvmc {
    const WRITE_SIZE: usize = WORD_LEN as usize;
    const ERASE_SIZE: usize = PAGE_LEN as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        if from < WRITABLE_FROM {
            return Err(NorFlashErrorKind::OutOfBounds);
        }
        let mut page = from;
        while page < to {
            self.in_mode(ERASE, |nvmc| {
                nvmc.erasepage().write(|w| {
                    // SAFETY: the address of a page that holds no code, aligned.
                    unsafe { w.bits(page) }
                });
            });
            page += PAGE_LEN;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        if offset < WRITABLE_FROM {
            return Err(NorFlashErrorKind::OutOfBounds);
        }
        let mut at = offset;
        for chunk in bytes.chunks_exact(WORD_LEN as usize) {
            let Ok(chunk) = <[u8; 4]>::try_from(chunk) else { return Err(NorFlashErrorKind::NotAligned) };
            let word = u32::from_le_bytes(chunk);
            self.in_mode(WRITE, |_| {
                // SAFETY: an aligned word of flash that holds no code; the controller is in write mode, so this store
                // programs it.
                unsafe { (at as *mut u32).write_volatile(word) }
            });
            at += WORD_LEN;
        }
        Ok(())
    }
}
