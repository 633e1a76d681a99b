//! A board with an nRF52840 (Cortex-M4F, USB). Pins, and where everything lies in its 1 MiB: see the tables in `boards/README.md`.

use halfglass_firmware::ports::{Layout, Region};
pub use nrf52840_pac::{
    CLOCK, FICR, GPIOTE, Interrupt, NVMC, P0 as GPIO, POWER, Peripherals, TIMER0, UICR, USBD, WDT, gpiote,
    interrupt, p0 as gpio, timer0,
};

/// GPIO numbers of inputs 0 to 7, all of port 0.
pub const PINS: [u8; 8] = [3, 4, 28, 29, 30, 31, 26, 27];
/// The presence button, low while held.
pub const BUTTON: usize = 11;

/// Bytes of flash.
pub const FLASH_LEN: u32 = 1024 * 1024;
/// Bytes in a page of it.
pub const PAGE_LEN: u32 = 4096;
/// Nothing below this address is ever written: the firmware lies there.
pub const WRITABLE_FROM: u32 = LAYOUT.journal.start;

/// What the logger keeps. The firmware itself lies below, from 0 to 0x4_0000.
pub const LAYOUT: Layout = Layout {
    journal: Region { start: 0x4_0000, page_len: 4096, pages: 16 },
    history: Region { start: 0x5_0000, page_len: 4096, pages: 62 },
    config: Region { start: 0xF_E000, page_len: 4096, pages: 2 },
};

/// One page in which every fault that the firmware survived leaves one word.
pub const FAULTS: u32 = 0xF_D000;
