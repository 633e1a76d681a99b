//! What is measured on the boards' core: what each store adds to an image, and how many instructions a commit takes.
//!
//! Both are differences from the image without a store, which has the same flash driver and the same loop. The
//! emulator gives every instruction one nanosecond, and the image reads its timer, which ticks at 16 MHz.

use super::here::gist;
use super::{folder, target_folder};
use crate::{setup, sizes, toolchain};
use anyhow::{Context, Result, bail};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const INSTRUCTIONS_PER_TICK: f64 = 62.5;

/// An image that has not ended by then never will.
const EMULATOR_PATIENCE: Duration = Duration::from_secs(180);

/// What a store costs on the core.
pub(crate) struct Cost {
    pub(crate) code_bytes: u64,
    pub(crate) instructions_per_commit: Result<f64, String>,
}

/// By store: its cost, or why there is none.
pub(crate) type Costs = BTreeMap<String, Result<Cost, String>>;

/// Builds, weighs and runs an image of each store.
pub(crate) fn measure<'a>(stores: impl Iterator<Item = &'a str>) -> Result<Costs> {
    let toolchain = toolchain::find(toolchain::CORTEX_M0)?;
    let bare = weigh(&toolchain, None)?.map_err(anyhow::Error::msg)?;
    let emulator = setup::emulator().map_err(|fault| format!("{fault:#}"));
    let time = |store| match &emulator {
        Ok(emulator) => time(&toolchain, emulator, store).map_err(|fault| format!("{fault:#}")),
        Err(reason) => Err(reason.clone()),
    };
    let bare_time = time(None);
    let mut costs = Costs::new();
    for store in stores {
        let cost = match weigh(&toolchain, Some(store))? {
            Err(reason) => Err(reason),
            Ok(bytes) => Ok(Cost {
                code_bytes: bytes.saturating_sub(bare),
                instructions_per_commit: match (time(Some(store)), &bare_time) {
                    (Ok(with), Ok(without)) => Ok(with - without),
                    (Err(reason), _) => Err(reason),
                    (_, Err(reason)) => Err(reason.clone()),
                },
            }),
        };
        costs.insert(store.to_owned(), cost);
    }
    Ok(costs)
}

/// The feature of `bench/image` that belongs to a store.
fn feature(store: Option<&str>) -> &str {
    match store {
        None => "",
        Some(store) => store.strip_prefix("sequential-storage-").unwrap_or(store),
    }
}

/// Flash that an image takes; or why it does not build.
fn weigh(toolchain: &toolchain::Toolchain, store: Option<&str>) -> Result<Result<u64, String>> {
    match build(toolchain, feature(store))? {
        Ok(image) => Ok(Ok(sizes::of_image(&image)?.0)),
        Err(said) => Ok(Err(format!("does not build for {}: {}", toolchain::CORTEX_M0.triple, gist(&said)))),
    }
}

fn build(toolchain: &toolchain::Toolchain, features: &str) -> Result<Result<PathBuf, String>> {
    eprintln!("building an image {features}");
    let output = toolchain
        .cargo_build()
        .current_dir(folder().join("image"))
        .args(["--quiet", "--locked", "--release", "--features", features, "--target-dir"])
        .arg(target_folder())
        .output()
        .context("could not start cargo")?;
    Ok(if output.status.success() {
        Ok(target_folder().join(toolchain::CORTEX_M0.triple).join("release/halfglass-bench-image"))
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    })
}

/// Instructions that one turn of the image's loop takes.
fn time(toolchain: &toolchain::Toolchain, emulator: &PathBuf, store: Option<&str>) -> Result<f64> {
    let features = format!("{},timed", feature(store));
    let image = build(toolchain, features.trim_start_matches(','))?.map_err(anyhow::Error::msg)?;
    let mut child = Command::new(emulator)
        .args(["-M", "microbit", "-nodefaults", "-display", "none", "-monitor", "none", "-serial", "none"])
        .args(["-icount", "shift=0,sleep=off", "-semihosting-config", "enable=on,target=native"])
        .arg("-kernel")
        .arg(image)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .context("could not start the emulator")?;
    let start = Instant::now();
    while child.try_wait()?.is_none() {
        if start.elapsed() > EMULATOR_PATIENCE {
            child.kill()?;
            child.wait()?;
            bail!("not done in the emulator after {} s", EMULATOR_PATIENCE.as_secs());
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    let output = child.wait_with_output()?;
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    let words: Vec<&str> = said.split_whitespace().collect();
    let ["commits", commits, "ticks", ticks] = words[..] else {
        bail!("in the emulator: {}", said.trim());
    };
    Ok(ticks.parse::<f64>()? * INSTRUCTIONS_PER_TICK / commits.parse::<f64>()?)
}
