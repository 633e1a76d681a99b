//! For each work: where it can be done, and what doing it there or leaving it costs on its own.
//!
//! A work that is planned for a window goes to the next usable window if that call is cancelled, and so on. So for windows
//! 1, 2, .. in the order in which the work can begin there, with calls that happen with chances c1, c2, .. and a limit
//! that has passed by then with F1, F2, ..:
//!
//! ```text
//!  passed(n) = c(n) F(n) + (1 - c(n)) passed(n+1)        behind the last: F(horizon)
//! ```
//! A window late before the limit gives up little life but leaves no window behind it; the formula weighs that.
//!
//! The horizon: behind the last window entered nothing is known, and more windows will be. The ship is taken to go on as
//! entered, that is, without a usable window for as long as the longest wait for one so far. A work that no window entered
//! can hold has no horizon: its limit will pass.

use super::fit::{self, Load, Source, Usable, Why};
use super::value::Value;
use super::{Problem, Work};

/// A window in which a work can be done, or leaving it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Choice {
    /// `None`: in none of the windows entered.
    pub(super) window: Option<usize>,
    pub(super) ready_ms: i64,
    pub(super) source: Source,
    /// The chance that the limit passes before the work is done, later windows standing in for cancelled calls.
    pub(super) chance: f64,
    /// By how many days it then passes, on average over all that can be.
    pub(super) days_over: f64,
    /// Days of life left when it is done there.
    pub(super) days_left: f64,
    /// What of the plan's value is the work's own; not the radars opened and isolations.
    pub(super) cost: Value,
}

/// All choices of a work.
#[derive(Clone, Debug)]
pub(super) struct Options {
    /// By the time at which the work can begin; leaving it comes last.
    pub(super) choices: Vec<Choice>,
    /// The windows that cannot hold it, and why.
    pub(super) rejected: Vec<(usize, Vec<Why>)>,
}

impl Options {
    pub(super) fn new(problem: &Problem, work: &Work) -> Options {
        let mut rejected = Vec::new();
        let mut usable: Vec<(usize, Usable)> = Vec::new();
        for at in problem.ahead() {
            match fit::usable(&problem.windows, at, work, problem.as_of_ms) {
                Ok(found) => usable.push((at, found)),
                Err(why) => rejected.push((at, why)),
            }
        }
        if work.due.is_unknown() {
            // Without a date there is nothing to weigh.
            usable.clear();
        }
        usable.sort_by_key(|(at, found)| (found.ready_ms, *at));
        let horizon_ms = horizon_ms(problem, &usable);
        let left = Choice {
            window: None,
            ready_ms: horizon_ms,
            source: Source::Aboard,
            chance: if usable.is_empty() { work.due.ever() } else { work.due.before(horizon_ms) },
            days_over: work.due.days_over(horizon_ms),
            days_left: 0.0,
            cost: Value::NOTHING,
        };
        let mut choices = vec![left];
        for (at, Usable { ready_ms, source }) in usable.into_iter().rev() {
            let happens = problem.windows.get(at).and_then(|window| window.chance).unwrap_or(1.0);
            let later = choices.last().copied().unwrap_or(left);
            let weigh = |here: f64, else_: f64| happens * here + (1.0 - happens) * else_;
            choices.push(Choice {
                window: Some(at),
                ready_ms,
                source,
                chance: weigh(work.due.before(ready_ms), later.chance),
                days_over: weigh(work.due.days_over(ready_ms), later.days_over),
                days_left: work.due.days_left(ready_ms),
                cost: Value::NOTHING,
            });
        }
        // The one left stands first so far; the rest run from the latest to the earliest.
        choices.reverse();
        for choice in &mut choices {
            choice.cost = Value {
                chance_percent: (choice.chance * 100.0).round() as i64,
                days_over: choice.days_over.round() as i64,
                given_up_tenths: (given_up_h(work, choice) * 10.0).round() as i64,
                ..Value::NOTHING
            };
        }
        Options { choices, rejected }
    }

    /// What a choice takes of its window.
    pub(super) fn load(&self, work: &Work, radar: usize, choice: &Choice) -> Load {
        let work_ms = fit::hours_to_ms(work.work_h.unwrap_or(0.0));
        let aloft_ms = if work.needs_aloft { work_ms } else { 0 };
        Load { radar, ready_ms: choice.ready_ms, work_ms, aloft_ms }
    }
}

/// The life given up in hours. A part of which the use is not known is taken to run all the time, for comparing only.
fn given_up_h(work: &Work, choice: &Choice) -> f64 {
    choice.days_left * work.use_h_per_day.unwrap_or(24.0)
}

fn horizon_ms(problem: &Problem, usable: &[(usize, Usable)]) -> i64 {
    let last_ms =
        problem.ahead().filter_map(|at| problem.windows.get(at)).map(|window| window.sure_to_ms).max();
    let last_ms = last_ms.unwrap_or(problem.as_of_ms).max(problem.as_of_ms);
    if usable.is_empty() {
        return last_ms;
    }
    let mut longest_ms = 0;
    let mut before_ms = problem.as_of_ms;
    for at_ms in usable.iter().map(|(_, found)| found.ready_ms).chain([last_ms]) {
        longest_ms = longest_ms.max(at_ms.saturating_sub(before_ms));
        before_ms = at_ms;
    }
    last_ms.saturating_add(longest_ms)
}
