//! Which compiler builds for another machine: for the boards, or for Windows.
//!
//! The ordinary one is rustup's with the target added. Where that is not there, Debian's compiler builds the standard library (for
//! the boards: `core`) from Debian's sources. It has no linker for the boards: that is taken from the toolchain that runs this.

use crate::{run, setup};
use anyhow::{Context, Result, bail};
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Something to build for.
#[derive(Clone, Copy, Debug)]
pub struct Target {
    /// Its name, as rustup writes it.
    pub triple: &'static str,
    /// What of the standard library is built where it is not installed.
    parts: &'static str,
    /// The variable that names its linker, if Debian's toolchain has none.
    linker_variable: Option<&'static str>,
}

/// The smaller boards' core: Cortex-M0 and M0+.
pub const CORTEX_M0: Target = Target {
    triple: "thumbv6m-none-eabi",
    parts: "core",
    linker_variable: Some("CARGO_TARGET_THUMBV6M_NONE_EABI_LINKER"),
};

/// Cortex-M4 with floating point.
pub const CORTEX_M4F: Target = Target {
    triple: "thumbv7em-none-eabihf",
    parts: "core",
    linker_variable: Some("CARGO_TARGET_THUMBV7EM_NONE_EABIHF_LINKER"),
};

/// Windows, where many officers' computers run. Its linker is the C compiler's, which the database needs anyway.
pub const WINDOWS: Target =
    Target { triple: "x86_64-pc-windows-gnu", parts: "std,panic_unwind", linker_variable: None };

/// Debian's packages and where they put things.
const PACKAGES: [&str; 3] = ["rustc-web", "cargo-web", "rust-web-src"];
const DEBIAN_CORE: &str = "/usr/lib/rustlib/src/rust/library/core";
const DEBIAN_CARGO: &str = "/usr/bin/cargo";
const LINKED: &str = "debian";

/// A compiler for a [`Target`].
pub struct Toolchain {
    target: Target,
    whose: Whose,
}

enum Whose {
    /// The one that runs this, with the target installed.
    Installed,
    /// Debian's, building the standard library itself; with the linker of another, if it needs one.
    Debian(Option<PathBuf>),
}

impl fmt::Display for Toolchain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.whose {
            Whose::Installed => write!(f, "this toolchain, with {}", self.target.triple),
            Whose::Debian(None) => write!(f, "Debian's"),
            Whose::Debian(Some(linker)) => write!(f, "Debian's, linked by {}", linker.display()),
        }
    }
}

impl Toolchain {
    /// `cargo build` for its target.
    #[must_use]
    pub fn cargo_build(&self) -> Command {
        let mut command = match &self.whose {
            Whose::Installed => {
                let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
                command.arg("build");
                command
            }
            Whose::Debian(linker) => {
                let mut command = Command::new("rustup");
                command.args([
                    "run",
                    LINKED,
                    "cargo",
                    "build",
                    &format!("-Zbuild-std={}", self.target.parts),
                ]);
                command.env("RUSTC_BOOTSTRAP", "1");
                if let (Some(name), Some(linker)) = (self.target.linker_variable, linker) {
                    command.env(name, linker);
                }
                command
            }
        };
        command.args(["--target", self.target.triple]);
        // What the calling cargo has set for itself is not meant for another core.
        for name in [
            "RUSTC",
            "RUSTDOC",
            "RUSTFLAGS",
            "CARGO_ENCODED_RUSTFLAGS",
            "CARGO_TARGET_DIR",
            "RUSTUP_TOOLCHAIN",
        ] {
            if !(matches!(self.whose, Whose::Installed) && name == "RUSTUP_TOOLCHAIN") {
                command.env_remove(name);
            }
        }
        command
    }
}

/// Finds a compiler for a target, or installs Debian's where that can be done without asking.
///
/// # Errors
/// What to run to get one.
pub fn find(target: Target) -> Result<Toolchain> {
    let sysroot = PathBuf::from(rustc(&["--print", "sysroot"])?);
    let triple = target.triple;
    if sysroot.join("lib/rustlib").join(triple).join("lib").is_dir() {
        return Ok(Toolchain { target, whose: Whose::Installed });
    }
    let add = format!("Building for {triple} needs its standard library. Run: rustup target add {triple}");
    if !setup::is_debian() {
        bail!(add);
    }
    if !Path::new(DEBIAN_CORE).is_dir() || !Path::new(DEBIAN_CARGO).is_file() {
        setup::debian_packages(&PACKAGES).context(add)?;
    }
    let linker = target.linker_variable.map(|_| linker(&sysroot)).transpose()?;
    link_debian()?;
    Ok(Toolchain { target, whose: Whose::Debian(linker) })
}

/// The linker that comes with rustup's toolchain.
fn linker(sysroot: &Path) -> Result<PathBuf> {
    let version = rustc(&["-vV"])?;
    let host =
        version.lines().find_map(|line| line.strip_prefix("host: ")).context("rustc -vV names no host")?;
    let linker = sysroot.join("lib/rustlib").join(host).join("bin/rust-lld");
    if !linker.is_file() {
        bail!("no linker at {}: the toolchain in use must be one of rustup's", linker.display());
    }
    Ok(linker)
}

/// Makes Debian's toolchain one that rustup knows.
fn link_debian() -> Result<()> {
    let listed =
        Command::new("rustup").args(["toolchain", "list"]).output().context("could not run rustup")?;
    let linked = String::from_utf8_lossy(&listed.stdout)
        .lines()
        .any(|line| line.split_whitespace().next() == Some(LINKED));
    if !linked {
        run(Command::new("rustup").args(["toolchain", "link", LINKED, "/usr"]))?;
    }
    Ok(())
}

fn rustc(arguments: &[&str]) -> Result<String> {
    let output = Command::new("rustc").args(arguments).output().context("could not run rustc")?;
    if !output.status.success() {
        bail!("rustc {} failed: {}", arguments.join(" "), String::from_utf8_lossy(&output.stderr));
    }
    Ok(String::from_utf8(output.stdout)?.trim_end().to_owned())
}
