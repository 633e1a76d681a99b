//! `cargo xtask`: see `cargo xtask --help`.

use anyhow::{Result, bail};
use clap::{Parser, Subcommand};
use std::process::ExitCode;
use xtask::firmware::Firmware;

/// Builds the firmware, holds its size budget, proves that it cannot panic.
#[derive(Parser)]
#[command(name = "cargo xtask", bin_name = "cargo xtask")]
struct Arguments {
    #[command(subcommand)]
    task: Task,
}

#[derive(Clone, Copy, Subcommand)]
enum Task {
    /// Build firmware for the boards.
    Build {
        /// What to build.
        #[arg(default_value = "all")]
        what: What,
        /// With log lines for a debug probe (DEFMT_LOG says which; else from `info` on). Only for a board.
        #[arg(long)]
        log: bool,
    },
    /// Say how much flash and RAM each board takes and hold it against boards/budgets.toml.
    Sizes {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Prove by linking that firmware and protocol cannot panic, and that the proof can fail.
    NoPanic,
    /// Measure something against its peers.
    Bench {
        /// What.
        #[command(subcommand)]
        what: xtask::bench::Bench,
    },
    /// Live thousands of hours on the emulated board under fast-forward, killed over and over, its flash carried over.
    Soak(xtask::soak::Soak),
    /// Build the host program for Windows.
    Windows {
        /// Optimised, as it is given away.
        #[arg(long)]
        release: bool,
    },
    /// Install what the firmware build and the tests need, or say what is missing.
    Setup,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum What {
    Microbit,
    Nrf52840,
    Pico,
    NoPanic,
    All,
}

fn main() -> ExitCode {
    match carry_out(Arguments::parse().task) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("error: {fault:#}");
            ExitCode::FAILURE
        }
    }
}

fn carry_out(task: Task) -> Result<()> {
    match task {
        Task::Build { what: What::Microbit, log: true } => {
            println!("{}", Firmware::Microbit.build_talking()?.display());
            Ok(())
        }
        Task::Build { log: true, .. } => bail!("only a board's firmware has log lines: name one"),
        Task::Build { what, log: false } => {
            let wanted: &[Firmware] = match what {
                What::Microbit => &[Firmware::Microbit],
                What::Nrf52840 => &[Firmware::Nrf52840],
                What::Pico => &[Firmware::Pico],
                What::NoPanic => &[Firmware::NoPanic],
                What::All => &[Firmware::Microbit, Firmware::Nrf52840, Firmware::Pico, Firmware::NoPanic],
            };
            for firmware in wanted {
                println!("{}", firmware.build()?.display());
            }
            Ok(())
        }
        Task::Sizes { json } => xtask::sizes::show(json),
        Task::NoPanic => xtask::no_panic::prove(),
        Task::Bench { what } => xtask::bench::run(what),
        Task::Soak(soak) => xtask::soak::run(soak),
        Task::Windows { release } => {
            println!("{}", xtask::windows::build(release)?.display());
            Ok(())
        }
        Task::Setup => xtask::setup::all(),
    }
}
