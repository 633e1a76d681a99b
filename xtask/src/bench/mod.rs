//! `cargo xtask bench`: something of ours and its peers, on one workload, in one run.
//!
//! ```text
//!   life      Weibull fits per second, here and in Python
//!   reconcile time for a fleet, with one and with two threads
//!   foresee   due dates and plans of a fleet, and the fits
//!
//!   journal:
//!   here      bench/run, built for this machine: bytes, erases, reads, time, cuts
//!   core      bench/image, one store each, linked for the boards' core: code bytes; in the emulator: instructions
//!   table     both, side by side; or as JSON
//! ```

mod core;
mod foresee;
mod here;
mod life;
mod program;
mod reconcile;
mod table;

use anyhow::Result;
use clap::Subcommand;
use std::path::PathBuf;

/// What is compared.
#[derive(Clone, Copy, Subcommand)]
pub enum Bench {
    /// The journal and its peers: bytes, wear, reads, code, time, power cuts.
    Journal {
        /// Fewer commits and cuts.
        #[arg(long)]
        quick: bool,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Due dates and plans of a fleet, and Weibull fits: how long they take.
    Foresee {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Weibull fits per second, beside Python's libraries.
    Life {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Time to reconcile 500 radars of five years, and its growth with the number of readings.
    Reconcile {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

/// Measures and prints.
///
/// # Errors
/// The bench does not build, or there is no compiler for the boards' core, or no Python with its libraries.
pub fn run(bench: Bench) -> Result<()> {
    match bench {
        Bench::Journal { quick, json } => journal(quick, json),
        Bench::Foresee { json } => foresee::run(json),
        Bench::Life { json } => life::run(json),
        Bench::Reconcile { json } => reconcile::run(json),
    }
}

fn journal(quick: bool, json: bool) -> Result<()> {
    let here = here::measure(quick)?;
    let core = core::measure(here.rows.iter().map(|row| row.store.as_str()))?;
    if json {
        println!("{}", table::json(&here, &core)?);
    } else {
        println!("{}", table::text(&here, &core));
    }
    Ok(())
}

fn folder() -> PathBuf {
    crate::root().join("bench")
}

/// Apart from the main one: the peers are built for nobody else.
fn target_folder() -> PathBuf {
    crate::root().join("target/bench")
}
