//! Helpers for the tests beside this crate.

pub mod cuts;
pub mod model;
