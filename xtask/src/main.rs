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
        /// With log lines for a debug probe (DEFMT_LOG says which; else from `info` on). For the microbit and the pico.
        #[arg(long)]
        log: bool,
    },
    /// Write a board's firmware into it through a debug probe; what the board has logged stays.
    Flash {
        /// Which board.
        board: What,
    },
    /// Make the file that a Pico started with BOOTSEL held takes as a drive does; what the board has logged stays.
    Uf2 {
        /// Which board: only the pico has such a boot ROM.
        board: What,
        /// Gives the board a number of its own: sixteen hex digits. For a flash chip that has none.
        #[arg(long, value_parser = hex)]
        device_id: Option<u64>,
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

impl What {
    const fn firmware(self) -> &'static [Firmware] {
        match self {
            What::Microbit => &[Firmware::Microbit],
            What::Nrf52840 => &[Firmware::Nrf52840],
            What::Pico => &[Firmware::Pico],
            What::NoPanic => &[Firmware::NoPanic],
            What::All => &[Firmware::Microbit, Firmware::Nrf52840, Firmware::Pico, Firmware::NoPanic],
        }
    }
}

fn hex(text: &str) -> Result<u64, String> {
    match u64::from_str_radix(text, 16) {
        Ok(number) if text.len() == 16 => Ok(number),
        _ => Err("a logger's number is sixteen hex digits".to_owned()),
    }
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
        Task::Build { what: what @ (What::Microbit | What::Pico), log: true } => {
            for firmware in what.firmware() {
                println!("{}", firmware.build_talking()?.display());
            }
            Ok(())
        }
        Task::Build { log: true, .. } => bail!("log lines have microbit and pico: name one"),
        Task::Build { what, log: false } => {
            for firmware in what.firmware() {
                println!("{}", firmware.build()?.display());
            }
            Ok(())
        }
        Task::Flash { board } => match board.firmware() {
            [board] => xtask::flash::flash(*board),
            _ => bail!("one board at a time: name it"),
        },
        Task::Uf2 { board: What::Pico, device_id } => {
            println!("{}", xtask::uf2::make(device_id)?.display());
            Ok(())
        }
        Task::Uf2 { .. } => bail!("only the pico takes such a file: `cargo xtask flash` serves every board"),
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
