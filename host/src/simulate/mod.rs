//! The real firmware crate on a simulated board: flash, clock, lines, power, and the cable of a pull.
//!
//! ```text
//!  lines.csv --> lines --> simulation --> pulls (dumps)         halfglass simulate
//!                               |
//!          rig: Logger on a flash of some geometry              halfglass demo: pty
//! ```
//!
//! Nothing here counts hours: what a dump holds was counted, committed, lost in a power cut and recovered by the
//! firmware that runs in a logger. Idle time is skipped, not approximated: the firmware says when it wants to be woken.

pub mod geometry;
pub mod invented;
pub mod lines;
pub mod pty;
mod simulation;
pub mod wire;

pub use geometry::Geometry;
pub use lines::{Lines, Row, What};
pub use simulation::{Options, Simulation};
pub use wire::{Cable, Pulled};
