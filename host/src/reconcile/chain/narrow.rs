//! Where the log leaves a line's total open, what the figures before say narrows it.

use super::aside::LOOSE_H;
use super::{Edge, Histories, State, Stretches, shown};
use crate::reconcile::counter::Counter;
use crate::reconcile::events::Event;
use crate::reconcile::moves::{Fault, Law, Moves};

/// The line's total at a figure, by state: as the log has it and, where that is open, as the figures before narrow it
/// on the likeliest way. Without it a figure whose time the log cannot place would break the chain in two.
pub(super) fn narrow(
    stretches: &Stretches,
    found: &Histories,
    forward: &[Vec<f64>],
    totals: &[Vec<Option<(f64, f64)>>],
    i: usize,
) -> Vec<Option<(f64, f64)>> {
    let counter = stretches.counter;
    let Some(seen) = counter.seen.get(i) else { return Vec::new() };
    let follows = |state: &State| Moves::follows(counter.laws[state.law].0, counter.role);
    let states = found.states[i].iter().enumerate();
    states
        .map(|(at, state)| {
            let (role, ratio) = follows(state);
            let (low, high) = counter.watch.total_at(role, &seen.mark)?;
            if high - low < LOOSE_H {
                return Some((low, high));
            }
            let edges = found.leading_to(i..=i).iter().filter(|edge| edge.to.1 == at);
            let weight = |edge: &&Edge| edge.log_weight + edge.from.map_or(0.0, |(j, from)| forward[j][from]);
            let likeliest = edges.max_by(|a, b| weight(a).total_cmp(&weight(b)))?;
            let carried = likeliest.from.and_then(|(j, from)| {
                let dark = !counter.fed || likeliest.event == Event::RanInDark;
                let calm = matches!(likeliest.event, Event::AsRecorded | Event::RanInDark)
                    && found.fault_on(likeliest) == Fault::None
                    && counter.laws[state.law].0 != Law::AnyRatio;
                let later = shown(counter, i, state.scale, state.swap);
                let zeroed = stretches.since_zeroing(j, i).is_some();
                let (before, earlier_h, width_h) = if zeroed {
                    (counter.total_at_zeroing(role, j, i), 0.0, 0.0)
                } else {
                    let before = found.states[j][from];
                    let earlier = shown(counter, j, before.scale, before.swap);
                    (totals[j][from], earlier.hours, earlier.width_h)
                };
                let (before_low, before_high) = before.filter(|_| calm)?;
                let moved_h = later.hours - earlier_h;
                let free_h = 0.5 + 1e-4 * moved_h.abs() + stretches.moves(j, i).free_h(dark);
                Some((
                    before_low + (moved_h - width_h) / ratio - free_h,
                    before_high + (moved_h + later.width_h) / ratio + 0.5,
                ))
            });
            let (least, most) = carried.unwrap_or((low, high));
            let (least, most) = (low.max(least), high.min(most));
            Some(if least <= most { (least, most) } else { (low, high) })
        })
        .collect()
}

/// By how much the figures before narrow what can have moved since figure `j`: at the low end, and at the high end.
pub(super) fn narrowed(
    counter: &Counter,
    j: usize,
    at: &State,
    on_h: Option<(f64, f64)>,
    moves: &Moves,
) -> (f64, f64) {
    let law = counter.laws[at.law].0;
    let (role, ratio) = Moves::follows(law, counter.role);
    let open = counter.watch.total_at(role, &counter.seen[j].mark);
    let cut_h = moves.cut_h(law);
    open.zip(on_h).map_or((0.0, 0.0), |((low, high), (least, most))| {
        (((high - most - cut_h.0) * ratio).max(0.0), ((least - low - cut_h.1) * ratio).max(0.0))
    })
}
