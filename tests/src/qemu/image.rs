//! What lies in flash between two powers, and how a cut leaves it.

use fastrand::Rng;

/// The flash that the logger writes.
pub const FROM: u32 = 0x1_0000;
/// One past it.
pub const TO: u32 = 0x4_0000;
/// A page of the chip.
pub const PAGE: u32 = 1_024;

/// The content from [`FROM`] to [`TO`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Image(pub Vec<u8>);

impl Image {
    /// Wholly erased.
    #[must_use]
    pub fn blank() -> Image {
        Image(vec![0xFF; (TO - FROM) as usize])
    }

    /// The bytes of the page at `address`.
    #[must_use]
    pub fn page(&self, address: u32) -> &[u8] {
        let at = (address - FROM) as usize;
        &self.0[at..at + PAGE as usize]
    }

    fn page_mut(&mut self, address: u32) -> &mut [u8] {
        let at = (address - FROM) as usize;
        &mut self.0[at..at + PAGE as usize]
    }

    /// Addresses of all pages.
    pub fn pages() -> impl Iterator<Item = u32> {
        (FROM..TO).step_by(PAGE as usize)
    }

    /// The page that differs from `other`, if one does.
    #[must_use]
    pub fn differing_page(&self, other: &Image) -> Option<u32> {
        Image::pages().find(|page| self.page(*page) != other.page(*page))
    }

    /// Sets a word.
    pub fn set_word(&mut self, address: u32, word: u32) {
        let at = (address - FROM) as usize;
        self.0[at..at + 4].copy_from_slice(&word.to_le_bytes());
    }
}

/// A word whose programming from `before` to `after` was cut: any subset of the pending bits has flipped, none and all
/// of them included.
#[must_use]
pub fn torn_word(before: u32, after: u32, rng: &mut Rng) -> u32 {
    let pending = before & !after;
    let flipped = match rng.u8(0..6) {
        0 => 0,
        1 => pending,
        2 => pending & rng.u32(..) & rng.u32(..),
        3 => pending & (rng.u32(..) | rng.u32(..)),
        _ => pending & rng.u32(..),
    };
    before & !flipped
}

/// How the erase of a page was cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EraseTear {
    /// Nothing has happened yet.
    None,
    /// It is done.
    Full,
    /// Random zeros have become ones.
    ZerosToOnes,
    /// Random ones have become zeros (pre-programming).
    OnesToZeros,
    /// One word in eight is still as it was.
    DirtyEighth,
}

/// All of them.
pub const ERASE_TEARS: [EraseTear; 5] = [
    EraseTear::None,
    EraseTear::Full,
    EraseTear::ZerosToOnes,
    EraseTear::OnesToZeros,
    EraseTear::DirtyEighth,
];

/// Leaves the page at `address` as a cut erase does; `image` still holds what was before.
pub fn tear_erase(image: &mut Image, address: u32, tear: EraseTear, rng: &mut Rng) {
    tear_page(image.page_mut(address), tear, rng);
}

/// Leaves a page as a cut erase does; it still holds what was before.
pub fn tear_page(page: &mut [u8], tear: EraseTear, rng: &mut Rng) {
    for word in page.chunks_exact_mut(4) {
        let dirty = rng.u8(0..8) == 0;
        for byte in word {
            *byte = match tear {
                EraseTear::None => *byte,
                EraseTear::Full => 0xFF,
                EraseTear::ZerosToOnes => *byte | rng.u8(..),
                EraseTear::OnesToZeros => *byte & (rng.u8(..) | rng.u8(..)),
                EraseTear::DirtyEighth => {
                    if dirty {
                        *byte
                    } else {
                        0xFF
                    }
                }
            };
        }
    }
}
