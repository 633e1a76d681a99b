//! Each deliberate mistake in the journal is caught by the suites that every run of the tests makes. One test, because a
//! mistake is planted in the whole process.

use halfglass_firmware::planted::{Mistake, plant};
use halfglass_tests::hurts::{
    cut_and_cut_again, page_begun_again, refusal_then_cut, rotten_bits, stuck_pages,
};
use halfglass_tests::suites::{Effort, SUITES};

/// A trial by seed.
type Hurt = fn(u64) -> Result<(), String>;

/// Who catches it, and with what. The quick ones first.
fn caught() -> Option<String> {
    let hurts: [(&str, u64, Hurt); 5] = [
        ("rot", 2_000, rotten_bits),
        ("refusal", 2_000, refusal_then_cut),
        ("two cuts", 10_000, cut_and_cut_again),
        ("page begun again", 2_000, page_begun_again),
        ("stuck page", 50, stuck_pages),
    ];
    for (name, seeds, hurt) in hurts {
        if let Some((seed, fault)) = (0..seeds).find_map(|seed| Some((seed, hurt(seed).err()?))) {
            return Some(format!("{name}, seed {seed}: {fault}"));
        }
    }
    for suite in &SUITES {
        for seed in [1, 3] {
            let mut plan = suite.plan(seed, Effort::Tests);
            plan.first_only = true;
            let outcome = (suite.run)(&plan);
            if let Some(violation) = outcome.violations.first() {
                return Some(format!("{} after {} cuts: {violation}", suite.name, outcome.cuts));
            }
        }
    }
    None
}

#[test]
fn every_mistake_is_caught() {
    let mut missed = Vec::new();
    for mistake in Mistake::ALL {
        plant(Some(mistake));
        // A mistake may also break what the suites take for granted.
        let found = std::panic::catch_unwind(caught).unwrap_or_else(|_| Some("a panic in the suite".into()));
        plant(None);
        match found {
            Some(how) => println!("{mistake:?}: {how}"),
            None => missed.push(mistake),
        }
    }
    assert!(missed.is_empty(), "not caught: {missed:?}");
}
