//! The micro:bit: an nRF51822 (Cortex-M0). Pins, and where everything lies in its 256 KiB: see the tables in `boards/README.md`.

use halfglass_firmware::ports::{Layout, Region};
pub use nrf51_pac::{
    CLOCK, FICR, GPIO, GPIOTE, Interrupt, NVMC, POWER, Peripherals, TIMER0, UART0, UICR, WDT, gpio, gpiote,
    interrupt, timer0, uart0,
};

/// GPIO numbers of inputs 0 to 7.
pub const PINS: [u8; 8] = [3, 2, 1, 18, 23, 22, 21, 16];
/// The presence button, low while held: button A.
pub const BUTTON: usize = 17;

/// Bytes of flash.
pub const FLASH_LEN: u32 = 256 * 1024;
/// Bytes in a page of it.
pub const PAGE_LEN: u32 = 1024;
/// Nothing below this address is ever written: the firmware lies there.
pub const WRITABLE_FROM: u32 = LAYOUT.journal.start;

/// What the logger keeps. The firmware itself lies below, from 0 to 0x1_0000.
pub const LAYOUT: Layout = Layout {
    journal: Region { start: 0x1_0000, page_len: 1024, pages: 64 },
    history: Region { start: 0x2_0000, page_len: 2048, pages: 62 },
    config: Region { start: 0x3_F800, page_len: 1024, pages: 2 },
};

/// One page in which every fault that the firmware survived leaves one word.
pub const FAULTS: u32 = 0x3_F400;
