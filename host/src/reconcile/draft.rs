//! A finding in the making.

use super::finding::{FactId, Instead, Kind};
use halfglass_protocol::config::Role;

/// Whose clock is off, where a counter and the logger run at a steady ratio.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// The counter's.
    Counter,
    /// The logger's.
    Logger,
    /// Nobody says.
    Open,
}

/// A finding in the making.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    /// What it is.
    pub(super) kind: Kind,
    /// In which radar.
    pub(super) radar: usize,
    /// About which line or counter.
    pub(super) line: Option<Role>,
    /// Not before.
    pub(super) from_ms: i64,
    /// Not after.
    pub(super) to_ms: i64,
    /// How likely.
    pub(super) probability: f64,
    /// The figures that say so.
    pub(super) evidence: Vec<String>,
    /// The next-best explanation.
    pub(super) instead: Option<Instead>,
    /// It rests on a last reading alone.
    pub(super) provisional: bool,
    /// The fitting that it is about.
    pub(super) fitting: Option<i64>,
    /// On what it rests.
    pub(super) facts: Vec<FactId>,
    /// The line that the counter follows instead of its own.
    pub(super) follows: Option<Role>,
    /// At which ratio the counter runs, and whose clock that speaks against.
    pub(super) ratio: Option<(f64, Whose)>,
    /// When the counter stood at zero, if it went on from there.
    pub(super) from_zero_ms: Option<(i64, i64)>,
    /// For swapped figures: the other counter and figure.
    pub(super) partner: Option<(usize, usize)>,
}

impl Draft {
    /// One without evidence yet.
    pub(super) fn new(kind: Kind, radar: usize, line: Option<Role>, from_ms: i64, to_ms: i64) -> Draft {
        Draft {
            kind,
            radar,
            line,
            from_ms,
            to_ms,
            probability: 0.0,
            evidence: Vec::new(),
            instead: None,
            provisional: false,
            fitting: None,
            facts: Vec::new(),
            follows: None,
            ratio: None,
            from_zero_ms: None,
            partner: None,
        }
    }
}
