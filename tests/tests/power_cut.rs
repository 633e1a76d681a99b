//! Power cuts at programs and erases, again during recovery, against a plain model.
//!
//! The full run is `cargo xtask cuts --full`; a failure prints its seed and case, and
//! `cargo xtask cuts --suite NAME --seed N --case N` replays that case step by step.

use halfglass_tests::hurts::{cut_and_cut_again, refusal_then_cut, rotten_bits, stuck_pages};
use halfglass_tests::suites::{Effort, SUITES};
use std::collections::BTreeMap;

/// Seeds 1 and 3: with and without flicker.
#[test]
fn every_geometry() {
    let mut cuts = 0;
    let mut hits = BTreeMap::new();
    for suite in &SUITES {
        for seed in [1, 3] {
            let outcome = (suite.run)(&suite.plan(seed, Effort::Tests));
            println!("{} seed {seed}: {} cuts", suite.name, outcome.cuts);
            assert!(outcome.violations.is_empty(), "{}:\n{}", suite.name, outcome.violations.join("\n"));
            cuts += outcome.cuts;
            for (place, times) in outcome.hits {
                *hits.entry((place.what, place.depth)).or_insert(0u64) += times;
            }
        }
    }
    println!("{cuts} cuts");
    assert!(cuts >= 100_000, "only {cuts} cuts");
    for what in ["hold", "blend", "starts", "head", "sequence", "erase"] {
        assert!(hits.contains_key(&(what, 0)), "no cut in a commit hit a {what}: {hits:?}");
    }
    for what in ["burnt gap", "resume", "hold", "head", "sequence", "erase"] {
        for depth in 1..=3 {
            assert!(hits.contains_key(&(what, depth)), "no cut of recovery {depth} hit a {what}: {hits:?}");
        }
    }
}

#[test]
fn pages_that_wear_out() {
    for seed in 0..50 {
        stuck_pages(seed).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
    }
}

#[test]
fn bits_that_rot() {
    for seed in 0..2_000 {
        rotten_bits(seed).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
    }
}

#[test]
fn a_refused_word_and_a_cut() {
    for seed in 0..2_000 {
        refusal_then_cut(seed).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
    }
}

#[test]
fn a_word_and_its_recovery_cut() {
    for seed in 0..10_000 {
        cut_and_cut_again(seed).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
    }
}
