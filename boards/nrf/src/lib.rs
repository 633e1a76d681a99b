//! What the boards with an nRF chip share. The chips' registers are alike down to their addresses; what differs, pins and memory,
//! stands in one file for each board, and a feature says which one is meant.
//!
//! A board's own crate adds its way to the host and its loop.
#![no_std]

#[cfg_attr(feature = "microbit", path = "microbit.rs")]
#[cfg_attr(feature = "nrf52840", path = "nrf52840.rs")]
pub mod board;

pub mod clock;
pub mod faults;
pub mod inputs;
pub mod nvmc;
pub mod sleep;
pub mod supply;
pub mod unit;
pub mod watchdog;

use board::{FAULTS, FLASH_LEN, LAYOUT, PAGE_LEN};
use halfglass_firmware::ports::{Layout, Region};

const fn end(region: Region) -> u32 {
    region.start + region.page_len * region.pages as u32
}

// Nothing overlaps, and nothing lies beyond the chip.
const _: () = {
    let Layout { journal, history, config } = LAYOUT;
    assert!(end(journal) <= history.start);
    assert!(end(history) <= FAULTS && FAULTS + PAGE_LEN <= config.start);
    assert!(end(config) == FLASH_LEN);
};
