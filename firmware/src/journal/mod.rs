//! The journal: totals that survive.
//!
//! # The hardware's preconditions
//!
//! 1. Erased flash reads as ones; programming a granule turns ones into zeros and nothing else.
//! 2. A program or erase that returned success and reads back right stays right (code retention).
//! 3. A granule may be programmed once between erases; one whose programming was cut, or may have been, once more (in
//!    flash with error correction: with all zeros).
//! 4. A power cut may leave the granule being programmed with any subset of its zeros, reading
//!    differently each time; and the page being erased with anything. It touches nothing else.
//!
//! # The promises
//!
//! * A word whose [`Journal::commit`] returned is in the totals after any later cut.
//! * The totals after a cut are those of the last word committed, or of the one that was being
//!   committed; and once shown, they stay.
//! * Totals never rise above the truth.
//!
//! # How
//!
//! A page begins with a snapshot and goes on with one word a commit ([`word`]). A mount takes the newest page
//! and adds its words up. The last of them may be weak, so the mount's result is only shown after
//! [`Journal::recover`] has repeated that word behind a gap of burnt cells, or has begun a fresh page.

pub mod state;
pub mod word;

use crate::planted::{Mistake, planted};
use crate::ports::Region;
use crate::ring::{Cell, Dead, Found, GAP, HEAD_MAX, Refused, Ring};
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::RADARS_MAX;
use state::{State, Watch};
use word::{Kind, Word};

/// Cells kept free at the end of a page, so that a failing supply can be answered without an erase.
const RESERVE: u32 = 2;

/// What a mount found amiss.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Findings {
    /// The page whose head does not match its check.
    pub head_invalid: Option<u16>,
    /// Words that had been committed and are gone.
    pub words_lost: u16,
}

/// Totals in flash.
#[derive(Clone, Debug)]
pub struct Journal<const L: usize> {
    ring: Ring,
    state: State,
    watch: [Watch; RADARS_MAX],
    /// The last word believed, which a recovery repeats.
    last: Option<Word>,
    /// The index that the next word gets.
    next_index: u8,
    /// The page in use has cells that are not blank.
    body_used: bool,
    /// The flash holds less than the state: the next commit must begin with a snapshot.
    behind: bool,
    /// What the mount found amiss.
    pub findings: Findings,
    /// Writes that failed since the mount.
    pub write_faults: u16,
}

impl<const L: usize> Journal<L> {
    /// Reads the region; writes nothing.
    pub fn mount<F: NorFlash>(flash: &mut F, region: Region, watch: [Watch; RADARS_MAX]) -> Self {
        let mut journal = Self {
            ring: Ring::new(region, State::snapshot_len(L)),
            state: State::default(),
            watch,
            last: None,
            next_index: 0,
            body_used: false,
            behind: false,
            findings: Findings::default(),
            write_faults: 0,
        };
        let Some(mut from) = journal.ring.newest_below(flash, u32::MAX) else {
            return journal;
        };
        let mut broken = None;
        while !journal.open(flash, from) {
            broken.get_or_insert(from.page);
            let Some(before) = journal.ring.newest_below(flash, from.sequence) else {
                journal.findings.head_invalid = broken;
                break;
            };
            from = before;
        }
        journal.replay(flash);
        // Pages after it have heads that do not match: what was replayed stands, their words go on from there. One without
        // words is no damage: it was being erased to be written again.
        while let Some(after) = broken.and_then(|_| journal.ring.follows(flash, from)) {
            from = after;
            journal.open(flash, from);
            journal.body_used = journal.ring.holds_words(flash);
            if journal.body_used {
                journal.replay(flash);
                journal.findings.head_invalid.get_or_insert(from.page);
            }
        }
        journal
    }

    fn open<F: NorFlash>(&mut self, flash: &mut F, found: Found) -> bool {
        let mut head = [0; HEAD_MAX];
        self.last = None;
        self.next_index = 0;
        let whole = self.ring.open(flash, found, &mut head);
        let snapshot = head.get(..State::snapshot_len(L)).and_then(|head| State::from_snapshot(L, head));
        match snapshot.filter(|_| whole) {
            Some(state) => {
                self.state = state;
                true
            }
            None => false,
        }
    }

    /// Adds up the words of the page in use.
    fn replay<F: NorFlash>(&mut self, flash: &mut F) {
        let mut replay = Replay::new(&mut self.state, &self.watch);
        let step = Ring::granule_len::<F>();
        let used = self.ring.scan(flash, |_, _, offset, cell| replay.see(offset, step, cell));
        replay.settle();
        self.body_used = used > 0;
        self.last = replay.last;
        self.next_index = replay.next_index;
        self.findings.words_lost = self.findings.words_lost.saturating_add(replay.words_lost);
    }

    /// Makes what the mount found firm and begins a session. Until this returns, nothing may be shown.
    pub fn recover<F: NorFlash>(&mut self, flash: &mut F) -> Result<(), Dead> {
        self.ring.settle(flash);
        let last = self.last;
        let session = self.state.totals.session.wrapping_add(1);
        self.state.begin_session(session);
        let in_page = self.body_used
            && self.findings == Findings::default()
            && self.ring.room::<F>() > GAP + 2 + RESERVE;
        if let (true, Some(last)) = (in_page, last) {
            let firm = self.ring.leave_gap(flash).and_then(|()| {
                self.ring.append(flash, Word::resume(session, last.index).information(), 0)?;
                if planted(Mistake::NoRepeat) {
                    return Ok(());
                }
                self.ring.append(flash, last.information(), 0)
            });
            if firm.is_ok() {
                return Ok(());
            }
            self.fault();
        }
        // A blank body means that the head itself may be weak.
        let again = !self.body_used && self.ring.sequence() != 0;
        if again && planted(Mistake::TrustsBlankBody) {
            return self.append(flash, Word::hold(0, 0), 0).map_err(|_| Dead);
        }
        self.begin_page(flash, again, Word::hold(0, 0))
    }

    /// Commits one word. When it returns `Ok`, no cut can take it away.
    ///
    /// The state counts the word in any case: if no page can be written, totals go on in memory and the next
    /// commit tries again with a snapshot.
    pub fn commit<F: NorFlash>(&mut self, flash: &mut F, word: Word) -> Result<(), Dead> {
        if !self.behind {
            match self.append(flash, word, RESERVE) {
                Ok(()) => return Ok(()),
                Err(Refused::Full) => {}
                Err(Refused::Failed) if planted(Mistake::AcknowledgesFailure) => return Ok(()),
                Err(Refused::Failed) => self.fault(),
            }
        }
        self.begin_page(flash, false, word).inspect_err(|Dead| {
            self.state.apply(word, &self.watch);
            self.behind = true;
        })
    }

    /// The same when power is failing: uses the reserve, never erases.
    pub fn commit_last<F: NorFlash>(&mut self, flash: &mut F, word: Word) {
        if self.behind || self.append(flash, word, 0).is_err() {
            self.state.apply(word, &self.watch);
            self.behind = true;
        }
    }

    /// Writes a word and counts it.
    fn append<F: NorFlash>(&mut self, flash: &mut F, word: Word, reserve: u32) -> Result<(), Refused> {
        if word.says_nothing() {
            return Ok(());
        }
        let word = Word { index: self.next_index, ..word };
        self.ring.append(flash, word.information(), reserve)?;
        self.state.apply(word, &self.watch);
        self.last = Some(word);
        self.next_index = (word.index + 1) & 0xF;
        self.body_used = true;
        Ok(())
    }

    fn fault(&mut self) {
        self.write_faults = self.write_faults.saturating_add(1);
        if !planted(Mistake::KeepsBadPage) {
            self.ring.retire_this();
        }
    }

    /// Begins a page with a snapshot of the state, and writes `word` into it. Only the word makes the page count: until
    /// it stands, the page before says the same as the snapshot. `again`: the page in use, erased once more.
    fn begin_page<F: NorFlash>(&mut self, flash: &mut F, again: bool, word: Word) -> Result<(), Dead> {
        let mut head = [0; HEAD_MAX];
        if planted(Mistake::SnapshotHoldsWord) {
            self.state.apply(word, &self.watch);
        }
        let snapshot = self.state.snapshot(L, &mut head).ok_or(Dead)?;
        let mut again = again;
        for _ in 0..self.ring.pages() {
            let begun =
                if again { self.ring.rewrite(flash, snapshot) } else { self.ring.roll(flash, snapshot) };
            begun.inspect_err(|Dead| self.write_faults = self.write_faults.saturating_add(1))?;
            again = false;
            self.next_index = 0;
            self.last = None;
            self.body_used = false;
            self.behind = false;
            if planted(Mistake::SnapshotHoldsWord) {
                return Ok(());
            }
            if self.append(flash, word, RESERVE).is_ok() {
                return Ok(());
            }
            self.fault();
        }
        Err(Dead)
    }

    /// Erases the next page when this one is nearly full.
    pub fn prepare<F: NorFlash>(&mut self, flash: &mut F) {
        if self.ring.room::<F>() < RESERVE + 12 {
            self.ring.erase_ahead(flash);
        }
    }

    /// From the next word on, these lines tell drop-outs and short warm-ups.
    pub fn set_watch(&mut self, watch: [Watch; RADARS_MAX]) {
        self.watch = watch;
    }

    /// What has been counted, the last commit included.
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// The state as it would be with one more word.
    pub fn preview(&self, word: Word) -> State {
        let mut state = self.state;
        state.apply(word, &self.watch);
        state
    }

    /// Pages that failed and are no longer used.
    pub const fn retired_pages(&self) -> u16 {
        self.ring.retired_pages()
    }

    /// The page in use.
    pub const fn page(&self) -> u16 {
        self.ring.page()
    }

    pub(crate) const fn ring(&self) -> &Ring {
        &self.ring
    }
}

/// No Resume was seen: no word has this index.
const NO_RESUME: (u8, u32) = (u8::MAX, 0);

/// The words of one page, added up.
///
/// The last word believed is held back (`pending`), because a Resume that follows may show that an earlier mount
/// read it as torn, and a further Resume that a still earlier one had not. What the last Resume says holds.
struct Replay<'a> {
    /// Everything but the word held back.
    base: &'a mut State,
    watch: &'a [Watch; RADARS_MAX],
    pending: Option<Word>,
    /// The session that begins after the word held back.
    session: Option<u32>,
    /// The last word believed.
    last: Option<Word>,
    next_index: u8,
    /// A Resume was seen in the cell that ends at this offset.
    resume: Option<(u32, Word)>,
    /// Since the last word in its own place: the first Resume after a word with an even index, and after one with an odd
    /// index, with the session before it.
    first: [(u8, u32); 2],
    words_lost: u16,
}

impl<'a> Replay<'a> {
    fn new(base: &'a mut State, watch: &'a [Watch; RADARS_MAX]) -> Self {
        Self {
            base,
            watch,
            pending: None,
            session: None,
            last: None,
            next_index: 0,
            resume: None,
            first: [NO_RESUME; 2],
            words_lost: 0,
        }
    }

    fn see(&mut self, offset: u32, step: u32, cell: Cell) {
        let resume = self.resume.take().filter(|(end, _)| *end == offset);
        let Cell::Word(information) = cell else {
            return;
        };
        let word = Word::from_information(information);
        match (resume, word.kind) {
            (_, Kind::Resume) => {
                let before = self.base.session_from_low(word.session_low()).wrapping_sub(1);
                let [even, odd] = &mut self.first;
                let first = if word.index & 1 == 0 { even } else { odd };
                if first.0 != word.index {
                    *first = (word.index, before);
                }
                self.resume = Some((offset + step, word));
            }
            (Some((_, resume)), _) if resume.index == word.index => {
                let session = self.base.session_from_low(resume.session_low());
                self.repeated(word);
                self.session = Some(session);
            }
            _ => {
                self.settle();
                self.believe(word);
                self.first = [NO_RESUME; 2];
            }
        }
    }

    /// Counts the word held back and begins the session behind it.
    fn settle(&mut self) {
        if let Some(word) = self.pending.take() {
            self.base.apply(word, self.watch);
        }
        if let Some(session) = self.session.take() {
            self.base.begin_session(session);
        }
    }

    fn believe(&mut self, word: Word) {
        if !planted(Mistake::IgnoresIndex) {
            let lost = distance(self.next_index, word.index);
            self.words_lost = self.words_lost.saturating_add(u16::from(lost));
        }
        self.pending = Some(word);
        self.last = Some(word);
        self.next_index = (word.index + 1) & 0xF;
    }

    /// A mount believed everything up to and with `word`, which it repeated.
    fn repeated(&mut self, word: Word) {
        let believed = self.next_index.wrapping_sub(1) & 0xF;
        match distance(word.index, believed) {
            0 => {}
            // The word held back is readable now and was not then: it did not count, nor does it now.
            1 if self.pending.is_some() && !planted(Mistake::NeverDropsWord) => {
                self.pending = None;
                self.last = Some(word);
                self.next_index = (word.index + 1) & 0xF;
            }
            // The last word was readable then and is not now.
            _ => {
                // The first mount to find the word took the number after the session that the word came in. Any other that seems
                // to have begun before the word was cut before it was believed.
                let [even, odd] = self.first;
                let (_, came_in) = if word.index & 1 == 0 { even } else { odd };
                self.session = (came_in > self.base.totals.session).then_some(came_in);
                self.settle();
                self.believe(word);
            }
        }
    }
}

/// How many steps forward from one index to another, modulo 16.
fn distance(from: u8, to: u8) -> u8 {
    to.wrapping_sub(from) & 0xF
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::record::Totals;
    use std::vec::Vec;

    /// A word of the session in which `FIRST` was the last believed, and the word that was in flight after it.
    const FIRST: Word = Word { index: 1, ..Word::hold(0b01, 100) };
    const IN_FLIGHT: Word = Word { index: 2, ..Word::hold(0b11, 100) };

    /// What these cells add up to in a page that begins in session 68; `None` does not read.
    fn replayed(cells: &[Option<Word>]) -> Totals {
        let mut state = State::default();
        state.begin_session(68);
        let watch = [Watch::default(); RADARS_MAX];
        let mut replay = Replay::new(&mut state, &watch);
        for (offset, cell) in (0..).step_by(4).zip(cells) {
            replay.see(offset, 4, cell.map_or(Cell::Invalid, |word| Cell::Word(word.information())));
        }
        replay.settle();
        state.totals
    }

    /// Two mounts that were cut while they repeated the last word, and a third to which neither repetition read, but the word
    /// that had been in flight did. All of it reads now.
    #[test]
    fn mounts_that_were_cut_begin_no_session() {
        let mounts = [(69, FIRST), (70, FIRST), (69, IN_FLIGHT)];
        let cells = mounts.into_iter().flat_map(|(session, word)| [Word::resume(session, word.index), word]);
        let cells: Vec<_> = [FIRST, IN_FLIGHT].into_iter().chain(cells).map(Some).collect();
        let totals = replayed(&cells);
        assert_eq!((totals.session, totals.uptime_tenths), (69, 200));
        assert_eq!(totals.starts[..2], [1, 1]);
    }

    /// Two mounts found the word in flight, the first of which was cut while it repeated it; the second had seen that repetition. Of
    /// the word only the second's reads.
    #[test]
    fn a_session_after_the_word_does_not_come_before_it() {
        let resume = Some(Word::resume(69, 2));
        let totals = replayed(&[Some(FIRST), None, resume, None, Some(Word::resume(70, 2)), Some(IN_FLIGHT)]);
        assert_eq!((totals.session, totals.uptime_tenths), (70, 200));
        assert_eq!(totals.starts[..2], [1, 1]);
    }

    /// A session whose first word was in flight, a mount that was cut while it repeated the word before, and one that found the
    /// word in flight. That no longer reads, but its repetition does: both lines have started anew in its session.
    #[test]
    fn a_session_before_mounts_that_were_cut_stays_begun() {
        let totals = replayed(&[
            Some(FIRST),
            Some(Word::resume(69, 1)),
            Some(FIRST),
            None,
            Some(Word::resume(70, 1)),
            Some(FIRST),
            Some(Word::resume(70, 2)),
            Some(IN_FLIGHT),
        ]);
        assert_eq!((totals.session, totals.uptime_tenths), (70, 200));
        assert_eq!(totals.starts[..2], [2, 1]);
    }
}
