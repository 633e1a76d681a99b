//! Which compiler builds for the boards.
//!
//! The ordinary one is rustup's with the target added. Where that is not there, Debian's compiler builds `core` from
//! Debian's sources, with the linker of the toolchain that runs this.

use crate::{run, setup};
use anyhow::{Context, Result, bail};
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The boards' target.
pub const TARGET: &str = "thumbv6m-none-eabi";

/// Debian's packages and where they put things.
const PACKAGES: [&str; 3] = ["rustc-web", "cargo-web", "rust-web-src"];
const DEBIAN_CORE: &str = "/usr/lib/rustlib/src/rust/library/core";
const DEBIAN_CARGO: &str = "/usr/bin/cargo";
const LINKED: &str = "debian";

/// A compiler for [`TARGET`].
pub enum Toolchain {
    /// The one that runs this, with the target installed.
    Installed,
    /// Debian's, building `core` itself; the linker is another's.
    Debian {
        /// Path of `rust-lld`.
        linker: PathBuf,
    },
}

impl fmt::Display for Toolchain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Toolchain::Installed => write!(f, "this toolchain, with {TARGET}"),
            Toolchain::Debian { linker } => write!(f, "Debian's, linked by {}", linker.display()),
        }
    }
}

impl Toolchain {
    /// `cargo build` for the boards' target.
    #[must_use]
    pub fn cargo_build(&self) -> Command {
        let mut command = match self {
            Toolchain::Installed => {
                let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
                command.arg("build");
                command
            }
            Toolchain::Debian { linker } => {
                let mut command = Command::new("rustup");
                command.args(["run", LINKED, "cargo", "build", "-Zbuild-std=core"]);
                command.env("RUSTC_BOOTSTRAP", "1");
                command.env("CARGO_TARGET_THUMBV6M_NONE_EABI_LINKER", linker);
                command
            }
        };
        command.args(["--release", "--target", TARGET]);
        // What the calling cargo has set for itself is not meant for another core.
        for name in [
            "RUSTC",
            "RUSTDOC",
            "RUSTFLAGS",
            "CARGO_ENCODED_RUSTFLAGS",
            "CARGO_TARGET_DIR",
            "RUSTUP_TOOLCHAIN",
        ] {
            if !(matches!(self, Toolchain::Installed) && name == "RUSTUP_TOOLCHAIN") {
                command.env_remove(name);
            }
        }
        command
    }
}

/// Finds a compiler for the boards, or installs Debian's where that can be done without asking.
///
/// # Errors
/// What to run to get one.
pub fn find() -> Result<Toolchain> {
    let sysroot = PathBuf::from(rustc(&["--print", "sysroot"])?);
    if sysroot.join("lib/rustlib").join(TARGET).join("lib").is_dir() {
        return Ok(Toolchain::Installed);
    }
    let add = format!("The firmware needs the {TARGET} target. Run: rustup target add {TARGET}");
    if !setup::is_debian() {
        bail!(add);
    }
    if !Path::new(DEBIAN_CORE).is_dir() || !Path::new(DEBIAN_CARGO).is_file() {
        setup::debian_packages(&PACKAGES).context(add)?;
    }
    let version = rustc(&["-vV"])?;
    let host =
        version.lines().find_map(|line| line.strip_prefix("host: ")).context("rustc -vV names no host")?;
    let linker = sysroot.join("lib/rustlib").join(host).join("bin/rust-lld");
    if !linker.is_file() {
        bail!("no linker at {}: the toolchain in use must be one of rustup's", linker.display());
    }
    let listed =
        Command::new("rustup").args(["toolchain", "list"]).output().context("could not run rustup")?;
    let linked = String::from_utf8_lossy(&listed.stdout)
        .lines()
        .any(|line| line.split_whitespace().next() == Some(LINKED));
    if !linked {
        run(Command::new("rustup").args(["toolchain", "link", LINKED, "/usr"]))?;
    }
    Ok(Toolchain::Debian { linker })
}

fn rustc(arguments: &[&str]) -> Result<String> {
    let output = Command::new("rustc").args(arguments).output().context("could not run rustc")?;
    if !output.status.success() {
        bail!("rustc {} failed: {}", arguments.join(" "), String::from_utf8_lossy(&output.stderr));
    }
    Ok(String::from_utf8(output.stdout)?.trim_end().to_owned())
}
