//! Explanations that lie with a counter, its figures or its papers.

use super::log::supply_held;
use super::papers::{Papers, Sums, put};
use super::slip::meant;
use super::witness::{Move, Range, Told, anywhere, seen};
use crate::scenario::rates;
use crate::scenario::ship::TRANSMIT;
use halfglass::reconcile::Kind;

impl Papers<'_> {
    /// Zeroings and units: from one reading on.
    pub(super) fn steps(&self, sums: &mut Sums, which: usize) {
        let (_, chain, _) = &self.chains[which];
        let many = (chain.marks.len() as f64).max(1.0).ln();
        for at in 1..chain.marks.len() {
            let (a, b) = (&chain.marks[at - 1], &chain.marks[at]);
            let told = Told::nothing(chain.line);
            let moves = put(at, Move::Zeroed(anywhere(a, b)));
            sums.add(
                Kind::ZeroedWithoutFitting,
                self.with(which, &Told { moves: &moves, ..told.clone() }) - many,
            );
            for unit in [0.1, 10.0] {
                let told = Told { units: Some((unit, at)), ..told.clone() };
                sums.add(Kind::CounterUnits, self.with(which, &told) - many - 2_f64.ln());
            }
        }
    }

    /// One reading off.
    pub(super) fn figures(&self, sums: &mut Sums, which: usize) {
        let (_, chain, _) = &self.chains[which];
        let many = (chain.marks.len() as f64).max(1.0).ln();
        for at in 0..chain.marks.len() {
            let told = Told { without: Some(at), ..Told::nothing(chain.line) };
            let without = self.with(which, &told);
            if !without.is_finite() {
                continue;
            }
            let mark = &chain.marks[at];
            let before = at.checked_sub(1).map(|before| &chain.marks[before]);
            let clock = before.map_or(168.0, |before| mark.time.hi - before.time.lo);
            let near =
                before.is_none_or(|before| (mark.figure - before.figure - 0.5 * clock).abs() < 1.5 * clock);
            let all = rates::DIGIT_SLIP + rates::OFF_WITHIN_CLOCK;
            if near {
                let share = (rates::OFF_WITHIN_CLOCK / all).ln();
                sums.add(Kind::Misread, without + share + (chain.step_h / (1.7 * clock)).ln() - many);
            }
            for (figure, chance) in meant(mark.figure, chain.step_h) {
                let told = Told { figure: Some((at, figure)), ..Told::nothing(chain.line) };
                let share = (rates::DIGIT_SLIP / all).ln();
                sums.add(Kind::Misread, self.with(which, &told) + share + chance.ln() - many);
            }
            let spread = (chain.step_h / rates::EXCHANGED_HOURS_MAX).ln();
            sums.add(Kind::ImpossibleReading, without + spread - many);
        }
    }

    /// What a counter does all its life.
    pub(super) fn whole(&self, sums: &mut Sums, which: usize) {
        let (place, chain, _) = &self.chains[which];
        let told = Told::nothing(chain.line);
        if chain.line == TRANSMIT {
            for follows in [0, 1] {
                if self.scenario.facts.radars[*place].log.wired[follows] {
                    let told = Told { follows, ..told.clone() };
                    sums.add(Kind::CountsOtherLine, self.with(which, &told) - 2_f64.ln());
                }
            }
        }
        let ratios: Vec<f64> = (0..=22_500).map(|at| 0.8 + 0.000_02 * f64::from(at)).collect();
        for ratio in ratios.iter().copied().filter(|ratio| (ratio - 1.0).abs() >= 0.0199) {
            let told = Told { ratio, ..told.clone() };
            sums.add(Kind::CounterRate, self.with(which, &told) - (ratios.len() as f64).ln());
        }
    }

    /// What a recorded fitting may truly have been.
    pub(super) fn fittings(&self, sums: &mut Sums, which: usize) {
        let (place, chain, _) = &self.chains[which];
        let radar = &self.scenario.facts.radars[*place];
        let many = (chain.fits.len() as f64).max(1.0).ln();
        for (fitting, next, time) in chain.fits.iter().filter(|(_, next, _)| *next < chain.marks.len()) {
            let told = Told::nothing(chain.line);
            let zeroed_in = |time: Range| Move::Zeroed(seen(radar, time).on);
            if !radar.fittings[*fitting].counter_zeroed {
                let moves = put(*next, zeroed_in(*time));
                sums.add(Kind::RecordContradicted, self.with(which, &Told { moves: &moves, ..told }) - many);
                continue;
            }
            let moves = put(*next, Move::Carry);
            sums.add(
                Kind::FittedWithoutZeroing,
                self.with(which, &Told { moves: &moves, ..told.clone() }) - many,
            );
            let week = Range::new(time.lo - 170.0, time.hi + 170.0);
            for at in 1..chain.marks.len() {
                let between = Range::new(
                    week.lo.max(chain.marks[at - 1].time.lo),
                    week.hi.min(chain.marks[at].time.hi),
                );
                if between.width() <= 0.0 {
                    continue;
                }
                let mut moves = put(at.max(*next), Move::Carry);
                moves[*next] = Some(Move::Carry);
                moves[at] = Some(zeroed_in(between));
                let share = (between.width() / week.width()).ln();
                sums.add(
                    Kind::FittingMisdated,
                    self.with(which, &Told { moves: &moves, ..told.clone() }) + share - many,
                );
            }
        }
    }

    /// Dark time in which the radar ran, where the logger lives on the radar's supply: all counters of it at once,
    /// over one or two intervals.
    pub(super) fn dark(&self, sums: &mut Sums, place: usize) {
        if !self.scenario.facts.radars[place].fed_from_radar {
            return;
        }
        let of: Vec<usize> = (0..self.chains.len()).filter(|at| self.chains[*at].0 == place).collect();
        let times = self.times(&of);
        let many = (2.0 * times.len() as f64).max(1.0).ln();
        for wide in [1, 2] {
            for pair in times.windows(wide + 1) {
                let (from, to) = (pair[0], pair[wide]);
                let told = of.iter().map(|at| {
                    let chain = &self.chains[*at].1;
                    let moves: Vec<Option<Move>> = (0..chain.marks.len())
                        .map(|at| {
                            let (a, b) = (&chain.marks[at.checked_sub(1)?], &chain.marks[at]);
                            let dark = b.seen.dark.hi - a.seen.dark.lo;
                            let within = a.time.hi >= from - 30.0 && b.time.hi <= to + 30.0;
                            within.then_some(Move::By(Range::new(0.0, dark.max(0.0))))
                        })
                        .collect();
                    chain.likelihood(&Told { moves: &moves, ..Told::nothing(chain.line) })
                });
                sums.add(Kind::DarkGap, told.sum::<f64>() + self.others(&of) - many);
            }
        }
    }

    /// Another box: all counters of the radar at once.
    pub(super) fn exchanged(&self, sums: &mut Sums, place: usize) {
        let radar = &self.scenario.facts.radars[place];
        let of: Vec<usize> = (0..self.chains.len()).filter(|at| self.chains[*at].0 == place).collect();
        let times = self.times(&of);
        let many = (times.len() as f64).max(1.0).ln();
        for pair in times.windows(2) {
            let between = Range::new(pair[0], pair[1]);
            if supply_held(radar, between) {
                continue;
            }
            let (mut nought, mut other) = (0.0, 0.0);
            for at in &of {
                let chain = &self.chains[*at].1;
                let next = chain.after(pair[1] - 1e-6);
                if next == 0 || next >= chain.marks.len() {
                    nought += self.chains[*at].2;
                    other += self.chains[*at].2;
                    continue;
                }
                let told = Told::nothing(chain.line);
                let moves = put(next, Move::Zeroed(anywhere(&chain.marks[next - 1], &chain.marks[next])));
                nought += chain.likelihood(&Told { moves: &moves, ..told.clone() });
                let moves = put(next, Move::Set(rates::EXCHANGED_HOURS_MAX));
                other += chain.likelihood(&Told { moves: &moves, ..told });
            }
            let rest = self.others(&of) - many;
            sums.add(Kind::CounterExchanged, nought + rates::EXCHANGED_TO_NOUGHT.ln() + rest);
            sums.add(Kind::CounterExchanged, other + (1.0 - rates::EXCHANGED_TO_NOUGHT).ln() + rest);
        }
    }
}
