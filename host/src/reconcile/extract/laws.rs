//! Counters that follow another line or run at a ratio.

use super::judge::law_kind;
use super::third::whose;
use super::{draft, path};
use crate::reconcile::chain::Edge;
use crate::reconcile::counters::Told;
use crate::reconcile::draft::Draft;
use crate::reconcile::finding::Instead;
use crate::reconcile::moves::Law;
use crate::reconcile::say;

/// Counters that follow another line or run at a ratio.
pub(super) fn laws(told: &Told, all: &[Told], found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    let on_path: Vec<(usize, usize)> = path(told)
        .filter(|edge| edge.to.0 < end)
        .filter_map(|edge| told.histories.states_of(edge).1.map(|state| (edge.to.0, state.law)))
        .collect();
    for at in 1..counter.laws.len() {
        let Some(kind) = law_kind(counter.role, counter.laws[at].0) else { continue };
        let figures: Vec<usize> = on_path.iter().filter(|(_, law)| *law == at).map(|(k, _)| *k).collect();
        let (Some(&first), Some(&last)) = (figures.first(), figures.last()) else { continue };
        let share = |k: usize, law: usize| -> f64 {
            let by = |edge: &&Edge| told.histories.states_of(edge).1.is_some_and(|state| state.law == law);
            told.histories.leading_to(k..=k).iter().filter(by).map(|edge| edge.share).sum()
        };
        let middle = figures[figures.len() / 2];
        let mut draft = draft(told, kind, counter.seen[first].at, counter.seen[last].at);
        if let Law::Line(role) = counter.laws[at].0 {
            draft.follows = Some(role);
        }
        let own = share(middle, at);
        let total: f64 = (0..counter.laws.len()).map(|law| share(middle, law)).sum();
        draft.probability = if total > 0.0 { (own / total).min(1.0) } else { 0.0 };
        let other = (0..counter.laws.len())
            .filter(|law| *law != at)
            .map(|law| (law, share(middle, law) / total.max(f64::MIN_POSITIVE)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        draft.instead = other.filter(|(_, share)| *share >= 0.005).map(|(law, probability)| Instead {
            kind: law_kind(counter.role, counter.laws[law].0),
            probability,
        });
        draft.provisional = figures.len() < 3;
        draft.facts = figures.iter().map(|k| counter.seen[*k].fact).collect();
        draft.evidence.push(say::law(counter, counter.laws[at].0, first, last));
        if let Law::Ratio(ratio) = counter.laws[at].0 {
            let (whose, sentence) = whose(told, all, ratio, first, last);
            draft.ratio = Some((ratio, whose));
            draft.evidence.extend(sentence);
        }
        found.push(draft);
    }
}
