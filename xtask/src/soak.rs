//! `cargo xtask soak`: the emulated board for thousands of hours, killed over and over.
//!
//! The emulator's desk belongs to the tests, which use this crate; so their program is built and run.

use crate::{root, run as carry_out};
use anyhow::Result;
use clap::Args;
use std::process::Command;

/// How long and how hard.
#[derive(Args, Clone, Copy)]
pub struct Soak {
    /// Hours with transmit on.
    #[arg(long, default_value_t = 100.0)]
    hours: f64,
    /// Power cuts.
    #[arg(long, default_value_t = 20)]
    cuts: u32,
    /// Decides everything that is left to chance.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

/// Runs it: a table at the end, progress meanwhile on the error stream.
///
/// # Errors
/// A total rose above the truth or fell further below it than it may; or it could not be run.
pub fn run(soak: Soak) -> Result<()> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.current_dir(root()).args(["run", "--quiet", "--release", "--locked", "-p", "halfglass-tests"]);
    command.args(["--bin", "soak", "--", "--hours", &soak.hours.to_string()]);
    command.args(["--cuts", &soak.cuts.to_string(), "--seed", &soak.seed.to_string()]);
    carry_out(&mut command)
}
