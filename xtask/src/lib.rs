//! What the project does beside compiling for the host: firmware builds, size budgets, the no-panic proof, the host program for Windows.
//!
//! The tests in the emulator use it too, so that they run what a person would build.

pub mod bench;
pub mod firmware;
pub mod flash;
pub mod no_panic;
pub mod oracles;
pub mod setup;
pub mod sizes;
pub mod soak;
pub mod toolchain;
pub mod uf2;
pub mod windows;

use anyhow::{Context, Result, bail};
use std::path::PathBuf;
use std::process::Command;

/// The project's folder.
#[must_use]
pub fn root() -> PathBuf {
    let here = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    here.parent().map_or(here.clone(), PathBuf::from)
}

/// Runs a command to its end; its output is shown as it comes.
///
/// # Errors
/// It could not be started, or it failed.
pub fn run(command: &mut Command) -> Result<()> {
    let status = command.status().with_context(|| format!("could not start {}", said(command)))?;
    if !status.success() {
        bail!("{} ended with {status}", said(command));
    }
    Ok(())
}

fn said(command: &Command) -> String {
    let words = std::iter::once(command.get_program()).chain(command.get_args());
    words.map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" ")
}
