//! Explanations that put one figure in another's place.

use super::papers::{Papers, Sums};
use super::witness::{Chain, Told};
use crate::scenario::ship::COUNTED;
use halfglass::reconcile::Kind;

impl Papers<'_> {
    /// Two readings of a round in each other's place, or another transceiver's.
    pub(super) fn swapped(&self, sums: &mut Sums) {
        let rounds = self.scenario.ship.rounds.len();
        let many = (rounds as f64).max(1.0).ln();
        for round in 0..rounds {
            let read: Vec<(usize, usize)> = self
                .chains
                .iter()
                .enumerate()
                .filter_map(|(at, (_, chain, _))| {
                    let mark =
                        chain.marks.iter().position(|mark| (mark.id % 1_000_000) / 10 == round as i64)?;
                    Some((at, mark))
                })
                .collect();
            for (first, (a, at)) in read.iter().enumerate() {
                for (b, bt) in &read[first + 1..] {
                    let (one, two) = (&self.chains[*a], &self.chains[*b]);
                    if (one.0 == two.0) == (one.1.line == two.1.line) {
                        continue;
                    }
                    let figure = |chain: &Chain, mark: usize, figure: f64| {
                        chain.likelihood(&Told { figure: Some((mark, figure)), ..Told::nothing(chain.line) })
                    };
                    let both = figure(&one.1, *at, two.1.marks[*bt].figure)
                        + figure(&two.1, *bt, one.1.marks[*at].figure);
                    sums.add(Kind::ReadingsSwapped, both + self.others(&[*a, *b]) - many - 2_f64.ln());
                }
            }
            for place in &self.radars {
                let own: Vec<(usize, usize)> =
                    read.iter().copied().filter(|(at, _)| self.chains[*at].0 == *place).collect();
                let elsewhere = |line: usize, figure: f64| {
                    self.scenario.facts.radars.iter().enumerate().filter(|(other, _)| other != place).any(
                        |(_, radar)| {
                            radar.readings.iter().any(|reading| {
                                (reading.id % 1_000_000) / 10 == round as i64
                                    && reading.quantity == COUNTED[line]
                                    && (reading.hours - figure).abs() < 2.1 * radar.step_h.max(0.5)
                            })
                        },
                    )
                };
                let all = own.iter().all(|(at, mark)| {
                    let chain = &self.chains[*at].1;
                    elsewhere(chain.line, chain.marks[*mark].figure)
                });
                if !own.is_empty() && all {
                    let told: f64 = own
                        .iter()
                        .map(|(at, mark)| {
                            let chain = &self.chains[*at].1;
                            chain.likelihood(&Told { without: Some(*mark), ..Told::nothing(chain.line) })
                                - 3_f64.ln()
                        })
                        .sum();
                    let but: Vec<usize> = own.iter().map(|(at, _)| *at).collect();
                    sums.add(Kind::ReadingsSwapped, told + self.others(&but) - many - 2_f64.ln());
                }
            }
        }
    }
}
