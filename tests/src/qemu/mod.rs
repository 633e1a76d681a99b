//! The firmware in an emulator, as a board on a desk: power, lines, a cable, and a clock that the firmware cannot touch.
//!
//! ```text
//!   Life ...... what outlives the power: flash, and how long each line was truly on
//!    |  power_on
//!   Desk ...... a powered board: run to an instant, drive lines, stop at a flash operation, ask over the cable
//!    |  uses
//!   Machine ... the emulator's process and its sockets: qtest (pins, registers, memory), gdb (stops)
//! ```
//!
//! # How time is kept
//!
//! The emulated clock jumps over idle time, so it runs thousands of times faster than ours. Truth is TIMER2,
//! which the firmware never uses. It also is the alarm that stops the machine at a chosen instant: its interrupt ends in the handler
//! for interrupts that the firmware does not expect, and the desk breaks there and returns from it. Lines are only
//! ever driven while the machine stands still, so that what is done and when it is done are one.

pub mod cuts;
pub mod desk;
pub mod gdb;
pub mod image;
pub mod life;
pub mod machine;
pub mod qtest;
pub mod soak;
pub mod stream;
pub mod symbols;
