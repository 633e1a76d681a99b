//! In which stay each part is renewed. Pure: works, windows and a date in; a plan and its reasons out.
//!
//! ```text
//!  options   each work: which windows hold it, what each would cost on its own, why the others do not hold it
//!  units     each radar: the ways of spreading its works over their windows
//!  search    all radars: the best of all combinations, by assignment and by branch and bound
//!  answer    the plan in words: fallback, dates to ask for, date to order by, why not elsewhere
//! ```
//!
//! **What is best** is a [`Value`] of figures in whole steps, the earlier counting before all later: the chance that a limit passes
//! with no usable window left; both radars opened in one window; for a limit that passes, by how many days (so that what
//! is overdue is done at the first chance); isolations; life given up.
//!
//! **How it is found.** With one radar's works kept to their least chance of passing, radars meet in one point only: opening
//! two in one window. Where each opens in one window, that is an assignment with one free place in each window and dearer ones
//! beside it, solved exactly in polynomial time whatever the size. Where one must open in several, branch and bound goes
//! over the ways, bounded from below by what each remaining radar costs at least, and by the assignment. Two radars that
//! share a window must also fit into it one after the other; if the plan found does not, branch and bound goes over all ways.
//!
//! **What is small enough.** Branch and bound weighs at most [`WEIGHED_MAX`] ways, and of one radar at most 3,000,000 ways of
//! spreading its works are looked at (four works over forty windows), 100,000 where radars vie for room. That is far more than a
//! ship with two radars needs. Beyond it, the best plan found so far is given; the answer then says that it is not proven to be the
//! best (`exact` is false), and what no plan can undercut (`least`). The same question always gives the same answer: the bound is
//! on ways, not on time.

mod answer;
mod assign;
mod board;
mod chance;
mod fit;
mod options;
mod search;
mod units;
mod value;
mod words;

pub use answer::{Answer, Decision, Planned, Rejected, Stay, Worse};
pub use chance::Chance;
pub use fit::Why;
pub use search::WEIGHED_MAX;
pub use value::Value;
pub use words::percent;

use options::Options;

/// A stay in which work can be done. What nobody said of it is `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Window {
    /// When it likely begins (milliseconds since 1970 in UTC, as all instants here).
    pub from_ms: i64,
    /// When it likely ends.
    pub to_ms: i64,
    /// From then on the ship is surely there, if she comes.
    pub sure_from_ms: i64,
    /// Until then she surely is.
    pub sure_to_ms: i64,
    /// Where.
    pub place: String,
    /// Someone may go aloft there.
    pub aloft: bool,
    /// The set may transmit there.
    pub transmit: Option<bool>,
    /// A spare can be delivered there.
    pub deliver: Option<bool>,
    /// Hours of daylight in a day there, half of them before noon.
    pub daylight_h: Option<f64>,
    /// The noons of the stay by the ship's clock, those just before and behind it included; `None`: not known.
    pub noons_ms: Option<Vec<i64>>,
    /// The chance that the call happens, 0 to 1; `None` is taken as 1, since it was entered.
    pub chance: Option<f64>,
}

/// A spare aboard.
#[derive(Clone, Debug, PartialEq)]
pub struct Spare {
    /// Its serial.
    pub serial: String,
    /// From when.
    pub from_ms: i64,
}

/// A part to be renewed once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Work {
    /// Its radar. Parts of one radar are worked on under one isolation.
    pub radar: String,
    /// Its name.
    pub part: String,
    /// The serial fitted.
    pub serial: Option<String>,
    /// The office planner's own number.
    pub planner_id: Option<String>,
    /// How long the renewal takes, in hours, run-up included.
    pub work_h: Option<f64>,
    /// Someone must go to the scanner.
    pub needs_aloft: bool,
    /// How long a new one takes to come, in days.
    pub lead_time_days: Option<u32>,
    /// A spare, if one is aboard.
    pub spare: Option<Spare>,
    /// When its limit falls; unknown if nothing is known.
    pub due: Chance,
    /// Why it is unknown, as a sentence.
    pub no_date: Option<String>,
    /// How many hours a day it ages.
    pub use_h_per_day: Option<f64>,
}

/// What is to be planned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Problem {
    /// Now.
    pub as_of_ms: i64,
    /// Stays, in any order; those that have ended are passed over.
    pub windows: Vec<Window>,
    /// The parts of one ship.
    pub works: Vec<Work>,
}

impl Problem {
    /// The windows that have not ended.
    fn ahead(&self) -> impl Iterator<Item = usize> + '_ {
        let open = |(_, window): &(usize, &Window)| window.sure_to_ms.max(window.to_ms) > self.as_of_ms;
        self.windows.iter().enumerate().filter(open).map(|(at, _)| at)
    }

    /// The works of each radar.
    fn radars(&self) -> Vec<Vec<usize>> {
        let mut names: Vec<&str> = Vec::new();
        let mut radars: Vec<Vec<usize>> = Vec::new();
        for (at, work) in self.works.iter().enumerate() {
            match names.iter().position(|name| *name == work.radar) {
                Some(radar) => radars[radar].push(at),
                None => {
                    names.push(&work.radar);
                    radars.push(vec![at]);
                }
            }
        }
        radars
    }
}

/// Plans all works together.
#[must_use]
pub fn plan(problem: &Problem) -> Answer {
    let options: Vec<Options> = problem.works.iter().map(|work| Options::new(problem, work)).collect();
    let solution = search::solve(problem, &options);
    answer::answer(problem, &options, &solution)
}
