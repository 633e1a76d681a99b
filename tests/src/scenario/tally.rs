//! Counts of what became of events, findings and hours.

use halfglass::reconcile::Kind;
use std::collections::BTreeMap;

/// Bins of probability, by their lower ends.
pub const BINS: [f64; 8] = [0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99];

/// What became of one kind.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// Events.
    pub planted: u32,
    /// Events whose evidence exists.
    pub evident: u32,
    /// Of those with evidence: found.
    pub found: u32,
    /// Of those with evidence: found, but as a question.
    pub asked: u32,
    /// Events without evidence that were found all the same.
    pub lucky: u32,
    /// Findings of this kind that are no questions.
    pub reported: u32,
    /// Of those: right.
    pub right: u32,
    /// Of those that are wrong: at an event without evidence.
    pub excused: u32,
}

/// What became of parts' hours.
#[derive(Clone, Debug, Default)]
pub struct Parts {
    /// Parts with a recorded fitting.
    pub all: u32,
    /// Not answered.
    pub unanswered: u32,
    /// The truth lies inside.
    pub inside: u32,
    /// Widths, in hours.
    pub widths_h: Vec<f64>,
    /// Of parts put in since the logger was, whose line it sees.
    pub logged_widths_h: Vec<f64>,
    /// Errors of the best figure, in hours.
    pub errors_h: Vec<f64>,
    /// Errors of 'the radar's last reading'.
    pub radar_errors_h: Vec<f64>,
    /// Errors of 'the logger alone'.
    pub logger_errors_h: Vec<f64>,
}

/// All counts of a mode.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Ships.
    pub ships: u32,
    /// Years that their loggers ran.
    pub years: f64,
    /// By kind.
    pub rows: BTreeMap<Kind, Row>,
    /// Right and all findings, by probability.
    pub bins: [(u32, u32); BINS.len()],
    /// True kind, reported kind: how often. `None`: nothing.
    pub confusion: BTreeMap<(Option<Kind>, Option<Kind>), u32>,
    /// True kind, kind of another finding beside it: how often.
    pub beside: BTreeMap<(Kind, Kind), u32>,
    /// Findings where nothing is wrong, questions too.
    pub false_all: u32,
    /// Findings that are neither right nor wrong: dark time that nothing narrows, short isolations.
    pub moot: u32,
    /// Parts' hours.
    pub parts: Parts,
    /// Cases to look at: the ship's number and what is wrong.
    pub misses: Vec<(u64, String)>,
}

impl Tally {
    /// Adds another's counts.
    pub fn add(&mut self, other: Tally) {
        self.ships += other.ships;
        self.years += other.years;
        for (kind, row) in other.rows {
            let own = self.rows.entry(kind).or_default();
            own.planted += row.planted;
            own.evident += row.evident;
            own.found += row.found;
            own.asked += row.asked;
            own.lucky += row.lucky;
            own.reported += row.reported;
            own.right += row.right;
            own.excused += row.excused;
        }
        for (own, other) in self.bins.iter_mut().zip(other.bins) {
            own.0 += other.0;
            own.1 += other.1;
        }
        for (pair, many) in other.confusion {
            *self.confusion.entry(pair).or_default() += many;
        }
        for (pair, many) in other.beside {
            *self.beside.entry(pair).or_default() += many;
        }
        self.false_all += other.false_all;
        self.moot += other.moot;
        let (parts, more) = (&mut self.parts, other.parts);
        parts.all += more.all;
        parts.unanswered += more.unanswered;
        parts.inside += more.inside;
        parts.widths_h.extend(more.widths_h);
        parts.logged_widths_h.extend(more.logged_widths_h);
        parts.errors_h.extend(more.errors_h);
        parts.radar_errors_h.extend(more.radar_errors_h);
        parts.logger_errors_h.extend(more.logger_errors_h);
        self.misses.extend(other.misses);
    }
}
