//! Firmware images.

use crate::toolchain::Target;
use crate::{root, run, toolchain};
use anyhow::Result;
use std::path::PathBuf;
use std::process::Command;

/// What is built for a board's core.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Firmware {
    /// The nRF51822 board.
    Microbit,
    /// The nRF52840 board.
    Nrf52840,
    /// The RP2040 board.
    Pico,
    /// The proof that nothing panics.
    NoPanic,
}

impl Firmware {
    /// The boards.
    pub const BOARDS: [Firmware; 3] = [Firmware::Microbit, Firmware::Nrf52840, Firmware::Pico];

    /// Its folder below `boards/`, and the name of its row in the budgets.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Firmware::Microbit => "microbit",
            Firmware::Nrf52840 => "nrf52840",
            Firmware::Pico => "pico",
            Firmware::NoPanic => "no-panic",
        }
    }

    /// The chip, as debug probes call it.
    #[must_use]
    pub const fn chip(self) -> Option<&'static str> {
        match self {
            Firmware::Microbit => Some("nRF51822_xxAA"),
            Firmware::Nrf52840 => Some("nRF52840_xxAA"),
            Firmware::Pico => Some("RP2040"),
            Firmware::NoPanic => None,
        }
    }

    const fn target(self) -> Target {
        match self {
            Firmware::Microbit | Firmware::Pico | Firmware::NoPanic => toolchain::CORTEX_M0,
            Firmware::Nrf52840 => toolchain::CORTEX_M4F,
        }
    }

    /// Where its image lies once built. All boards share one target folder.
    #[must_use]
    pub fn image(self) -> PathBuf {
        self.artefact("release")
    }

    fn artefact(self, profile: &str) -> PathBuf {
        target_folder().join(self.target().triple).join(profile).join(format!("halfglass-{}", self.name()))
    }

    fn folder(self) -> PathBuf {
        root().join("boards").join(self.name())
    }

    /// The command that builds it.
    ///
    /// # Errors
    /// There is no compiler for it.
    pub fn command(self) -> Result<Command> {
        let mut command = toolchain::find(self.target())?.cargo_build();
        // Run in the board's own folder, so that no other configuration applies.
        command.current_dir(self.folder());
        command.arg("--release").arg("--target-dir").arg(target_folder());
        Ok(command)
    }

    /// Builds the image that also tells a debug probe what it does; its path. It lies beside [`Firmware::image`].
    ///
    /// # Errors
    /// There is no compiler for it, or it failed.
    pub fn build_talking(self) -> Result<PathBuf> {
        let mut command = toolchain::find(self.target())?.cargo_build();
        command.current_dir(self.folder()).args(["--locked", "--profile", "logging", "--features", "defmt"]);
        command.arg("--target-dir").arg(target_folder());
        // Set at build time; defmt's own default is errors alone.
        if std::env::var_os("DEFMT_LOG").is_none() {
            command.env("DEFMT_LOG", "info");
        }
        run(&mut command)?;
        Ok(self.artefact("logging"))
    }

    /// Builds it; the image's path.
    ///
    /// # Errors
    /// There is no compiler for it, or it failed.
    pub fn build(self) -> Result<PathBuf> {
        run(self.command()?.arg("--locked"))?;
        Ok(self.image())
    }
}

/// Shared by all boards, apart from the host's.
#[must_use]
pub fn target_folder() -> PathBuf {
    root().join("target/firmware")
}
