//! Ships whose truth is known, for the room that reconciles: drawn from a seed, lived, put on paper by fallible people,
//! seen by a fallible logger. Nothing in here knows how the room thinks.
//!
//! ```text
//!  seed --> Ship: voyages, duty, rounds, renewals --\
//!    \                                               +--> Scenario: Facts (what the room is told), truth beside them
//!     +---> Events: what goes wrong ----------------/            |                  |
//!                                                                v                  v
//!                                                  reconcile() --> findings --> score: found, right, calibrated
//! ```

pub mod alike;
pub mod build;
pub mod counter;
pub mod draw;
pub mod event;
pub mod evidence;
pub mod logger;
pub mod papers;
pub mod rates;
pub mod rounds;
pub mod score;
pub mod ship;
pub mod table;
pub mod tally;
pub mod track;
pub mod voyage;
