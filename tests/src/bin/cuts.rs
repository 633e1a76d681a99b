//! Cuts power at every program and erase of a journal's life: the full run, or one case told step by step.

use clap::Parser;
use halfglass_firmware::planted::{Mistake, plant};
use halfglass_tests::hits::{missed, table, unforeseen};
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
    /// Each program and each erase of every commit, with one chain of recoveries
    #[arg(long, conflicts_with = "full")]
    each: bool,
    /// Only this geometry, by its name in the table
    #[arg(long)]
    suite: Option<String>,
    /// Only this seed; otherwise several
    #[arg(long)]
    seed: Option<u64>,
    /// Replay one case of one suite and seed, step by step
    #[arg(long, requires_all = ["suite", "seed"])]
    case: Option<u64>,
    /// Plant this mistake in the firmware first, to see it caught
    #[arg(long, value_parser = mistake)]
    plant: Option<Mistake>,
}

fn mistake(name: &str) -> Result<Mistake, String> {
    let names = || Mistake::ALL.map(|mistake| format!("{mistake:?}")).join(", ");
    let named = |mistake: &Mistake| format!("{mistake:?}") == name;
    Mistake::ALL
        .into_iter()
        .find(named)
        .ok_or_else(|| format!("there is no such mistake; there are {}", names()))
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    plant(arguments.plant);
    let effort = match (arguments.full, arguments.each) {
        (true, _) => Effort::Full,
        (_, true) => Effort::Each,
        _ => Effort::Tests,
    };
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
    println!("\n{}", table(&hits));
    let unforeseen = unforeseen(&hits);
    let whole = effort != Effort::Tests && arguments.suite.is_none() && arguments.case.is_none();
    let missed = if whole { missed(&hits) } else { Vec::new() };
    for place in unforeseen.iter().chain(&missed) {
        println!(
            "{} {place:?}",
            if missed.contains(place) { "never hit:" } else { "hit, and not foreseen:" }
        );
    }
    println!("{cuts} cuts, {violations} violations, {:.0} s", started.elapsed().as_secs_f64());
    if violations == 0 && unforeseen.is_empty() && missed.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
