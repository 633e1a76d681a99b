//! The tests' own programs, which measure; a bench puts what they say into tables.

use crate::root;
use anyhow::{Context, Result, bail};
use serde::Deserialize;
use std::process::{Command, Stdio};

/// Builds one, for speed, and runs it: what it wrote.
///
/// # Errors
/// It does not build, or ends badly.
pub(super) fn output(program: &str, arguments: &[&str]) -> Result<Vec<u8>> {
    eprintln!("building and running {program}");
    let mut cargo = Command::new("cargo");
    cargo.current_dir(root()).args([
        "run",
        "--quiet",
        "--locked",
        "--release",
        "--package",
        "halfglass-tests",
    ]);
    cargo.args(["--bin", program, "--"]).args(arguments).stderr(Stdio::inherit());
    let output = cargo.output().context("could not start cargo")?;
    if !output.status.success() {
        bail!("{program} ended with {}", output.status);
    }
    Ok(output.stdout)
}

/// The same, read as JSON.
///
/// # Errors
/// As of [`output`], or it wrote something else.
pub(super) fn said<T: for<'a> Deserialize<'a>>(program: &str, arguments: &[&str]) -> Result<T> {
    read(program, &output(program, arguments)?)
}

/// Reads what a program wrote.
///
/// # Errors
/// It is something else.
pub(super) fn read<'a, T: Deserialize<'a>>(program: &str, wrote: &'a [u8]) -> Result<T> {
    serde_json::from_slice(wrote).with_context(|| format!("what {program} wrote makes no sense"))
}
