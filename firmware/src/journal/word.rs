//! The commit word: one 32-bit word a commit.
//!
//! ```text
//!   31 30 | 29 .. 22 | 21 ........ 9 | 8 .. 5 | 4 .. 0
//!   kind  | mask     | tenths        | index  | zeros (a Berger check: see berger.rs)
//!
//!   kind 0  Hold    the lines in `mask` were on for `tenths`, ending here; the others were off.
//!                   A line that was not on in the word before has started.
//!   kind 1  Blend   the same without starts: part of a heartbeat whose edges were merged
//!   kind 2  Starts  the lines in `mask` started `tenths` times more; with no lines: a burnt cell (see ring.rs), which
//!                   nobody commits
//!   kind 3  Resume  a session begins; mask and tenths are the low 21 bits of its number, `index` is that
//!                   of the last word believed, which is repeated in the next cell
//!   index   counts words in the page, modulo 16
//! ```

/// Longest time that one word can say, in tenths.
pub const TENTHS_MAX: u16 = (1 << 13) - 1;

/// Bits of the session number in a Resume.
pub const SESSION_BITS: u32 = 21;

/// What a word says; the picture above tells each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A mask held.
    Hold = 0,
    /// A part of a merged heartbeat.
    Blend = 1,
    /// Starts that no mask tells.
    Starts = 2,
    /// A session begins.
    Resume = 3,
}

/// A commit word, its check left to the ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Word {
    /// What it says.
    pub kind: Kind,
    /// The lines it is about.
    pub mask: u8,
    /// For how long, or how often.
    pub tenths: u16,
    /// Its number in the page, modulo 16; given by the journal.
    pub index: u8,
}

impl Word {
    /// A mask that held for so long.
    pub const fn hold(mask: u8, tenths: u16) -> Word {
        Word { kind: Kind::Hold, mask, tenths, index: 0 }
    }

    /// A session that begins after the word with this index.
    pub const fn resume(session: u32, index: u8) -> Word {
        let low = session & ((1 << SESSION_BITS) - 1);
        Word { kind: Kind::Resume, mask: (low >> 13) as u8, tenths: low as u16 & TENTHS_MAX, index }
    }

    /// The low bits of the session number in a Resume.
    pub const fn session_low(self) -> u32 {
        (self.mask as u32) << 13 | self.tenths as u32
    }

    /// Starts of no lines: would read as a burnt cell.
    pub const fn says_nothing(self) -> bool {
        matches!(self.kind, Kind::Starts) && self.mask == 0
    }

    /// The 27 bits that go into flash.
    pub const fn information(self) -> u32 {
        (self.kind as u32) << 25
            | (self.mask as u32) << 17
            | (self.tenths as u32 & TENTHS_MAX as u32) << 4
            | (self.index as u32 & 0xF)
    }

    /// Reads the 27 bits.
    pub const fn from_information(information: u32) -> Word {
        let kind = match information >> 25 & 3 {
            0 => Kind::Hold,
            1 => Kind::Blend,
            2 => Kind::Starts,
            _ => Kind::Resume,
        };
        Word {
            kind,
            mask: (information >> 17) as u8,
            tenths: (information >> 4) as u16 & TENTHS_MAX,
            index: information as u8 & 0xF,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::berger;

    /// The format on flash, as literal bits. It must never change.
    #[test]
    fn bits_are_pinned() {
        let word = Word { kind: Kind::Hold, mask: 0b0000_0111, tenths: 100, index: 5 };
        assert_eq!(word.information(), 0b000_0000_1110_0000_0110_0100_0101);
        // Eight ones among 27 bits: 19 zeros.
        assert_eq!(berger::encode(word.information()), 0b0000_0001_1100_0000_1100_1000_1011_0011);
        let word = Word::resume(0x1F_FFFF, 15);
        assert_eq!(berger::encode(word.information()), 0xFFFF_FFE0);
        assert_eq!(Word::from_information(word.information()), word);
        assert_eq!(word.session_low(), 0x1F_FFFF);
    }

    #[test]
    fn every_kind_goes_both_ways() {
        for kind in [Kind::Hold, Kind::Blend, Kind::Starts, Kind::Resume] {
            let word = Word { kind, mask: 0xA5, tenths: 8_191, index: 9 };
            assert_eq!(Word::from_information(word.information()), word);
        }
    }
}
