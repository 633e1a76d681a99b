//! Lines that contradict each other: transmit needs heater and motor, heater and motor need supply.
//!
//! A breach for all of the log is wiring. One for a time, an episode, is a line's fault: the one that should have been
//! on was dead if it stood still, the other stuck if it never went off, and otherwise the first came and went.

use super::draft::Draft;
use super::facts::{Facts, Point, place};
use super::finding::{Instead, Kind};
use super::log::is_steady;
use crate::time;
use halfglass_protocol::config::Role;

/// Totals at two points are this close for want of resolution, in hours: 10 s, twice.
const FREE_H: f64 = 20.0 / 3600.0;
/// Breaches shorter than this in all are no finding, in hours.
const WORTH_H: f64 = 0.2;
/// Of the time that the needing line was on: more than this in breach, and it is wiring.
const ALWAYS: f64 = 0.6;
/// The needed line on for longer by less than this, against the other way round: they are exchanged.
const REVERSED: f64 = 0.05;
/// ... if it happens for more than this of the time that the needing line was on.
const OFTEN: f64 = 0.25;
/// A line that moved less than this from point to point stood still, in hours.
const STILL_H: f64 = 0.02;
/// Of the hours in breach, so many with the needed line still, and it was dead: a fault begins and ends within a day.
const DEAD: f64 = 0.5;
/// A line that is on without a break this much of its time is no stuck line for being so in breach.
const USUALLY: f64 = 0.3;
/// Of its hours, so many in days on which it never went off, and it stuck.
const STEADY: f64 = 0.75;
/// How likely the explanation by the shape of the breach is right.
const LIKELY: f64 = 0.97;
/// The same where two shapes fit: the likelier and the other.
const OPEN: (f64, f64) = (0.55, 0.42);
/// So many hours of the needing line with the needed one on as it should be, and an episode is over: if the needing line
/// came and went in them, and if it stayed on, as a stuck one would.
const OVER_H: (f64, f64) = (150.0, 700.0);
/// So many hours with both lines on all the time, and the needed one does not come and go.
const CALM_H: f64 = 24.0;

/// Breaches of one pair of lines: in all of the log, or in one episode of it.
#[derive(Clone, Copy)]
struct Breach {
    breach_h: f64,
    needing_h: f64,
    needed_h: f64,
    /// Of the hours of the needing line in breach, how many in stretches in which the needed one stood still.
    dead_h: f64,
    /// Of the hours of the needing line, in breach and between breaches, how many in stretches in which it never went off.
    steady_h: f64,
    /// Hours of the needing line out of breach, up to the last breach.
    calm_h: f64,
    from_ms: i64,
    to_ms: i64,
}

/// What one pair of lines says.
struct Pair {
    all: Breach,
    episodes: Vec<Breach>,
    needing_all_h: f64,
    /// By how much the needed line was on for longer than the needing one, as it should be.
    sound_h: f64,
    /// Hours of the needing line out of breach, and of them those in stretches in which it never went off.
    calm_h: f64,
    calm_steady_h: f64,
}

/// Adds what the lines of a radar say of each other to the drafts.
pub(super) fn look(facts: &Facts, at: usize, drafts: &mut Vec<Draft>) {
    let radar = &facts.radars[at];
    let mut pairs: Vec<(Role, Role, Pair)> = Vec::new();
    for (needing, needed) in Role::NEEDS {
        let (Some(a), Some(b)) = (place(needing), place(needed)) else { continue };
        // What lies between two lines tells more than they do.
        let told_by_heater = (needing, needed) == (Role::Transmit, Role::Supply)
            && place(Role::Heater).is_some_and(|heater| radar.log.wired[heater]);
        if radar.log.wired[a] && radar.log.wired[b] && !told_by_heater {
            pairs.push((needing, needed, measure(&radar.log.points, a, b)));
        }
    }
    pairs.retain(|(.., pair)| pair.all.breach_h >= WORTH_H);
    let is_wiring = |pair: &Pair| {
        let always = pair.all.needing_h > ALWAYS * pair.needing_all_h;
        let reversed =
            pair.sound_h < REVERSED * pair.all.breach_h && pair.all.needing_h > OFTEN * pair.needing_all_h;
        always || reversed
    };
    if let Some((needing, _, first)) = pairs.iter().find(|(.., pair)| is_wiring(pair)) {
        // One exchange of terminals shows in several pairs of lines, and in every counter held against them.
        let concerned: Vec<Role> =
            pairs.iter().flat_map(|(needing, needed, _)| [*needing, *needed]).collect();
        let mut said: Vec<String> =
            pairs.iter().map(|(needing, needed, pair)| sentence(*needing, *needed, &pair.all)).collect();
        drafts.retain(|draft| {
            let gone = draft.radar == at
                && is_consequence(draft.kind)
                && draft.line.is_some_and(|line| concerned.contains(&line));
            if gone {
                said.extend(draft.evidence.iter().cloned());
            }
            !gone
        });
        drafts.push(draft(at, Kind::Wiring, *needing, &first.all, said));
        return;
    }
    for (needing, needed, pair) in &pairs {
        for episode in pair.episodes.iter().filter(|episode| episode.breach_h >= WORTH_H) {
            fault(at, (*needing, *needed), pair, episode, drafts);
        }
    }
}

/// What counters seem to do when held against the wrong line is its consequence, until the wiring is put right.
fn is_consequence(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::CountsOtherLine
            | Kind::CounterRate
            | Kind::LineDead
            | Kind::LineStuck
            | Kind::LineIntermittent
            | Kind::Misread
            | Kind::CounterExchanged
            | Kind::DarkGap
            | Kind::FittingMisdated
            | Kind::Wiring
    )
}

fn sentence(needing: Role, needed: Role, breach: &Breach) -> String {
    format!(
        "The {} line was on for {:.1} h between {} and {} UTC in which the {} line, which it needs, was on for {:.1} h.",
        needing.name(),
        breach.needing_h,
        time::minute(breach.from_ms),
        time::minute(breach.to_ms),
        needed.name(),
        breach.needed_h
    )
}

/// One episode: the fault that is known already, or one by its shape.
fn fault(at: usize, (needing, needed): (Role, Role), pair: &Pair, episode: &Breach, drafts: &mut Vec<Draft>) {
    let evidence = sentence(needing, needed, episode);
    let explains = |draft: &Draft| {
        let by_line = match draft.kind {
            Kind::LineDead | Kind::LineIntermittent => draft.line == Some(needed),
            Kind::LineStuck => draft.line == Some(needing),
            Kind::Wiring => draft.line == Some(needing) || draft.line == Some(needed),
            _ => false,
        };
        by_line && draft.radar == at && draft.from_ms <= episode.to_ms && episode.from_ms <= draft.to_ms
    };
    if let Some(known) = drafts.iter_mut().find(|draft| explains(draft)) {
        known.evidence.push(evidence);
        if known.probability < LIKELY {
            known.probability = LIKELY;
            known.instead = None;
        }
        known.provisional = false;
        return;
    }
    let rests = pair.calm_steady_h < USUALLY * pair.calm_h;
    // The first and last day of a fault are parts of a day.
    let steady = episode.steady_h >= STEADY * (episode.needing_h + episode.calm_h);
    let (kind, line, instead) = if episode.dead_h > DEAD * episode.needing_h {
        (Kind::LineDead, needed, None)
    } else if steady && (rests || episode.calm_h > CALM_H) {
        (Kind::LineStuck, needing, None)
    } else if steady {
        (Kind::LineIntermittent, needed, Some(Kind::LineStuck))
    } else {
        (Kind::LineIntermittent, needed, None)
    };
    let mut new = draft(at, kind, line, episode, vec![evidence]);
    if instead.is_some() {
        new.probability = OPEN.0;
        new.instead = Some(Instead { kind: instead, probability: OPEN.1 });
    }
    drafts.push(new);
}

fn draft(radar: usize, kind: Kind, line: Role, breach: &Breach, evidence: Vec<String>) -> Draft {
    Draft {
        probability: LIKELY,
        evidence,
        ..Draft::new(kind, radar, Some(line), breach.from_ms, breach.to_ms)
    }
}

impl Breach {
    const NONE: Breach = Breach {
        breach_h: 0.0,
        needing_h: 0.0,
        needed_h: 0.0,
        dead_h: 0.0,
        steady_h: 0.0,
        calm_h: 0.0,
        from_ms: i64::MAX,
        to_ms: i64::MIN,
    };
}

fn measure(points: &[Point], a: usize, b: usize) -> Pair {
    let mut found = Pair {
        all: Breach::NONE,
        episodes: Vec::new(),
        needing_all_h: 0.0,
        sound_h: 0.0,
        calm_h: 0.0,
        calm_steady_h: 0.0,
    };
    // Hours of the needing line since the last breach: those in which it came and went, and all.
    let (mut resting_h, mut since_h) = (0.0, 0.0);
    let mut steady_h = 0.0;
    for pair in points.windows(2) {
        let [before, after] = pair else { continue };
        let (needing_h, needed_h) = (after.on_h[a] - before.on_h[a], after.on_h[b] - before.on_h[b]);
        found.needing_all_h += needing_h;
        found.sound_h += (needed_h - needing_h - FREE_H).max(0.0);
        let over_h = needing_h - needed_h - FREE_H - 2.0 * after.lost_h;
        let steady = is_steady(before, after, a);
        if over_h <= 0.0 {
            found.calm_h += needing_h;
            since_h += needing_h;
            if steady {
                found.calm_steady_h += needing_h;
                steady_h += needing_h;
            } else {
                resting_h += needing_h;
            }
            continue;
        }
        let over = resting_h > OVER_H.0 || since_h > OVER_H.1;
        if over || found.episodes.is_empty() {
            found.episodes.push(Breach::NONE);
        } else if let Some(last) = found.episodes.last_mut() {
            last.calm_h += since_h;
            last.steady_h += steady_h;
        }
        (resting_h, since_h, steady_h) = (0.0, 0.0, 0.0);
        for breach in found.episodes.last_mut().into_iter().chain([&mut found.all]) {
            breach.breach_h += over_h;
            breach.needing_h += needing_h;
            breach.needed_h += needed_h;
            if needed_h < STILL_H {
                breach.dead_h += needing_h;
            }
            breach.steady_h += if steady { needing_h } else { 0.0 };
            breach.from_ms = breach.from_ms.min(before.at.lo_ms);
            breach.to_ms = breach.to_ms.max(after.at.hi_ms);
        }
    }
    found
}
