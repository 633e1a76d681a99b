//! Cuts power at every program and erase of a journal's life: the full run, or one case told step by step.

use clap::Parser;
use halfglass_tests::suites::{Effort, SUITES};
use std::collections::BTreeMap;
use std::process::ExitCode;
use std::time::Instant;

/// Cuts power at programs and erases of the journal, and again during recovery, against a plain model.
#[derive(Parser)]
struct Arguments {
    /// At least 1,000,000 cuts instead of some 300,000
    #[arg(long)]
    full: bool,
    /// Only this geometry, by its name in the table
    #[arg(long)]
    suite: Option<String>,
    /// Only this seed; otherwise several
    #[arg(long)]
    seed: Option<u64>,
    /// Replay one case of one suite and seed, step by step
    #[arg(long, requires_all = ["suite", "seed"])]
    case: Option<u64>,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let effort = if arguments.full { Effort::Full } else { Effort::Tests };
    let seeds = arguments.seed.map_or_else(|| vec![1, 2, 3], |seed| vec![seed]);
    let mut cuts = 0;
    let mut violations = 0;
    let mut hits = BTreeMap::new();
    let started = Instant::now();
    for suite in SUITES.iter().filter(|suite| arguments.suite.as_ref().is_none_or(|name| name == suite.name))
    {
        for seed in &seeds {
            let mut plan = suite.plan(*seed, effort);
            plan.only = arguments.case;
            let outcome = (suite.run)(&plan);
            println!(
                "{:24} seed {seed}: {:>8} cuts, {} violations, {:.0} s so far",
                suite.name,
                outcome.cuts,
                outcome.violations.len(),
                started.elapsed().as_secs_f64()
            );
            for violation in &outcome.violations {
                println!("  {violation}");
            }
            cuts += outcome.cuts;
            violations += outcome.violations.len();
            for (place, times) in outcome.hits {
                *hits.entry(place).or_insert(0u64) += times;
            }
        }
    }
    println!(
        "\n{:16} {:12} {:20} {:>9} {:>9} {:>9} {:>9}",
        "word", "position", "tear", "commit", "rec. 1", "rec. 2", "rec. 3"
    );
    let mut rows: BTreeMap<_, [u64; 4]> = BTreeMap::new();
    for (place, times) in hits {
        rows.entry((place.what, place.position, place.tear)).or_default()[place.depth as usize] += times;
    }
    for ((what, position, tear), [c0, c1, c2, c3]) in rows {
        println!("{what:16} {position:12} {tear:20} {c0:>9} {c1:>9} {c2:>9} {c3:>9}");
    }
    println!("\n{cuts} cuts, {violations} violations, {:.0} s", started.elapsed().as_secs_f64());
    if violations == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
