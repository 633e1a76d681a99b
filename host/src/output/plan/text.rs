//! The plan for people: a table to act on, then the reasons.

use super::{Beside, notes, pairs, why};
use crate::due::deferral::PutOff;
use crate::output::look;
use crate::output::screen::Screen;
use crate::output::stock;
use crate::output::table::{Sheet, printable};
use crate::plan::{Answer, Decision, Planned, Problem, Stay, Work, percent};
use crate::time;

/// A spare to be ordered within so many days is told first. As on the report.
const ORDER_AHEAD_MS: i64 = 60 * 86_400_000;
/// The words under every plan.
const SAFETY: &str = "Halfglass advises, it does not authorise: the maker's manual, the ship's safety management system and \
                      licensed persons come first. The isolated line is never proof of isolation.";

/// What comes first, a table to act on, then the reasons, then the spares.
#[must_use]
pub fn text(ship: &str, problem: &Problem, answer: &Answer, beside: &Beside<'_>, screen: Screen) -> String {
    let mut soonest_first: Vec<(&Work, &Planned)> = pairs(problem, answer).collect();
    soonest_first.sort_by_key(|(work, _)| work.due.by(0.5).unwrap_or(i64::MAX));
    let title = format!("{ship}, as of {} UTC", time::minute(problem.as_of_ms));
    let mut text = format!("{}\n", screen.paragraph(&title));
    let first = first(problem, &soonest_first);
    text.push_str(&first.iter().map(|line| look::bold(&screen.paragraph(line))).collect::<String>());
    text.push_str(&format!("\n{}\n\n", works(problem, &soonest_first, screen)));
    text.push_str(&screen.paragraph(
        "Passed first: the chance that the limit falls before the work is done, cancelled calls weighed. Given up: life left \
         at the renewal. Dates in UTC.",
    ));
    if !answer.exact {
        text.push('\n');
        text.push_str(&screen.paragraph(
            "There are too many ways to look at all of them: this is the best plan found, not proven to be the best.",
        ));
    }
    for (work, planned) in soonest_first {
        text.push_str(&format!("\n{}, {}:\n", printable(&work.radar), printable(&work.part)));
        let deferral = beside.put_off.get(planned.work).and_then(Option::as_ref).map(PutOff::note);
        // What is not needed yet needs no reasons either; programs get them all the same.
        let told = planned.rejected.iter().filter(|_| planned.decision != Decision::NotYet);
        let told = told.map(|rejected| {
            format!("Not {}, {}: {}.", rejected.place, time::date(rejected.from_ms), why(rejected))
        });
        text.push_str(&screen.notes(deferral.into_iter().chain(notes(problem, work, planned)).chain(told)));
    }
    text.push_str(&stock::text(beside.stock, &beside.stretch, screen));
    text.push('\n');
    text.push_str(&screen.paragraph(SAFETY));
    text
}

/// What the plan comes to: the next work and where it is done, stays to ask for, spares to order soon.
fn first(problem: &Problem, soonest_first: &[(&Work, &Planned)]) -> Vec<String> {
    let name = |work: &Work| format!("{} {}", work.radar, work.part);
    let mut told = Vec::new();
    let next =
        soonest_first.iter().filter_map(|(work, planned)| Some((work, planned, planned.window.as_ref()?)));
    if let Some((work, planned, stay)) = next.min_by_key(|(_, _, stay)| stay.from_ms) {
        let chance = planned
            .chance_passed
            .map_or_else(String::new, |chance| format!("; the limit falls first with {}", percent(chance)));
        told.push(format!("Next: renew the {} in {} UTC{chance}.", name(work), named(stay)));
    }
    for (work, planned) in soonest_first {
        if planned.decision == Decision::Ask
            && let Some(ask) = ask(planned)
        {
            told.push(format!("{}: no stay suits, {ask}.", name(work)));
        }
        let soon_ms = problem.as_of_ms.saturating_add(ORDER_AHEAD_MS);
        if let Some(by_ms) = planned.order_by_ms.filter(|by_ms| *by_ms <= soon_ms) {
            let when = if by_ms <= problem.as_of_ms {
                "at once".to_owned()
            } else {
                format!("by {}", time::date(by_ms))
            };
            told.push(format!("Order a spare {} {when}.", name(work)));
        }
    }
    if told.is_empty() {
        told.push(
            "Nothing is to be renewed in the stays entered so far, and no spare to be ordered soon."
                .to_owned(),
        );
    }
    told
}

/// The works, one a row; where that is too wide, several lines to a row.
fn works(problem: &Problem, soonest_first: &[(&Work, &Planned)], screen: Screen) -> String {
    let wide = soonest_first.iter().map(|(work, planned)| row(problem, work, planned));
    let heading = ["Radar", "Part", "Renew in", "If that fails", "Order by", "Passed first", "Given up"];
    let wide = Sheet::new(&heading, &["Passed first", "Given up"], wide.collect());
    let narrow = soonest_first.iter().map(|(work, planned)| stacked(problem, work, planned));
    let heading = ["Part", "Renew in", "If that fails", "Spare, limit, life"];
    let narrow = Sheet::stacked(&heading, &[], narrow);
    Sheet::first_that_fits(&[&wide, &narrow], screen)
}

/// When to ask for a stay.
fn ask(planned: &Planned) -> Option<String> {
    planned.ask_between.map(|(from_ms, to_ms)| {
        if to_ms <= from_ms {
            format!("ask for one at once, from {}", time::date(from_ms))
        } else {
            format!("ask for one, {} to {}", time::date(from_ms), time::date(to_ms))
        }
    })
}

fn stacked(problem: &Problem, work: &Work, planned: &Planned) -> Vec<Vec<String>> {
    let stay = |stay: &Stay| {
        let to = format!("to {}", time::minute(stay.to_ms));
        vec![stay.place.clone(), time::minute(stay.from_ms), to]
    };
    let cells = row(problem, work, planned);
    let (first, second) = match planned.decision {
        Decision::Planned => {
            let mut second = planned.fallback.as_ref().map(stay).unwrap_or_default();
            second.extend(ask(planned).into_iter().flat_map(|ask| asked(&ask)));
            (planned.window.as_ref().map(stay).unwrap_or_default(), second)
        }
        Decision::Ask => (ask(planned).map_or_else(|| vec!["-".to_owned()], |ask| asked(&ask)), Vec::new()),
        Decision::NotYet | Decision::Unknown => (vec![cells[2].clone()], Vec::new()),
    };
    let order =
        if planned.order_by_ms.is_some() { format!("order {}", when(&cells[4])) } else { cells[4].clone() };
    let mut figures = vec![order];
    figures.extend(planned.chance_passed.map(|chance| format!("passed: {}", percent(chance))));
    figures.extend(planned.given_up_h.map(|hours| format!("given up: {hours:.0} h")));
    vec![vec![work.radar.clone(), work.part.clone()], first, second, figures]
}

/// `at once`, or `by 2026-03-04`.
fn when(order: &str) -> String {
    if order == "at once" { order.to_owned() } else { format!("by {order}") }
}

/// What is asked for, in lines that are no wider than a stay's.
fn asked(ask: &str) -> Vec<String> {
    ask.split(", ")
        .map(str::to_owned)
        .flat_map(|half| match half.split_once(" to ") {
            Some((from, to)) => vec![from.to_owned(), format!("to {to}")],
            None => vec![half],
        })
        .collect()
}

fn row(problem: &Problem, work: &Work, planned: &Planned) -> Vec<String> {
    let dash = || "-".to_owned();
    let ask = ask(planned);
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
