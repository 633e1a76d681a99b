//! The plan for people: a table to act on, then the reasons.

use super::{Beside, notes, pairs, why};
use crate::due::deferral::PutOff;
use crate::output::stock;
use crate::output::table::{printable, table};
use crate::plan::{Answer, Decision, Planned, Problem, Stay, Work, percent};
use crate::time;

/// The words under every plan.
const SAFETY: &str = "\
Halfglass advises, it does not authorise: the maker's manual, the ship's safety management system and licensed persons
come first. The isolated line is never proof of isolation.
";

/// A table to act on, then the reasons, then the spares.
#[must_use]
pub fn text(ship: &str, problem: &Problem, answer: &Answer, beside: &Beside<'_>) -> String {
    let heading = ["Radar", "Part", "Renew in", "If that fails", "Order by", "Passed first", "Given up"];
    let rows: Vec<Vec<String>> =
        pairs(problem, answer).map(|(work, planned)| row(problem, work, planned)).collect();
    let mut text = format!("{}, as of {} UTC\n\n", printable(ship), time::minute(problem.as_of_ms));
    text.push_str(&table(&heading, &["Passed first", "Given up"], &rows));
    text.push_str(
        "\n\nPassed first: the chance that the limit falls before the work is done, cancelled calls weighed. Given up: \
         life left at\nthe renewal. Dates in UTC.\n",
    );
    if !answer.exact {
        text.push_str(
            "\nThere are too many ways to look at all of them: this is the best plan found, not proven to be the best.\n",
        );
    }
    for (work, planned) in pairs(problem, answer) {
        text.push_str(&format!("\n{}, {}:\n", printable(&work.radar), printable(&work.part)));
        let deferral = beside.put_off.get(planned.work).and_then(Option::as_ref).map(PutOff::note);
        for note in deferral.into_iter().chain(notes(problem, work, planned)) {
            text.push_str(&format!("  - {}\n", printable(&note)));
        }
        // What is not needed yet needs no reasons either; programs get them all the same.
        let told = planned.rejected.iter().filter(|_| planned.decision != Decision::NotYet);
        for rejected in told {
            let place = printable(&rejected.place);
            text.push_str(&format!(
                "  - Not {place}, {}: {}.\n",
                time::date(rejected.from_ms),
                why(rejected)
            ));
        }
    }
    text.push_str(&stock::text(beside.stock, &beside.stretch));
    text.push('\n');
    text.push_str(SAFETY);
    text
}

fn row(problem: &Problem, work: &Work, planned: &Planned) -> Vec<String> {
    let dash = || "-".to_owned();
    let ask = planned.ask_between.map(|(from_ms, to_ms)| {
        if to_ms <= from_ms {
            format!("ask for one at once, from {}", time::date(from_ms))
        } else {
            format!("ask for one, {} to {}", time::date(from_ms), time::date(to_ms))
        }
    });
    let (first, second) = match planned.decision {
        Decision::Planned => {
            let fallback = planned.fallback.as_ref().map(named).into_iter().chain(ask);
            (planned.window.as_ref().map_or_else(dash, named), fallback.collect::<Vec<_>>().join("; "))
        }
        Decision::NotYet => ("not yet".to_owned(), dash()),
        Decision::Ask => (ask.unwrap_or_else(dash), dash()),
        Decision::Unknown => ("not known".to_owned(), dash()),
    };
    let order = match (planned.order_by_ms, &work.spare) {
        (Some(by_ms), _) if by_ms <= problem.as_of_ms => "at once".to_owned(),
        (Some(by_ms), _) => time::date(by_ms),
        (None, Some(spare)) => format!("{} aboard", spare.serial),
        (None, None) => dash(),
    };
    vec![
        work.radar.clone(),
        work.part.clone(),
        first,
        second,
        order,
        planned.chance_passed.map_or_else(dash, percent),
        planned.given_up_h.map_or_else(dash, |hours| format!("{hours:.0} h")),
    ]
}

pub(in crate::output) fn named(stay: &Stay) -> String {
    format!("{}, {} to {}", stay.place, time::minute(stay.from_ms), time::minute(stay.to_ms))
}
