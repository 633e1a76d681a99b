//! Deliberate mistakes, one at a time, which the power-cut tests must catch.
//!
//! Without the feature `planted-faults`, which only tests turn on, `planted` is constantly false and nothing of
//! this is in the image.

/// A way in which the stores could be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Mistake {
    /// The check of a word counts ones instead of zeros.
    CountsOnes = 1,
    /// No cells are burnt between the last used one and what a mount writes.
    NoGap,
    /// A burnt cell is all zeros.
    BurnsToZeros,
    /// The cell in which a word may have been cut is burnt too.
    BurnsTornCell,
    /// A head is believed though its CRC does not match.
    NoHeadCheck,
    /// A commit that the flash refused is acknowledged.
    AcknowledgesFailure,
    /// A page that looks erased is taken as erased after a reset.
    TrustsBlankPage,
    /// A mount does not repeat the last word.
    NoRepeat,
    /// A mount leaves pages alone that may turn up later.
    NoSettle,
    /// A newest page with a blank body is used as it is.
    TrustsBlankBody,
    /// The snapshot of a new page holds the word that is being committed.
    SnapshotHoldsWord,
    /// A word that an earlier mount read as torn counts once it is readable.
    NeverDropsWord,
    /// A page that refuses a word is used on.
    KeepsBadPage,
    /// Missing words are not noticed.
    IgnoresIndex,
    /// What a cut erase has left of a page counts as words.
    BelievesRubbish,
}

impl Mistake {
    /// All of them.
    pub const ALL: [Mistake; 15] = [
        Mistake::CountsOnes,
        Mistake::NoGap,
        Mistake::BurnsToZeros,
        Mistake::BurnsTornCell,
        Mistake::NoHeadCheck,
        Mistake::AcknowledgesFailure,
        Mistake::TrustsBlankPage,
        Mistake::NoRepeat,
        Mistake::NoSettle,
        Mistake::TrustsBlankBody,
        Mistake::SnapshotHoldsWord,
        Mistake::NeverDropsWord,
        Mistake::KeepsBadPage,
        Mistake::IgnoresIndex,
        Mistake::BelievesRubbish,
    ];
}

#[cfg(feature = "planted-faults")]
mod switch {
    use super::Mistake;
    use core::sync::atomic::{AtomicU8, Ordering};

    static PLANTED: AtomicU8 = AtomicU8::new(0);

    /// Plants a mistake in the whole process, or none.
    pub fn plant(mistake: Option<Mistake>) {
        PLANTED.store(mistake.map_or(0, |mistake| mistake as u8), Ordering::SeqCst);
    }

    pub(crate) fn planted(mistake: Mistake) -> bool {
        PLANTED.load(Ordering::Relaxed) == mistake as u8
    }
}

#[cfg(not(feature = "planted-faults"))]
mod switch {
    pub(crate) const fn planted(_: super::Mistake) -> bool {
        false
    }
}

#[cfg(feature = "planted-faults")]
pub use switch::plant;
pub(crate) use switch::planted;
