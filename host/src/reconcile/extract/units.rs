//! Figures written in another unit than hours.

use super::judge::judged;
use super::{draft, path};
use crate::reconcile::chain::Edge;
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Draft;
use crate::reconcile::events::Scale;
use crate::reconcile::finding::Kind;
use crate::reconcile::say;

/// Figures written in another unit.
pub(super) fn units(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let mut run: Vec<(usize, Scale)> = Vec::new();
    let mut close = |run: &mut Vec<(usize, Scale)>| {
        let (Some(&(first, scale)), Some(&(last, _))) = (run.first(), run.last()) else { return };
        let mut draft = draft(told, Kind::CounterUnits, counter.seen[first].at, counter.seen[last].at);
        let likely = |k: usize| -> f64 {
            let scaled = |edge: &&Edge| {
                told.histories.states_of(edge).1.is_some_and(|state| state.scale != Scale::Hours)
            };
            told.histories.leading_to(k..=k).iter().filter(scaled).map(|edge| edge.share).sum()
        };
        draft.probability = run.iter().map(|(k, _)| likely(*k)).fold(0.0, f64::max).min(1.0);
        draft.instead = judged(told, first, Kind::CounterUnits).1;
        draft.provisional = run.len() == 1 && first + 1 == counter.seen.len();
        draft.facts = run.iter().map(|(k, _)| counter.seen[*k].fact).collect();
        draft.evidence.push(say::units(counter, first, scale));
        found.push(draft);
        run.clear();
    };
    for edge in path(told) {
        match told.histories.states_of(edge).1 {
            Some(state) if state.scale != Scale::Hours => run.push((edge.to.0, state.scale)),
            _ => close(&mut run),
        }
    }
    close(&mut run);
}
