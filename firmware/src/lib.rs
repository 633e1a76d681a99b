//! The Halfglass logger without its board.
//!
//! A board brings flash, a millisecond clock, line levels and a byte pipe ([`ports`]); [`Logger`] does the rest:
//!
//! ```text
//!   levels, pulses --> line --> tally --> journal   (totals: one word a commit)
//!                                  \----> history   (spans and events, for the host)
//!   bytes ------------> link ----> logger --> settings (configuration)
//!                                             journal, history and settings stand on ring (pages of flash)
//!   ship's time, speed -> inbox -> sentence --> logger   (on boards with a listener)
//!   battery's clock <-------> battery <------> logger   (on boards with such a clock)
//! ```
//!
//! No allocation, no unsafe code, no panic: the no-panic link proves the last one.
#![no_std]

#[cfg(test)]
extern crate std;

#[macro_use]
mod log;

pub mod battery;
mod berger;
pub mod faults;
mod history;
pub mod inbox;
pub mod journal;
mod line;
mod link;
mod logger;
pub mod planted;
pub mod ports;
mod ring;
pub mod sentence;
mod settings;
mod tally;

pub use link::Link;
pub use logger::{FIRMWARE_VERSION, Logger, ProvisionFault, provision};
pub use ring::Dead;
