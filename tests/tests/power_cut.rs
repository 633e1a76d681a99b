//! Power cuts at programs and erases, again during recovery, against a plain model.
//!
//! The full run is `cargo run --release -p halfglass-tests --bin cuts -- --full`; a failure prints the command that replays its case
//! step by step.

use halfglass_tests::cuts::Place;
use halfglass_tests::hits::{missed, unforeseen};
use halfglass_tests::hurts::{
    cut_and_cut_again, page_begun_again, refusal_then_cut, rotten_bits, stuck_pages,
};
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
                *hits.entry(place).or_insert(0u64) += times;
            }
        }
    }
    println!("{cuts} cuts");
    assert!(cuts >= 100_000, "only {cuts} cuts");
    assert_eq!(unforeseen(&hits), []);
    // Merged edges seldom fall on a page's first or last word; the full run hits those too.
    let rare = |place: &Place| {
        place.depth == 0 && place.position != "body" && ["blend", "starts"].contains(&place.what)
    };
    let missed: Vec<Place> = missed(&hits).into_iter().filter(|place| !rare(place)).collect();
    assert_eq!(missed, []);
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

#[test]
fn a_page_begun_again_and_again() {
    for seed in 0..2_000 {
        page_begun_again(seed).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
    }
}
