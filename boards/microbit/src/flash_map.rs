//! Where everything lies in the chip's 256 KiB. See the table in `boards/README.md`.

use halfglass_firmware::ports::{Layout, Region};

/// What the logger keeps. The firmware itself lies below, from 0 to 0x1_0000.
pub(crate) const LAYOUT: Layout = Layout {
    journal: Region { start: 0x1_0000, page_len: 1024, pages: 64 },
    history: Region { start: 0x2_0000, page_len: 2048, pages: 62 },
    config: Region { start: 0x3_F800, page_len: 1024, pages: 2 },
};

/// One page in which every fault that the firmware survived leaves one word.
pub(crate) const FAULTS: u32 = 0x3_F400;

const fn end(region: Region) -> u32 {
    region.start + region.page_len * region.pages as u32
}

// Nothing overlaps, and nothing lies beyond the chip.
const _: () = {
    let Layout { journal, history, config } = LAYOUT;
    assert!(end(journal) <= history.start);
    assert!(end(history) <= FAULTS && FAULTS + 1024 <= config.start);
    assert!(end(config) == 256 * 1024);
};
