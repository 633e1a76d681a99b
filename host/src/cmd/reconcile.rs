//! `halfglass reconcile`: which count is true, and why sources differ.

use super::Outcome;
use super::door::{AsOf, Asked, Beside, Reconciled, Told};
use crate::Result;
use crate::output;
use crate::output::reconcile::{Item, Report, State};
use crate::output::screen::Screen;
use crate::reconcile::{self, Account, FactId, Finding, Kind};
use crate::ship::facts::Answer;
use crate::store::Kept;
use crate::time;
use halfglass_protocol::config::Role;
use halfglass_protocol::crc32;
use std::path::Path;

/// Arguments of `reconcile`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass reconcile
  halfglass reconcile --as-of 2026-03-01T00:00+00:00   as it stood then: later facts are not seen
  halfglass reconcile --json                           for programs; `halfglass schema reconcile` describes it
  halfglass reconcile --check || echo look at it       exit code 1 if a finding is open

A finding is closed by recording what is true (a fitting, a correction, a work) or by an answer, with the
command that stands under it. An answered finding stays closed until there is new evidence. Questions
(no explanation leads by enough, or all rests on a last reading) do not count for --check.")]
pub struct Args {
    /// The date to answer for
    #[command(flatten)]
    pub as_of: AsOf,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// Exit with code 1 if a finding is open that is more than a question
    #[arg(long)]
    pub check: bool,
}

/// Runs it.
///
/// # Errors
/// The ship folder cannot be read, or the date is no date.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let asked = Asked::open(ship, &args.as_of)?;
    let Reconciled { told, accounts } = asked.reconciled()?;
    let report = report(ship, &asked, accounts, &told);
    if args.json {
        output::print(&output::reconcile::json(&report))?;
    } else {
        output::print_text(&output::reconcile::text(&report, Screen::of_stdout()))?;
    }
    let open = report.radars.iter().flat_map(|radar| &radar.items).any(Item::wants_attention);
    Ok(if args.check && open { Outcome::Findings } else { Outcome::Fine })
}

/// Accounts with what the door knows beside them.
pub(super) fn report(ship: &Path, asked: &Asked, accounts: Vec<Account>, told: &Told) -> Report {
    let both = accounts.into_iter().zip(&told.beside).zip(&told.facts.radars);
    let radars =
        both.map(|((account, beside), facts)| radar(account, beside, facts, &told.kept.answers)).collect();
    Report { ship: asked.settings.ship.clone(), folder: ship.to_path_buf(), as_of_ms: asked.as_of_ms, radars }
}

/// An account with what the door knows beside it: wiring, and which findings are answered.
fn radar(
    mut account: Account,
    beside: &Beside,
    facts: &reconcile::Radar,
    answers: &[Kept<Answer>],
) -> output::reconcile::Radar {
    let mut notes = beside.notes.clone();
    let log_from_ms = facts.log.points.first().map_or(0, |point| point.at.lo_ms);
    for disagreement in &beside.wiring {
        let sentence = format!("{}.", disagreement.sentence);
        let known = account
            .findings
            .iter_mut()
            .find(|finding| finding.kind == Kind::Wiring && finding.line == Some(disagreement.role));
        match known {
            Some(finding) => finding.evidence.push(sentence),
            None => account.findings.insert(0, wired_otherwise(disagreement.role, sentence, log_from_ms)),
        }
    }
    notes.dedup();
    let items = account.findings.into_iter().map(|finding| {
        let (key, digest) = identity(&account.radar, &finding, beside);
        let about = || answers.iter().map(|kept| &kept.fact).filter(|answer| answer.finding == key);
        let state = match (about().rfind(|answer| answer.evidence == digest), about().next_back()) {
            (Some(answer), _) => State::Answered { text: answer.text.clone(), at: answer.at },
            (None, Some(answer)) => State::Reopened { text: answer.text.clone(), at: answer.at },
            (None, None) => State::Open,
        };
        Item { finding, key, digest, state }
    });
    output::reconcile::Radar {
        items: items.collect(),
        name: account.radar,
        parts: account.parts,
        drop_outs: account.drop_outs,
        short_warm_ups: account.short_warm_ups,
        notes,
        has_log: !facts.log.points.is_empty(),
        has_papers: !facts.readings.is_empty() || !facts.fittings.is_empty(),
    }
}

fn wired_otherwise(role: Role, sentence: String, log_from_ms: i64) -> Finding {
    Finding {
        kind: Kind::Wiring,
        part: None,
        line: Some(role),
        from_ms: log_from_ms,
        to_ms: log_from_ms,
        // Both are written down: that they differ is no conjecture.
        probability: 1.0,
        evidence: vec![sentence],
        instead: None,
        is_question: false,
        advice: "Look at the terminals, then put right whichever of the two is wrong.".to_owned(),
        facts: Vec::new(),
    }
}

/// What finds a finding again when more is known, and what its evidence was.
///
/// - The key: radar, kind, line, and the first fact that it rests on. A finding about how a counter always counts has
///   no first fact: readings that say the same again are no news of it.
/// - The digest changes with the facts that the finding rests on. One that rests on the log alone is news again when it
///   goes on into another month.
fn identity(radar: &str, finding: &Finding, beside: &Beside) -> (String, String) {
    let standing = matches!(finding.kind, Kind::CountsOtherLine | Kind::CounterRate | Kind::CounterUnits);
    let mut facts: Vec<FactId> = if standing { Vec::new() } else { finding.facts.clone() };
    facts.sort_unstable();
    facts.dedup();
    // What is about a fitting is found again by that; the readings around it may become other ones.
    let fitting = facts.iter().position(|fact| matches!(fact, FactId::Fitting(_)));
    let about_fitting =
        matches!(finding.kind, Kind::FittedWithoutZeroing | Kind::RecordContradicted | Kind::FittingMisdated);
    if let Some(at) = fitting.filter(|_| about_fitting) {
        facts[..=at].rotate_right(1);
    }
    let named: Vec<String> = facts.iter().map(|fact| name_of(*fact, beside)).collect();
    let line = finding.line.map_or("all", |role| role.name());
    let first = match named.first() {
        Some(first) => first.clone(),
        None if standing => "always".to_owned(),
        None => time::date(finding.from_ms),
    };
    let mut evidence = named.join(" ");
    if named.is_empty() && !standing {
        evidence = time::date(finding.to_ms).chars().take("2026-03".len()).collect();
    }
    // Shown on a command line: nothing in it may mean something to a shell.
    let plain = |text: &str| -> String {
        text.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' }).collect()
    };
    let key = format!("{}/{}/{line}/{first}", plain(radar), finding.kind.name());
    let digest = crc32::of(format!("{radar}\n{key}\n{evidence}").as_bytes());
    (key, format!("{digest:08x}"))
}

/// A fact as it is called in keys: by what never changes.
fn name_of(fact: FactId, beside: &Beside) -> String {
    match fact {
        FactId::Reading(id) => format!("reading-{id}"),
        FactId::Fitting(id) => format!("fitting-{id}"),
        FactId::Isolation(from_ms) => match beside.isolations.get(&from_ms) {
            Some((logger, tenths)) => format!("isolation-{:04x}-{}", logger & 0xffff, tenths / 600),
            None => format!("isolation-{}", time::date(from_ms)),
        },
    }
}

#[cfg(test)]
#[path = "reconcile_tests.rs"]
mod tests;
