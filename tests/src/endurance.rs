//! A logger's life of years on simulated flash, held against plain arithmetic all along: what it costs in erases.
//!
//! ```text
//!   profile: chip, flash map, duty --> life: one session after the other --> run: the real firmware lives them
//!                                            arithmetic: what the totals must then be --^
//! ```

pub mod arithmetic;
pub mod history;
pub mod life;
pub mod profile;
pub mod run;
pub mod table;
