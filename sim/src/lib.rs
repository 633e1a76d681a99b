//! Hardware that is not there: a flash that enforces a chip's rules ([`flash`]) and a bench on which the real
//! firmware runs through months in seconds ([`bench`]), also without knowing which flash it has ([`rig`]).

pub mod bench;
pub mod flash;
pub mod rig;
