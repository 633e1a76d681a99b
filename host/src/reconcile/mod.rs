//! Which count is true, and why they differ. Pure: facts in, hours and findings out.
//!
//! ```text
//!  facts ──> log        how far each line moved between two instants          (log, moves)
//!        ──> counters   figures and fittings, sorted to the counter they are of (counters, counter)
//!        ──> chain      all histories of a counter, weighed                     (chain, events, slips, surprise, priors)
//!        ──> findings   what the likeliest history holds that no record does    (extract, breaches, isolations, dark, merge)
//!        ──> hours      what all sources leave for each part                    (account, sound, bounds)
//! ```
//! The model, its priors and a case worked by hand are in `docs/reconcile.md`.

mod account;
mod bounds;
mod breaches;
mod chain;
mod counter;
mod counters;
mod dark;
mod draft;
mod events;
mod extract;
mod facts;
mod finding;
mod isolations;
mod log;
mod merge;
mod moves;
mod order;
mod priors;
mod rates;
mod say;
mod slips;
mod sound;
mod surprise;

use draft::Draft;
pub use facts::{Facts, Fitting, Log, Part, Point, ROLES, Radar, Reading, Span, When, Work, place};
pub use finding::{Account, FactId, Finding, Instead, Interval, Kind, PartHours, Rate};

/// A lead of less than this makes a finding a question.
const LEAD: f64 = 0.2;
/// What is less likely than this is not reported.
const REPORTED: f64 = 0.2;

/// Sets a ship's sources against each other: one account a radar, in the order of the facts.
#[must_use]
pub fn reconcile(facts: &Facts) -> Vec<Account> {
    let watches: Vec<log::Watch> =
        facts.radars.iter().map(|radar| log::Watch::new(&radar.log).fed(radar.fed_from_radar)).collect();
    let told = counters::told(facts, &watches);
    let mut drafts = merge::merge(told.iter().flat_map(|one| extract::drafts(one, &told)).collect());
    for (at, watch) in watches.iter().enumerate() {
        breaches::look(facts, at, &mut drafts);
        isolations::look(facts, at, &mut drafts);
        dark::look(facts, at, watch, &told, &mut drafts);
    }
    merge::absorb_noted(&mut drafts);
    merge::absorb_zeroings(&mut drafts);
    let mut accounts = Vec::new();
    for (at, radar) in facts.radars.iter().enumerate() {
        let own = drafts.iter().filter(|draft| draft.radar == at && draft.probability >= REPORTED);
        let mut findings: Vec<Finding> = own.map(|draft| finding(radar, draft)).collect();
        findings.sort_by(|a, b| {
            severity(b).total_cmp(&severity(a)).then(a.from_ms.cmp(&b.from_ms)).then(a.kind.cmp(&b.kind))
        });
        accounts.push(Account {
            radar: radar.name.clone(),
            parts: account::parts(facts, at, &watches[at], &told, &drafts),
            findings,
            drop_outs: rates::rate(&radar.log, |point| point.drop_outs),
            short_warm_ups: rates::rate(&radar.log, |point| point.short_warm_ups),
        });
    }
    accounts
}

/// How bad a finding is: what can make the hours wrong from now on comes first.
fn severity(finding: &Finding) -> f64 {
    let weight = match finding.kind {
        Kind::Wiring => 8.0,
        Kind::LineDead | Kind::LineStuck | Kind::LineIntermittent => 7.0,
        Kind::CounterExchanged | Kind::ZeroedWithoutFitting | Kind::WorkUnrecorded => 6.0,
        Kind::FittedWithoutZeroing | Kind::RecordContradicted => 5.0,
        Kind::CountsOtherLine | Kind::CounterRate | Kind::CounterUnits => 4.0,
        Kind::DarkGap => 3.0,
        Kind::FittingMisdated => 2.0,
        Kind::Misread | Kind::ReadingsSwapped | Kind::ImpossibleReading => 1.0,
    };
    weight + finding.probability - if finding.facts.is_empty() { 0.0 } else { 0.001 }
}

fn finding(radar: &Radar, draft: &Draft) -> Finding {
    let part = radar.parts.iter().find(|part| Some(part.ages_by) == draft.line).map(|part| part.name.clone());
    let lead = draft.probability - draft.instead.map_or(0.0, |instead| instead.probability);
    Finding {
        kind: draft.kind,
        part,
        line: draft.line,
        from_ms: draft.from_ms,
        to_ms: draft.to_ms,
        probability: draft.probability,
        evidence: draft.evidence.clone(),
        instead: draft.instead,
        is_question: lead < LEAD || draft.provisional,
        advice: say::advice(draft),
        facts: draft.facts.clone(),
    }
}
