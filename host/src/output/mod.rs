//! How answers look: tables for people, versioned JSON for programs.

pub mod progress;
pub mod table;
