//! What is measured on this machine: `bench/run` does it, this builds and runs it and reads what it says.

use super::{folder, target_folder};
use anyhow::{Context, Result, bail};
use serde::Deserialize;
use std::process::{Command, Stdio};

/// Everything that `bench/run` writes.
#[derive(Debug, Deserialize)]
pub(crate) struct Measured {
    pub(crate) amount: Amount,
    pub(crate) rows: Vec<Row>,
    pub(crate) failures: Vec<Failure>,
    pub(crate) eight_lines: Vec<Years>,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Amount {
    pub(crate) commits: u64,
    pub(crate) cold_levels: u64,
    pub(crate) word_cuts: u64,
    pub(crate) erase_cuts: u64,
    pub(crate) flicker_cuts: u64,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Row {
    pub(crate) store: String,
    pub(crate) life: Life,
    pub(crate) cold_reads: ColdReads,
    pub(crate) ns_per_commit: f64,
    pub(crate) word_cuts: Verdict,
    pub(crate) erase_cuts: Verdict,
    pub(crate) flicker_cuts: Verdict,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Life {
    pub(crate) commits: u64,
    pub(crate) programmed_bytes: u64,
    pub(crate) erases: u64,
    pub(crate) worst_page_erases: u64,
    pub(crate) rules_broken: u64,
}

#[derive(Debug, Deserialize)]
pub(crate) struct ColdReads {
    pub(crate) mean_bytes: f64,
    pub(crate) median_bytes: u64,
    pub(crate) worst_bytes: u64,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Verdict {
    pub(crate) wrong: u64,
    pub(crate) lost: u64,
    pub(crate) invented: u64,
    pub(crate) no_mount: u64,
    pub(crate) no_commit: u64,
    pub(crate) not_kept: u64,
    pub(crate) crashed: u64,
    pub(crate) rules_broken: u64,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Failure {
    pub(crate) store: String,
    pub(crate) reason: String,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Years {
    pub(crate) lines: u32,
    pub(crate) heartbeat_s: u32,
    pub(crate) edges_per_day: u32,
    pub(crate) boots_per_day: u32,
    pub(crate) days: u32,
    pub(crate) commits: u64,
    pub(crate) programmed_bytes: u64,
    pub(crate) worst_page_erases: u64,
}

/// Builds the bench, with littlefs2 where its C part can be built, and runs it.
pub(crate) fn measure(quick: bool) -> Result<Measured> {
    let littlefs2 = build(&["--features", "littlefs2"])?;
    if littlefs2.is_err()
        && let Err(said) = build(&[])?
    {
        bail!("the bench does not build:\n{said}");
    }
    let mut bench = Command::new(target_folder().join("host/halfglass-bench"));
    if quick {
        bench.arg("--quick");
    }
    let output = bench.stderr(Stdio::inherit()).output().context("could not run the bench")?;
    if !output.status.success() {
        bail!("the bench ended with {}", output.status);
    }
    let mut measured: Measured =
        serde_json::from_slice(&output.stdout).context("what the bench wrote makes no sense")?;
    if let Err(said) = littlefs2 {
        let store = "littlefs2".to_owned();
        measured.failures.push(Failure { store, reason: format!("does not build here: {}", gist(&said)) });
    }
    Ok(measured)
}

/// Builds with these arguments; what the compiler said if it failed.
fn build(arguments: &[&str]) -> Result<std::result::Result<(), String>> {
    eprintln!("building the bench {}", arguments.join(" "));
    let output = Command::new("cargo")
        .current_dir(folder())
        .args(["build", "--quiet", "--locked", "--profile", "host", "--package", "halfglass-bench"])
        .arg("--target-dir")
        .arg(target_folder())
        .args(arguments)
        .output()
        .context("could not start cargo")?;
    Ok(if output.status.success() {
        Ok(())
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    })
}

/// The lines of a failed build that say why: the first error, or what a build script's panic says, and what could not be
/// built.
pub(crate) fn gist(said: &str) -> String {
    let lines: Vec<&str> = said.lines().map(str::trim).collect();
    let first = lines.iter().position(|line| line.starts_with("error") || line.contains("panicked"));
    let why = first.map_or(said.trim(), |at| {
        let told_below = lines[at].contains("panicked");
        lines.get(at + usize::from(told_below)).unwrap_or(&lines[at])
    });
    let what = lines.iter().find(|line| line.contains("could not compile"));
    what.filter(|what| **what != why).map_or(why.to_owned(), |what| format!("{why}; {what}"))
}
