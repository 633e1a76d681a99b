//! The history: spans and events for the host, oldest overwritten first.
//!
//! ```text
//!  a page's head   | index of the base, u32 | totals at the page's beginning (the journal's snapshot) |
//!  a record        | header word | content, padded with ones | CRC-32 of header word and content |
//!                  | 1 granule   | whole granules            | 1 granule                         |
//!  header word     a Berger word: 3 bits 0 | length 8 bits | index, low 16 bits
//! ```
//!
//! The page's head is itself the record with its index: a base. The last record written may be weak after a cut
//! (its CRC may match today and not tomorrow), so recovery repeats it under its own index, and of two records with one
//! index the later counts.

use crate::berger;
use crate::journal::state::State;
use crate::ports::Region;
use crate::ring::{Cell, Dead, Found, GAP, GRANULE_MAX, HEAD_MAX, Refused, Ring};
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::crc32;
use halfglass_protocol::record::{RECORD_MAX, Record, Span, Totals};

/// Header words have their upper three bits at 0.
const HEADER_LIMIT: u32 = 1 << 24;

/// How far back the index of a repeated record may lie.
const REPEAT_MAX: u16 = 8;

/// Records in flash.
#[derive(Clone, Debug)]
pub(crate) struct History<const L: usize> {
    ring: Ring,
    /// Totals as the records add up to.
    totals: Totals,
    next_index: u32,
    oldest_index: u32,
    /// Page and place of the last record, and how long it is.
    last: Option<Place>,
    body_used: bool,
    pub(crate) head_invalid: Option<u16>,
    pub(crate) write_faults: u16,
}

/// Where a record stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place {
    page: u16,
    offset: u32,
    len: u8,
    index: u32,
}

const fn head_len(lines: usize) -> usize {
    4 + State::snapshot_len(lines)
}

impl<const L: usize> History<L> {
    /// Reads the newest page; writes nothing.
    pub(crate) fn mount<F: NorFlash>(flash: &mut F, region: Region) -> Self {
        let mut history = Self {
            ring: Ring::new(region, head_len(L)),
            totals: Totals::default(),
            next_index: 0,
            oldest_index: 0,
            last: None,
            body_used: false,
            head_invalid: None,
            write_faults: 0,
        };
        let Some(mut from) = history.ring.newest_below(flash, u32::MAX) else { return history };
        let mut broken = None;
        while !history.open(flash, from) {
            broken.get_or_insert(from.page);
            let Some(before) = history.ring.newest_below(flash, from.sequence) else {
                history.head_invalid = broken;
                break;
            };
            from = before;
        }
        history.replay(flash);
        // Pages after it have heads that do not match. With records behind it, a base is lost and its index not used again;
        // without, the page was being erased to be written again, with the same base.
        while let Some(after) = broken.and_then(|_| history.ring.follows(flash, from)) {
            from = after;
            history.open(flash, from);
            history.next_index = history.next_index.wrapping_add(1);
            history.replay(flash);
            // What a cut erase has left may look like anything but a record.
            history.body_used = history.last.is_some();
            if history.body_used {
                history.head_invalid.get_or_insert(from.page);
            }
        }
        history.find_oldest(flash);
        history
    }

    fn open<F: NorFlash>(&mut self, flash: &mut F, found: Found) -> bool {
        let mut head = [0; HEAD_MAX];
        let whole = self.ring.open(flash, found, &mut head);
        self.last = None;
        match Self::base(&head).filter(|_| whole) {
            Some((index, totals)) => {
                self.next_index = index.wrapping_add(1);
                self.totals = totals;
                true
            }
            None => false,
        }
    }

    fn base(head: &[u8]) -> Option<(u32, Totals)> {
        let (index, snapshot) = head.split_first_chunk::<4>()?;
        let state = State::from_snapshot(L, snapshot.get(..State::snapshot_len(L))?)?;
        Some((u32::from_le_bytes(*index), state.totals))
    }

    /// Adds up the records of the page in use.
    fn replay<F: NorFlash>(&mut self, flash: &mut F) {
        let mut scan = Scan::new(self.next_index);
        let mut order = Order::new(self.next_index);
        let mut totals = self.totals;
        let used = self.ring.scan(flash, |flash, ring, offset, cell| {
            if let Some(place) = scan.see(flash, ring, offset, cell)
                && let Some(stands) = order.see(place)
            {
                count(flash, ring, stands, &mut totals);
            }
        });
        if let Some(place) = order.pending {
            count(flash, &self.ring, place, &mut totals);
        }
        self.last = order.last;
        self.body_used = used > 0;
        self.totals = totals;
        self.next_index = scan.next_index;
    }

    fn find_oldest<F: NorFlash>(&mut self, flash: &mut F) {
        self.oldest_index = self.base_after(flash, 0).unwrap_or(self.next_index);
    }

    /// The index of the base of the first page above this sequence whose head is whole. What lies behind a broken head
    /// counts as lost, the pages after it do not.
    fn base_after<F: NorFlash>(&self, flash: &mut F, sequence: u32) -> Option<u32> {
        let mut above = sequence;
        while let Some(found) = self.ring.oldest_above(flash, above) {
            if let Some(index) = self.index_of(flash, found) {
                return Some(index);
            }
            above = found.sequence;
        }
        None
    }

    /// The index of a page's base. The base itself is left alone: this is deep in the stack.
    #[inline(never)]
    fn index_of<F: NorFlash>(&self, flash: &mut F, found: Found) -> Option<u32> {
        let mut head = [0; HEAD_MAX];
        let mut ring = self.ring.clone();
        if !ring.open(flash, found, &mut head) {
            return None;
        }
        head.first_chunk::<4>().map(|index| u32::from_le_bytes(*index))
    }

    /// Makes what the mount found firm. `totals` are the journal's, for a page that must begin.
    pub(crate) fn recover<F: NorFlash>(&mut self, flash: &mut F, totals: &Totals) -> Result<(), Dead> {
        self.ring.settle(flash);
        let mut bytes = [0; RECORD_MAX];
        let last = self.last.and_then(|place| {
            let bytes = bytes.get_mut(..usize::from(place.len))?;
            self.ring.read_body_bytes(flash, place.page, place.offset + Ring::granule_len::<F>(), bytes)?;
            Some((place, &*bytes))
        });
        if let (Some((place, bytes)), None, true) = (last, self.head_invalid, self.body_used)
            && self.ring.room::<F>() > GAP + cells::<F>(bytes.len())
        {
            let firm = self.ring.leave_gap(flash).and_then(|()| self.write(flash, place.index, bytes));
            if firm.is_ok() {
                return Ok(());
            }
            self.fault();
        }
        if self.ring.sequence() == 0 || self.body_used || self.head_invalid.is_some() {
            // The spans so far add up to the base, unless a page of them is gone: then the journal says it.
            let trusted = self.ring.sequence() != 0 && self.head_invalid.is_none();
            let base = if trusted { self.totals } else { *totals };
            self.roll(flash, &base)
        } else {
            // The base may be weak: write the same one again.
            let index = self.next_index.wrapping_sub(1);
            self.begin(flash, index, &self.totals.clone(), Ring::rewrite)
        }
    }

    /// Appends a record; true if a page was begun for it, so that the caller may repeat what every page should hold.
    pub(crate) fn append<F: NorFlash>(
        &mut self,
        flash: &mut F,
        record: &Record,
        totals: &Totals,
    ) -> Result<bool, Dead> {
        let mut bytes = [0; RECORD_MAX];
        let bytes = record.encode(&mut bytes).ok_or(Dead)?;
        let mut rolled = false;
        for _ in 0..3 {
            if self.ring.room::<F>() >= cells::<F>(bytes.len()) {
                match self.write(flash, self.next_index, bytes) {
                    Ok(()) => {
                        self.totals.count(bytes);
                        self.next_index = self.next_index.wrapping_add(1);
                        return Ok(rolled);
                    }
                    Err(Refused::Failed) => self.fault(),
                    Err(Refused::Full) => {}
                }
            }
            // A base repeats what the records so far add up to; what is not yet in a span stays for the next one.
            let base = if self.ring.sequence() == 0 { *totals } else { self.totals };
            self.roll(flash, &base)?;
            rolled = true;
        }
        Err(Dead)
    }

    fn fault(&mut self) {
        self.write_faults = self.write_faults.saturating_add(1);
        self.ring.retire_this();
    }

    fn roll<F: NorFlash>(&mut self, flash: &mut F, totals: &Totals) -> Result<(), Dead> {
        let index = self.next_index;
        self.begin(flash, index, totals, Ring::roll)?;
        self.next_index = index.wrapping_add(1);
        self.totals = *totals;
        self.find_oldest(flash);
        Ok(())
    }

    fn begin<F: NorFlash>(
        &mut self,
        flash: &mut F,
        index: u32,
        totals: &Totals,
        write: impl FnOnce(&mut Ring, &mut F, &[u8]) -> Result<(), Dead>,
    ) -> Result<(), Dead> {
        let mut head = [0; HEAD_MAX];
        let (place, snapshot) = head.split_first_chunk_mut::<4>().ok_or(Dead)?;
        *place = index.to_le_bytes();
        State::with_totals(totals).snapshot(L, snapshot).ok_or(Dead)?;
        let head = head.get(..head_len(L)).ok_or(Dead)?;
        let written = write(&mut self.ring, flash, head);
        if written.is_ok() {
            self.last = None;
            self.body_used = false;
        } else {
            self.write_faults = self.write_faults.saturating_add(1);
        }
        written
    }

    fn write<F: NorFlash>(&mut self, flash: &mut F, index: u32, bytes: &[u8]) -> Result<(), Refused> {
        let step = Ring::granule_len::<F>() as usize;
        let len = u8::try_from(bytes.len()).map_err(|_| Refused::Failed)?;
        let header = u32::from(len) << 16 | index & 0xFFFF;
        let place = Place { page: self.ring.page(), offset: self.ring.offset(), len, index };
        self.ring.append(flash, header, 0)?;
        for chunk in bytes.chunks(step) {
            self.ring.append_raw(flash, chunk, 0)?;
        }
        self.ring.append_raw(flash, &check(header, bytes).to_le_bytes(), 0)?;
        self.last = Some(place);
        self.body_used = true;
        Ok(())
    }

    /// Where a pull that lacks `have` and later should begin: the base of the page that holds it, or the oldest.
    pub(crate) fn page_start<F: NorFlash>(&self, flash: &mut F, have: u32) -> u32 {
        self.page_with(flash, have).map_or(self.oldest_index, |(_, index)| index)
    }

    /// The page that holds this index, and the index of its base.
    fn page_with<F: NorFlash>(&self, flash: &mut F, index: u32) -> Option<(Found, u32)> {
        let mut below = u32::MAX;
        while let Some(found) = self.ring.newest_below(flash, below) {
            if let Some(first) = self.index_of(flash, found)
                && first <= index
            {
                return Some((found, first));
            }
            below = found.sequence;
        }
        None
    }

    /// Copies whole records from index `from` on, below `to`, each behind its length, into `out`; how many bytes. A record that
    /// is lost has length 0. Stops at the end of a page.
    pub(crate) fn read<F: NorFlash>(&self, flash: &mut F, from: u32, to: u32, out: &mut [u8]) -> usize {
        let Some((found, first)) = self.page_with(flash, from) else { return 0 };
        // The page ends where the next page's base begins.
        let end = self.base_after(flash, found.sequence).unwrap_or(self.next_index).min(to);
        let mut head = [0; HEAD_MAX];
        let mut ring = self.ring.clone();
        if !ring.open(flash, found, &mut head) {
            return 0;
        }
        let mut fill = Fill { out, used: 0, next: from, end, full: false };
        if let Some((_, totals)) = Self::base(&head).filter(|_| first == from) {
            let mut bytes = [0; RECORD_MAX];
            fill.put(first, Record::Base(totals).encode(&mut bytes).unwrap_or(&[]));
        }
        let mut scan = Scan::new(first.wrapping_add(1));
        let mut order = Order::new(first.wrapping_add(1));
        ring.scan(flash, |flash, ring, offset, cell| {
            if fill.full {
                return;
            }
            if let Some(place) = scan.see(flash, ring, offset, cell)
                && let Some(stands) = order.see(place)
            {
                fill.copy(flash, ring, stands);
            }
        });
        if let Some(place) = order.pending {
            fill.copy(flash, &ring, place);
        }
        fill.lost_until(end);
        fill.used
    }

    pub(crate) const fn totals(&self) -> &Totals {
        &self.totals
    }

    pub(crate) const fn next_index(&self) -> u32 {
        self.next_index
    }

    pub(crate) const fn oldest_index(&self) -> u32 {
        self.oldest_index
    }

    pub(crate) const fn ring(&self) -> &Ring {
        &self.ring
    }

    /// Growth of the totals since the last base or span.
    pub(crate) fn growth(&self, totals: &Totals) -> Span {
        totals.since(&self.totals)
    }
}

/// Takes the record at this place in. Apart, so that its bytes are on the stack only here.
#[inline(never)]
fn count<F: NorFlash>(flash: &mut F, ring: &Ring, place: Place, totals: &mut Totals) {
    let mut bytes = [0; RECORD_MAX];
    let content = place.offset + Ring::granule_len::<F>();
    if let Some(bytes) = bytes.get_mut(..usize::from(place.len))
        && ring.read_body_bytes(flash, place.page, content, bytes).is_some()
    {
        totals.count(bytes);
    }
}

fn check(header: u32, bytes: &[u8]) -> u32 {
    let mut running = crc32::Running::default();
    running.update(&berger::encode(header).to_le_bytes());
    running.update(bytes);
    running.finish()
}

/// Cells that a record of this length takes.
fn cells<F: NorFlash>(len: usize) -> u32 {
    2 + (len as u32).div_ceil(Ring::granule_len::<F>())
}

/// Finds the records among the cells of a page.
struct Scan {
    next_index: u32,
    /// The record found last ends here: cells before are its own.
    end: u32,
}

impl Scan {
    const fn new(next_index: u32) -> Self {
        Self { next_index, end: 0 }
    }

    fn see<F: NorFlash>(&mut self, flash: &mut F, ring: &Ring, offset: u32, cell: Cell) -> Option<Place> {
        let Cell::Word(header) = cell else { return None };
        if offset < self.end || header >= HEADER_LIMIT {
            return None;
        }
        let step = Ring::granule_len::<F>();
        let len = (header >> 16) as u8;
        let content = offset + step;
        let check_at = content + u32::from(len).div_ceil(step) * step;
        if usize::from(len) > RECORD_MAX || check_at + step > ring.page_len() {
            return None;
        }
        let mut running = crc32::Running::default();
        running.update(&berger::encode(header).to_le_bytes());
        // Piece by piece: a record is long for this stack.
        let mut piece = [0; GRANULE_MAX];
        let mut left = usize::from(len);
        let mut at = content;
        while at < check_at {
            let piece = piece.get_mut(..left.min(step as usize))?;
            ring.read_body_bytes(flash, ring.page(), at, piece)?;
            running.update(piece);
            left -= piece.len();
            at += step;
        }
        let mut stored = [0; 4];
        ring.read_body_bytes(flash, ring.page(), check_at, &mut stored)?;
        if u32::from_le_bytes(stored) != running.finish() {
            return None;
        }
        self.end = check_at + step;
        // The index near the one expected that has these low bits: a little back if it is a repetition.
        let back = (self.next_index as u16).wrapping_sub(header as u16);
        let index = if back <= REPEAT_MAX {
            self.next_index.wrapping_sub(u32::from(back))
        } else {
            self.next_index.wrapping_add(u32::from((header as u16).wrapping_sub(self.next_index as u16)))
        };
        self.next_index = index.wrapping_add(1);
        Some(Place { page: ring.page(), offset, len, index })
    }
}

/// Puts repeated records in order: a record stands once one with a higher index follows.
struct Order {
    pending: Option<Place>,
    last: Option<Place>,
    /// Records below this index have been handed on.
    done: u32,
}

impl Order {
    const fn new(first: u32) -> Self {
        Self { pending: None, last: None, done: first }
    }

    /// Takes the next record found; hands on the one before if it now stands.
    fn see(&mut self, place: Place) -> Option<Place> {
        let stands = self.pending.take().filter(|before| before.index < place.index);
        if let Some(before) = stands {
            self.done = before.index.wrapping_add(1);
        }
        self.last = Some(place);
        if place.index >= self.done {
            self.pending = Some(place);
        }
        stands
    }
}

/// Fills a reply with records.
struct Fill<'a> {
    out: &'a mut [u8],
    used: usize,
    /// The next index to put.
    next: u32,
    end: u32,
    full: bool,
}

impl Fill<'_> {
    fn copy<F: NorFlash>(&mut self, flash: &mut F, ring: &Ring, place: Place) {
        let mut bytes = [0; RECORD_MAX];
        let content = place.offset + Ring::granule_len::<F>();
        if place.index < self.next || place.index >= self.end {
            return;
        }
        if let Some(bytes) = bytes.get_mut(..usize::from(place.len))
            && ring.read_body_bytes(flash, place.page, content, bytes).is_some()
        {
            self.put(place.index, bytes);
        }
    }

    fn put(&mut self, index: u32, bytes: &[u8]) {
        if index < self.next || index >= self.end {
            return;
        }
        self.lost_until(index);
        self.push(bytes);
    }

    fn lost_until(&mut self, index: u32) {
        while self.next < index && !self.full {
            self.push(&[]);
        }
    }

    fn push(&mut self, bytes: &[u8]) {
        let room = self.out.get_mut(self.used..).and_then(|out| out.get_mut(..1 + bytes.len()));
        match (room.and_then(<[u8]>::split_first_mut), u8::try_from(bytes.len())) {
            (Some((len_out, out)), Ok(len)) if !self.full => {
                *len_out = len;
                out.copy_from_slice(bytes);
                self.used += 1 + bytes.len();
                self.next += 1;
            }
            _ => self.full = true,
        }
    }
}
