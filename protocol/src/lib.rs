//! All that a Halfglass logger and its host agree on, and nothing else.
//!
//! # A frame on the wire
//!
//! ```text
//!   COBS( channel | body ............ | CRC-32 of channel and body, little-endian ) 0x00
//!         1 byte    0 to BODY_MAX       4 bytes                                     delimiter
//!
//!   channel 0x01  hello, asked       body: empty               frozen for ever: [`hello`]
//!   channel 0x02  hello, answered    body: 28 fixed bytes      frozen for ever: [`hello`]
//!   channel 0x10  request            body: tag, postcard       append-only:     [`message`]
//!   channel 0x11  reply              body: tag, postcard       append-only:     [`message`]
//! ```
//!
//! A receiver that finds a frame garbled drops it up to the next delimiter and stays in step.
//! It never answers a garbled frame: whoever asked asks again when its deadline passes.
//!
//! # What may change
//!
//! * The hello frame: never.
//! * Enums ([`message::Request`], [`message::Reply`], [`record::Record`], ...): variants are only
//!   appended. The tests hold every discriminant as literal bytes.
//! * Structs inside a variant: never. A new shape is a new variant.
//! * Frame, dump and flash formats carry a version of their own.
//!
//! # Units
//!
//! Every figure says its unit in its name. `tenths` are tenths of a second on the logger's own
//! clock; `uptime` is the sum of all sessions since the logger was made, so it never falls.
#![no_std]

#[cfg(test)]
extern crate std;

pub mod config;
pub mod crc32;
pub mod dump;
pub mod frame;
pub mod hello;
pub mod message;
pub mod record;

/// How many lines a logger can have.
pub const LINES_MAX: usize = 8;

/// How many radars one logger can watch: lines are grouped by the radar they belong to.
pub const RADARS_MAX: usize = 2;
