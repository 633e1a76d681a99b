//! Pages as a browser shows and prints them.
//!
//! ```text
//!  browser    a browser without a window, told what to do through two pipes (the DevTools protocol; no port, no library)
//!  checks.js  what a page must keep, asked of the browser's own layout: figures, contrast, order, width
//!  paper      what came out on paper: sizes of pages, and on which of them words stand
//!  hostile    a ship whose names are made to break pages
//! ```

mod browser;
mod hostile;
mod paper;

pub use browser::{Browser, Page, Scheme};
pub use hostile::{FOLDER, hostile_ship};
pub use paper::{Paper, print};

/// What a page is asked: functions that each answer with a list of complaints.
pub const CHECKS: &str = include_str!("checks.js");
