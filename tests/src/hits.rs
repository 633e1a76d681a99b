//! Where cuts must have fallen: each kind of word, at each position in a page, torn in each way, in a commit and in each recovery.

use crate::cuts::Place;
use halfglass_sim::flash::{ERASE_TEARS, WORD_TEARS};
use std::collections::BTreeMap;
use std::fmt::Write;

/// How often each place was hit.
pub type Hits = BTreeMap<Place, u64>;

/// Recoveries in a row that are cut.
const DEPTH: u32 = 3;

/// What a commit writes, and where.
const IN_COMMIT: [(&str, &str); 12] = [
    ("hold", "body first"),
    ("hold", "body"),
    ("hold", "body last"),
    ("blend", "body first"),
    ("blend", "body"),
    ("blend", "body last"),
    ("starts", "body first"),
    ("starts", "body"),
    ("starts", "body last"),
    ("head", "head"),
    ("sequence", "first"),
    ("erase", "page"),
];

/// What a recovery writes, and where. It repeats a word behind a gap or begins a page with a Hold that says nothing; near a
/// page's end it begins a page, so nothing of it is ever a body's last.
const IN_RECOVERY: [(&str, &str); 9] = [
    ("burnt gap", "body"),
    ("resume", "body"),
    ("hold", "body"),
    ("blend", "body"),
    ("starts", "body"),
    ("hold", "body first"),
    ("head", "head"),
    ("sequence", "first"),
    ("erase", "page"),
];

/// Every place that there is.
#[must_use]
pub fn every_place() -> Vec<Place> {
    let mut places = Vec::new();
    for depth in 0..=DEPTH {
        let here: &[_] = if depth == 0 { &IN_COMMIT } else { &IN_RECOVERY };
        for (what, position) in here {
            let tears: Vec<String> = if *what == "erase" {
                ERASE_TEARS.iter().map(|tear| format!("erase {tear:?}")).collect()
            } else {
                WORD_TEARS.iter().map(|tear| format!("{tear:?}")).collect()
            };
            places.extend(tears.into_iter().map(|tear| Place { what, position, tear, depth }));
        }
    }
    places
}

/// Places that no cut has hit.
#[must_use]
pub fn missed(hits: &Hits) -> Vec<Place> {
    every_place().into_iter().filter(|place| !hits.contains_key(place)).collect()
}

/// Places that were hit and that there should not be.
#[must_use]
pub fn unforeseen(hits: &Hits) -> Vec<Place> {
    let places = every_place();
    hits.keys().filter(|place| !places.contains(place)).cloned().collect()
}

/// A row a place, a column a depth; a dash where there is no such place.
#[must_use]
pub fn table(hits: &Hits) -> String {
    let mut text = String::from(
        "| word | position | tear | commit | recovery 1 | 2 | 3 |\n|---|---|---|---:|---:|---:|---:|\n",
    );
    let places = every_place();
    let mut rows: Vec<_> = places.iter().map(|place| (place.what, place.position, &place.tear)).collect();
    rows.sort_unstable();
    rows.dedup();
    for (what, position, tear) in rows {
        let _ = write!(text, "| {what} | {position} | {tear} |");
        for depth in 0..=DEPTH {
            let place = Place { what, position, tear: tear.clone(), depth };
            let _ = match (hits.get(&place), places.contains(&place)) {
                (None, false) => write!(text, " - |"),
                (times, _) => write!(text, " {} |", times.unwrap_or(&0)),
            };
        }
        text.push('\n');
    }
    text
}
