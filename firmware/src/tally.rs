//! From proven edges to commit words, on a grid of tenths of a second.
//!
//! An on-edge takes effect at the next tenth, an off-edge at the last: no word ever says more than was true.
//! A word is due at every edge, and at a heartbeat while anything is on. When edges come faster than the wear
//! budget allows they are merged: at the heartbeat the on-time of each line is said by a few
//! [`Kind::Blend`] words (the lines sorted by how long they were on), the starts by [`Kind::Starts`].

use crate::journal::state::bit;
use crate::journal::word::{Kind, TENTHS_MAX, Word};
use crate::line::Edge;
use halfglass_protocol::LINES_MAX;

/// Edge words a day that the flash is sized for.
const EDGES_PER_DAY: u32 = 500;

/// What one edge word costs: its share of a day, in tenths.
const EDGE_COST_TENTHS: u32 = 864_000 / EDGES_PER_DAY;

/// A new session starts with this much of a day's edges in hand.
const CREDIT_AT_START_TENTHS: u32 = 100 * EDGE_COST_TENTHS;

const NONE: u64 = u64::MAX;

/// What has been counted and not yet said. Ticks are tenths since the session began.
#[derive(Clone, Debug)]
pub(crate) struct Tally {
    /// Everything before this tick has been said.
    said: u64,
    /// Edges before this tick have been taken in.
    reached: u64,
    /// The lines that are on from `reached`.
    mask: u8,
    /// The lines that changed since the last word.
    changed: u8,
    edges: [Pending; LINES_MAX],
    merged: Option<[u16; LINES_MAX]>,
    /// Starts that the masks will not tell.
    more_starts: [u16; LINES_MAX],
    credit_tenths: u32,
    /// Lines that changed while merging, for the history.
    pub(crate) coalesced: u8,
}

/// Edges of one line that have not taken effect: at most one of each kind.
#[derive(Clone, Copy, Debug)]
struct Pending {
    on_at: u64,
    off_at: u64,
}

impl Tally {
    /// Starts at tick 0, merging: until the supply has proved good nothing may be said.
    pub(crate) const fn new() -> Self {
        Self {
            said: 0,
            reached: 0,
            mask: 0,
            changed: 0,
            edges: [Pending { on_at: NONE, off_at: NONE }; LINES_MAX],
            merged: Some([0; LINES_MAX]),
            more_starts: [0; LINES_MAX],
            credit_tenths: CREDIT_AT_START_TENTHS,
            coalesced: 0,
        }
    }

    /// Takes a proven edge in; the tick at which it takes effect.
    pub(crate) fn edge(&mut self, edge: Edge) -> u64 {
        let tick = if edge.on { edge.at_ms.div_ceil(100) } else { edge.at_ms / 100 }.max(self.reached);
        let (Some(pending), Some(more)) =
            (self.edges.get_mut(edge.line), self.more_starts.get_mut(edge.line))
        else {
            return tick;
        };
        // More than two edges of a line within one tenth: the middle ones cancel, their start is kept.
        match (edge.on, pending.on_at, pending.off_at) {
            (true, NONE, NONE) => pending.on_at = tick,
            (true, NONE, off_at) => pending.on_at = tick.max(off_at),
            (true, ..) => {
                pending.off_at = NONE;
                *more = more.saturating_add(1);
            }
            (false, NONE, NONE) => pending.off_at = tick,
            (false, on_at, NONE) => pending.off_at = tick.max(on_at),
            (false, ..) => {
                pending.on_at = NONE;
                *more = more.saturating_add(1);
            }
        }
        tick
    }

    /// Goes on to `horizon`, saying a word for every edge on the way that is not merged.
    pub(crate) fn advance(&mut self, horizon: u64, say: &mut impl FnMut(Word)) {
        while let Some(tick) = self.next_edge().filter(|tick| *tick <= horizon) {
            self.earn(tick);
            let (mut falling, mut rising) = (0, 0);
            for (line, pending) in self.edges.iter_mut().enumerate() {
                if self.mask & bit(line) != 0 {
                    if pending.off_at == tick {
                        falling |= bit(line);
                        pending.off_at = NONE;
                    } else if pending.on_at == tick {
                        // On while on: nothing to do.
                        pending.on_at = NONE;
                    }
                } else if pending.on_at == tick {
                    rising |= bit(line);
                    pending.on_at = NONE;
                } else if pending.off_at == tick && pending.on_at == NONE {
                    // Off while off: nothing to do.
                    pending.off_at = NONE;
                }
            }
            self.step(tick, falling, rising, say);
        }
        self.earn(horizon);
        self.go_to(horizon);
    }

    fn next_edge(&self) -> Option<u64> {
        self.edges
            .iter()
            .flat_map(|pending| [pending.on_at, pending.off_at])
            .filter(|tick| *tick != NONE)
            .min()
    }

    fn earn(&mut self, tick: u64) {
        let more = u32::try_from(tick.saturating_sub(self.reached)).unwrap_or(u32::MAX);
        self.credit_tenths = self.credit_tenths.saturating_add(more).min(EDGES_PER_DAY * EDGE_COST_TENTHS);
    }

    /// Takes effect of the edges at one tick.
    fn step(&mut self, tick: u64, falling: u8, rising: u8, say: &mut impl FnMut(Word)) {
        if self.merged.is_none() {
            match self.credit_tenths.checked_sub(EDGE_COST_TENTHS) {
                Some(rest) => self.credit_tenths = rest,
                None => {
                    // Too many edges: from the last word on, merge.
                    self.reached = self.said;
                    self.merged = Some([0; LINES_MAX]);
                    let unsaid = self.changed & self.mask;
                    self.add_starts(unsaid);
                }
            }
        }
        self.go_to(tick);
        if self.merged.is_some() {
            self.coalesced |= falling | rising;
            self.add_starts(rising);
        } else if tick > self.said || self.changed & (falling | rising) != 0 {
            self.hold(tick, say);
        }
        self.changed |= falling | rising;
        self.mask = self.mask & !falling | rising;
    }

    fn add_starts(&mut self, mask: u8) {
        for (line, more) in self.more_starts.iter_mut().enumerate() {
            if mask & bit(line) != 0 {
                *more = more.saturating_add(1);
            }
        }
    }

    /// Moves `reached` on, counting merged on-time.
    fn go_to(&mut self, tick: u64) {
        let tenths = u16::try_from(tick.saturating_sub(self.reached)).unwrap_or(u16::MAX);
        if let Some(merged) = &mut self.merged {
            for (line, on_tenths) in merged.iter_mut().enumerate() {
                if self.mask & bit(line) != 0 {
                    *on_tenths = on_tenths.saturating_add(tenths);
                }
            }
        }
        self.reached = self.reached.max(tick);
    }

    /// Says that the mask held until `tick`.
    fn hold(&mut self, tick: u64, say: &mut impl FnMut(Word)) {
        say_for(Kind::Hold, self.mask, tick.saturating_sub(self.said), say);
        self.said = self.said.max(tick);
        self.changed = 0;
    }

    /// Says everything up to where edges have been taken in.
    pub(crate) fn flush(&mut self, say: &mut impl FnMut(Word)) {
        match self.merged.take() {
            None if self.reached > self.said || self.changed != 0 => self.hold(self.reached, say),
            None => {}
            Some(on_tenths) => self.blend(&on_tenths, say),
        }
        self.say_more_starts(say);
        if self.credit_tenths < EDGE_COST_TENTHS {
            self.merged = Some([0; LINES_MAX]);
        }
    }

    /// The lines sorted by on-time, longest-lived last: each word says how much longer those left were on.
    fn blend(&mut self, on_tenths: &[u16; LINES_MAX], say: &mut impl FnMut(Word)) {
        let span = self.reached.saturating_sub(self.said);
        let mut done = 0;
        let mut last = None;
        while done < span {
            let left = |tenths: &&u16| u64::from(**tenths) > done;
            let next =
                on_tenths.iter().filter(left).min().map_or(span, |tenths| u64::from(*tenths)).min(span);
            let mask = on_tenths
                .iter()
                .enumerate()
                .filter(|(_, tenths)| u64::from(**tenths) > done)
                .fold(0, |mask, (line, _)| mask | bit(line));
            say_for(Kind::Blend, mask, next - done, say);
            last = Some(mask);
            done = next;
        }
        if last != Some(self.mask) {
            say(Word { kind: Kind::Blend, mask: self.mask, tenths: 0, index: 0 });
        }
        self.said = self.reached;
        self.changed = 0;
    }

    fn say_more_starts(&mut self, say: &mut impl FnMut(Word)) {
        while let Some(times) = self.more_starts.iter().copied().filter(|times| *times > 0).max() {
            let mut mask = 0;
            for (line, more) in self.more_starts.iter_mut().enumerate() {
                if *more == times {
                    mask |= bit(line);
                    *more = 0;
                }
            }
            say(Word { kind: Kind::Starts, mask, tenths: times.min(TENTHS_MAX), index: 0 });
        }
    }

    /// These lines are off from where edges have been taken in, and nothing of them is pending.
    pub(crate) fn drop_lines(&mut self, mask: u8) {
        for (line, pending) in self.edges.iter_mut().enumerate() {
            if mask & bit(line) != 0 {
                *pending = Pending { on_at: NONE, off_at: NONE };
            }
        }
        self.mask &= !mask;
    }

    /// The tick at which a word is due even without an edge.
    pub(crate) fn due(&self, heartbeat_tenths: u64, idle_tenths: u64) -> u64 {
        let busy =
            self.mask != 0 || self.changed != 0 || self.merged.is_some_and(|on| on.iter().any(|on| *on > 0));
        self.said + if busy { heartbeat_tenths } else { idle_tenths }
    }

    /// The tick at which a pending edge takes effect.
    pub(crate) fn edge_due(&self) -> Option<u64> {
        self.next_edge()
    }

    /// The lines that are on.
    pub(crate) const fn mask(&self) -> u8 {
        self.mask
    }

    /// Everything before this tick has been said.
    pub(crate) const fn said(&self) -> u64 {
        self.said
    }

    /// What is on now and for how long, for looking at; as a word that is not committed.
    pub(crate) fn unsaid(&self) -> Word {
        let tenths = u16::try_from(self.reached.saturating_sub(self.said)).unwrap_or(TENTHS_MAX);
        Word::hold(if self.merged.is_some() { 0 } else { self.mask }, tenths.min(TENTHS_MAX))
    }
}

/// Says a stretch of any length in as many words as it takes; at least one.
fn say_for(kind: Kind, mask: u8, tenths: u64, say: &mut impl FnMut(Word)) {
    let mut left = tenths;
    loop {
        let now = left.min(u64::from(TENTHS_MAX));
        say(Word { kind, mask, tenths: now as u16, index: 0 });
        left -= now;
        if left == 0 {
            break;
        }
    }
}
