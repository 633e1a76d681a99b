//! Where everything lies in the flash chip, from its first byte. See the table in `boards/README.md`.

use halfglass_firmware::ports::{Layout, Region};

/// The chip's unit of erasing.
pub(crate) const SECTOR: u32 = 4_096;

/// Nothing below this is ever written: the firmware lies there.
pub(crate) const WRITABLE_FROM: u32 = 0x8_0000;

/// One sector for faults that the firmware survived, one word each.
pub(crate) const FAULTS: u32 = 0x8_0000;

/// One sector that only the making of the board writes: a number of its own.
pub(crate) const NUMBER: u32 = 0x8_1000;

/// What the logger keeps.
pub(crate) const LAYOUT: Layout = Layout {
    config: Region { start: 0x8_2000, page_len: SECTOR, pages: 2 },
    journal: Region { start: 0x9_0000, page_len: SECTOR, pages: 16 },
    history: Region { start: 0xA_0000, page_len: SECTOR, pages: 64 },
};

/// Past the last byte that is used; a chip of 1 MiB would do.
pub(crate) const END: u32 = 0xE_0000;

const fn end(region: Region) -> u32 {
    region.start + region.page_len * region.pages as u32
}

// Nothing overlaps, and nothing lies beyond the end.
const _: () = {
    let Layout { journal, history, config } = LAYOUT;
    assert!(WRITABLE_FROM == FAULTS && FAULTS + SECTOR <= NUMBER && NUMBER + SECTOR <= config.start);
    assert!(end(config) <= journal.start);
    assert!(end(journal) <= history.start);
    assert!(end(history) == END);
};
