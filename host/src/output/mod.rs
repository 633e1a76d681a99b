//! How answers look: tables for people, versioned JSON for programs.

pub mod due;
pub mod progress;
pub mod show;
pub mod table;
