//! The plan as people need it: where, where else, by when to ask, by when to order, and why not elsewhere.

use super::fit::{Source, Why, hours_to_ms};
use super::options::{Choice, Options};
use super::search::{Solution, worth};
use super::value::Value;
use super::{Problem, Window, Work};

const DAY_MS: i64 = 86_400_000;

/// A fallback that comes when the limit has fallen with this probability is none to rely on, and a window is asked for
/// that lies before: one in ten.
const LATE: f64 = 0.1;

/// No stay is asked for so far behind the last one entered: our own choice, since nobody plans years ahead.
const FAR_DAYS: i64 = 365;

/// The plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// One for each work, in the order in which they were given.
    pub works: Vec<Planned>,
    /// What it is worth.
    pub value: Value,
    /// No plan is worth less than this. The same as `value`, or as near to it as is known.
    pub least: Value,
    /// It is proven that no plan is better.
    pub exact: bool,
}

/// What is to be done about a work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// Do it in the window.
    Planned,
    /// It is not needed in any window entered so far.
    NotYet,
    /// No window entered suits: ask for one.
    Ask,
    /// There is no date to plan by.
    Unknown,
}

impl Decision {
    /// All of them.
    pub const ALL: [Decision; 4] = [Decision::Planned, Decision::NotYet, Decision::Ask, Decision::Unknown];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Decision::Planned => "planned",
            Decision::NotYet => "not-yet",
            Decision::Ask => "ask",
            Decision::Unknown => "unknown",
        }
    }
}

/// A window of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Stay {
    /// When it likely begins.
    pub from_ms: i64,
    /// When it likely ends.
    pub to_ms: i64,
    /// Where.
    pub place: String,
    /// The chance that the limit has passed by then.
    pub passed_by_then: f64,
}

/// A window that was not taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Rejected {
    /// Where.
    pub place: String,
    /// When it likely begins.
    pub from_ms: i64,
    /// Why it cannot hold the work; empty if it could.
    pub cannot: Vec<Why>,
    /// Why it was not taken although it could.
    pub worse: Option<Worse>,
}

/// What would be worse in a window that was not taken: the first figure of the plan's value that changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Worse {
    /// The chance that the limit passes: there, and as planned.
    Chance(f64, f64),
    /// Both radars would be opened there.
    Both,
    /// The limit would be passed for so many days more.
    DaysOver(f64),
    /// The radar would be isolated once more.
    Isolation,
    /// So many hours of life more would be given up, if the use is known.
    GivenUp(Option<f64>),
    /// The window does not hold it together with what is planned there.
    NoRoom,
    /// Nothing: it would do as well.
    Nothing,
}

/// The plan of one work.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// Its index among the works.
    pub work: usize,
    /// What is to be done.
    pub decision: Decision,
    /// Where it is to be done.
    pub window: Option<Stay>,
    /// Where else, should that call be cancelled.
    pub fallback: Option<Stay>,
    /// Between which instants to ask for a window, if one is missing.
    pub ask_between: Option<(i64, i64)>,
    /// The chance that the limit passes before the work is done; `None` without a date.
    pub chance_passed: Option<f64>,
    /// Other parts of the same radar renewed in the same window.
    pub joined_with: Vec<String>,
    /// Another radar is opened in the same window.
    pub both: bool,
    /// Where the spare is delivered, if none is aboard.
    pub delivered_at: Option<String>,
    /// When a spare must be ordered, if none is aboard and the lead time is known.
    pub order_by_ms: Option<i64>,
    /// Hours of life left at the renewal, as far as the use is known.
    pub given_up_h: Option<f64>,
    /// The windows not taken, by time.
    pub rejected: Vec<Rejected>,
}

pub(super) fn answer(problem: &Problem, options: &[Options], solution: &Solution) -> Answer {
    let write = Writer { problem, options, solution, radars: problem.radars() };
    let works = (0..problem.works.len()).filter_map(|at| write.planned(at)).collect();
    let least = if solution.exact { solution.value } else { solution.least };
    Answer { works, value: solution.value, least, exact: solution.exact }
}

struct Writer<'a> {
    problem: &'a Problem,
    options: &'a [Options],
    solution: &'a Solution,
    radars: Vec<Vec<usize>>,
}

impl Writer<'_> {
    fn planned(&self, at: usize) -> Option<Planned> {
        let (work, own) = (self.problem.works.get(at)?, self.options.get(at)?);
        let pick = *self.solution.picks.get(at)?;
        let choice = own.choices.get(pick)?;
        let usable = own.choices.len() > 1;
        let decision = match choice.window {
            Some(_) => Decision::Planned,
            None if work.due.is_unknown() => Decision::Unknown,
            None if usable && choice.cost.chance_percent == 0 => Decision::NotYet,
            None if !usable && work.due.before(self.far_ms()) < LATE => Decision::NotYet,
            None => Decision::Ask,
        };
        let fallback =
            own.choices.get(pick + 1).filter(|next| choice.window.is_some() && next.window.is_some());
        let known = decision != Decision::Unknown;
        let ask_between = self.ask(work, decision, choice, fallback);
        Some(Planned {
            work: at,
            decision,
            window: self.stay(work, choice),
            fallback: fallback.and_then(|next| self.stay(work, next)),
            ask_between,
            // What no window holds has no horizon of its own.
            chance_passed: known.then(|| match decision {
                Decision::NotYet if !usable => work.due.before(self.far_ms()),
                _ => choice.chance,
            }),
            joined_with: self.beside(at, choice, true),
            both: !self.beside(at, choice, false).is_empty(),
            delivered_at: match choice.source {
                Source::Delivered(window) => self.problem.windows.get(window).map(|w| w.place.clone()),
                Source::Aboard => None,
            },
            order_by_ms: self.order_by(work, decision, choice, ask_between),
            given_up_h: choice.window.and(work.use_h_per_day).map(|hours| hours * choice.days_left),
            rejected: self.rejected(at, work, own, pick, decision),
        })
    }

    /// Behind it nobody asks for a stay yet.
    fn far_ms(&self) -> i64 {
        let ends = self.problem.windows.iter().map(|window| window.to_ms);
        ends.fold(self.problem.as_of_ms, i64::max).saturating_add(FAR_DAYS * DAY_MS)
    }

    fn stay(&self, work: &Work, choice: &Choice) -> Option<Stay> {
        let Window { from_ms, to_ms, place, .. } = self.problem.windows.get(choice.window?)?;
        let passed_by_then = work.due.before(choice.ready_ms);
        Some(Stay { from_ms: *from_ms, to_ms: *to_ms, place: place.clone(), passed_by_then })
    }

    /// Parts that are renewed in the same window, of the same radar or of others.
    fn beside(&self, at: usize, choice: &Choice, same: bool) -> Vec<String> {
        let Some(own) = self.problem.works.get(at) else { return Vec::new() };
        let works = self.problem.works.iter().enumerate().filter(|(other, work)| {
            let theirs = || self.options.get(*other)?.choices.get(*self.solution.picks.get(*other)?)?.window;
            *other != at
                && (work.radar == own.radar) == same
                && choice.window.is_some()
                && theirs() == choice.window
        });
        works.map(|(_, work)| work.part.clone()).collect()
    }

    /// From when a window would help, and by when the work must begin for the limit to hold in nine of ten cases.
    fn ask(
        &self,
        work: &Work,
        decision: Decision,
        choice: &Choice,
        fallback: Option<&Choice>,
    ) -> Option<(i64, i64)> {
        let late = |choice: &Choice| work.due.before(choice.ready_ms) >= LATE;
        let wanted = match decision {
            Decision::Ask => true,
            Decision::Planned => fallback.is_none_or(late),
            Decision::NotYet | Decision::Unknown => false,
        };
        let by_ms = work.due.by(LATE).or_else(|| work.due.by(0.0)).filter(|_| wanted)?;
        let from_ms = self.spare_ready_ms(work);
        let to_ms = by_ms.saturating_sub(hours_to_ms(work.work_h.unwrap_or(0.0)));
        // A second window for a work that is planned helps most behind the first.
        let behind_ms = choice.window.and_then(|at| self.problem.windows.get(at)).map(|window| window.to_ms);
        let from_ms = behind_ms.filter(|behind_ms| *behind_ms < to_ms).map_or(from_ms, |at| at.max(from_ms));
        Some((from_ms, to_ms.max(from_ms)))
    }

    /// When a spare can be aboard.
    fn spare_ready_ms(&self, work: &Work) -> i64 {
        let as_of_ms = self.problem.as_of_ms;
        match (&work.spare, work.lead_time_days) {
            (Some(spare), _) => spare.from_ms.max(as_of_ms),
            (None, Some(days)) => as_of_ms.saturating_add(i64::from(days) * DAY_MS),
            (None, None) => as_of_ms,
        }
    }

    fn order_by(
        &self,
        work: &Work,
        decision: Decision,
        choice: &Choice,
        ask: Option<(i64, i64)>,
    ) -> Option<i64> {
        let needed_ms = match (decision, choice.source, choice.window) {
            (Decision::Unknown, ..) => None,
            // As late as it can still come into that window without keeping the work waiting longer than it must.
            (_, Source::Delivered(at), Some(_)) => {
                let window = self.problem.windows.get(at);
                window.map(|window| window.sure_from_ms.max(self.spare_ready_ms(work)))
            }
            (_, Source::Aboard, Some(_)) => None,
            _ if work.spare.is_some() => None,
            (Decision::Ask, ..) => ask.map(|(_, to_ms)| to_ms),
            _ => work.due.by(LATE),
        }?;
        Some(needed_ms.saturating_sub(i64::from(work.lead_time_days?) * DAY_MS))
    }

    fn rejected(
        &self,
        at: usize,
        work: &Work,
        own: &Options,
        pick: usize,
        decision: Decision,
    ) -> Vec<Rejected> {
        let mut rejected: Vec<Rejected> = Vec::new();
        let mut add = |window: usize, cannot: Vec<Why>, worse: Option<Worse>| {
            if let Some(Window { from_ms, place, .. }) = self.problem.windows.get(window) {
                rejected.push(Rejected { place: place.clone(), from_ms: *from_ms, cannot, worse });
            }
        };
        if decision != Decision::Unknown {
            for (window, why) in &own.rejected {
                add(*window, why.clone(), None);
            }
        }
        if decision == Decision::Planned {
            for (other, choice) in own.choices.iter().enumerate().filter(|(other, _)| *other != pick) {
                if let Some(window) = choice.window {
                    add(window, Vec::new(), Some(self.worse(at, work, own, pick, other)));
                }
            }
        }
        rejected.sort_by(|a, b| a.from_ms.cmp(&b.from_ms).then_with(|| a.place.cmp(&b.place)));
        rejected
    }

    /// What would be worse if this work alone were done elsewhere.
    fn worse(&self, at: usize, work: &Work, own: &Options, pick: usize, other: usize) -> Worse {
        let mut picks = self.solution.picks.clone();
        if let Some(pick) = picks.get_mut(at) {
            *pick = other;
        }
        let Some(there) = worth(self.problem, self.options, &self.radars, &picks) else {
            return Worse::NoRoom;
        };
        let (Some(planned), Some(choice)) = (own.choices.get(pick), own.choices.get(other)) else {
            return Worse::Nothing;
        };
        let more = there - self.solution.value;
        if more.chance_percent != 0 {
            Worse::Chance(choice.chance, planned.chance)
        } else if more.both != 0 {
            Worse::Both
        } else if more.days_over != 0 {
            Worse::DaysOver(choice.days_over - planned.days_over)
        } else if more.isolations != 0 {
            Worse::Isolation
        } else if more.given_up_tenths != 0 {
            let days = choice.days_left - planned.days_left;
            Worse::GivenUp(work.use_h_per_day.map(|hours| hours * days))
        } else {
            Worse::Nothing
        }
    }
}
