//! `halfglass completions`: for the shell, and the manual pages.

use super::Outcome;
use crate::cli::Cli;
use crate::{Error, Result, output};
use clap::CommandFactory;
use clap_complete::Shell;
use std::path::PathBuf;

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass completions bash > ~/.local/share/bash-completion/completions/halfglass
  halfglass completions zsh > ~/.zfunc/_halfglass          with ~/.zfunc in fpath
  halfglass completions fish > ~/.config/fish/completions/halfglass.fish
  halfglass completions powershell >> $PROFILE
  halfglass completions --man ~/.local/share/man/man1      then: man halfglass, man halfglass-due")]
pub struct Args {
    /// Print completions for this shell
    #[arg(value_name = "SHELL", required_unless_present = "man")]
    pub shell: Option<Shell>,
    /// Write a manual page for each command into this folder
    #[arg(long, value_name = "DIR", conflicts_with = "shell")]
    pub man: Option<PathBuf>,
}

/// Runs it.
///
/// # Errors
/// Standard output or the folder cannot be written.
pub fn run(args: &Args) -> Result<Outcome> {
    if let Some(shell) = args.shell {
        let mut script = Vec::new();
        clap_complete::generate(shell, &mut Cli::command(), "halfglass", &mut script);
        output::print(&String::from_utf8_lossy(&script))?;
    }
    if let Some(dir) = &args.man {
        std::fs::create_dir_all(dir).map_err(|error| Error::file("make", dir, &error))?;
        clap_mangen::generate_to(Cli::command(), dir)
            .map_err(|error| Error::file("write into", dir, &error))?;
        let pages = std::fs::read_dir(dir).map_err(|error| Error::file("read", dir, &error))?.count();
        output::print(&format!("{pages} manual pages in {}.", dir.display()))?;
    }
    Ok(Outcome::Fine)
}
