//! All that is told of the radars that an event touches, and the explanations of it side by side.

use super::log::Breaches;
use super::witness::{Chain, Move, Told};
use crate::scenario::build::Scenario;
use crate::scenario::event::{Event, Target};
use crate::scenario::logger::hours;
use crate::scenario::ship::COUNTED;
use halfglass::reconcile::Kind;
use std::collections::BTreeMap;

/// All that is told of the radars.
pub(super) struct Papers<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) radars: Vec<usize>,
    /// Counters with their radar's place, and how likely each is if nothing is wrong.
    pub(super) chains: Vec<(usize, Chain, f64)>,
    pub(super) breaches: Vec<(usize, Breaches)>,
}

/// Sums chances that are given as logarithms.
#[derive(Default)]
pub(super) struct Sums(BTreeMap<Kind, Vec<f64>>);

impl Sums {
    pub(super) fn add(&mut self, kind: Kind, likelihood: f64) {
        if likelihood.is_finite() {
            self.0.entry(kind).or_default().push(likelihood);
        }
    }

    fn of(&self, kind: Kind) -> f64 {
        log_sum(self.0.get(&kind).map_or(&[], Vec::as_slice))
    }
}

fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most.is_finite() { most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln() } else { most }
}

impl<'a> Papers<'a> {
    pub(super) fn of(scenario: &'a Scenario, radars: &[usize]) -> Papers<'a> {
        let mut chains = Vec::new();
        for place in 0..scenario.ship.radars.len() {
            for line in (0..4).filter(|line| scenario.ship.radars[place].counts[*line]) {
                let wired = scenario.facts.radars[place].log.wired[line];
                let chain = Chain::of(scenario, place, line);
                if wired && radars.contains(&place) {
                    let nothing = chain.likelihood(&Told::nothing(line));
                    chains.push((place, chain, nothing));
                }
            }
        }
        let breaches =
            radars.iter().map(|place| (*place, Breaches::of(&scenario.facts.radars[*place]))).collect();
        Papers { scenario, radars: radars.to_vec(), chains, breaches }
    }

    /// Hours of isolation that the log shows.
    pub(super) fn isolated_h(&self, place: usize, from: f64, to: f64) -> f64 {
        let spans = &self.scenario.facts.radars[place].log.isolated;
        let within = spans.iter().map(|span| (hours(span.from.best_ms()), hours(span.to.best_ms())));
        within.map(|(begins, ends)| (ends.min(to + 1.0) - begins.max(from - 1.0)).max(0.0)).sum()
    }

    /// Not everything hangs on a last reading.
    pub(super) fn is_settled(&self, event: &Event, target: &Target) -> bool {
        let contradicts = self.breaches.iter().any(|(_, breaches)| breaches.any());
        let after = |line: &usize| {
            let of = self.chains.iter().filter(|(_, chain, _)| chain.line == *line);
            of.map(|(_, chain, _)| chain.marks.len() - chain.after(target.from)).min().unwrap_or(0)
        };
        let lines: Vec<usize> = if target.lines.is_empty() {
            self.chains.iter().map(|(_, chain, _)| chain.line).collect()
        } else {
            (0..4).filter(|line| target.lines.contains(&COUNTED[*line])).collect()
        };
        let most = lines.iter().map(after).max().unwrap_or(0);
        matches!(event, Event::Unrecorded { .. }) || contradicts || most >= 2
    }

    /// Counters and logs that something is wrong with, for sure.
    #[cfg(test)]
    pub(super) fn at_odds(&self) -> Vec<String> {
        let counters = self.chains.iter().filter(|(_, _, nothing)| !nothing.is_finite());
        let counters = counters.map(|(place, chain, _)| {
            let at = (0..chain.marks.len()).find(|at| {
                let mut shorter = chain.clone();
                shorter.marks.truncate(at + 1);
                !shorter.likelihood(&Told::nothing(chain.line)).is_finite()
            });
            format!(
                "radar {place} {:?} fails at {at:?}: {:?}",
                COUNTED[chain.line],
                at.map(|at| &chain.marks[at.saturating_sub(1)..=at])
            )
        });
        let logs = self.breaches.iter().filter(|(_, breaches)| breaches.any());
        counters.chain(logs.map(|(place, breaches)| format!("log of radar {place}: {breaches:?}"))).collect()
    }

    /// Of one counter told so, the others as if nothing were wrong.
    pub(super) fn with(&self, which: usize, told: &Told<'_>) -> f64 {
        self.others(&[which]) + self.chains[which].1.likelihood(told)
    }

    pub(super) fn others(&self, but: &[usize]) -> f64 {
        self.chains
            .iter()
            .enumerate()
            .filter(|(at, _)| !but.contains(at))
            .map(|(_, (_, _, nothing))| nothing)
            .sum()
    }

    /// All explanations.
    pub(super) fn all(&self) -> Vec<(Option<Kind>, f64)> {
        let mut sums = Sums::default();
        let contradicts = self.breaches.iter().any(|(_, breaches)| breaches.any());
        if !contradicts {
            for which in 0..self.chains.len() {
                self.steps(&mut sums, which);
                self.figures(&mut sums, which);
                self.whole(&mut sums, which);
                self.fittings(&mut sums, which);
            }
            for place in &self.radars {
                self.exchanged(&mut sums, *place);
                self.dark(&mut sums, *place);
            }
            self.swapped(&mut sums);
        }
        self.lines(&mut sums);
        self.wired(&mut sums);
        let nothing = if contradicts { f64::NEG_INFINITY } else { self.others(&[]) };
        let kinds = Kind::ALL.into_iter().map(|kind| (Some(kind), sums.of(kind)));
        kinds.chain([(None, nothing)]).collect()
    }

    /// Instants at which counters are read.
    pub(super) fn times(&self, of: &[usize]) -> Vec<f64> {
        let mut times: Vec<f64> =
            of.iter().flat_map(|at| self.chains[*at].1.marks.iter().map(|mark| mark.time.hi)).collect();
        times.sort_by(f64::total_cmp);
        times.dedup_by(|a, b| *a - *b < 30.0);
        times
    }
}

/// One move, at one reading.
pub(super) fn put(at: usize, moved: Move) -> Vec<Option<Move>> {
    let mut moves = vec![None; at + 1];
    moves[at] = Some(moved);
    moves
}
