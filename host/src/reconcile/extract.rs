//! From a counter's histories to findings: what the likeliest history holds that no record does, and how likely each.

mod events;
mod faults;
mod figures;
mod judge;
mod laws;
mod third;
mod units;

use super::chain::Edge;
use super::counters::Told;
use super::draft::Draft;
use super::facts::When;
use super::finding::Kind;

pub(super) use third::Moved;

/// All findings of one counter. `all`: with those beside it.
pub(super) fn drafts(told: &Told, all: &[Told]) -> Vec<Draft> {
    let mut found = Vec::new();
    events::events(told, &mut found);
    figures::set_aside(told, &mut found);
    faults::faults(told, &mut found);
    units::units(told, &mut found);
    laws::laws(told, all, &mut found);
    found
}

fn draft(told: &Told, kind: Kind, from: When, to: When) -> Draft {
    Draft::new(kind, told.radar, Some(told.counter.role), from.lo_ms, to.hi_ms)
}

fn path<'a>(told: &'a Told) -> impl Iterator<Item = &'a Edge> {
    told.histories.best.iter().filter_map(|at| told.histories.edges.get(*at))
}
