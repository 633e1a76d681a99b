//! Why there is no answer.

use super::{Life, Limits};
use std::fmt;

/// Why there is no answer, and what would be needed for one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// Hours that no part can have run.
    ImpossibleLife {
        /// Which of the lives given, from 0.
        at: usize,
        /// That life.
        life: Life,
    },
    /// Too few failures for this question.
    TooFewFailures {
        /// So many there are.
        have: usize,
        /// So many are needed.
        need: usize,
    },
    /// However steep the shape, a steeper one fits better: those that failed all did so at the greatest age seen.
    NoSpread,
    /// However flat the shape, a flatter one fits better: too many entered late, too few were watched when young.
    NoShape,
    /// A confidence is a share between 0 and 1.
    Confidence(f64),
    /// A figure that must be positive and finite.
    NotPositive {
        /// Its name.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// A figure outside the range that a formula was made for.
    OutOfRange {
        /// Its name.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The range's ends.
        range: Limits,
    },
    /// Times that are not positive, not in order, or behind the end of what was watched.
    Times,
    /// A stress that is the same for all, or no finite number for some.
    SameStress,
    /// Fewer than three points, all at one place, or no finite numbers.
    NoLine,
    /// Waiting for a failure costs no more than a planned renewal.
    FailureNotDearer {
        /// A planned renewal's cost.
        planned: f64,
        /// A failure's.
        failed: f64,
    },
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Why::ImpossibleLife { at, life } => write!(
                f,
                "life number {} runs from {} h to {} h, which no part can; correct the fitting or the removal",
                at + 1,
                life.entered_h,
                life.left_h
            ),
            Why::TooFewFailures { have, need } => write!(
                f,
                "{have} failures are known and {need} are needed; nothing is estimated from fewer, so go by the maker's limit"
            ),
            Why::NoSpread => write!(
                f,
                "all failures came at the greatest age seen, so the spread of lives cannot be told; \
                 more failures, or parts that outlived them, are needed"
            ),
            Why::NoShape => write!(
                f,
                "most parts were already old when first watched, so the shape of their lives cannot be told; \
                 parts watched from new are needed"
            ),
            Why::Confidence(value) => {
                write!(f, "a confidence lies between 0 and 1, and {value} does not; give 0.9 for 90 %")
            }
            Why::NotPositive { what, value } => {
                write!(f, "{what} is {value}; give a positive, finite number")
            }
            Why::OutOfRange { what, value, range } => write!(
                f,
                "{what} is {value}, and the formula was made for {} to {}; nothing is estimated beyond",
                range.low, range.high
            ),
            Why::Times => write!(
                f,
                "failure times must be positive, in order, and no later than the end of the watch; correct the list"
            ),
            Why::SameStress => write!(
                f,
                "the stress is the same for all failures or no number for some, so nothing can be said of its effect; \
                 fit without it"
            ),
            Why::NoLine => {
                write!(
                    f,
                    "a line needs at least three finite points, not all at one place; measure again later"
                )
            }
            Why::FailureNotDearer { planned, failed } => write!(
                f,
                "a failure ({failed}) must cost more than a planned renewal ({planned}), or there is no reason to renew early; \
                 check the two costs"
            ),
        }
    }
}

impl std::error::Error for Why {}

/// Refuses what is not a share strictly between 0 and 1.
pub(super) fn confidence(value: f64) -> Result<f64, Why> {
    // A share so near 1 that half of the rest is lost in rounding has no quantile.
    if value > 0.0 && (1.0 + value) / 2.0 < 1.0 { Ok(value) } else { Err(Why::Confidence(value)) }
}

/// Refuses what is not positive and finite.
pub(super) fn positive(what: &'static str, value: f64) -> Result<f64, Why> {
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err(Why::NotPositive { what, value }) }
}

/// Refuses what lies outside a range.
pub(super) fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<f64, Why> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Why::OutOfRange { what, value, range: Limits { low, high } })
    }
}
