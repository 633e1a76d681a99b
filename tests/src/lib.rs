//! Helpers for the tests beside this crate.
