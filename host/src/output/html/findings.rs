//! Findings as pages show them, numbered through from the worst radar's worst on.

use super::book::Book;
use super::words::shown;
use crate::output::reconcile::{Item, State, text, words};
use crate::reconcile::FactId;
use crate::time;
use std::collections::BTreeMap;

/// An open finding.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Finding {
    pub(super) number: usize,
    pub(super) radar: String,
    pub(super) title: String,
    pub(super) kind: &'static str,
    pub(super) is_question: bool,
    pub(super) when: String,
    pub(super) how_sure: String,
    pub(super) evidence: Vec<String>,
    pub(super) instead: Option<String>,
    pub(super) advice: String,
    pub(super) reopened: Option<String>,
    /// The command that answers it.
    pub(super) command: String,
    /// The part whose hours it touches, as in ship.toml.
    pub(super) part: Option<String>,
}

/// A finding that was answered.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Answered {
    pub(super) radar: String,
    pub(super) title: String,
    pub(super) on: String,
    pub(super) text: String,
}

/// Findings and answers of a ship.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Findings {
    pub(super) open: Vec<Finding>,
    pub(super) answered: Vec<Answered>,
    /// Which open finding rests on a fact.
    pub(super) numbers: BTreeMap<FactId, usize>,
}

/// All of them. Within a radar they come worst first; findings come before questions.
pub(super) fn all(book: &Book) -> Findings {
    let mut findings = Findings::default();
    for asked in [false, true] {
        for radar in &book.reconciled.radars {
            for item in radar.items.iter().filter(|item| item.is_open() && item.finding.is_question == asked)
            {
                let number = findings.open.len() + 1;
                for fact in &item.finding.facts {
                    findings.numbers.entry(*fact).or_insert(number);
                }
                findings.open.push(open(book, &radar.name, item, number));
            }
        }
    }
    for radar in &book.reconciled.radars {
        for item in &radar.items {
            if let State::Answered { text, at } = &item.state {
                findings.answered.push(Answered {
                    radar: shown(&radar.name),
                    title: shown(&words::title(&item.finding)),
                    on: time::date(at.best_ms()),
                    text: shown(text),
                });
            }
        }
    }
    findings
}

fn open(book: &Book, radar: &str, item: &Item, number: usize) -> Finding {
    let finding = &item.finding;
    let title =
        if finding.is_question { words::question(finding) } else { format!("{}.", words::title(finding)) };
    Finding {
        number,
        radar: shown(radar),
        title: shown(&title),
        kind: finding.kind.name(),
        is_question: finding.is_question,
        when: text::when(finding.from_ms, finding.to_ms),
        how_sure: words::how_sure(finding.probability),
        evidence: finding.evidence.iter().map(|sentence| shown(sentence)).collect(),
        instead: finding.instead.map(words::otherwise),
        advice: shown(&finding.advice),
        reopened: match &item.state {
            State::Reopened { text, at } => Some(format!(
                "On {} UTC it was answered: {}. There is new evidence since.",
                at.minute(),
                shown(text)
            )),
            _ => None,
        },
        command: shown(&text::answer(&book.reconciled, item)),
        part: finding.part.clone(),
    }
}
