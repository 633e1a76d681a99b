//! How the answer of `reconcile` looks.

mod json;
pub(super) mod text;
pub(super) mod words;

pub(in crate::output) use json::{Rate as JsonRate, rate as json_rate};
pub use json::{Reconcile as Json, json};
pub(in crate::output) use text::{RISES, rate, some};
pub use text::{text, told};

use crate::reconcile::{Finding, PartHours, Rate};
use crate::time::Moment;
use std::path::PathBuf;

/// The whole answer.
#[derive(Clone, Debug)]
pub struct Report {
    /// The ship's name.
    pub ship: String,
    /// Her folder, as it was named on the command line.
    pub folder: PathBuf,
    /// The date that it is for.
    pub as_of_ms: i64,
    /// Her radars.
    pub radars: Vec<Radar>,
}

/// What is said about one radar.
#[derive(Clone, Debug)]
pub struct Radar {
    /// Its name.
    pub name: String,
    /// Its parts.
    pub parts: Vec<PartHours>,
    /// What disagrees, worst first.
    pub items: Vec<Item>,
    /// Drop-outs per 100 transmit hours.
    pub drop_outs: Option<Rate>,
    /// Short warm-ups per 100 transmit hours.
    pub short_warm_ups: Option<Rate>,
    /// What is missing or was set aside, in sentences.
    pub notes: Vec<String>,
    /// Anything is there from its logger.
    pub has_log: bool,
    /// Anything was written down about it.
    pub has_papers: bool,
}

/// A finding, and what was said to it.
#[derive(Clone, Debug)]
pub struct Item {
    /// The finding.
    pub finding: Finding,
    /// By which an answer names it. It stays the same when more is known.
    pub key: String,
    /// Of its evidence. It changes with that.
    pub digest: String,
    /// Whether it was answered.
    pub state: State,
}

/// What became of a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// Nobody has answered it.
    Open,
    /// It was answered, but there is new evidence since.
    Reopened {
        /// What was answered then.
        text: String,
        /// When.
        at: Moment,
    },
    /// It is closed.
    Answered {
        /// What was found out.
        text: String,
        /// When.
        at: Moment,
    },
}

impl Item {
    /// Whether it is still there to be dealt with.
    #[must_use]
    pub fn is_open(&self) -> bool {
        !matches!(self.state, State::Answered { .. })
    }

    /// Whether it is open, and more than a question.
    #[must_use]
    pub fn wants_attention(&self) -> bool {
        self.is_open() && !self.finding.is_question
    }
}

#[cfg(test)]
mod tests;
