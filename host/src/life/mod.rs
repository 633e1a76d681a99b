//! How long parts live: what removals and failures tell of the next part. Pure: no I/O, no clock, no other room.
//!
//! ```text
//!   lives (hours at entry, hours at leaving, failed or not)
//!     │
//!     ├─ kaplan_meier     the share still alive at each age, no shape assumed
//!     ├─ weibull          a shape and a scale, their limits, what is left of a part's life
//!     │    ├─ stressed            the same where some lived under more stress than others
//!     │    └─ age_replacement     the age at which renewing costs least
//!     │
//!   failures in hours run
//!     ├─ exponential      hours per failure at a constant rate, also after no failure at all
//!     ├─ power_law        whether the rate is constant, and the rate now if it is not
//!     └─ spares           how many to keep, and by when to order
//!
//!   removals              what counts as a life and as a failure, of all that was taken out
//!     ├─ told             what they tell of the next part, from five failures on
//!     └─ stock            what a stretch of time takes: planned renewals and early failures
//!
//!   regression            a straight line through what was measured
//!     └─ condition        whether a part's state has moved since it was put in
//!
//!   handbook              failure rates from an old handbook: a secondary figure, never a due date
//! ```
//!
//! **What a life is.** A part that was new when it came under watch entered at 0 hours. One that had already run
//! when its logger was fitted entered late: that it lived so long is why it was seen at all, and a fit that forgets this makes
//! parts look tougher than they are (left truncation). One that was taken out alive, or still runs, has not failed yet (right
//! censoring). Both are allowed for everywhere here.
//!
//! **Limits** are two-sided at a stated confidence, with half of what is left on either side, and hold for the model that
//! they come from. Those of a Weibull fit are taken on the logarithmic scale, where they are less lopsided and stay positive.
//!
//! None of these answers replaces a maker's limit. They are shown beside it.

pub mod age_replacement;
pub mod condition;
pub mod exponential;
pub mod handbook;
pub mod kaplan_meier;
pub mod power_law;
mod quantile;
pub mod regression;
pub mod removals;
mod root;
pub mod spares;
pub mod stock;
pub mod told;
pub mod weibull;
mod why;

pub use why::Why;

/// One part's life as far as it was seen, in hours that age it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Life {
    /// The part's hours when it came under watch; 0 for a new one.
    pub entered_h: f64,
    /// Its hours when it failed, was taken out alive, or was last seen running.
    pub left_h: f64,
    /// It failed at `left_h`.
    pub failed: bool,
}

impl Life {
    /// Watched from new until it failed.
    #[must_use]
    pub const fn failed_at(left_h: f64) -> Life {
        Life { entered_h: 0.0, left_h, failed: true }
    }

    /// Watched from new and alive when last seen.
    #[must_use]
    pub const fn alive_at(left_h: f64) -> Life {
        Life { entered_h: 0.0, left_h, failed: false }
    }

    /// The same life, watched only from so many hours on.
    #[must_use]
    pub const fn entered_at(self, entered_h: f64) -> Life {
        Life { entered_h, ..self }
    }

    /// Refuses what cannot be a life.
    fn check(lives: &[Life]) -> Result<(), Why> {
        let possible =
            |life: &Life| life.entered_h >= 0.0 && life.left_h > life.entered_h && life.left_h.is_finite();
        match lives.iter().position(|life| !possible(life)) {
            Some(at) => Err(Why::ImpossibleLife { at, life: lives[at] }),
            None => Ok(()),
        }
    }
}

/// A figure's limits at a stated confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Not below.
    pub low: f64,
    /// Not above; may be infinite.
    pub high: f64,
}
