//! The check that makes a torn flash word impossible to mistake for a whole one.
//!
//! ```text
//!   bit 31                              5 4         0
//!       | information, 27 bits           | zeros     |
//!   zeros: how many of the 27 information bits are 0 (a Berger code)
//! ```
//!
//! Erased flash is all ones and programming only turns ones into zeros, so a word torn by a power cut
//! has some of its zeros missing. A missing zero in the information makes the true count smaller; a
//! missing zero in the count makes the stated count larger. Both push the same way, so no
//! combination of missing zeros can balance: every tear is refused. Counting ones instead would let
//! the two errors cancel.
//!
//! Blank (all ones: no zeros, count 31) and burnt (all zeros: 27 zeros, count 0) words are refused too.

use crate::planted::{Mistake, planted};

const INFORMATION_BITS: u32 = 27;

/// The largest information that fits.
pub(crate) const INFORMATION_MAX: u32 = (1 << INFORMATION_BITS) - 1;

/// The word for `information`, of which the low 27 bits count.
pub(crate) fn encode(information: u32) -> u32 {
    let information = information & INFORMATION_MAX;
    let ones = information.count_ones();
    let check = if planted(Mistake::CountsOnes) { ones } else { INFORMATION_BITS - ones };
    (information << 5) | check
}

/// The information in `word`, unless it is torn, blank or burnt.
pub(crate) fn decode(word: u32) -> Option<u32> {
    let information = word >> 5;
    if encode(information) == word { Some(information) } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn blank_and_burnt_are_refused() {
        assert_eq!(decode(u32::MAX), None);
        assert_eq!(decode(0), None);
    }

    /// Every tear of a word, that is every proper subset of its zeros, one word in full.
    #[test]
    fn every_tear_of_one_word() {
        let word = encode(0b101_1010_0111_0000_1111_0010_1101);
        let zeros = !word;
        let mut subset = zeros;
        while subset != 0 {
            // `subset` are the zeros that did not get programmed.
            assert_eq!(decode(word | subset), None, "{:08x}", word | subset);
            subset = (subset - 1) & zeros;
        }
        assert!(decode(word).is_some());
    }

    proptest! {
        #[test]
        fn any_tear_is_refused(information in 0..=INFORMATION_MAX, missing: u32) {
            let word = encode(information);
            prop_assert_eq!(decode(word), Some(information));
            let torn = word | (!word & missing);
            prop_assert!(torn == word || decode(torn).is_none());
        }
    }
}
