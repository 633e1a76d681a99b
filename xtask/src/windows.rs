//! The host program for Windows, where many officers' computers run.

use crate::{root, run, setup, toolchain};
use anyhow::Result;
use std::path::PathBuf;

/// Builds `halfglass.exe`; its path.
///
/// # Errors
/// What is missing, with the command that installs it; or it does not build.
pub fn build(release: bool) -> Result<PathBuf> {
    setup::windows_compiler()?;
    let target_folder = root().join("target/windows");
    let mut command = toolchain::find(toolchain::WINDOWS)?.cargo_build();
    command.current_dir(root()).args(["--locked", "--package", "halfglass"]);
    command.arg("--target-dir").arg(&target_folder);
    if release {
        command.arg("--release");
    }
    run(&mut command)?;
    let profile = if release { "release" } else { "debug" };
    Ok(target_folder.join(toolchain::WINDOWS.triple).join(profile).join("halfglass.exe"))
}
