//! `cargo xtask flash`: the firmware into a board, through a debug probe.
//!
//! Only the sectors that the firmware fills are erased: the totals, the history and the configuration lie beyond what the linker lets it
//! fill. The whole chip is never erased, because the totals are never reset.

use crate::firmware::Firmware;
use anyhow::{Context, Result, bail};
use std::io::ErrorKind;
use std::path::Path;
use std::process::Command;

const PROBE: &str = "probe-rs";

/// Builds a board's firmware, writes it, reads it back and lets it start.
///
/// # Errors
/// There is no compiler for it, the tool or the probe is missing, or it failed.
pub fn flash(board: Firmware) -> Result<()> {
    match Command::new(PROBE).arg("--version").output() {
        Ok(_) => {}
        Err(fault) if fault.kind() == ErrorKind::NotFound => bail!(
            "{PROBE} is not on the PATH: nothing was written. Install it with `cargo install probe-rs-tools --locked`, \
             or as its page (probe.rs) says; or, for the pico, use no probe at all: `cargo xtask uf2`"
        ),
        Err(fault) => return Err(fault).context("could not start probe-rs: nothing was written"),
    }
    let image = board.build()?;
    for mut step in steps(board, &image)? {
        crate::run(&mut step).with_context(|| {
            format!(
                "the {} was not written to its end: it logs nothing until it is; what it had logged is untouched. \
                 Is the probe plugged in, wired to SWDIO, SWCLK and ground, and the board fed?",
                board.name()
            )
        })?;
    }
    Ok(())
}

fn steps(board: Firmware, image: &Path) -> Result<[Command; 2]> {
    let Some(chip) = board.chip() else { bail!("{} is no board", board.name()) };
    let command = |arguments: &[&str]| {
        let mut command = Command::new(PROBE);
        command.args(arguments).args(["--chip", chip]);
        command
    };
    let mut download = command(&["download", "--verify"]);
    download.arg(image);
    Ok([download, command(&["reset"])])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exactly these words: none of them erases more than is written.
    #[test]
    fn the_stores_are_left_alone() {
        let said = |command: &Command| {
            let words: Vec<_> = command.get_args().map(|word| word.to_string_lossy().into_owned()).collect();
            words.join(" ")
        };
        for (board, chip) in [
            (Firmware::Microbit, "nRF51822_xxAA"),
            (Firmware::Nrf52840, "nRF52840_xxAA"),
            (Firmware::Pico, "RP2040"),
        ] {
            let [download, reset] = steps(board, Path::new("image")).unwrap();
            assert_eq!(said(&download), format!("download --verify --chip {chip} image"));
            assert_eq!(said(&reset), format!("reset --chip {chip}"));
        }
        assert!(steps(Firmware::NoPanic, Path::new("image")).is_err());
    }
}
