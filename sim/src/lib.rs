//! Hardware that is not there: a flash that enforces a chip's rules ([`flash`]) and a bench on which the real
//! firmware runs through months in seconds ([`bench`]).

pub mod bench;
pub mod flash;
