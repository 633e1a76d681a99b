//! Log lines over `defmt`, for a person with a debug probe. Without the feature `defmt` they are not there, and cost nothing.
//!
//! What the host must know is a record in the history, never only a line here.

/// `log!(level, "format", arguments...)`, the levels and formats being defmt's.
macro_rules! log {
    ($level:ident, $($said:tt)+) => {
        #[cfg(feature = "defmt")]
        defmt::$level!($($said)+);
    };
}
