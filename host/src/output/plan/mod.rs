//! How the answer of `plan` looks.

mod json;
mod text;

pub use json::{Plan as Json, json};
pub(in crate::output) use text::named;
pub use text::text;

use super::stock::{Kind, Stretch};
use crate::due::deferral::PutOff;
use crate::plan::{Answer, Decision, Planned, Problem, Rejected, Work, percent};
use crate::time;

/// What stands beside the plan.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'a> {
    /// Each work's deferral, if there is one.
    pub put_off: &'a [Option<PutOff>],
    /// The spares of each kind of part.
    pub stock: &'a [Kind],
    /// For how long they are reckoned.
    pub stretch: Stretch,
}

fn pairs<'a>(problem: &'a Problem, answer: &'a Answer) -> impl Iterator<Item = (&'a Work, &'a Planned)> {
    answer.works.iter().filter_map(|planned| Some((problem.works.get(planned.work)?, planned)))
}

fn why(rejected: &Rejected) -> String {
    let at = |at_ms: i64| format!("{} UTC", time::minute(at_ms));
    let cannot = rejected.cannot.iter().map(|why| why.clause(at));
    let worse = rejected.worse.as_ref().map(crate::plan::Worse::clause);
    cannot.chain(worse).collect::<Vec<_>>().join("; ")
}

/// What is to be known beside the figures.
pub(in crate::output) fn notes(problem: &Problem, work: &Work, planned: &Planned) -> Vec<String> {
    let mut notes = Vec::new();
    match planned.decision {
        Decision::Unknown => {
            let why = work.no_date.as_deref().unwrap_or("nothing says when it is due");
            notes.push(format!("There is no date to plan by. {why}"));
        }
        Decision::NotYet => notes.push(format!(
            "It is not needed in any stay entered so far: the limit falls with one chance in ten by {}.",
            work.due.by(0.1).map_or_else(|| "no date within sight".to_owned(), time::date)
        )),
        Decision::Ask if problem.windows.is_empty() => {
            notes.push("No stay is entered: `halfglass import windows FILE` brings them in.".to_owned());
        }
        Decision::Ask => notes.push("No stay entered so far suits.".to_owned()),
        Decision::Planned => {}
    }
    if !planned.joined_with.is_empty() {
        let parts = planned.joined_with.join(", ");
        notes.push(format!("Under one isolation with: {parts}. Their hours were added up."));
    }
    if planned.both {
        notes.push(
            "Both radars are opened in this stay: one after the other, the first proved before the second is opened."
                .to_owned(),
        );
    }
    if let Some(place) = &planned.delivered_at {
        notes.push(format!("The spare is to be delivered in {place}."));
    }
    if let Some(fallback) = planned.fallback.as_ref().filter(|fallback| fallback.passed_by_then >= 0.1) {
        let chance = percent(fallback.passed_by_then);
        notes.push(format!("By the fallback the limit has fallen with {chance}: ask for an earlier one."));
    }
    if work.spare.is_none() && work.lead_time_days.is_none() && planned.decision != Decision::Unknown {
        notes.push(
            "No spare is aboard, and no lead_time_days is entered: no date to order by can be given."
                .to_owned(),
        );
    }
    let stay = planned.window.as_ref().and_then(|stay| {
        problem.windows.iter().find(|window| window.from_ms == stay.from_ms && window.place == stay.place)
    });
    if let Some(window) = stay {
        if window.chance.is_none() {
            notes.push(format!("No chance is entered for {}: the call is taken as sure.", window.place));
        }
        if work.needs_aloft && window.noons_ms.is_none() && window.daylight_h.is_some_and(|h| h < 24.0) {
            notes.push(format!(
                "Look whether the stay in {} falls into daylight: the ship's clock there is not known \
                 (`halfglass import zones FILE`).",
                window.place
            ));
        }
    }
    notes
}
