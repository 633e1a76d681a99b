//! Other people's implementations in Python, which tests and benches compare with: `tests/oracles`.
//!
//! They live in a virtual environment under `target/oracles`, made once from the pinned `requirements.txt` and made anew
//! when that changes. Nothing of it is part of the program.

use crate::{root, setup};
use anyhow::{Context, Result, bail};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;

/// The Python that has the packages, made ready if need be: a minute or two the first time.
///
/// # Errors
/// What is missing, and what to do about it.
pub fn python() -> Result<PathBuf> {
    let base = setup::python()?;
    let folder = root().join("target/oracles");
    fs::create_dir_all(&folder).with_context(|| format!("cannot make {}", folder.display()))?;
    // One of several tests that start together makes it; the others wait.
    let lock = File::create(folder.join("lock")).context("cannot make the lock of target/oracles")?;
    lock.lock().context("cannot lock target/oracles")?;
    let environment = folder.join("environment");
    let python = environment.join("bin/python");
    let stamp = environment.join("made-from");
    let requirements = folder_of_scripts().join("requirements.txt");
    let wanted = fs::read_to_string(&requirements)
        .with_context(|| format!("cannot read {}", requirements.display()))?;
    if python.exists() && fs::read_to_string(&stamp).is_ok_and(|made_from| made_from == wanted) {
        return Ok(python);
    }
    make(&base, &environment, &requirements)?;
    fs::write(&stamp, wanted).with_context(|| format!("cannot write {}", stamp.display()))?;
    Ok(python)
}

/// A script of the project's that uses them, ready to be run.
///
/// # Errors
/// As of [`python`].
pub fn script(name: &str) -> Result<Command> {
    let mut command = Command::new(python()?);
    // A linear algebra library that starts threads for matrices of two by two only wastes time.
    command.arg(folder_of_scripts().join(name)).env("OPENBLAS_NUM_THREADS", "1");
    Ok(command)
}

fn folder_of_scripts() -> PathBuf {
    root().join("tests/oracles")
}

fn make(base: &Path, environment: &Path, requirements: &Path) -> Result<()> {
    quietly(Command::new(base).args(["-m", "venv", "--clear"]).arg(environment))
        .context("no virtual environment could be made for the Python packages that tests compare with")?;
    quietly(
        Command::new(environment.join("bin/python"))
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-deps", "--requirement"])
            .arg(requirements),
    )
    .with_context(|| {
        format!(
            "the packages of {} could not be installed. They come from the Python package index by pip, which needs a network \
             (or pip's own settings for a mirror), and Python 3.11 or later",
            requirements.display()
        )
    })
}

/// Runs a command to its end; its output is shown only as the reason of a failure.
fn quietly(command: &mut Command) -> Result<()> {
    let output = command.output().with_context(|| format!("could not start {}", crate::said(command)))?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr);
        bail!("{} ended with {}:\n{}", crate::said(command), output.status, said.trim());
    }
    Ok(())
}
