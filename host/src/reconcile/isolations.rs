//! What isolations of a scanner say: that somebody worked there, and when.

use super::draft::Draft;
use super::facts::{Facts, Radar, Span, When};
use super::finding::{FactId, Instead, Kind};
use super::log::length_h;
use super::merge::{NEAR_MS, rests_on};
use crate::time;
use halfglass_protocol::config::Role;

/// An isolation longer than this is asked about, in hours.
const ASKED_H: f64 = 20.0 / 60.0;
/// One shorter than this is asked about softly: paint and grease take no longer.
const SOFT_H: f64 = 1.0;
/// How likely work worth recording is behind a short, and behind a long isolation. Common practice, no source. Even
/// odds make it a question.
const LIKELY: (f64, f64) = (0.5, 0.95);
/// How likely a fitting's day is wrong when the scanner was isolated on another day and not on its own.
const MISDATED: f64 = 0.9;
/// Work and its isolation lie no further apart than this, in milliseconds.
pub(super) const SAME_WORK_MS: i64 = 24 * 3_600_000;

/// Adds what the isolations of a radar say to the drafts.
pub(super) fn look(facts: &Facts, at: usize, drafts: &mut Vec<Draft>) {
    let radar = &facts.radars[at];
    if !radar.log.wired[4] {
        return;
    }
    let mut asked_softly = false;
    for span in &radar.log.isolated {
        let (least_h, most_h) = length_h(span);
        if most_h <= ASKED_H || is_recorded(radar, span, NEAR_MS) {
            continue;
        }
        let soft = least_h < SOFT_H;
        if soft && std::mem::replace(&mut asked_softly, true) {
            continue;
        }
        let probability = if soft { LIKELY.0 } else { LIKELY.1 };
        let (from_ms, to_ms) = (span.from.lo_ms, span.to.hi_ms);
        drafts.push(Draft {
            probability,
            evidence: vec![format!(
                "The scanner's safety switch was open for {:.0} minutes from {} UTC, and no fitting or work within \
                 seven days says why.",
                span_minutes(span),
                time::minute(span.from.best_ms())
            )],
            instead: Some(Instead { kind: None, probability: 1.0 - probability }),
            facts: vec![FactId::Isolation(span.from.best_ms())],
            ..Draft::new(Kind::WorkUnrecorded, at, Some(Role::Isolated), from_ms, to_ms)
        });
    }
    misdated(radar, at, drafts);
}

fn span_minutes(span: &Span) -> f64 {
    (span.to.best_ms() - span.from.best_ms()) as f64 / 60_000.0
}

/// Whether a time and an isolation lie this close.
pub(super) fn near(a: When, b: &Span, slack_ms: i64) -> bool {
    a.lo_ms <= b.to.hi_ms + slack_ms && b.from.lo_ms <= a.hi_ms + slack_ms
}

/// Whether a fitting or a work is recorded near an isolation.
fn is_recorded(radar: &Radar, span: &Span, slack_ms: i64) -> bool {
    let fitted = radar.fittings.iter().any(|fitting| near(fitting.at, span, slack_ms));
    let worked = radar.works.iter().any(|work| near(work.whole(), span, slack_ms));
    fitted || worked
}

/// Fittings aloft on a day on which the scanner was not isolated, with an isolation near by that nothing else explains.
fn misdated(radar: &Radar, at: usize, drafts: &mut Vec<Draft>) {
    let (Some(first), Some(last)) = (radar.log.points.first(), radar.log.points.last()) else { return };
    for fitting in &radar.fittings {
        let part = radar.parts.iter().find(|part| part.name == fitting.part);
        let Some(part) = part.filter(|part| part.needs_aloft) else { continue };
        let watched =
            fitting.at.lo_ms - NEAR_MS > first.at.hi_ms && fitting.at.hi_ms + NEAR_MS < last.at.lo_ms;
        if !watched || radar.log.isolated.iter().any(|span| near(fitting.at, span, SAME_WORK_MS)) {
            continue;
        }
        let free = |span: &&Span| {
            let others = radar
                .fittings
                .iter()
                .any(|other| other.id != fitting.id && near(other.at, span, SAME_WORK_MS));
            let works = radar.works.iter().any(|work| near(work.whole(), span, SAME_WORK_MS));
            length_h(span).1 > ASKED_H && near(fitting.at, span, NEAR_MS) && !others && !works
        };
        let Some(span) =
            radar.log.isolated.iter().filter(free).max_by_key(|span| span.to.hi_ms - span.from.lo_ms)
        else {
            continue;
        };
        // A dark logger may have slept through the isolation.
        let dark_h: f64 = radar
            .log
            .points
            .windows(2)
            .filter(|pair| {
                pair[0].at.lo_ms < fitting.at.hi_ms + SAME_WORK_MS
                    && pair[1].at.hi_ms > fitting.at.lo_ms - SAME_WORK_MS
            })
            .map(|pair| pair[1].dark_h)
            .sum();
        if dark_h > 0.5 {
            continue;
        }
        let evidence = format!(
            "The fitting of {} is recorded for {} UTC, when the scanner was not isolated; it was on {} UTC for {:.0} \
             minutes.",
            fitting.part,
            time::minute(fitting.at.best_ms()),
            time::minute(span.from.best_ms()),
            span_minutes(span)
        );
        if let Some(known) = drafts.iter_mut().find(|d| d.radar == at && rests_on(d, fitting.id)) {
            if known.kind == Kind::FittingMisdated {
                known.evidence.push(evidence);
                known.probability = known.probability.max(MISDATED);
                continue;
            }
            if known.kind == Kind::FittedWithoutZeroing {
                continue;
            }
        }
        let from_ms = fitting.at.lo_ms.min(span.from.lo_ms);
        let to_ms = fitting.at.hi_ms.max(span.to.hi_ms);
        drafts.push(Draft {
            probability: MISDATED,
            evidence: vec![evidence],
            instead: Some(Instead { kind: Some(Kind::WorkUnrecorded), probability: 1.0 - MISDATED }),
            fitting: Some(fitting.id),
            facts: vec![FactId::Fitting(fitting.id), FactId::Isolation(span.from.best_ms())],
            ..Draft::new(Kind::FittingMisdated, at, Some(part.ages_by), from_ms, to_ms)
        });
    }
}
