//! The proof that firmware and protocol cannot panic: see `boards/no-panic/src/main.rs`.

use crate::firmware::Firmware;
use anyhow::{Context, Result, bail};

/// What the panic handler calls and nobody defines.
const SYMBOL: &str = "halfglass_must_not_panic";

/// Links the proof twice: as it is, and with a panic planted.
///
/// # Errors
/// A panic is reachable, or the proof would not notice one.
pub fn prove() -> Result<()> {
    let (linked, said) = link(&[])?;
    if !linked {
        if said.contains(SYMBOL) {
            bail!("a panic is reachable in firmware or protocol:\n{said}");
        }
        bail!("the proof does not build:\n{said}");
    }
    let (linked, said) = link(&["--features", "planted"])?;
    if linked {
        bail!("the proof proves nothing: it links even with a panic planted");
    }
    if !said.contains(&format!("undefined symbol: {SYMBOL}")) {
        bail!("the planted panic fails for another reason than {SYMBOL}:\n{said}");
    }
    println!(
        "no panic is reachable in firmware or protocol (and a planted one is found: undefined symbol {SYMBOL})"
    );
    Ok(())
}

fn link(arguments: &[&str]) -> Result<(bool, String)> {
    let mut command = Firmware::NoPanic.command()?;
    let output = command.arg("--locked").args(arguments).output().context("could not start cargo")?;
    Ok((output.status.success(), String::from_utf8_lossy(&output.stderr).into_owned()))
}
