//! Whether the papers hold the evidence of an event: its explanation must be likelier than every other single one, and
//! than none, by e^5. Other events of the ship are taken as known, so each is judged on the ship where it alone happened.
//!
//! The likelihoods are boxes throughout, and each kind's free figures are spread evenly over what it allows.

mod counters;
mod lines;
mod log;
mod papers;
mod slip;
mod swaps;
mod witness;

use super::alike;
use super::build::Scenario;
use super::event::Event;
use super::ship::Ship;
use halfglass::reconcile::Kind;
use papers::Papers;

/// By how much the true explanation must lead, in natural logarithms.
pub const LEAD: f64 = 5.0;

/// What the papers say about one event.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The evidence exists.
    pub evident: bool,
    /// Kinds that are right: the true one, and those declared alike that the evidence leaves open.
    pub accepted: Vec<Kind>,
    /// How likely each explanation is, likeliest first; `None`: nothing is wrong.
    pub likelihoods: Vec<(Option<Kind>, f64)>,
}

/// Judges one event of a ship.
#[must_use]
pub fn judge(ship: &Ship, event: &Event) -> Verdict {
    let scenario = Scenario::build(ship.clone(), vec![event.clone()]);
    let target = event.target(ship, &scenario.truths);
    let papers = Papers::of(&scenario, &target.radars);
    let mut likelihoods = if target.kind == Kind::WorkUnrecorded {
        // The log shows the isolation or it does not; nothing else isolates a scanner for so long.
        let seen = papers.isolated_h(target.radars[0], target.from, target.to) > 0.36;
        vec![(Some(Kind::WorkUnrecorded), if seen { 0.0 } else { f64::NEG_INFINITY }), (None, -20.0)]
    } else {
        papers.all()
    };
    likelihoods.sort_by(|a, b| b.1.total_cmp(&a.1));
    let truth = likelihoods
        .iter()
        .find(|(kind, _)| *kind == Some(target.kind))
        .map_or(f64::NEG_INFINITY, |(_, likelihood)| *likelihood);
    let near = likelihoods
        .iter()
        .filter(|(kind, likelihood)| *kind != Some(target.kind) && *likelihood > truth - LEAD)
        .map(|(kind, _)| *kind);
    let mut accepted = vec![target.kind];
    let mut evident = truth.is_finite() && papers.is_settled(event, &target);
    for kind in near {
        match kind {
            Some(kind) if alike::pairs(event).contains(&kind) => accepted.push(kind),
            Some(kind) if alike::ranked_below(event).contains(&kind) => {}
            _ => evident = false,
        }
    }
    // Where the log does not show the isolation, a zeroing inside is all that is left on paper: a zeroing without fitting.
    if matches!(event, Event::Unrecorded { zeroes: true, .. }) && !truth.is_finite() {
        accepted.push(Kind::ZeroedWithoutFitting);
    }
    // The figure of another set is a wrong figure by any name.
    if matches!(event, Event::OtherSource { .. }) {
        accepted.extend(alike::pairs(event));
    }
    Verdict { evident, accepted, likelihoods }
}

#[cfg(test)]
mod tests {
    use super::super::score::{Mode, scenario};
    use super::papers::Papers;

    /// A judge who finds that clean papers contradict themselves would call anything evidence.
    #[test]
    fn clean_papers_agree_with_the_log() {
        let mut at_odds = Vec::new();
        for seed in 0..200 {
            let Some(scenario) = scenario(seed, Mode::Clean) else { continue };
            let all: Vec<usize> = (0..scenario.ship.radars.len()).collect();
            at_odds.extend(
                Papers::of(&scenario, &all).at_odds().into_iter().map(|told| format!("{seed}: {told}")),
            );
        }
        assert!(at_odds.is_empty(), "{} of 200 ships: {at_odds:#?}", at_odds.len());
    }
}
