//! The computed tables of the boards guide, from the parts that it states.

use clap::Parser;
use halfglass_tests::wiring::{parts::Parts, sheet::Sheet, sheets};
use std::path::PathBuf;
use std::process::ExitCode;

/// Reads the guide's tables of parts and prints its other tables as they must be.
#[derive(Parser)]
struct Arguments {
    /// The guide
    #[arg(default_value = "boards/README.md")]
    guide: PathBuf,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let read = std::fs::read_to_string(&arguments.guide).map_err(|error| error.to_string());
    let parts = match read.and_then(|guide| Parts::read(&guide)) {
        Ok(parts) => parts,
        Err(error) => {
            eprintln!("{}: {error}", arguments.guide.display());
            return ExitCode::FAILURE;
        }
    };
    let sheets = sheets(&parts);
    for sheet in &sheets {
        println!("{}\n", sheet.text());
    }
    let misses: Vec<String> = sheets.iter().flat_map(Sheet::misses).collect();
    for miss in &misses {
        println!("MISSED {miss}");
    }
    if misses.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
