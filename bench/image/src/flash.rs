//! The chip's flash, as small as it can be said: pages of 1 KiB, words of 4 bytes, no checks of its own.
//!
//! No function here is inlined, so that every store's image holds it once and the difference of two images is the
//! store's alone.

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use halfglass_bench_stores::{GRANULE_LEN, PAGE_LEN, PAGES};

/// Where the store's first page lies.
const START: u32 = 0x2_0000;

/// The flash controller's registers.
const READY: *const u32 = 0x4001_E400 as *const u32;
const CONFIG: *mut u32 = 0x4001_E504 as *mut u32;
const ERASE_PAGE: *mut u32 = 0x4001_E508 as *mut u32;

/// What CONFIG may say.
const READ_ONLY: u32 = 0;
const WRITE: u32 = 1;
const ERASE: u32 = 2;

/// The store's 64 pages.
pub(crate) struct Nvmc;

#[inline(never)]
fn mode(mode: u32) {
    // SAFETY: CONFIG takes these three values, READY may always be read.
    unsafe {
        CONFIG.write_volatile(mode);
        while READY.read_volatile() & 1 == 0 {}
    }
}

impl ErrorType for Nvmc {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Nvmc {
    const READ_SIZE: usize = 1;

    #[inline(never)]
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        for (at, byte) in (START + offset..).zip(bytes) {
            // SAFETY: all of flash may be read; volatile because the controller changes it behind the compiler's back.
            *byte = unsafe { (at as *const u8).read_volatile() };
        }
        Ok(())
    }

    #[inline(never)]
    fn capacity(&self) -> usize {
        PAGES * PAGE_LEN
    }
}

impl NorFlash for Nvmc {
    const WRITE_SIZE: usize = GRANULE_LEN;
    const ERASE_SIZE: usize = PAGE_LEN;

    #[inline(never)]
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        mode(ERASE);
        let mut page = from;
        while page < to {
            // SAFETY: a page of the store's; no code lies there.
            unsafe { ERASE_PAGE.write_volatile(START + page) };
            mode(ERASE);
            page += PAGE_LEN as u32;
        }
        mode(READ_ONLY);
        Ok(())
    }

    #[inline(never)]
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        let mut at = START + offset;
        for word in bytes.chunks_exact(GRANULE_LEN) {
            let [a, b, c, d] = *word else { return Err(NorFlashErrorKind::NotAligned) };
            mode(WRITE);
            // SAFETY: an aligned word of the store's; in write mode this store programs it.
            unsafe { (at as *mut u32).write_volatile(u32::from_le_bytes([a, b, c, d])) };
            mode(READ_ONLY);
            at += GRANULE_LEN as u32;
        }
        Ok(())
    }
}
