//! How answers look: tables for people, versioned JSON for programs.

pub mod condition;
pub mod due;
pub mod feed;
pub mod html;
pub mod life;
mod look;
pub mod plan;
pub mod progress;
pub mod reconcile;
pub mod screen;
pub mod setup;
pub mod show;
pub mod stock;
pub mod table;
pub mod watch;
pub mod wear;

use crate::{Error, Result};
use std::io::{ErrorKind, Write};

/// Prints a file's content byte for byte: its line ends are part of it.
///
/// # Errors
/// As of [`print()`].
pub fn print_exactly(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    written(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Prints an answer as it is. A reader that has seen enough (`halfglass show | head`) is no error.
///
/// # Errors
/// Standard output cannot be written, for instance because a disk is full.
pub fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    written(writeln!(out, "{}", text.trim_end()).and_then(|()| out.flush()))
}

/// Prints an answer for people. It has colours in it; they are taken out where they are not wanted: unless standard output
/// is a terminal that shows them and `NO_COLOR` is not set (<https://no-color.org>), or `--color always` was said.
///
/// # Errors
/// As of [`print()`].
pub fn print_text(text: &str) -> Result<()> {
    let mut out = anstream::stdout().lock();
    written(writeln!(out, "{}", text.trim_end()).and_then(|()| out.flush()))
}

/// What there is to say of records of a kind that a later version has added.
#[must_use]
pub fn not_known(records: usize) -> String {
    let (are, them) = if records == 1 { ("record is", "it says") } else { ("records are", "they say") };
    format!(
        "{records} {are} of a kind that this program does not know: the logger is newer. Hours and starts are right without; \
         install a newer Halfglass to see what {them}."
    )
}

fn written(result: std::io::Result<()>) -> Result<()> {
    match result {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            let what = format!("the answer cannot be written ({error})");
            Err(Error::input(what, "Make room, or write it elsewhere."))
        }
        _ => Ok(()),
    }
}
