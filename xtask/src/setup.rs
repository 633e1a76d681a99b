//! Packages that the firmware build, the tests in emulators, the tests of pages and the comparisons with Python's libraries need.

use crate::{root, run, toolchain};
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// The emulator's program, and the package that has it.
pub const EMULATOR: &str = "qemu-system-arm";

/// The browser that pages are tested in, by the names that it goes by.
const BROWSERS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// What tells where words stand on a printed page, and its package.
const PDF_WORDS: (&str, &str) = ("pdftotext", "poppler-utils");

/// The C compiler and linker for Windows, and its package.
const WINDOWS_COMPILER: (&str, &str) = ("x86_64-w64-mingw32-gcc", "gcc-mingw-w64-x86-64");

/// The Python that tests compare with.
const PYTHON: &str = "python3";

/// What runs the RP2040's emulator, and what gets it; both names are those of their packages.
const NODE: (&str, &str) = ("node", "nodejs");
const NPM: &str = "npm";

/// Installs everything that is missing.
///
/// # Errors
/// What is missing and cannot be installed from here, with the command that does it.
pub fn all() -> Result<()> {
    let emulator = emulator()?;
    let toolchain = toolchain::find(toolchain::CORTEX_M0)?;
    let python = python()?;
    let browser = browser()?;
    pdf_words()?;
    let rp2040 = rp2040()?;
    println!(
        "emulator: {}\nRP2040 emulator: {} in {}\nfirmware compiler: {toolchain}\npython: {}\nbrowser: {}",
        emulator.display(),
        rp2040.node.display(),
        rp2040.folder.display(),
        python.display(),
        browser.display()
    );
    Ok(())
}

/// The emulator, installed if need be.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn emulator() -> Result<PathBuf> {
    program((EMULATOR, EMULATOR))
}

/// The RP2040's emulator.
pub struct Rp2040 {
    /// What runs it.
    pub node: PathBuf,
    /// Where its program lies.
    pub folder: PathBuf,
}

/// The RP2040's emulator, installed if need be: the version that the lock file beside it names.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn rp2040() -> Result<Rp2040> {
    let (node, package) = NODE;
    if on_path(node).is_none() {
        debian_packages(&[package])?;
    }
    let node =
        on_path(node).with_context(|| format!("{node} is not on the PATH though {package} is installed"))?;
    let folder = root().join("tests/rp2040");
    let wanted = fs::read_to_string(folder.join("package-lock.json"))?;
    // A copy of the lock file, made after the installation, tells that it is whole and of this version.
    let stamp = folder.join("node_modules/installed-lock.json");
    if fs::read_to_string(&stamp).ok().as_ref() != Some(&wanted) {
        if on_path(NPM).is_none() {
            debian_packages(&[NPM])?;
        }
        run(Command::new(NPM)
            .args(["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"])
            .current_dir(&folder))
        .context("the RP2040's emulator could not be installed; it needs a network the first time")?;
        fs::write(&stamp, &wanted)?;
    }
    Ok(Rp2040 { node, folder })
}

/// The browser, installed if need be, with a font of its own: without one it would draw no words.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn browser() -> Result<PathBuf> {
    let installed = || BROWSERS.into_iter().find_map(on_path);
    if installed().is_none() {
        debian_packages(&[BROWSERS[0], "fonts-dejavu-core"])?;
    }
    installed().with_context(|| format!("{} is not on the PATH though its package is installed", BROWSERS[0]))
}

/// The program that tells where words stand on a printed page, installed if need be.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn pdf_words() -> Result<PathBuf> {
    program(PDF_WORDS)
}

/// The C compiler and linker for Windows, installed if need be.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn windows_compiler() -> Result<PathBuf> {
    program(WINDOWS_COMPILER)
}

/// A program and the package that has it; installed if need be.
fn program((name, package): (&str, &str)) -> Result<PathBuf> {
    if on_path(name).is_none() {
        debian_packages(&[package])?;
    }
    on_path(name).with_context(|| format!("{name} is not on the PATH though {package} is installed"))
}

/// A Python that can make virtual environments, installed if need be.
///
/// # Errors
/// It is missing and cannot be installed from here.
pub fn python() -> Result<PathBuf> {
    // Debian keeps what a virtual environment needs in a package of its own.
    let complete = |python: &PathBuf| {
        let tried = Command::new(python).args(["-c", "import venv, ensurepip"]).output();
        tried.is_ok_and(|output| output.status.success())
    };
    if !on_path(PYTHON).is_some_and(|python| complete(&python)) {
        debian_packages(&[PYTHON, "python3-venv"])?;
    }
    on_path(PYTHON).filter(complete).with_context(|| {
        format!(
            "the {PYTHON} on the PATH cannot make virtual environments though {PYTHON} and python3-venv are installed: \
             another Python stands before the system's on the PATH; complete that one or take it off"
        )
    })
}

/// Installs Debian packages where that is possible without asking: on Debian, as root.
///
/// # Errors
/// What to run instead, or how the installation failed.
pub fn debian_packages(names: &[&str]) -> Result<()> {
    let command = format!("apt-get install --no-install-recommends {}", names.join(" "));
    if !is_debian() {
        bail!("missing: {}. Install it from your system's packages (on Debian: {command})", names.join(", "));
    }
    if !is_root()? {
        bail!("missing: {}. Run, as root: apt-get update && {command}", names.join(", "));
    }
    run(Command::new("apt-get").args(["-qq", "update"]))?;
    run(Command::new("apt-get")
        .args(["-qq", "install", "--yes", "--no-install-recommends"])
        .args(names)
        .env("DEBIAN_FRONTEND", "noninteractive"))
}

/// This is Debian or one of its children.
#[must_use]
pub fn is_debian() -> bool {
    Path::new("/etc/debian_version").exists()
}

fn is_root() -> Result<bool> {
    let id = Command::new("id").arg("-u").output().context("could not run `id -u`")?;
    Ok(id.stdout.trim_ascii() == b"0")
}

fn on_path(program: &str) -> Option<PathBuf> {
    env::split_paths(&env::var_os("PATH")?).map(|folder| folder.join(program)).find(|path| path.is_file())
}
