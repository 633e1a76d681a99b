//! Power cuts at every program and erase, again during recovery, against a plain model.

use halfglass_tests::cuts::{Outcome, Plan, run};

fn plan(seed: u64) -> Plan {
    Plan { seed, commits: 2_000, every: 7, session_commits: 60, depth: 3, flicker: true, only: None }
}

fn sound(name: &str, outcome: &Outcome) {
    println!("{name}: {} cuts, {} violations", outcome.cuts, outcome.violations.len());
    assert!(outcome.violations.is_empty(), "{name}:\n{}", outcome.violations.join("\n"));
}

#[test]
fn quick() {
    sound("1 KiB x 8", &run::<4, 1024>(&plan(1), 8));
    sound("1 KiB x 2", &run::<4, 1024>(&plan(2), 2));
}
