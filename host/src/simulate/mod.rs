//! The real firmware crate on a simulated board: flash, clock, lines, power, and the cable of a pull.
//!
//! ```text
//!  lines.csv --> timeline --> simulation --> pulls (dumps)         halfglass simulate
//!                                  |
//!             hardware: Logger on a flash of some geometry         halfglass demo: pty
//! ```
//!
//! Nothing here counts hours: what a dump holds was counted, committed, lost in a power cut and recovered by the
//! firmware that runs in a logger. Idle time is skipped, not approximated: the firmware says when it wants to be woken.

pub mod geometry;
mod hardware;
mod simulation;
pub mod timeline;
pub mod wire;

pub use geometry::Geometry;
pub use simulation::{Options, Simulation};
pub use timeline::{Row, Timeline, What};
pub use wire::Pulled;
