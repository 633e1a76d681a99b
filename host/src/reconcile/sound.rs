//! What a counter's histories leave no doubt of, so that hours can rest on it; and where its line may have been at fault.

use super::chain::{ASIDE_MAX, Edge};
use super::counter::Fit;
use super::counters::Told;
use super::events::{Event, Scale};
use super::facts::When;
use super::finding::FactId;
use super::moves::{Fault, Law};
use super::order::Order;

/// What is less likely than this does not widen a figure.
pub(super) const NEGLIGIBLE: f64 = 0.003;
/// A counter whose own line is less likely than this to drive it bounds nothing.
const LAWFUL: f64 = 0.9;

/// A figure that is surely sound, and how it reads.
#[derive(Clone, Copy)]
pub(super) struct Sound {
    /// Which of the counter's figures.
    pub(super) k: usize,
    /// In which unit it was written.
    pub(super) scale: Scale,
    /// Which of its swaps counts, if one does.
    pub(super) swap: Option<usize>,
}

/// The figures that are surely sound, by time. Which law the counter follows may stay open where two lines move alike,
/// for then it makes no difference.
pub(super) fn sound_figures(told: &Told) -> Vec<Sound> {
    let best = told.histories.best.iter().filter_map(|at| told.histories.edges.get(*at));
    let mut on_path = best.map(|edge| edge.to).peekable();
    let mut sound = Vec::new();
    for (k, states) in told.histories.states.iter().enumerate().take(told.counter.seen.len()) {
        let state = on_path.next_if(|(at, _)| *at == k).and_then(|(_, state)| states.get(state));
        let (scale, swap) = state.map_or((Scale::Hours, None), |state| (state.scale, state.swap));
        let (mut share, mut lawful) = (0.0, 0.0);
        for edge in told.histories.leading_to(k..=k) {
            let Some(at) = states.get(edge.to.1).filter(|at| (at.scale, at.swap) == (scale, swap)) else {
                continue;
            };
            share += edge.share;
            if told.counter.laws[at.law].0 == Law::Own {
                lawful += edge.share;
            }
        }
        let settled = share;
        if (scale, swap) == (Scale::Hours, None) {
            let passed = |edge: &&Edge| edge.aside.iter().any(|(at, why)| *at == k && why.is_sound());
            share += told.histories.covering(k).filter(passed).map(|edge| edge.share).sum::<f64>();
        }
        if share > 1.0 - NEGLIGIBLE && (settled < NEGLIGIBLE || lawful > LAWFUL * settled) {
            sound.push(Sound { k, scale, swap });
        }
    }
    sound
}

/// How likely nothing moved the box's zero from figure `j` to figure `i` but what is recorded.
fn undisturbed(told: &Told, j: usize, i: usize) -> f64 {
    let quiet = |edge: &&Edge| matches!(edge.event, Event::AsRecorded | Event::RanInDark);
    let gap = |gap| told.histories.covering(gap).filter(quiet).map(|edge| edge.share).sum::<f64>();
    (j + 1..=i).map(gap).fold(1.0, f64::min)
}

/// Whether the box surely counted on from figure `j` to figure `i`, hour for hour.
pub(super) fn carries(told: &Told, j: usize, i: usize) -> bool {
    let zeroed = told.counter.fits.iter().any(|fit| fit.zeroed && told.counter.share_of(fit, j, i) > 0.01);
    !zeroed && undisturbed(told, j, i) > 1.0 - NEGLIGIBLE
}

/// Whether the box at figure `i` surely counts from zero since this fitting, which lies behind figure `j`.
pub(super) fn starts_at(told: &Told, j: usize, i: usize, fitting: i64) -> bool {
    let inside = |fit: &&Fit| fit.zeroed && told.counter.share_of(fit, j, i) > 0.99;
    let last = told.counter.fits.iter().rfind(inside);
    last.is_some_and(|fit| fit.id == fitting) && undisturbed(told, j, i) > 1.0 - NEGLIGIBLE
}

/// How likely a zeroing was done on another day than its fitting's.
pub(super) fn misdated(told: &Told, fitting: i64) -> f64 {
    let concerns = |edge: &&Edge| match edge.event {
        Event::MisdatedHere(at) | Event::MisdatedAway(at) => {
            told.counter.fits.get(at).is_some_and(|fit| fit.id == fitting)
        }
        _ => edge.aside.iter().any(|(k, why)| {
            why.other_day > 0.1 * why.sum() && told.counter.seen[*k].fact == FactId::Fitting(fitting)
        }),
    };
    told.histories.edges.iter().filter(concerns).map(|edge| edge.share).sum()
}

/// The ways on which the line is at fault, so that a period's share of them can be looked up.
pub(super) struct Faults<'a> {
    told: &'a Told<'a>,
    /// By the figure that they lead to.
    ways: Vec<(&'a Edge, Fault)>,
    order: Order,
}

impl<'a> Faults<'a> {
    /// Of a counter's histories.
    pub(super) fn new(told: &'a Told<'a>) -> Faults<'a> {
        let seen = &told.counter.seen;
        let is_inside = |edge: &&Edge| edge.from.is_some() && edge.to.0 < seen.len();
        let ways = told.histories.edges.iter().filter(is_inside);
        let ways = ways.map(|edge| (edge, told.histories.fault_on(edge)));
        let ways = ways.filter(|(_, fault)| *fault != Fault::None).collect();
        Faults { told, ways, order: Order::new(seen.iter().map(|seen| (seen.at.lo_ms, seen.at.hi_ms))) }
    }

    /// How likely the line saw too little, or too much, somewhere between two instants.
    pub(super) fn shares(&self, from: When, to: When) -> (f64, f64) {
        let seen = &self.told.counter.seen;
        let near = self.order.near(from.lo_ms, to.hi_ms);
        let from_here = self.ways.partition_point(|(edge, _)| edge.to.0 < near.start);
        let (mut under, mut over) = (0.0, 0.0);
        let last = near.end + ASIDE_MAX;
        for (edge, fault) in self.ways[from_here..].iter().take_while(|(edge, _)| edge.to.0 <= last) {
            let Some((j, _)) = edge.from else { continue };
            if seen[j].at.lo_ms > to.hi_ms || seen[edge.to.0].at.hi_ms < from.lo_ms {
                continue;
            }
            if *fault == Fault::Under { under += edge.share } else { over += edge.share }
        }
        (under, over)
    }
}
