//! `halfglass init`: a folder for a ship.

use super::Outcome;
use crate::Result;
use crate::ship::Folder;
use std::path::PathBuf;

/// Arguments of `init`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  halfglass init calder-sound")]
pub struct Args {
    /// The folder to make
    #[arg(value_name = "DIR")]
    pub dir: PathBuf,
}

/// Runs it.
///
/// # Errors
/// There is a ship.toml already, or the folder cannot be written.
pub fn run(args: &Args) -> Result<Outcome> {
    let folder = Folder::init(&args.dir)?;
    println!("Made {}.", folder.settings_path().display());
    println!(
        "Next: open it and write in the ship's radars and parts; every limit comes from the set's manual."
    );
    println!("Then: halfglass --ship {} pull", args.dir.display());
    Ok(Outcome::Fine)
}
