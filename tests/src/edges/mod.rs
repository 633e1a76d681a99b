//! What the logger makes of an edge at its input, measured against the instant at which it truly came.
//!
//! ```text
//!   signal: what the wire does, in microseconds --> board: latches it and looks as a board does --> the real firmware
//!        |                                                                                                |
//!        '--> the truth, by plain arithmetic --> measure: each edge's error <-- the runs in its history --'
//! ```
//!
//! [`cases`] are alternating current, pulses, missing half-cycles and bouncing contacts; [`aliasing`] is why pulses are latched.

pub mod aliasing;
pub mod board;
pub mod cases;
pub mod measure;
pub mod signal;
