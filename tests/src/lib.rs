//! Helpers for the tests beside this crate.

pub mod asking;
pub mod command;
pub mod cuts;
pub mod edges;
pub mod endurance;
pub mod even_log;
pub mod frozen;
pub mod hits;
pub mod hurts;
pub mod model;
pub mod pages;
pub mod pico;
pub mod planning;
pub mod qemu;
pub mod running;
pub mod scenario;
pub mod schema;
pub mod suites;
#[cfg(target_os = "linux")]
pub mod terminal;
pub mod trade;
pub mod wiring;
