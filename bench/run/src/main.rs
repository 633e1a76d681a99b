//! Measures Halfglass's journal and its peers on this machine and writes what it measured to standard output, as JSON.
//! `cargo xtask bench journal` runs it, adds what was measured on the small core, and prints the table.

mod cuts;
mod flash;
mod life;
mod years;

use halfglass_bench_stores::{Ekv, Halfglass, Map, Queue, QueueOfDeltas, Store};
use serde::Serialize;
use std::process::ExitCode;

/// How much is measured.
#[derive(Clone, Copy, Debug, Serialize)]
struct Amount {
    commits: u64,
    cold_levels: u64,
    timed_commits: u64,
    word_cuts: u64,
    erase_cuts: u64,
    flicker_cuts: u64,
    days: u32,
}

const FULL: Amount = Amount {
    commits: 1_000_000,
    cold_levels: 400,
    timed_commits: 200_000,
    word_cuts: 2_000,
    erase_cuts: 400,
    flicker_cuts: 2_000,
    days: 120,
};

const QUICK: Amount = Amount {
    commits: 250_000,
    cold_levels: 60,
    timed_commits: 20_000,
    word_cuts: 200,
    erase_cuts: 60,
    flicker_cuts: 200,
    days: 15,
};

/// Of the cuts with flicker one in so many is of an erase.
const FLICKER_ERASES_ONE_IN: u64 = 6;

#[derive(Serialize)]
struct Row {
    store: &'static str,
    life: life::Life,
    cold_reads: life::ColdReads,
    ns_per_commit: f64,
    word_cuts: cuts::Verdict,
    erase_cuts: cuts::Verdict,
    flicker_cuts: cuts::Verdict,
}

#[derive(Serialize)]
struct Failure {
    store: &'static str,
    reason: String,
}

#[derive(Serialize)]
struct Measured {
    amount: Amount,
    rows: Vec<Row>,
    failures: Vec<Failure>,
    eight_lines: Vec<years::Years>,
}

fn measure<S: Store>(store: &'static str, amount: &Amount) -> Result<Row, String> {
    eprintln!("{store}: life");
    let life = life::live::<S>(amount.commits)?;
    eprintln!("{store}: cold mounts");
    let cold_reads = life::cold_reads::<S>(amount.cold_levels)?;
    eprintln!("{store}: time");
    let ns_per_commit = life::ns_per_commit::<S>(amount.timed_commits)?;
    eprintln!("{store}: cuts");
    let cuts = |seed, cuts, erases_one_in, flicker| {
        cuts::Life::begin::<S>(seed)?.suffer::<S>(cuts, erases_one_in, flicker)
    };
    Ok(Row {
        store,
        life,
        cold_reads,
        ns_per_commit,
        word_cuts: cuts(1, amount.word_cuts, 0, false)?,
        erase_cuts: cuts(2, amount.erase_cuts, 1, false)?,
        flicker_cuts: cuts(3, amount.flicker_cuts, FLICKER_ERASES_ONE_IN, true)?,
    })
}

type Measure = fn(&'static str, &Amount) -> Result<Row, String>;

/// Every store that was built in, ours first.
const STORES: &[(&str, Measure)] = &[
    ("halfglass", measure::<Halfglass>),
    ("sequential-storage-queue", measure::<Queue>),
    ("sequential-storage-queue-deltas", measure::<QueueOfDeltas>),
    ("sequential-storage-map", measure::<Map>),
    ("ekv", measure::<Ekv>),
    #[cfg(feature = "littlefs2")]
    ("littlefs2", measure::<halfglass_bench_stores::Littlefs2>),
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let quick = arguments.iter().any(|argument| argument == "--quick");
    let only: Vec<&String> = arguments.iter().filter(|argument| !argument.starts_with("--")).collect();
    let amount = if quick { QUICK } else { FULL };
    // Stores that panic are counted; what they say would only bury the table.
    std::panic::set_hook(Box::new(|_| {}));
    let (mut rows, mut failures) = (Vec::new(), Vec::new());
    for (store, measure) in STORES {
        if !only.is_empty() && !only.iter().any(|name| name == store) {
            continue;
        }
        match measure(store, &amount) {
            Ok(row) => rows.push(row),
            Err(reason) => failures.push(Failure { store, reason }),
        }
    }
    let eight_lines = [10, 60].map(|heartbeat_s| {
        years::live(heartbeat_s, amount.days * heartbeat_s / 10)
            .map_err(|reason| Failure { store: "halfglass, eight lines", reason })
    });
    let mut years = Vec::new();
    for result in eight_lines {
        match result {
            Ok(result) => years.push(result),
            Err(failure) => failures.push(failure),
        }
    }
    match serde_json::to_string_pretty(&Measured { amount, rows, failures, eight_lines: years }) {
        Ok(text) => println!("{text}"),
        Err(error) => {
            eprintln!("what was measured cannot be written: {error}");
            return ExitCode::FAILURE;
        }
    }
    ExitCode::SUCCESS
}
