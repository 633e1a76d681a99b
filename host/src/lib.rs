//! The host side of Halfglass: it pulls a logger, keeps a ship folder and says which part is due when.
//!
//! ```text
//!  cli, cmd/    arguments in, exit code out; one file per subcommand; the only rooms that read the clock
//!  link/        port discovery, a client with deadlines, the pull
//!  ship/        what people write: ship.toml, and facts by file or by hand
//!  time         times as intervals, the ship's clock
//!  store/       facts in SQLite, append-only
//!  timeline/    a logger's records -> totals at each instant           pure: no I/O, no clock
//!  reconcile/   totals, readings and fittings -> which count is true   pure: no I/O, no clock
//!  due/         totals, fittings and limits -> hours and dates         pure: no I/O, no clock
//!  life/        lives and failures -> limits, spares, ages             pure: no I/O, no clock
//!  plan/        dues, windows, spares -> where each part is renewed    pure: no I/O, no clock
//!  feed/        answers -> rows and events for a planner               pure: no I/O, no clock
//!  simulate/    the real firmware crate on a simulated board
//!  output/      tables for people, versioned JSON for programs
//! ```
//!
//! `timeline`, `reconcile`, `due`, `life`, `plan` and `feed` know no other room's shapes but the timeline's; shapes are converted
//! at the doors, in `cmd`.

pub mod cli;
pub mod cmd;
pub mod due;
pub mod error;
pub mod feed;
pub mod life;
pub mod link;
pub mod output;
pub mod plan;
pub mod reconcile;
pub mod ship;
pub mod simulate;
pub mod store;
pub mod time;
pub mod timeline;
pub mod wear;

pub use error::{Error, Result};
