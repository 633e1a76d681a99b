//! The likeliest history of one counter, and how likely each thing in it is: exact, over all figures at once.
//!
//! ```text
//!  figures      r0 -------- r1 -------- r2 -------- r3          each is sound, or set aside
//!                \__________/ \____________________/
//!                 stretch       stretch, r2 set aside           between sound ones: one event, one law, one fault
//! ```
//! A history is a path over the sound figures. Its weight is the product of what its stretches ([`events`](super::events))
//! and its figures set aside cost. Adding up over all paths to a figure (forward) and from it (backward) gives the share
//! of any stretch, and so the probability of what happened in it; taking the greatest instead of the sum gives the
//! likeliest path. At most [`ASIDE_MAX`] figures running are set aside; what is less likely than 1 in e^20 of the
//! likeliest way to the same figure is dropped.
//!
//! The ways between two figures are in [`ways`], what becomes of figures set aside in [`aside`], and what the figures tell of
//! a line where its log is open in [`narrow`](mod@narrow).

mod aside;
mod narrow;
mod ways;

pub(super) use aside::Aside;

use self::aside::{Course, Figures, log_most};
use self::narrow::narrow;
use self::ways::{Ways, begin, extend, finish, log_new_law};
use super::counter::Counter;
use super::events::{Event, Owed, Scale, Shown};
use super::moves::{Fault, Law, Moves};
use super::surprise::{LogSum, log_sum};
use std::cell::{OnceCell, RefCell};
use std::rc::Rc;

/// So many figures in a row may be set aside.
pub(super) const ASIDE_MAX: usize = 3;
/// Ways less likely than this, against the likeliest to the same figure, are dropped: a natural logarithm.
const DROP: f64 = 20.0;

/// In what state the counter and the logger's line are at a sound figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct State {
    /// Which of the counter's laws.
    pub(super) law: usize,
    /// The unit in which the figure was written.
    pub(super) scale: Scale,
    /// The line's fault.
    pub(super) fault: Fault,
    /// The other half of a zeroing on another day than recorded.
    pub(super) owed: Option<Owed>,
    /// Which figure counts: `None`, the one that stands there; otherwise one of its swaps.
    pub(super) swap: Option<usize>,
}

/// A way from one sound figure to the next.
#[derive(Clone, Debug)]
pub(super) struct Edge {
    /// From which figure and which of its states; `None`: the first sound figure.
    pub(super) from: Option<(usize, usize)>,
    /// To which figure and which of its states; the figure behind the last stands for the end.
    pub(super) to: (usize, usize),
    /// What happened.
    pub(super) event: Event,
    /// A line's fault began and ended within the stretch.
    pub(super) brief: Fault,
    /// The figures set aside on the way; ways that set them aside alike share them.
    pub(super) aside: Figures,
    /// Its weight, a natural logarithm.
    log_weight: f64,
    /// Its share of all histories.
    pub(super) share: f64,
}

/// What came out.
#[derive(Clone, Debug, Default)]
pub(super) struct Histories {
    /// States of each figure.
    pub(super) states: Vec<Vec<State>>,
    /// All ways with their shares.
    pub(super) edges: Vec<Edge>,
    /// The likeliest path, as edges, from the first to the last.
    pub(super) best: Vec<usize>,
    /// The logarithm of the chance of all figures, over all histories.
    pub(super) log_evidence: f64,
}

impl Histories {
    /// The ways that lead to figures in a range. Ways stand in order of the figure they lead to.
    pub(super) fn leading_to(&self, figures: std::ops::RangeInclusive<usize>) -> &[Edge] {
        let from = self.edges.partition_point(|edge| edge.to.0 < *figures.start());
        let to = self.edges.partition_point(|edge| edge.to.0 <= *figures.end());
        self.edges.get(from..to).unwrap_or(&[])
    }

    /// The states that a way leads from and to; none before the first sound figure and behind the last.
    pub(super) fn states_of(&self, edge: &Edge) -> (Option<State>, Option<State>) {
        let at = |(i, state): (usize, usize)| self.states.get(i).and_then(|all| all.get(state)).copied();
        let is_end = edge.to.0 + 1 == self.states.len();
        (edge.from.and_then(at), if is_end { None } else { at(edge.to) })
    }

    /// The fault of the line on a way: at its beginning, its end or within it.
    pub(super) fn fault_on(&self, edge: &Edge) -> Fault {
        let (from, to) = self.states_of(edge);
        let faults = from.into_iter().chain(to).map(|state| state.fault);
        faults.fold(edge.brief, Fault::max)
    }

    /// The ways that cover the stretch before a figure: of them, exactly one is true.
    pub(super) fn covering(&self, gap: usize) -> impl Iterator<Item = &Edge> {
        let covers = move |edge: &&Edge| edge.from.is_none_or(|(j, _)| j < gap);
        self.leading_to(gap..=gap + ASIDE_MAX + 1).iter().filter(covers)
    }
}

/// Works out the histories of a counter. `None`: it has no figures.
pub(super) fn histories(counter: &Counter) -> Option<Histories> {
    let n = counter.seen.len();
    if n == 0 {
        return None;
    }
    let stretches = Stretches::new(counter);
    let mut found = Histories::default();
    let mut forward: Vec<Vec<f64>> = Vec::with_capacity(n + 1);
    let mut totals: Vec<Vec<Option<(f64, f64)>>> = Vec::with_capacity(n + 1);
    let mut ways = Ways::default();
    for i in 0..=n {
        // The nearest figure first: it most likely sets the mark below which all others are dropped.
        for j in (i.saturating_sub(ASIDE_MAX + 1)..i).rev() {
            let alive = Alive { j, states: &found.states[j], log_totals: &forward[j], on_h: &totals[j] };
            if i == n {
                finish(&stretches, &alive, &mut ways);
            } else {
                extend(&stretches, &alive, i, &mut ways);
            }
        }
        if i <= ASIDE_MAX && i < n {
            begin(&stretches, i, &mut ways);
        }
        keep(&mut found, &mut forward, i, &mut ways);
        totals.push(narrow(&stretches, &found, &forward, &totals, i));
    }
    found.log_evidence = log_sum(forward[n].iter().copied());
    let backward = backward(&found, n);
    for edge in &mut found.edges {
        let before = edge.from.map_or(0.0, |(j, state)| forward[j][state]);
        let after = backward[edge.to.0][edge.to.1];
        edge.share = (before + edge.log_weight + after - found.log_evidence).exp();
    }
    found.best = best(&found, n);
    Some(found)
}

/// A counter, and what can have moved between any two figures near each other, worked out when first asked for.
struct Stretches<'c, 'w> {
    counter: &'c Counter<'w>,
    known: Vec<[OnceCell<Moves>; ASIDE_MAX + 1]>,
    since_zeroing: Vec<[OnceCell<Option<Moves>>; ASIDE_MAX + 1]>,
    /// For each law: how likely a new box follows it, if the old one followed another, and if it followed this.
    log_new_laws: Vec<[f64; 2]>,
    /// By figure: those behind it as they are set aside, for each way to read it.
    courses: Vec<RefCell<Vec<Course>>>,
    /// How likely each figure is set aside at most, a logarithm.
    log_most: Vec<f64>,
    /// No figures set aside.
    none: Figures,
}

impl<'c, 'w> Stretches<'c, 'w> {
    fn new(counter: &'c Counter<'w>) -> Self {
        let known = counter.seen.iter().map(|_| std::array::from_fn(|_| OnceCell::new())).collect();
        let since_zeroing = counter.seen.iter().map(|_| std::array::from_fn(|_| OnceCell::new())).collect();
        let new_law = |(_, log_law): &(Law, f64)| [false, true].map(|same| log_new_law(*log_law, same));
        let log_new_laws = counter.laws.iter().map(new_law).collect();
        let courses = counter.seen.iter().map(|_| RefCell::default()).collect();
        let log_most = (0..counter.seen.len()).map(|k| log_most(counter, k)).collect();
        Stretches { counter, known, since_zeroing, log_new_laws, courses, log_most, none: Rc::from([]) }
    }

    /// From the last zeroing recorded between the two, if one is.
    fn since_zeroing(&self, j: usize, i: usize) -> Option<&Moves> {
        let found = || self.counter.since_zeroing(j, i);
        self.since_zeroing[i][i - j - 1].get_or_init(found).as_ref()
    }

    /// From figure `j` to figure `i`, at most [`ASIDE_MAX`] others between.
    fn moves(&self, j: usize, i: usize) -> &Moves {
        self.known[i][i - j - 1].get_or_init(|| self.counter.moves(j, i))
    }
}

/// The states of a figure that ways may go on from.
struct Alive<'a> {
    j: usize,
    states: &'a [State],
    log_totals: &'a [f64],
    on_h: &'a [Option<(f64, f64)>],
}

/// Keeps the ways to figure `i` that are likely enough, and joins those that end in one state.
fn keep(found: &mut Histories, forward: &mut Vec<Vec<f64>>, i: usize, ways: &mut Ways) {
    let most = ways.most.take().unwrap_or(f64::NEG_INFINITY);
    let mut states: Vec<State> = Vec::new();
    let mut totals: Vec<LogSum> = Vec::new();
    for mut way in ways.kept.drain(..).filter(|way| way.log_total >= most - DROP) {
        let at = states.iter().position(|state| *state == way.state).unwrap_or_else(|| {
            states.push(way.state);
            totals.push(LogSum::default());
            states.len() - 1
        });
        totals[at].add(way.log_total);
        way.edge.to = (i, at);
        found.edges.push(way.edge);
    }
    found.states.push(states);
    forward.push(totals.into_iter().map(LogSum::log).collect());
}

fn backward(found: &Histories, n: usize) -> Vec<Vec<f64>> {
    let mut after: Vec<Vec<LogSum>> =
        found.states.iter().map(|states| vec![LogSum::default(); states.len()]).collect();
    let mut backward: Vec<Vec<f64>> = vec![Vec::new(); n];
    backward.push(vec![0.0; found.states[n].len()]);
    // Edges stand in order of the figure they lead to: so all that leave a figure come before those that lead to it.
    let mut edges = found.edges.iter().rev().peekable();
    for i in (0..=n).rev() {
        if i < n {
            backward[i] = after[i].iter().copied().map(LogSum::log).collect();
        }
        while let Some(edge) = edges.next_if(|edge| edge.to.0 == i) {
            if let Some((j, state)) = edge.from {
                after[j][state].add(edge.log_weight + backward[i][edge.to.1]);
            }
        }
    }
    backward
}

/// The likeliest path.
fn best(found: &Histories, n: usize) -> Vec<usize> {
    let mut reached: Vec<Vec<(f64, Option<usize>)>> =
        found.states.iter().map(|states| vec![(f64::NEG_INFINITY, None); states.len()]).collect();
    for (at, edge) in found.edges.iter().enumerate() {
        let before = edge.from.map_or(0.0, |(j, state)| reached[j][state].0);
        let total = before + edge.log_weight;
        let to = &mut reached[edge.to.0][edge.to.1];
        if total > to.0 {
            *to = (total, Some(at));
        }
    }
    let end = reached[n].iter().copied().max_by(|a, b| a.0.total_cmp(&b.0));
    let mut path = Vec::new();
    let mut next = end.and_then(|(_, edge)| edge);
    while let Some(at) = next {
        path.push(at);
        next = found.edges[at].from.and_then(|(j, state)| reached[j][state].1);
    }
    path.reverse();
    path
}

/// The figure that counts in a state, as shown.
pub(super) fn shown(counter: &Counter, i: usize, scale: Scale, swap: Option<usize>) -> Shown {
    let seen = &counter.seen[i];
    let written = swap.and_then(|at| seen.swaps.get(at)).map_or(seen.hours, |swap| swap.hours);
    Shown::new(written, counter.step_h, scale)
}

#[cfg(test)]
#[path = "chain_tests.rs"]
mod tests;
