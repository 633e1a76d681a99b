//! Lines that contradict each other: transmit needs heater and motor, heater and motor need supply.
//!
//! A breach for all of the log is wiring. One for a time is a line's fault: the one that should have been on was dead
//! if it stood still, the other stuck if it never went off, and otherwise the first came and went.

use super::extract::Draft;
use super::facts::{Facts, Point, place};
use super::finding::Kind;
use super::log::hours;
use crate::time;
use halfglass_protocol::config::Role;

/// Which line needs which.
const NEEDS: [(Role, Role); 4] = [
    (Role::Transmit, Role::Heater),
    (Role::Transmit, Role::Motor),
    (Role::Heater, Role::Supply),
    (Role::Motor, Role::Supply),
];
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
/// How likely the explanation by the shape of the breach is right.
const LIKELY: f64 = 0.97;

/// Breaches of one pair of lines.
struct Breach {
    breach_h: f64,
    needing_h: f64,
    needed_h: f64,
    needing_all_h: f64,
    /// Of the hours of the needing line in breach, how many in stretches in which the needed one stood still.
    dead_h: f64,
    /// By how much the needed line was on for longer than the needing one, as it should be.
    sound_h: f64,
    steady: bool,
    /// Hours of the needing line out of breach, and of them those in stretches in which it never went off.
    calm_h: f64,
    calm_steady_h: f64,
    from_ms: i64,
    to_ms: i64,
}

/// Adds what the lines of a radar say of each other to the drafts.
pub(super) fn look(facts: &Facts, at: usize, drafts: &mut Vec<Draft>) {
    let radar = &facts.radars[at];
    for (needing, needed) in NEEDS {
        let (Some(a), Some(b)) = (place(needing), place(needed)) else { continue };
        if !radar.log.wired[a] || !radar.log.wired[b] {
            continue;
        }
        let Some(breach) = measure(&radar.log.points, a, b) else { continue };
        let always = breach.needing_h > ALWAYS * breach.needing_all_h;
        let reversed =
            breach.sound_h < REVERSED * breach.breach_h && breach.needing_h > OFTEN * breach.needing_all_h;
        let (kind, line) = if always || reversed {
            (Kind::Wiring, needing)
        } else if breach.dead_h > DEAD * breach.needing_h {
            (Kind::LineDead, needed)
        } else if breach.steady && breach.calm_steady_h < USUALLY * breach.calm_h {
            (Kind::LineStuck, needing)
        } else {
            (Kind::LineIntermittent, needed)
        };
        let evidence = format!(
            "The {} line was on for {:.1} h between {} and {} UTC in which the {} line, which it needs, was on for {:.1} h.",
            needing.name(),
            breach.needing_h,
            time::minute(breach.from_ms),
            time::minute(breach.to_ms),
            needed.name(),
            breach.needed_h
        );
        let explains = |draft: &Draft| {
            let fault = matches!(
                draft.kind,
                Kind::LineDead | Kind::LineStuck | Kind::LineIntermittent | Kind::Wiring
            );
            let line = draft.line == Some(needing) || draft.line == Some(needed);
            fault
                && line
                && draft.radar == at
                && draft.from_ms <= breach.to_ms
                && breach.from_ms <= draft.to_ms
        };
        if kind != Kind::Wiring
            && let Some(known) = drafts.iter_mut().find(|draft| explains(draft))
        {
            known.evidence.push(evidence);
            known.probability = known.probability.max(LIKELY);
            known.provisional = false;
            continue;
        }
        if kind == Kind::Wiring {
            // What counters seem to do when held against the wrong line is its consequence, until the wiring is put right.
            let consequence = |draft: &Draft| {
                draft.radar == at
                    && matches!(
                        draft.kind,
                        Kind::CountsOtherLine
                            | Kind::CounterRate
                            | Kind::LineDead
                            | Kind::LineStuck
                            | Kind::LineIntermittent
                            | Kind::Misread
                            | Kind::CounterExchanged
                            | Kind::DarkGap
                            | Kind::FittingMisdated
                    )
                    && (draft.line == Some(needing) || draft.line == Some(needed))
            };
            let mut said = vec![evidence];
            drafts.retain(|draft| {
                let gone = consequence(draft);
                if gone {
                    said.extend(draft.evidence.iter().cloned());
                }
                !gone
            });
            // One exchange of terminals shows in several pairs of lines.
            if let Some(known) =
                drafts.iter_mut().find(|draft| draft.radar == at && draft.kind == Kind::Wiring)
            {
                known.evidence.extend(said);
                continue;
            }
            drafts.push(draft(at, Kind::Wiring, needing, &breach, said));
        } else {
            drafts.push(draft(at, kind, line, &breach, vec![evidence]));
        }
    }
}

fn draft(radar: usize, kind: Kind, line: Role, breach: &Breach, evidence: Vec<String>) -> Draft {
    Draft {
        probability: LIKELY,
        evidence,
        ..Draft::new(kind, radar, Some(line), breach.from_ms, breach.to_ms)
    }
}

fn measure(points: &[Point], a: usize, b: usize) -> Option<Breach> {
    let mut found = Breach {
        breach_h: 0.0,
        needing_h: 0.0,
        needed_h: 0.0,
        needing_all_h: 0.0,
        dead_h: 0.0,
        sound_h: 0.0,
        steady: true,
        calm_h: 0.0,
        calm_steady_h: 0.0,
        from_ms: i64::MAX,
        to_ms: i64::MIN,
    };
    for pair in points.windows(2) {
        let [before, after] = pair else { continue };
        let (needing_h, needed_h) = (after.on_h[a] - before.on_h[a], after.on_h[b] - before.on_h[b]);
        found.needing_all_h += needing_h;
        found.sound_h += (needed_h - needing_h - FREE_H).max(0.0);
        let over_h = needing_h - needed_h - FREE_H - 2.0 * after.lost_h;
        let powered_h = hours(before.at.best_ms(), after.at.best_ms()) - after.dark_h;
        if over_h <= 0.0 {
            found.calm_h += needing_h;
            if needing_h >= 0.98 * powered_h {
                found.calm_steady_h += needing_h;
            }
            continue;
        }
        found.breach_h += over_h;
        found.needing_h += needing_h;
        found.needed_h += needed_h;
        if needed_h < STILL_H {
            found.dead_h += needing_h;
        }
        // Its first and last day may be parts of a day.
        found.steady &= needing_h >= 0.98 * powered_h || over_h < 0.1 * found.breach_h;
        found.from_ms = found.from_ms.min(before.at.lo_ms);
        found.to_ms = found.to_ms.max(after.at.hi_ms);
    }
    (found.breach_h >= WORTH_H).then_some(found)
}
