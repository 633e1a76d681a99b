//! `halfglass demo`: an invented ship, end to end.

use super::Outcome;
use crate::{Error, Result};
use std::path::PathBuf;

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Where to put the invented ship's folder
    #[arg(long, value_name = "DIR")]
    pub dir: Option<PathBuf>,
    /// Another number invents another history
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
