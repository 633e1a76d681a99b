//! The real firmware crate on simulated flash, clock and lines.
