//! What the papers of one counter say beside the log, as bounds: the common ground of all explanations.
//!
//! The *offset* is the counter less the logger's total. Where nothing is wrong it only moves by what the logger cannot
//! have seen. A set of offsets that are still possible is carried from reading to reading; the share of it that each
//! reading leaves is that reading's likelihood (boxes throughout).

use crate::scenario::build::Scenario;
use crate::scenario::logger::hours;
use crate::scenario::ship::COUNTED;
use halfglass::reconcile::{Fitting, Point, Radar, When};

/// A sharp time as written is off by no more: four deviations, and half of half an hour.
pub(super) const MISJUDGED_H: f64 = 35.0 / 60.0;

/// Between two bounds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Range {
    pub(super) lo: f64,
    pub(super) hi: f64,
}

impl Range {
    pub(super) fn new(lo: f64, hi: f64) -> Range {
        Range { lo, hi }
    }

    pub(super) fn width(self) -> f64 {
        self.hi - self.lo
    }

    fn meets(self, other: Range) -> Range {
        Range { lo: self.lo.max(other.lo), hi: self.hi.min(other.hi) }
    }
}

/// A time as written, as far as it may be off.
pub(super) fn span(when: When) -> Range {
    let sharp = when.hi_ms - when.lo_ms < 3_600_000;
    let give = if sharp { MISJUDGED_H } else { 0.0 };
    Range { lo: hours(when.lo_ms) - give, hi: hours(when.hi_ms) + give }
}

/// The log at one instant, from its points alone.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Totals of supply, heater, transmit, motor.
    pub(super) on: [Range; 4],
    /// Hours that the logger was dark, so far.
    pub(super) dark: Range,
    /// Hours that power cuts may have cost, so far.
    pub(super) lost: Range,
}

/// The log between two instants that a time may mean.
pub(super) fn seen(radar: &Radar, time: Range) -> Seen {
    let points = &radar.log.points;
    let next_lo = points.partition_point(|point| hours(point.at.hi_ms) <= time.lo);
    let next_hi = points.partition_point(|point| hours(point.at.lo_ms) < time.hi);
    let before = next_lo.checked_sub(1).map(|last| &points[last]);
    let after = points.get(next_hi);
    let on = std::array::from_fn(|line| {
        let lo = before.map_or(0.0, |point| point.on_h[line]);
        let cone = after.map_or(lo, |point| point.on_h[line] - (hours(point.at.hi_ms) - time.lo));
        let reach = before.map_or(f64::INFINITY, |point| point.on_h[line] + time.hi - hours(point.at.lo_ms));
        let hi = after
            .map_or_else(|| points.last().map_or(0.0, |point| point.on_h[line]), |point| point.on_h[line]);
        Range { lo: lo.max(cone), hi: hi.min(reach).max(lo) }
    });
    let sum = |of: &dyn Fn(&Point) -> f64| {
        let until = |next: usize| points[..next.min(points.len())].iter().map(of).sum();
        Range { lo: until(next_lo), hi: until(next_hi + 1) }
    };
    Seen { on, dark: sum(&|point| point.dark_h), lost: sum(&|point| point.lost_h) }
}

/// One reading beside the log.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    pub(super) id: i64,
    pub(super) time: Range,
    pub(super) figure: f64,
    pub(super) seen: Seen,
}

/// How the offset may move between two readings.
#[derive(Clone, Copy, Debug)]
pub(super) enum Move {
    /// As it was, but for what the logger cannot have seen.
    Carry,
    /// As recorded, and by so much more or less as well.
    By(Range),
    /// The counter was set to nought when the lines' totals were these.
    Zeroed([Range; 4]),
    /// The counter was set to anything up to this.
    Set(f64),
}

/// The readings of one counter.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    pub(super) line: usize,
    pub(super) step_h: f64,
    pub(super) fed: bool,
    pub(super) marks: Vec<Mark>,
    /// The move before each reading, fittings as recorded.
    pub(super) moves: Vec<Move>,
    /// Recorded fittings of the counter's part: fitting, the reading after it, its time.
    pub(super) fits: Vec<(usize, usize, Range)>,
}

impl Chain {
    /// Of a radar's counter; readings of another source, and those of which nobody knows whether they came before or
    /// after a fitting, say nothing.
    pub(super) fn of(scenario: &Scenario, place: usize, line: usize) -> Chain {
        let radar = &scenario.facts.radars[place];
        let parts: Vec<&str> = radar
            .parts
            .iter()
            .filter(|part| part.ages_by == COUNTED[line])
            .map(|part| part.name.as_str())
            .collect();
        let fits = |fitting: &&Fitting| parts.contains(&fitting.part.as_str());
        // A zeroing may follow minutes later, or when the supply is back.
        let times: Vec<Range> = radar
            .fittings
            .iter()
            .filter(fits)
            .map(|fitting| Range::new(span(fitting.at).lo, span(fitting.at).hi + 1.0))
            .collect();
        let readings = radar.readings.iter().filter(|reading| reading.quantity == COUNTED[line]);
        let mut marks: Vec<Mark> = readings
            .filter(|reading| reading.source.as_ref().is_none_or(|source| *source == radar.name))
            .map(|reading| (reading, span(reading.at)))
            .filter(|(_, time)| times.iter().all(|fit| time.hi < fit.lo || fit.hi < time.lo))
            .map(|(reading, time)| Mark {
                id: reading.id,
                time,
                figure: reading.hours,
                seen: seen(radar, time),
            })
            .collect();
        marks.sort_by(|a, b| a.time.lo.total_cmp(&b.time.lo));
        let mut chain = Chain {
            line,
            step_h: radar.step_h,
            fed: radar.fed_from_radar,
            moves: vec![Move::Carry; marks.len()],
            marks,
            fits: Vec::new(),
        };
        let recorded = radar.fittings.iter().enumerate().filter(|(_, fitting)| fits(fitting));
        for ((which, fitting), time) in recorded.zip(times) {
            let next = chain.marks.partition_point(|mark| mark.time.lo < time.lo);
            chain.fits.push((which, next, time));
            if fitting.counter_zeroed && next < chain.marks.len() {
                chain.moves[next] = Move::Zeroed(seen(radar, time).on);
            }
        }
        chain
    }

    /// The reading after an instant.
    pub(super) fn after(&self, at: f64) -> usize {
        self.marks.partition_point(|mark| mark.time.hi < at)
    }

    /// How likely the readings are, as a logarithm up to a constant: with these moves, following a line at a ratio,
    /// figures standing for `units` hours each from a reading on, one reading left out.
    pub(super) fn likelihood(&self, told: &Told<'_>) -> f64 {
        let mut set: Option<Range> = None;
        let mut sum = 0.0;
        for at in 0..self.marks.len() {
            let mark = &self.marks[at];
            set = self.moved(set, at, told);
            if told.without == Some(at) {
                continue;
            }
            let (unit, from) = told.units.unwrap_or((1.0, usize::MAX));
            let unit = if at >= from { unit } else { 1.0 };
            let figure =
                told.figure.filter(|(which, _)| *which == at).map_or(mark.figure, |(_, other)| other);
            let shown = Range::new(figure * unit, (figure + self.step_h) * unit);
            let on = mark.seen.on[told.follows];
            let offset = Range::new(shown.lo - told.ratio * on.hi, shown.hi - told.ratio * on.lo);
            let left = set.map_or(offset, |set| set.meets(offset));
            if left.width() < 0.0 {
                return f64::NEG_INFINITY;
            }
            if let Some(set) = set {
                sum += ((left.width() + 1e-3) / (set.width() + 1e-3)).min(1.0).ln();
            }
            set = Some(left);
        }
        sum
    }

    fn moved(&self, set: Option<Range>, at: usize, told: &Told<'_>) -> Option<Range> {
        let before = &self.marks[at.checked_sub(1)?];
        let set = set?;
        let mark = &self.marks[at];
        let unlogged = mark.time.hi.min(0.0) - before.time.lo.min(0.0);
        let lost = mark.seen.lost.hi - before.seen.lost.lo;
        let dark = if self.fed { 0.0 } else { mark.seen.dark.hi - before.seen.dark.lo } + unlogged.max(0.0);
        // The logger's clock may run off by 100 parts in a million either way.
        let drift = 1e-4 * (mark.seen.on[told.follows].hi - before.seen.on[told.follows].lo).max(0.0);
        let free = Range::new(-drift, told.ratio * (dark + lost) + drift);
        let told_move = told.moves.get(at).copied().flatten();
        let (by, base) = match told_move {
            Some(Move::By(by)) => (by, self.moves[at]),
            Some(other) => (Range::new(0.0, 0.0), other),
            None => (Range::new(0.0, 0.0), self.moves[at]),
        };
        let on = |range: Range| Range::new(-told.ratio * range.hi, -told.ratio * range.lo);
        let since = match base {
            Move::Carry | Move::By(_) => set,
            Move::Zeroed(seen) => on(seen[told.follows]),
            Move::Set(most) => {
                let either = Range::new(before.seen.on[told.follows].lo, mark.seen.on[told.follows].hi);
                Range::new(on(either).lo, on(either).hi + most)
            }
        };
        Some(Range::new(since.lo + free.lo + by.lo, since.hi + free.hi + by.hi))
    }
}

/// An explanation, as it bears on one counter.
#[derive(Clone, Debug)]
pub(super) struct Told<'a> {
    pub(super) follows: usize,
    pub(super) ratio: f64,
    /// Moves that differ from the recorded ones.
    pub(super) moves: &'a [Option<Move>],
    /// What one unit of the figure is in hours, from which reading on.
    pub(super) units: Option<(f64, usize)>,
    pub(super) without: Option<usize>,
    pub(super) figure: Option<(usize, f64)>,
}

impl Told<'_> {
    /// Nothing is wrong.
    pub(super) fn nothing(line: usize) -> Told<'static> {
        Told { follows: line, ratio: 1.0, moves: &[], units: None, without: None, figure: None }
    }
}

/// Somewhere between the totals of two readings.
pub(super) fn anywhere(before: &Mark, after: &Mark) -> [Range; 4] {
    std::array::from_fn(|line| Range::new(before.seen.on[line].lo, after.seen.on[line].hi))
}

/// Pairs of neighbouring points.
pub(super) fn steps(points: &[Point]) -> impl Iterator<Item = (&Point, &Point)> {
    points.iter().zip(points.iter().skip(1))
}
