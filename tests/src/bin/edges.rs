//! How far from the truth the logger stamps an edge: alternating current, pulses, missing half-cycles, bouncing contacts.

use clap::Parser;
use halfglass_tests::edges::{aliasing, cases, measure::measure};

/// Lives through many runs of each case with the real firmware and prints each edge's error in milliseconds.
#[derive(Parser)]
struct Arguments {
    /// Runs of each case; a run has two edges
    #[arg(long, default_value_t = 500)]
    runs: usize,
    /// Decides lengths, phases, frequencies, bounces and what is missing
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() {
    let arguments = Arguments::parse();
    println!("{}", cases::head());
    for case in cases::cases(arguments.runs) {
        println!("{}", cases::row(&case, &measure(&case, arguments.seed)));
    }
    println!("\n{}", aliasing::table());
}
