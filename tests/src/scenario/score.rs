//! Findings held against what truly went wrong.

use super::build::Scenario;
use super::draw;
use super::event::Target;
use super::evidence::{Verdict, judge};
use super::logger::{hours, ms};
use super::ship::{COUNTED, Ship};
use super::tally::{BINS, Tally};
use fastrand::Rng;
use halfglass::reconcile::{Account, Finding, Kind, reconcile};

/// What goes wrong on a ship.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Nothing.
    Clean,
    /// What happens at the declared rates.
    Base,
    /// One thing of this kind.
    One(Kind),
    /// Three to five things of any kind, one radar or several.
    Several,
}

/// A ship with what went wrong on her; `None`: this ship has nothing that could go wrong so.
#[must_use]
pub fn scenario(seed: u64, mode: Mode) -> Option<Scenario> {
    let ship = Ship::draw(seed);
    let mut rng = Rng::with_seed(seed ^ 0x0dd_e7e7);
    let events = match mode {
        Mode::Clean => Vec::new(),
        Mode::Base => draw::at_base_rates(&ship),
        Mode::One(kind) => vec![(0..20).find_map(|_| draw::one_of(&ship, kind, &mut rng))?],
        Mode::Several => {
            let many = rng.usize(3..6);
            (0..many * 3)
                .filter_map(|_| draw::one_of(&ship, Kind::ALL[rng.usize(..Kind::ALL.len())], &mut rng))
                .take(many)
                .collect()
        }
    };
    Some(Scenario::build(ship, events))
}

/// How near in time a finding must be, beyond its own window.
const NEAR_H: f64 = 7.0 * 24.0;

/// Judges, asks the room, and counts.
pub fn score(scenario: &Scenario, tally: &mut Tally) {
    let accounts = reconcile(&scenario.facts);
    let ship = &scenario.ship;
    let judged: Vec<(Target, Verdict)> = scenario
        .events
        .iter()
        .map(|event| (event.target(ship, &scenario.truths), judge(ship, event)))
        .collect();
    tally.ships += 1;
    tally.years += ship.years();
    let mut found: Vec<Option<bool>> = vec![None; judged.len()];
    for (place, account) in accounts.iter().enumerate() {
        findings(scenario, place, account, &judged, &mut found, tally);
        parts(scenario, place, account, tally);
    }
    for ((target, verdict), found) in judged.iter().zip(&found) {
        let row = tally.rows.entry(target.kind).or_default();
        row.planted += 1;
        match (verdict.evident, found) {
            (true, Some(asked)) => {
                row.evident += 1;
                row.found += 1;
                row.asked += u32::from(*asked);
            }
            (true, None) => {
                row.evident += 1;
                let instead = accounts
                    .iter()
                    .enumerate()
                    .filter(|(place, _)| target.radars.contains(place))
                    .flat_map(|(_, account)| &account.findings)
                    .find(|finding| overlaps(finding, target))
                    .map(|finding| finding.kind);
                *tally.confusion.entry((Some(target.kind), instead)).or_default() += 1;
                let told = instead.map_or("nothing", Kind::name);
                tally.misses.push((ship.seed, format!("{} taken for {told}", target.kind.name())));
            }
            (false, Some(_)) => row.lucky += 1,
            (false, None) => {}
        }
    }
}

fn overlaps(finding: &Finding, target: &Target) -> bool {
    hours(finding.from_ms) - NEAR_H <= target.to && target.from <= hours(finding.to_ms) + NEAR_H
}

fn names_it(scenario: &Scenario, place: usize, finding: &Finding, target: &Target) -> bool {
    let radar = &scenario.facts.radars[place];
    let of_part = finding.part.as_ref().and_then(|name| radar.parts.iter().find(|part| part.name == *name));
    let fits = |role| target.lines.is_empty() || target.lines.contains(&role);
    finding.line.is_none_or(fits) && of_part.is_none_or(|part| fits(part.ages_by))
}

fn findings(
    scenario: &Scenario,
    place: usize,
    account: &Account,
    judged: &[(Target, Verdict)],
    found: &mut [Option<bool>],
    tally: &mut Tally,
) {
    let mut all: Vec<&Finding> = account.findings.iter().collect();
    all.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let mut taken = vec![false; judged.len()];
    for finding in all {
        let near = |(_, (target, _)): &(usize, &(Target, Verdict))| {
            target.radars.contains(&place) && overlaps(finding, target)
        };
        let right = judged.iter().enumerate().filter(near).find(|(at, (target, verdict))| {
            verdict.accepted.contains(&finding.kind)
                && !taken[*at]
                && names_it(scenario, place, finding, target)
        });
        if right.is_none() && is_moot(scenario, place, finding) {
            tally.moot += 1;
            continue;
        }
        let bin = BINS.iter().rposition(|from| finding.probability >= *from).unwrap_or(0);
        tally.bins[bin].1 += 1;
        tally.bins[bin].0 += u32::from(right.is_some());
        let row_of = right.map_or(finding.kind, |(_, (target, _))| target.kind);
        let row = tally.rows.entry(row_of).or_default();
        if !finding.is_question {
            row.reported += 1;
        }
        if let Some((at, _)) = right {
            taken[at] = true;
            found[at] = Some(found[at].unwrap_or(true) && finding.is_question);
            row.right += u32::from(!finding.is_question);
            continue;
        }
        let at_event = judged.iter().enumerate().filter(near).map(|(_, judged)| judged).collect::<Vec<_>>();
        let excused = !at_event.is_empty() && at_event.iter().all(|(_, verdict)| !verdict.evident);
        row.excused += u32::from(excused && !finding.is_question);
        tally.false_all += u32::from(at_event.is_empty());
        if let Some((target, _)) = at_event.first() {
            *tally.beside.entry((target.kind, finding.kind)).or_default() += 1;
            let told = format!(
                "{} beside {} at {:.2}",
                finding.kind.name(),
                target.kind.name(),
                finding.probability
            );
            tally.misses.push((scenario.ship.seed, told));
        } else {
            *tally.confusion.entry((None, Some(finding.kind))).or_default() += 1;
            let told = format!("nothing taken for {} at {:.2}", finding.kind.name(), finding.probability);
            tally.misses.push((scenario.ship.seed, told));
        }
    }
}

/// Dark time in the window, or a short isolation that nobody recorded: to say so is no mistake.
fn is_moot(scenario: &Scenario, place: usize, finding: &Finding) -> bool {
    let radar = &scenario.facts.radars[place];
    match finding.kind {
        Kind::DarkGap => radar.log.points.iter().any(|point| {
            point.dark_h > 0.5
                && point.at.hi_ms >= finding.from_ms
                && point.at.lo_ms - (point.dark_h * 3.6e6) as i64 <= finding.to_ms
        }),
        Kind::WorkUnrecorded => {
            let services = scenario.ship.radars[place].services.iter();
            services.filter(|service| !service.recorded).any(|service| {
                ms(service.from) <= finding.to_ms + 600_000 && finding.from_ms <= ms(service.to) + 600_000
            })
        }
        _ => false,
    }
}

fn parts(scenario: &Scenario, place: usize, account: &Account, tally: &mut Tally) {
    let radar = &scenario.ship.radars[place];
    let facts = &scenario.facts.radars[place];
    for (which, part) in radar.parts.iter().enumerate() {
        let Some(truth) = scenario.part_hours(place, which) else { continue };
        let parts = &mut tally.parts;
        parts.all += 1;
        let answer =
            account.parts.iter().find(|answer| answer.part == part.name).and_then(|answer| answer.hours);
        match answer {
            None => parts.unanswered += 1,
            Some(hours) => {
                let inside = hours.low <= truth + 1e-6 && truth <= hours.high + 1e-6;
                parts.inside += u32::from(inside);
                parts.widths_h.push(hours.high - hours.low);
                let put_in = radar.renewals.iter().rev().find(|done| done.part == which);
                if radar.wired[part.ages_by] && put_in.is_some_and(|done| done.from > 0.0) {
                    parts.logged_widths_h.push(hours.high - hours.low);
                }
                parts.errors_h.push((hours.best - truth).abs());
                if !inside {
                    let told = format!(
                        "{} {}: true hours {truth:.2} not in {:.2} to {:.2}",
                        radar.name, part.name, hours.low, hours.high
                    );
                    tally.misses.push((scenario.ship.seed, told));
                }
            }
        }
        // Two naive ways: what the radar last showed; what the logger counted since the day that the record says.
        let line = part.ages_by;
        let last = facts.readings.iter().rev().find(|reading| reading.quantity == COUNTED[line]);
        if let Some(last) = last {
            tally.parts.radar_errors_h.push((last.hours - truth).abs());
        }
        let fitting = facts.fittings.iter().rev().find(|fitting| fitting.part == part.name);
        if let (Some(fitting), true) = (fitting, facts.log.wired[line]) {
            let points = &facts.log.points;
            let before = points.iter().rev().find(|point| point.at.best_ms() <= fitting.at.best_ms());
            let since = before.map_or(0.0, |point| point.on_h[line]);
            let now = points.last().map_or(0.0, |point| point.on_h[line]);
            let answer = now - since + fitting.hours_at_fit_h.unwrap_or(0.0);
            tally.parts.logger_errors_h.push((answer - truth).abs());
        }
    }
}

/// So many ships of a mode, from a number on.
#[must_use]
pub fn ships(seed: u64, many: u32, mode: Mode) -> Tally {
    let mut tally = Tally::default();
    for seed in seed..seed + 40 * u64::from(many) {
        if tally.ships == many {
            break;
        }
        if let Some(scenario) = scenario(seed, mode) {
            score(&scenario, &mut tally);
        }
    }
    tally
}
