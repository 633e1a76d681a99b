//! Makes checks in an image match whatever stands there, so that arbitrary content gets past them.
//!
//! It is told how a page is built, not how the firmware reads one.

use halfglass_firmware::ports::{Layout, Region};
use halfglass_protocol::crc32;

/// Bytes between a page's sequence granule and its CRC: retired pages and head, for eight lines.
const JOURNAL_CONTENT: usize = 8 + 95;
const HISTORY_CONTENT: usize = 8 + 4 + 95;
const CONFIG_CONTENT: usize = 8 + 106;

/// What is made to match.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Forgery {
    /// The zero counts of the sequence words.
    pub sequences: bool,
    /// The CRCs of the heads.
    pub heads: bool,
    /// The zero counts of the words behind the heads, blank ones left blank.
    pub words: bool,
    /// The CRCs of what then looks like a record of the history.
    pub records: bool,
}

impl Forgery {
    /// From the lower four bits.
    #[must_use]
    pub const fn from_bits(bits: u8) -> Self {
        Self { sequences: bits & 1 != 0, heads: bits & 2 != 0, words: bits & 4 != 0, records: bits & 8 != 0 }
    }

    /// Makes it match. `granule`: what one programming writes, in bytes.
    pub fn apply(self, image: &mut [u8], layout: &Layout, granule: usize) {
        let regions = [
            (layout.journal, JOURNAL_CONTENT),
            (layout.history, HISTORY_CONTENT),
            (layout.config, CONFIG_CONTENT),
        ];
        for (region, content) in regions {
            for page in pages(image, region) {
                let body = granule + (content + 4).div_ceil(granule) * granule;
                if self.sequences {
                    whole_word(&mut page[..granule]);
                }
                if self.words {
                    page[body..].chunks_exact_mut(granule).for_each(whole_word);
                }
                if self.heads {
                    let check = crc32::of(&[&page[..4], &page[granule..granule + content]].concat());
                    page[granule + content..granule + content + 4].copy_from_slice(&check.to_le_bytes());
                }
            }
        }
        if self.records {
            let body = granule + (HISTORY_CONTENT + 4).div_ceil(granule) * granule;
            for page in pages(image, layout.history) {
                whole_records(&mut page[body..], granule);
            }
        }
    }
}

fn pages(image: &mut [u8], region: Region) -> impl Iterator<Item = &mut [u8]> {
    let len = region.page_len as usize;
    image[region.start as usize..].chunks_exact_mut(len).take(usize::from(region.pages))
}

/// The lower five bits say how many of the upper 27 are zero; the rest of the granule is blank.
fn whole_word(granule: &mut [u8]) {
    let Some((word, rest)) = granule.split_first_chunk_mut::<4>() else { return };
    let value = u32::from_le_bytes(*word);
    if value != u32::MAX {
        let information = value >> 5;
        *word = (information << 5 | (27 - information.count_ones())).to_le_bytes();
        rest.fill(0xFF);
    }
}

fn whole_records(body: &mut [u8], granule: usize) {
    let mut at = 0;
    while let Some(header) = body.get(at..).and_then(|rest| rest.first_chunk::<4>()) {
        let len = (u32::from_le_bytes(*header) >> 21 & 0xFF) as usize;
        let check_at = at + granule + len.div_ceil(granule) * granule;
        if u32::from_le_bytes(*header) >> 29 != 0 || check_at + granule > body.len() {
            at += granule;
            continue;
        }
        let check = crc32::of(&[&body[at..at + 4], &body[at + granule..at + granule + len]].concat());
        body[check_at..check_at + 4].copy_from_slice(&check.to_le_bytes());
        at = check_at + granule;
    }
}
