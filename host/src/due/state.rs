//! How urgent a part is.
//!
//! A state speaks about the worst that cannot be excluded, so it looks at the high end of the hours:
//!
//! | state     | hours (starts likewise)                  | months                           |
//! |-----------|------------------------------------------|----------------------------------|
//! | `overdue` | low at or above the limit: surely passed | the date is surely past          |
//! | `due`     | high at or above it: may be passed       | it may be past                   |
//! | `soon`    | high within `warn_h` of it, or one future in ten reaches it within `lead_time_days`         ||
//! | `ok`      | none of these                            |                                  |
//! | `unknown` | something is missing: the notes say what |                                  |
//!
//! A deferral makes a state of its own of them: [`deferral`](super::deferral).

use super::{Answer, Interval, Question};
use crate::timeline::dating::When;

/// How urgent a part is. The table above says when it is which.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Nothing to do.
    Ok,
    /// Order and plan.
    Soon,
    /// The limit may be passed.
    Due,
    /// The limit is passed.
    Overdue,
    /// The renewal is put off with leave, and the end of that is not reached.
    Deferred,
    /// Something is missing.
    Unknown,
}

impl State {
    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            State::Ok => "ok",
            State::Soon => "soon",
            State::Due => "due",
            State::Overdue => "overdue",
            State::Deferred => "deferred",
            State::Unknown => "unknown",
        }
    }
}

pub(super) fn state(
    asked: &Question,
    answer: &Answer,
    expiry: Option<When>,
    as_of_ms: i64,
    known: bool,
) -> State {
    if asked.line_doubted {
        return State::Unknown;
    }
    let starts_limit = asked.limit_starts.map(f64::from);
    let limits = [answer.hours.zip(asked.limit_h), answer.starts.zip(starts_limit)];
    let any =
        |test: &dyn Fn(Interval, f64) -> bool| limits.into_iter().flatten().any(|(now, at)| test(now, at));
    if any(&|now, at| now.low >= at) || expiry.is_some_and(|at| at.hi_ms <= as_of_ms) {
        return State::Overdue;
    }
    if any(&|now, at| now.high >= at) || expiry.is_some_and(|at| at.lo_ms <= as_of_ms) {
        return State::Due;
    }
    if !known {
        return State::Unknown;
    }
    let lead_ms = i64::from(asked.lead_time_days.unwrap_or(0)) * 86_400_000;
    let near = |at: Option<i64>| at.is_some_and(|at| at <= as_of_ms.saturating_add(lead_ms));
    let warned = answer
        .hours
        .zip(asked.limit_h)
        .is_some_and(|(now, limit_h)| now.high >= limit_h - asked.warn_h.unwrap_or(0.0));
    if warned || near(answer.forecast.p10_ms) || near(expiry.map(|at| at.lo_ms)) {
        State::Soon
    } else {
        State::Ok
    }
}
