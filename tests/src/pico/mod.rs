//! The RP2040 board's firmware in an emulator, as a board on a desk: power, lines, a USB cable, and a flash that is kept.
//!
//! ```text
//!   Desk ........ one board for all of its life: power it, let time pass, drive lines, cut it, ask over the cable
//!    |  one order and one answer a line, JSON
//!   tests/rp2040  the emulator's process, in JavaScript: main.js, board.js
//! ```
//!
//! # How time is kept
//!
//! The emulated clock runs only while the desk says so, and jumps over idle time. The truth (how long each line was on) is summed
//! up by that clock in the emulator's process; the firmware has no hand in it. The chip's boot ROM is a stand-in: a flash
//! operation is one call, which is where the desk can stop and cut.

pub mod cable;
pub mod desk;
pub mod log;
