//! Figures that are set aside or stand in another's place.

use super::judge::{aside_kind, judged, judged_aside};
use super::{draft, path};
use crate::reconcile::chain::Edge;
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Draft;
use crate::reconcile::finding::{FactId, Kind};
use crate::reconcile::say;

/// Figures that are set aside or stand in another's place.
pub(super) fn set_aside(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    for edge in path(told) {
        for (k, why) in edge.aside.iter().filter(|(_, why)| !why.is_sound()) {
            let kind = aside_kind(why);
            let at = counter.seen[*k].at;
            let mut draft = draft(told, kind, at, at);
            let (probability, instead) = judged_aside(told, *k, kind);
            (draft.probability, draft.instead) = (probability, instead);
            draft.provisional = k + 1 == end || counter.seen.len() < 3;
            draft.facts = vec![counter.seen[*k].fact];
            if let FactId::Fitting(id) = counter.seen[*k].fact {
                draft.fitting = Some(id);
            }
            draft.evidence = say::aside(told, edge, *k, kind);
            found.push(draft);
        }
        let (_, Some(state)) = told.histories.states_of(edge) else { continue };
        if let Some(swap) = state.swap.and_then(|at| counter.seen[edge.to.0].swaps.get(at)) {
            let k = edge.to.0;
            let at = counter.seen[k].at;
            let mut draft = draft(told, Kind::ReadingsSwapped, at, at);
            let swapped =
                |edge: &&Edge| told.histories.states_of(edge).1.is_some_and(|state| state.swap.is_some());
            draft.probability = told
                .histories
                .leading_to(k..=k)
                .iter()
                .filter(swapped)
                .map(|edge| edge.share)
                .sum::<f64>()
                .min(1.0);
            draft.instead = judged(told, k, Kind::ReadingsSwapped).1;
            draft.provisional = k + 1 == end;
            draft.facts = vec![counter.seen[k].fact];
            draft.partner = Some((swap.counter, swap.seen));
            draft.evidence.push(say::swapped(counter, k, swap.hours));
            found.push(draft);
        }
    }
}
