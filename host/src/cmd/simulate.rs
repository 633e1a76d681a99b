//! `halfglass simulate`: the real firmware crate on a timeline of lines.

use super::Outcome;
use crate::{Error, Result};
use std::path::PathBuf;

/// Arguments of `simulate`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The timeline: a CSV file `at,line,on`
    #[arg(value_name = "LINES")]
    pub lines: PathBuf,
    /// The dump to write
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// The logger's device id, 16 hexadecimal digits
    #[arg(long, value_name = "ID")]
    pub device: Option<String>,
    /// Which flash layout to simulate
    #[arg(long, value_name = "NAME")]
    pub flash: Option<String>,
    /// For whatever chance decides (where a power cut tears a word)
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

/// Runs it.
///
/// # Errors
/// Whatever stops it.
pub fn run(args: &Args) -> Result<Outcome> {
    Err(Error::input(format!("not built yet: {args:?}"), ""))
}
