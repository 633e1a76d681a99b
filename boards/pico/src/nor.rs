//! The external flash: sectors of 4 KiB, words of 4 bytes, through the functions in the chip's boot ROM.
//!
//! # What it needs
//!
//! - **Nothing else reads the flash meanwhile.** The firmware itself runs from it. So every operation runs from RAM with all
//!   interrupts held off; the second core was never started and sleeps in the boot ROM; no DMA channel is ever set up.
//! - **Programming ones changes nothing.** The ROM programs whole pages of 256 bytes. A word is written as a page of 0xFF with the
//!   word in its place, into a page that may hold other words already. W25Q16JV and its kin (data sheet, Page Program 02h) take
//!   one byte to 256, and leave the rest of a page as it was when fewer are sent; a one in the data leaves its cell as it is, since
//!   only erasing makes ones. A chip with error correction over more than 4 bytes must not be used.
//! - **An erase takes 45 ms as a rule and 400 ms at most** (the same data sheet, sector erase time; from memory), a page 0.4 ms
//!   and 3 ms. For so long nothing else happens; the pins' edges are latched by the chip and looked at afterwards, as of the
//!   time at which the standstill began.
//!
//! Neither chip nor ROM reports a failure: whoever writes reads back. Reads go past the cache, so that it is the chip that answers.

use crate::flash_map::{END, SECTOR, WRITABLE_FROM};
use crate::{clock, inputs, uart};
use core::mem::transmute;
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use rp2040_hal::pac::XIP_SSI;
use rp2040_hal::rom_data;

/// Where the flash can be read without the cache (XIP_NOCACHE_NOALLOC).
const UNCACHED: u32 = 0x1300_0000;
/// Where the second boot stage lies, which lets the flash be run from.
const BOOT2: u32 = 0x1000_0000;
const PAGE: usize = 256;
const WORD: u32 = 4;
/// No block erase: larger than any range (RP2040 data sheet, 2.8.3.1.3).
const BLOCK_NONE: u32 = 1 << 31;

/// Commands of the flash chip (JEDEC manufacturer and unique number).
const READ_MAKER: u8 = 0x9F;
const READ_NUMBER: u8 = 0x4B;

/// CTRLR0 of the chip's serial interface: eight bits a word, first commands out, then answers in (TMOD 3).
const EIGHT_BITS_COMMAND_THEN_ANSWER: u32 = 7 << 16 | 3 << 8;
/// SR: something has come in.
const RECEIVED: u32 = 1 << 3;

/// The ROM's functions, looked up before the flash goes away.
struct Rom {
    connect: unsafe extern "C" fn(),
    exit_xip: unsafe extern "C" fn(),
    erase: unsafe extern "C" fn(u32, usize, u32, u8),
    program: unsafe extern "C" fn(u32, *const u8, usize),
    flush_cache: unsafe extern "C" fn(),
    /// A copy of the second boot stage: afterwards the flash can be run from again.
    boot2: [u32; PAGE / 4],
}

impl Rom {
    #[inline(never)]
    fn look_up() -> Self {
        let mut boot2 = [0; PAGE / 4];
        for (word, at) in boot2.iter_mut().zip((BOOT2..).step_by(4)) {
            // SAFETY: the first page of the flash is always mapped here outside of `run`.
            *word = unsafe { (at as *const u32).read_volatile() };
        }
        Self {
            connect: rom_data::connect_internal_flash::ptr(),
            exit_xip: rom_data::flash_exit_xip::ptr(),
            erase: rom_data::flash_range_erase::ptr(),
            program: rom_data::flash_range_program::ptr(),
            flush_cache: rom_data::flash_flush_cache::ptr(),
            boot2,
        }
    }
}

/// What is asked of the chip.
enum Work<'a> {
    Erase(u32),
    Program(u32, &'a [u8; PAGE]),
    /// A command, bytes to skip and what answers.
    Ask(u8, u32, &'a mut [u8]),
}

/// Does one thing with the flash. Lies in RAM and calls nothing that does not.
///
/// # Safety
/// Interrupts are held off and nothing else reads the flash.
#[inline(never)]
#[unsafe(link_section = ".data.ram.nor")]
unsafe fn run(rom: &Rom, work: Work) {
    // SAFETY: `boot2` is code, in RAM, entered at its start in Thumb state; it returns to its caller when it was called.
    let enter_xip: unsafe extern "C" fn() = unsafe { transmute(rom.boot2.as_ptr().cast::<u8>().add(1)) };
    // SAFETY: the order that the data sheet asks for (2.8.3.1.3); the caller sees to the rest.
    unsafe {
        (rom.connect)();
        (rom.exit_xip)();
        match work {
            Work::Erase(sector) => (rom.erase)(sector, SECTOR as usize, BLOCK_NONE, 0),
            Work::Program(page, bytes) => (rom.program)(page, bytes.as_ptr(), PAGE),
            Work::Ask(command, skip, answer) => {
                let ssi = &*XIP_SSI::ptr();
                ssi.ssienr().write(|w| w.bits(0));
                ssi.ctrlr0().write(|w| w.bits(EIGHT_BITS_COMMAND_THEN_ANSWER));
                // One less than the bytes that come in.
                ssi.ctrlr1().write(|w| w.bits(skip + answer.len() as u32 - 1));
                ssi.ssienr().write(|w| w.bits(1));
                ssi.dr0().write(|w| w.bits(u32::from(command)));
                let mut skipped = 0;
                while skipped < skip {
                    while ssi.sr().read().bits() & RECEIVED == 0 {}
                    ssi.dr0().read().bits();
                    skipped += 1;
                }
                let mut at = answer.as_mut_ptr();
                let end = at.add(answer.len());
                while at != end {
                    while ssi.sr().read().bits() & RECEIVED == 0 {}
                    at.write_volatile(ssi.dr0().read().bits() as u8);
                    at = at.add(1);
                }
            }
        }
        (rom.flush_cache)();
        enter_xip();
    }
}

/// The flash.
pub(crate) struct Nor(());

impl Nor {
    /// The one and only: the caller has the chip's peripherals to itself.
    pub(crate) fn new(_: XIP_SSI) -> Self {
        Self(())
    }

    fn carry_out(&mut self, work: Work) {
        let rom = Rom::look_up();
        critical_section::with(|cs| {
            let from_ms = clock::now_ms();
            // SAFETY: interrupts are off; the other core and DMA were never started; `self` is the only one.
            unsafe { run(&rom, work) }
            inputs::latch(cs, from_ms);
            uart::stood(from_ms);
        });
    }

    /// What the chip says of its maker and model: maker, kind, size.
    pub(crate) fn maker(&mut self) -> [u8; 3] {
        let mut maker = [0; 3];
        self.carry_out(Work::Ask(READ_MAKER, 0, &mut maker));
        maker
    }

    /// The number that the chip was made with.
    pub(crate) fn number(&mut self) -> [u8; 8] {
        let mut number = [0; 8];
        // Four bytes come before it.
        self.carry_out(Work::Ask(READ_NUMBER, 4, &mut number));
        number
    }
}

impl ErrorType for Nor {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Nor {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len())?;
        for (at, byte) in (UNCACHED + offset..).zip(bytes) {
            // SAFETY: checked to lie in flash, all of which is readable.
            *byte = unsafe { (at as *const u8).read_volatile() };
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        END as usize
    }
}

impl NorFlash for Nor {
    const WRITE_SIZE: usize = WORD as usize;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        if from < WRITABLE_FROM {
            return Err(NorFlashErrorKind::OutOfBounds);
        }
        let mut sector = from;
        while sector < to {
            self.carry_out(Work::Erase(sector));
            sector += SECTOR;
        }
        Ok(())
    }

    /// One word after the other, each in an operation of its own, so that what is torn is never more than one.
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        if offset < WRITABLE_FROM {
            return Err(NorFlashErrorKind::OutOfBounds);
        }
        let mut at = offset;
        for word in bytes.chunks_exact(WORD as usize) {
            let mut page = [0xFF; PAGE];
            let within = at as usize % PAGE;
            let place = page.get_mut(within..within + WORD as usize);
            place.ok_or(NorFlashErrorKind::NotAligned)?.copy_from_slice(word);
            self.carry_out(Work::Program(at - within as u32, &page));
            at += WORD;
        }
        Ok(())
    }
}
