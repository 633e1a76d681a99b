//! Hardware that is not there: a flash that enforces a chip's rules ([`flash`]) and a bench on which the real
//! firmware runs through months in seconds ([`bench`]), also without knowing which flash it has ([`rig`]).
//!
//! For images that nobody wrote: [`ordeal`] puts a logger on one, behind a flash that counts ([`bounded`]), and [`forge`]
//! makes the checks in one match whatever stands there. [`slow`] is a board that stands still while its flash erases.

pub mod bench;
pub mod bounded;
pub mod flash;
pub mod forge;
pub mod ordeal;
pub mod rig;
pub mod slow;
