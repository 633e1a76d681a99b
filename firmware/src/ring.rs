//! Pages of flash used in turn: the ground on which totals, history and configuration stand.
//!
//! ```text
//!  a page   0          G              G + 8         G + 8 + head_len   body_start          page_len
//!           | sequence | retired pages | head ...... | CRC-32 | pad    | cell | cell | ...... |
//!           | 1 granule| 8 bytes       | head_len    | 4      | to G   | 1 granule each       |
//!
//!  G         the granule: what one programming writes, 4 bytes unless the flash's own is longer
//!  sequence  a Berger word, one more than the page before; written LAST, so that its presence says
//!            that the head below it is whole
//!  CRC-32    over sequence, retired pages and head: finds damage that the Berger word cannot
//!  cell      a word in the first four bytes of a granule, the rest of the granule left at ones
//! ```
//!
//! # What may be weak
//!
//! A cell whose programming was cut may read differently each time, also as blank. Three rules keep that harmless:
//!
//! * **The gap** ([`Ring::leave_gap`]). Before a mount writes, it leaves one cell behind the last used one alone, since
//!   that is where a word may have been cut, and burns the next [`BURNS`]. So nothing is ever written into a cell that an
//!   earlier attempt may have touched. A burnt cell holds a whole word that means nothing. It must be a whole word,
//!   because every tear of one is refused; all zeros would not do, since a tear on the way there can look like
//!   anything. And only cells are burnt that held nothing or an earlier burn, because a mixture of two words torn
//!   can look like anything too. (In flash with error correction a touched granule may only be programmed with
//!   zeros; there the correction itself refuses the tears.)
//! * **Settling** ([`Ring::settle`]). A page that was begun but whose sequence cell does not read right could turn up at a
//!   later mount. It is told by its head, which was whole before its sequence cell was touched, and erased.
//! * **The first word counts.** A newest page with a blank body may have a weak sequence cell: it is erased and written again
//!   ([`Ring::rewrite`]) before its content is believed. Until then the page before it says the same.

use crate::berger;
use crate::planted::{Mistake, planted};
use crate::ports::Region;
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::crc32;

/// The longest head that a store may have, in bytes.
pub(crate) const HEAD_MAX: usize = 116;

/// The longest granule, in bytes.
pub(crate) const GRANULE_MAX: usize = 16;

/// Cells burnt at a mount. One would do if no mount were ever cut; each further one allows for one more
/// mount that was cut in the middle of its burning and whose traces read as blank.
const BURNS: u32 = 4;

/// Cells that a mount passes over.
pub(crate) const GAP: u32 = 1 + BURNS;

/// No flash lives to begin so many pages: a sequence beyond is damage. Were one believed, no greater could follow it for long.
const SEQUENCE_LIMIT: u32 = 1 << 24;

/// The information of a burnt cell. No store writes it for anything else.
const BURNT: u32 = 1 << 26;

/// A cell as it reads now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cell {
    Blank,
    /// The information of a whole word.
    Word(u32),
    /// Made to mean nothing.
    Burnt,
    /// Torn, rotten, or refused by the flash.
    Invalid,
}

/// The flash did not do what was asked, and no page is left that does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dead;

/// Why a word was not appended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Refused {
    /// The page is full: roll.
    Full,
    /// Programming failed: roll, and the page is retired.
    Failed,
}

/// A page found at a mount.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Found {
    pub(crate) page: u16,
    pub(crate) sequence: u32,
}

/// One ring of pages and the place in it where the next word goes.
#[derive(Clone, Debug)]
pub(crate) struct Ring {
    region: Region,
    head_len: usize,
    /// The page in use. Meaningless while `sequence` is 0: nothing was ever written.
    page: u16,
    sequence: u32,
    /// Offset in the page at which the next cell goes.
    at: u32,
    retired: u64,
    /// The next page was erased in this session. Never believed across a reset.
    erased_ahead: bool,
}

const fn granule<F: NorFlash>() -> u32 {
    if F::WRITE_SIZE > 4 { F::WRITE_SIZE as u32 } else { 4 }
}

const fn round_up(bytes: u32, to: u32) -> u32 {
    bytes.div_ceil(to) * to
}

impl Ring {
    pub(crate) const fn new(region: Region, head_len: usize) -> Self {
        Self { region, head_len, page: 0, sequence: 0, at: 0, retired: 0, erased_ahead: false }
    }

    pub(crate) const fn page(&self) -> u16 {
        self.page
    }

    /// Where in the page the next cell goes.
    pub(crate) const fn offset(&self) -> u32 {
        self.at
    }

    pub(crate) const fn page_len(&self) -> u32 {
        self.region.page_len
    }

    pub(crate) const fn sequence(&self) -> u32 {
        self.sequence
    }

    pub(crate) const fn pages(&self) -> u16 {
        self.region.pages
    }

    pub(crate) const fn retired_pages(&self) -> u16 {
        self.retired.count_ones() as u16
    }

    fn body_start<F: NorFlash>(&self) -> u32 {
        let granule = granule::<F>();
        granule + round_up(8 + self.head_len as u32 + 4, granule)
    }

    const fn address(&self, page: u16, offset: u32) -> u32 {
        self.region.start + page as u32 * self.region.page_len + offset
    }

    /// Cells still free in the page in use.
    pub(crate) fn room<F: NorFlash>(&self) -> u32 {
        self.region.page_len.saturating_sub(self.at) / granule::<F>()
    }

    fn cell<F: NorFlash>(&self, flash: &mut F, page: u16, offset: u32) -> Cell {
        let mut bytes = [0; GRANULE_MAX];
        let Some(bytes) = bytes.get_mut(..granule::<F>() as usize) else {
            return Cell::Invalid;
        };
        if flash.read(self.address(page, offset), bytes).is_err() {
            return Cell::Invalid;
        }
        let Some((word, rest)) = bytes.split_first_chunk::<4>() else {
            return Cell::Invalid;
        };
        let rest_blank = rest.iter().all(|byte| *byte == 0xFF);
        match (u32::from_le_bytes(*word), rest_blank) {
            (u32::MAX, true) => Cell::Blank,
            (word, true) => match berger::decode(word) {
                Some(BURNT) => Cell::Burnt,
                Some(information) => Cell::Word(information),
                None => Cell::Invalid,
            },
            (0, false) if rest.iter().all(|byte| *byte == 0) => Cell::Burnt,
            (_, false) => Cell::Invalid,
        }
    }

    /// The page with the highest sequence below `below`.
    pub(crate) fn newest_below<F: NorFlash>(&self, flash: &mut F, below: u32) -> Option<Found> {
        self.search(flash, |sequence, best| sequence < below && sequence > best.unwrap_or(0))
    }

    /// The page with the lowest sequence above `above`.
    pub(crate) fn oldest_above<F: NorFlash>(&self, flash: &mut F, above: u32) -> Option<Found> {
        self.search(flash, |sequence, best| sequence > above && sequence < best.unwrap_or(u32::MAX))
    }

    /// The page whose sequence is the next one, pages that failed left out.
    pub(crate) fn follows<F: NorFlash>(&self, flash: &mut F, found: Found) -> Option<Found> {
        let last = found.sequence + u32::from(self.region.pages);
        self.oldest_above(flash, found.sequence).filter(|after| after.sequence <= last)
    }

    fn search<F: NorFlash>(&self, flash: &mut F, better: impl Fn(u32, Option<u32>) -> bool) -> Option<Found> {
        let mut best: Option<Found> = None;
        for page in 0..self.region.pages {
            if let Cell::Word(sequence) = self.cell(flash, page, 0)
                && (1..SEQUENCE_LIMIT).contains(&sequence)
                && better(sequence, best.map(|found| found.sequence))
            {
                best = Some(Found { page, sequence });
            }
        }
        best
    }

    /// Reads a page's head into `head` (of the ring's head length) and the retired pages; false if it does not match its check.
    fn read_head<F: NorFlash>(&self, flash: &mut F, found: Found, head: &mut [u8]) -> Option<u64> {
        let mut stored = [0; 8 + HEAD_MAX + 4];
        let stored = stored.get_mut(..8 + self.head_len + 4)?;
        // Word by word: the length need not be a multiple of what the flash reads at a time.
        self.read_body_bytes(flash, found.page, granule::<F>(), stored)?;
        let (content, check) = stored.split_at_checked(stored.len().checked_sub(4)?)?;
        let mut running = crc32::Running::default();
        running.update(&berger::encode(found.sequence).to_le_bytes());
        running.update(content);
        if running.finish().to_le_bytes() != check && !planted(Mistake::NoHeadCheck) {
            return None;
        }
        let (retired, content) = content.split_first_chunk::<8>()?;
        head.get_mut(..content.len())?.copy_from_slice(content);
        Some(u64::from_le_bytes(*retired))
    }

    /// Reads plain bytes of a page, whole granules at a time.
    pub(crate) fn read_body_bytes<F: NorFlash>(
        &self,
        flash: &mut F,
        page: u16,
        offset: u32,
        out: &mut [u8],
    ) -> Option<()> {
        let step = granule::<F>() as usize;
        let mut offset = offset;
        for chunk in out.chunks_mut(step) {
            let mut bytes = [0; GRANULE_MAX];
            let bytes = bytes.get_mut(..step)?;
            flash.read(self.address(page, offset), bytes).ok()?;
            chunk.copy_from_slice(bytes.get(..chunk.len())?);
            offset += step as u32;
        }
        Some(())
    }

    /// Takes a found page as the page in use, its head into `head`; false if the head does not match its check.
    pub(crate) fn open<F: NorFlash>(&mut self, flash: &mut F, found: Found, head: &mut [u8]) -> bool {
        self.page = found.page;
        self.sequence = found.sequence;
        self.at = self.body_start::<F>();
        match self.read_head(flash, found, head) {
            Some(retired) => {
                self.retired |= retired;
                // A head that leaves fewer than the two pages that a ring needs cannot be believed: all are tried again.
                let usable = (0..self.region.pages).filter(|page| !self.is_retired(*page)).take(2).count();
                if usable < 2 {
                    self.retired = 0;
                }
                true
            }
            None => false,
        }
    }

    /// Calls `see` with offset and content of every cell of the page in use that is not blank, and puts the place for
    /// the next word behind the last of them. Returns how many there were.
    pub(crate) fn scan<F: NorFlash>(
        &mut self,
        flash: &mut F,
        mut see: impl FnMut(&mut F, &Ring, u32, Cell),
    ) -> u32 {
        let step = granule::<F>();
        let mut offset = self.body_start::<F>();
        let mut used = 0;
        while offset + step <= self.region.page_len {
            let cell = self.cell(flash, self.page, offset);
            if cell != Cell::Blank {
                see(flash, self, offset, cell);
                self.at = offset + step;
                used += 1;
            }
            offset += step;
        }
        used
    }

    /// The page in use holds words, and not what a cut erase has left of a blank body: that reads as words only by chance.
    pub(crate) fn holds_words<F: NorFlash>(&self, flash: &mut F) -> bool {
        let mut balance = 0i32;
        self.clone().scan(flash, |_, _, _, cell| balance += if cell == Cell::Invalid { -1 } else { 1 });
        balance > 0 || balance < 0 && planted(Mistake::BelievesRubbish)
    }

    pub(crate) fn granule_len<F: NorFlash>() -> u32 {
        granule::<F>()
    }

    /// Makes a cell mean nothing, whatever was on its way into it: the one thing that is ever written into a touched cell.
    fn burn<F: NorFlash>(&self, flash: &mut F, page: u16, offset: u32) -> Result<(), Refused> {
        let mut bytes = [0; GRANULE_MAX];
        let bytes = bytes.get_mut(..granule::<F>() as usize).ok_or(Refused::Failed)?;
        if let Ok(word) = <&mut [u8; 4]>::try_from(&mut *bytes)
            && !planted(Mistake::BurnsToZeros)
        {
            *word = berger::encode(BURNT).to_le_bytes();
        }
        flash.write(self.address(page, offset), bytes).map_err(|_| Refused::Failed)
    }

    /// Programs one granule and reads it back.
    fn program<F: NorFlash>(
        &self,
        flash: &mut F,
        page: u16,
        offset: u32,
        bytes: &[u8],
    ) -> Result<(), Refused> {
        let step = granule::<F>() as usize;
        let mut padded = [0xFF; GRANULE_MAX];
        let mut read = [0; GRANULE_MAX];
        let (Some(padded), Some(read)) = (padded.get_mut(..step), read.get_mut(..step)) else {
            return Err(Refused::Failed);
        };
        padded.get_mut(..bytes.len()).ok_or(Refused::Failed)?.copy_from_slice(bytes);
        let address = self.address(page, offset);
        flash.write(address, padded).map_err(|_| Refused::Failed)?;
        flash.read(address, read).map_err(|_| Refused::Failed)?;
        if read == padded { Ok(()) } else { Err(Refused::Failed) }
    }

    /// Writes one word of information. `reserve` cells must stay free behind it.
    pub(crate) fn append<F: NorFlash>(
        &mut self,
        flash: &mut F,
        information: u32,
        reserve: u32,
    ) -> Result<(), Refused> {
        self.append_raw(flash, &berger::encode(information).to_le_bytes(), reserve)
    }

    /// Writes up to one granule of plain bytes.
    pub(crate) fn append_raw<F: NorFlash>(
        &mut self,
        flash: &mut F,
        bytes: &[u8],
        reserve: u32,
    ) -> Result<(), Refused> {
        if self.sequence == 0 || self.room::<F>() < 1 + reserve {
            return Err(Refused::Full);
        }
        let at = self.at;
        // Also when it fails: the cell is spent.
        self.at += granule::<F>();
        self.program(flash, self.page, at, bytes)
    }

    /// Passes over the cell that may be weak and burns those behind it.
    pub(crate) fn leave_gap<F: NorFlash>(&mut self, flash: &mut F) -> Result<(), Refused> {
        if planted(Mistake::NoGap) {
            return Ok(());
        }
        if !planted(Mistake::BurnsTornCell) {
            self.at += granule::<F>();
        }
        for _ in 0..BURNS {
            if self.room::<F>() == 0 {
                return Err(Refused::Full);
            }
            let at = self.at;
            self.at += granule::<F>();
            self.burn(flash, self.page, at)?;
        }
        Ok(())
    }

    fn is_retired(&self, page: u16) -> bool {
        self.retired & 1u64.checked_shl(u32::from(page)).unwrap_or(0) != 0
    }

    fn retire(&mut self, page: u16) {
        self.retired |= 1u64.checked_shl(u32::from(page)).unwrap_or(0);
    }

    /// No longer uses the page in use once it has been left.
    pub(crate) fn retire_this(&mut self) {
        self.retire(self.page);
    }

    /// The page that lies after another, round the ring.
    const fn after(&self, page: u16) -> u16 {
        if page + 1 < self.region.pages { page + 1 } else { 0 }
    }

    /// The page that comes after the one in use, retired ones left out.
    fn next_page(&self) -> u16 {
        let mut page = self.page;
        for _ in 0..self.region.pages {
            page = self.after(page);
            if !self.is_retired(page) {
                break;
            }
        }
        page
    }

    /// Makes sure that no page that may have been begun after the one in use can turn up later. Stops at the second
    /// page that is plainly old: one may be a page that refused its erase.
    pub(crate) fn settle<F: NorFlash>(&mut self, flash: &mut F) {
        let mut old = if planted(Mistake::NoSettle) { 2 } else { 0 };
        let mut page = self.page;
        for _ in 1..self.region.pages {
            if old >= 2 {
                break;
            }
            page = self.after(page);
            let harmless = match self.cell(flash, page, 0) {
                Cell::Word(sequence) if sequence < self.sequence => {
                    old += 1;
                    true
                }
                // Nothing was written into the sequence cell before the head's first cell.
                Cell::Blank => self.cell(flash, page, granule::<F>()) == Cell::Blank,
                Cell::Word(_) | Cell::Burnt | Cell::Invalid => false,
            };
            if !harmless && self.erase(flash, page).is_err() {
                self.retire(page);
            }
        }
    }

    fn erase<F: NorFlash>(&mut self, flash: &mut F, page: u16) -> Result<(), Dead> {
        let from = self.address(page, 0);
        flash.erase(from, from + self.region.page_len).map_err(|_| Dead)?;
        let mut offset = 0;
        while offset < self.region.page_len {
            if self.cell(flash, page, offset) != Cell::Blank {
                return Err(Dead);
            }
            offset += granule::<F>();
        }
        Ok(())
    }

    /// Erases the next page before it is needed.
    pub(crate) fn erase_ahead<F: NorFlash>(&mut self, flash: &mut F) {
        if self.sequence == 0 || self.erased_ahead || self.region.pages < 3 {
            return;
        }
        let next = self.next_page();
        match self.erase(flash, next) {
            Ok(()) => self.erased_ahead = true,
            Err(Dead) => self.retire(next),
        }
    }

    /// Begins the next page with this head. On success the head is in flash and the page in use.
    pub(crate) fn roll<F: NorFlash>(&mut self, flash: &mut F, head: &[u8]) -> Result<(), Dead> {
        let before = self.sequence;
        for attempt in 1..=u32::from(self.region.pages) {
            let page = if before == 0 && !self.is_retired(self.page) { self.page } else { self.next_page() };
            if page == self.page && before != 0 {
                break;
            }
            // A page that fails keeps its number: it may yet turn up, and must then be the older one.
            if self.begin(flash, page, before + attempt, head) {
                return Ok(());
            }
        }
        Err(Dead)
    }

    #[inline(never)]
    fn head_is_whole<F: NorFlash>(&self, flash: &mut F, found: Found) -> bool {
        let mut scratch = [0; HEAD_MAX];
        self.read_head(flash, found, &mut scratch).is_some()
    }

    /// Writes the head of a page whose body is blank again: onto the same page, erased, while the page before says the
    /// same. If that page is gone, an earlier mount has found this one firm and gone on: then onto the next.
    pub(crate) fn rewrite<F: NorFlash>(&mut self, flash: &mut F, head: &[u8]) -> Result<(), Dead> {
        self.erased_ahead = false;
        let before = self.newest_below(flash, self.sequence);
        let fallback = before.is_some_and(|before| self.head_is_whole(flash, before));
        if fallback && self.begin(flash, self.page, self.sequence, head) {
            Ok(())
        } else {
            self.roll(flash, head)
        }
    }

    fn begin<F: NorFlash>(&mut self, flash: &mut F, page: u16, sequence: u32, head: &[u8]) -> bool {
        let looks_blank = planted(Mistake::TrustsBlankPage) && self.cell(flash, page, 0) == Cell::Blank;
        let ready = core::mem::take(&mut self.erased_ahead) || looks_blank || self.erase(flash, page).is_ok();
        if ready && self.write_head(flash, page, sequence, head).is_some() {
            self.page = page;
            self.sequence = sequence;
            self.at = self.body_start::<F>();
            return true;
        }
        self.retire(page);
        false
    }

    fn write_head<F: NorFlash>(&self, flash: &mut F, page: u16, sequence: u32, head: &[u8]) -> Option<()> {
        let step = granule::<F>();
        let mut bytes = [0xFF; 8 + HEAD_MAX + 4];
        let first = berger::encode(sequence).to_le_bytes();
        let content_len = 8 + self.head_len;
        let content = bytes.get_mut(..content_len)?;
        let (retired, body) = content.split_first_chunk_mut::<8>()?;
        *retired = self.retired.to_le_bytes();
        body.copy_from_slice(head.get(..self.head_len)?);
        let mut running = crc32::Running::default();
        running.update(&first);
        running.update(content);
        let check = running.finish().to_le_bytes();
        bytes.get_mut(content_len..content_len + 4)?.copy_from_slice(&check);
        let mut offset = step;
        for chunk in bytes.get(..content_len + 4)?.chunks(step as usize) {
            self.program(flash, page, offset, chunk).ok()?;
            offset += step;
        }
        self.program(flash, page, 0, &first).ok()
    }
}
