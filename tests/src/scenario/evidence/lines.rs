//! Explanations that lie with the logger's lines.

use super::log::still_and_full;
use super::papers::{Papers, Sums};
use super::witness::{Move, Range, Told};
use halfglass::reconcile::Kind;

impl Papers<'_> {
    /// The logger's lines.
    pub(super) fn lines(&self, sums: &mut Sums) {
        for (place, breaches) in &self.breaches {
            for line in 0..4 {
                for kind in [Kind::LineDead, Kind::LineStuck, Kind::LineIntermittent] {
                    if !breaches.explained_by(kind, line) {
                        continue;
                    }
                    let counted =
                        self.chains.iter().position(|(of, chain, _)| of == place && chain.line == line);
                    match counted {
                        Some(which) => self.line_seen(sums, kind, which),
                        None if breaches.any() => sums.add(kind, self.others(&[])),
                        None => {}
                    }
                }
            }
        }
    }

    /// A fault over one to four intervals of readings.
    fn line_seen(&self, sums: &mut Sums, kind: Kind, which: usize) {
        let (place, chain, nothing) = &self.chains[which];
        let radar = &self.scenario.facts.radars[*place];
        let moved: Vec<Option<Move>> = (0..chain.marks.len())
            .map(|at| {
                let (a, b) = (&chain.marks[at.checked_sub(1)?], &chain.marks[at]);
                let (from, to) = (a.time.lo, b.time.hi);
                let (still, full) = still_and_full(radar, chain.line, from, to);
                let on = b.seen.on[chain.line].hi - a.seen.on[chain.line].lo;
                Some(Move::By(match kind {
                    Kind::LineDead => Range::new(0.0, still.min(12.0 * 168.0)),
                    Kind::LineStuck => Range::new(-full, 0.0),
                    _ => Range::new(0.0, (4.0 * on).min(to - from - on).max(0.0)),
                }))
            })
            .collect();
        let many = (4.0 * chain.marks.len() as f64).ln();
        for first in 1..chain.marks.len() {
            for last in first..(first + 4).min(chain.marks.len()) {
                let mut moves = vec![None; last + 1];
                moves[first..=last].copy_from_slice(&moved[first..=last]);
                sums.add(kind, self.with(which, &Told { moves: &moves, ..Told::nothing(chain.line) }) - many);
            }
        }
        // Where only the other lines can tell, its counter says nothing.
        if nothing.is_finite() && self.breaches.iter().any(|(of, breaches)| of == place && breaches.any()) {
            sums.add(kind, self.others(&[]));
        }
    }

    /// Two inputs exchanged.
    pub(super) fn wired(&self, sums: &mut Sums) {
        for (place, breaches) in &self.breaches {
            for (a, b) in breaches.exchanges() {
                let mut sum = 0.0;
                for (of, chain, nothing) in &self.chains {
                    let follows = match chain.line {
                        line if of != place => line,
                        line if line == a => b,
                        line if line == b => a,
                        line => line,
                    };
                    let told = Told { follows, ..Told::nothing(chain.line) };
                    sum += if follows == chain.line { *nothing } else { chain.likelihood(&told) };
                }
                sums.add(Kind::Wiring, sum);
            }
        }
    }
}
