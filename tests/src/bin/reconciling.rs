//! How long reconciling takes for 500 radars of five years, and how that grows with the number of readings.
//!
//! Writes the figures as JSON; `cargo xtask bench reconcile` prints them. A ship is reconciled apart from all others, so
//! ships can be shared out among threads; both times are taken, one after the other.

use clap::Parser;
use halfglass::reconcile::{Facts, reconcile};
use halfglass_tests::scenario::build::Scenario;
use halfglass_tests::scenario::draw::at_base_rates;
use halfglass_tests::scenario::ship::Ship;
use serde_json::{Value, json};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// Times what reconciling takes.
#[derive(Parser)]
struct Arguments {
    /// Ships of two radars
    #[arg(long, default_value_t = 250)]
    ships: u64,
    /// So many times the readings
    #[arg(long, value_delimiter = ',', default_values_t = [1, 2, 4])]
    times: Vec<i64>,
    /// The fastest of so many runs counts: whatever else the machine does only adds
    #[arg(long, default_value_t = 3)]
    runs: u32,
}

fn main() {
    let arguments = Arguments::parse();
    let ships: Vec<Facts> = (0..arguments.ships)
        .map(|seed| {
            let ship = Ship::of_five_years(seed);
            let events = at_base_rates(&ship);
            Scenario::build(ship, events).facts
        })
        .collect();
    let radars: usize = ships.iter().map(|facts| facts.radars.len()).sum();
    let rows: Vec<Value> = arguments.times.iter().map(|times| row(&ships, *times, arguments.runs)).collect();
    println!("{}", json!({ "radars": radars, "rows": rows }));
}

fn row(ships: &[Facts], times: i64, runs: u32) -> Value {
    let many: Vec<Facts> = ships.iter().map(|facts| denser(facts, times)).collect();
    let readings: usize = many.iter().flat_map(|facts| &facts.radars).map(|radar| radar.readings.len()).sum();
    let fastest = |threads| (0..runs).map(|_| took_s(&many, threads)).fold(f64::INFINITY, f64::min);
    json!({ "times": times, "readings": readings, "one_thread_s": fastest(1), "two_threads_s": fastest(2) })
}

/// Seconds for all ships, shared out among the threads one by one.
fn took_s(ships: &[Facts], threads: usize) -> f64 {
    let next = AtomicUsize::new(0);
    let accounts = AtomicUsize::new(0);
    let started = Instant::now();
    let work = || {
        while let Some(facts) = ships.get(next.fetch_add(1, Ordering::Relaxed)) {
            accounts.fetch_add(reconcile(facts).len(), Ordering::Relaxed);
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(work);
        }
    });
    let took_s = started.elapsed().as_secs_f64();
    let radars: usize = ships.iter().map(|facts| facts.radars.len()).sum();
    assert_eq!(accounts.into_inner(), radars, "one account a radar");
    took_s
}

/// So many times the readings: each is copied again minutes later.
fn denser(facts: &Facts, times: i64) -> Facts {
    let mut facts = facts.clone();
    for radar in &mut facts.radars {
        let copied = radar.readings.iter().flat_map(|reading| {
            (0..times).map(|copy| {
                let mut again = reading.clone();
                again.id = reading.id * 10 + copy;
                again.at.lo_ms += copy * 60_000;
                again.at.hi_ms += copy * 60_000;
                again
            })
        });
        radar.readings = copied.collect();
        radar.readings.sort_by_key(|reading| reading.at.lo_ms);
    }
    facts
}
