//! Dark time that readings do not narrow: hours that a part may have run and nobody saw.

use super::chain::Edge;
use super::counters::Told;
use super::draft::Draft;
use super::events::Event;
use super::facts::{Facts, place};
use super::finding::Kind;
use super::log::Watch;
use crate::time;

/// What leaves less than this open is no finding, in hours.
const WORTH_H: f64 = 24.0;
/// Readings on either side narrow dark time if nothing else happened in between, this likely.
const SURE: f64 = 0.95;

/// Adds the dark time of a radar to the drafts. Where the logger hangs on the radar, dark time counts as off unless
/// readings disagree, which the counters' histories tell.
pub(super) fn look(facts: &Facts, at: usize, watch: &Watch, told: &[Told], drafts: &mut Vec<Draft>) {
    let radar = &facts.radars[at];
    if radar.fed_from_radar {
        return;
    }
    for part in &radar.parts {
        let last = radar.fittings.iter().filter(|fit| fit.part == part.name).map(|fit| fit.at.lo_ms).max();
        let (Some(fitted_ms), true) = (last, place(part.ages_by).is_some() && watch.has(part.ages_by)) else {
            continue;
        };
        let own = told
            .iter()
            .find(|one| one.radar == at && one.stranger.is_none() && one.counter.role == part.ages_by);
        let narrowed = own.map(narrowed).unwrap_or_default();
        for pair in radar.log.points.windows(2) {
            let [before, after] = pair else { continue };
            let (from_ms, to_ms) = (before.at.lo_ms, after.at.hi_ms);
            let inside = |(a, b): &(i64, i64)| *a <= from_ms && to_ms <= *b;
            if after.dark_h < WORTH_H || from_ms < fitted_ms || narrowed.iter().any(inside) {
                continue;
            }
            let known = drafts.iter().any(|draft| {
                draft.radar == at
                    && draft.kind == Kind::DarkGap
                    && draft.from_ms <= to_ms
                    && from_ms <= draft.to_ms
            });
            if known {
                continue;
            }
            drafts.push(Draft {
                probability: 0.99,
                evidence: vec![format!(
                    "The logger was without power for up to {:.0} h between {} and {} UTC, and no reading on either side \
                     says how much the {} ran.",
                    after.dark_h,
                    time::minute(from_ms),
                    time::minute(to_ms),
                    part.name
                )],
                ..Draft::new(Kind::DarkGap, at, Some(part.ages_by), from_ms, to_ms)
            });
        }
    }
}

/// Stretches between sound readings of one box.
fn narrowed(told: &Told) -> Vec<(i64, i64)> {
    let seen = &told.counter.seen;
    let calm = |edge: &&Edge| edge.event == Event::AsRecorded && edge.to.0 < seen.len();
    let mut stretches = Vec::new();
    for edge in told.histories.best.iter().filter_map(|at| told.histories.edges.get(*at)).filter(calm) {
        let Some((j, _)) = edge.from else { continue };
        let same = |other: &&Edge| {
            other.to.0 == edge.to.0
                && other.from.is_some_and(|(is, _)| is == j)
                && other.event == Event::AsRecorded
        };
        let share: f64 =
            told.histories.leading_to(edge.to.0..=edge.to.0).iter().filter(same).map(|edge| edge.share).sum();
        if share > SURE {
            stretches.push((seen[j].at.best_ms(), seen[edge.to.0].at.best_ms()));
        }
    }
    stretches
}
