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

use super::counter::Counter;
use super::events::{Event, Owed, Pair, Scale, Shown, log_likelihood};
use super::moves::{Fault, Law, Moves};
use super::priors;
use super::surprise::{LogSum, in_range, log_sum};
use halfglass_protocol::config::Role;
use std::cell::OnceCell;
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

/// Why a figure is set aside, and how likely each reason is against the others.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Aside {
    /// A digit slipped.
    pub(super) slip: f64,
    /// Off, but the clock allows it.
    pub(super) off: f64,
    /// Any figure at all.
    pub(super) impossible: f64,
    /// The other radar's figure.
    pub(super) other: f64,
    /// A fitting's own figure, of another day than recorded.
    pub(super) other_day: f64,
    /// Nothing: it is sound, but the log is so coarse around it that it says less of what follows than the figure before.
    pub(super) sound: f64,
}

impl Aside {
    pub(super) fn sum(&self) -> f64 {
        self.slip + self.off + self.impossible + self.other + self.other_day + self.sound
    }

    /// Whether most likely nothing is wrong with it.
    pub(super) fn is_sound(&self) -> bool {
        self.sound > 0.5 * self.sum()
    }
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
    pub(super) aside: Rc<[(usize, Aside)]>,
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
    for i in 0..=n {
        let mut ways = Ways::default();
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
        keep(&mut found, &mut forward, i, ways);
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
    /// No figures set aside.
    none: Rc<[(usize, Aside)]>,
}

impl<'c, 'w> Stretches<'c, 'w> {
    fn new(counter: &'c Counter<'w>) -> Self {
        let known = counter.seen.iter().map(|_| std::array::from_fn(|_| OnceCell::new())).collect();
        let since_zeroing = counter.seen.iter().map(|_| std::array::from_fn(|_| OnceCell::new())).collect();
        let new_law = |(_, log_law): &(Law, f64)| [false, true].map(|same| log_new_law(*log_law, same));
        let log_new_laws = counter.laws.iter().map(new_law).collect();
        Stretches { counter, known, since_zeroing, log_new_laws, none: Rc::from([]) }
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

/// The line's total at a figure, by state: as the log has it and, where that is open, as the figures before narrow it
/// on the likeliest way. Without it a figure whose time the log cannot place would break the chain in two.
fn narrow(
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

/// Ways to one figure.
#[derive(Default)]
struct Ways {
    kept: Vec<Way>,
    most: Option<f64>,
}

impl Ways {
    /// Whether a way of at most this weight would be kept.
    fn would_keep(&self, log_total: f64) -> bool {
        self.most.is_none_or(|most| log_total >= most - DROP)
    }

    /// What a way must have on top of this to be kept, less what rounding can do.
    fn least(&self, log_so_far: f64) -> f64 {
        self.most.map_or(f64::NEG_INFINITY, |most| most - DROP - log_so_far - 1e-9)
    }

    fn push(&mut self, log_total: f64, state: State, edge: impl FnOnce() -> Edge) {
        if self.would_keep(log_total) {
            self.most = Some(self.most.map_or(log_total, |most| most.max(log_total)));
            self.kept.push(Way { edge: edge(), state, log_total });
        }
    }
}

/// A way that is not yet kept: where from, the state it ends in, and its weight with all before it.
struct Way {
    edge: Edge,
    state: State,
    log_total: f64,
}

/// Keeps the ways to figure `i` that are likely enough, and joins those that end in one state.
fn keep(found: &mut Histories, forward: &mut Vec<Vec<f64>>, i: usize, ways: Ways) {
    let most = ways.most.unwrap_or(f64::NEG_INFINITY);
    let mut states: Vec<State> = Vec::new();
    let mut totals: Vec<LogSum> = Vec::new();
    for mut way in ways.kept.into_iter().filter(|way| way.log_total >= most - DROP) {
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

/// A figure taken as sound: as it stands, or a swapped one; with the logarithm of the chance of that.
fn readings_of(counter: &Counter, i: usize) -> impl Iterator<Item = (Option<usize>, f64)> {
    let swaps = &counter.seen[i].swaps;
    let as_is = (1.0 - priors::SLIP - priors::OFF_WITHIN_CLOCK - priors::IMPOSSIBLE).ln();
    std::iter::once((None, as_is))
        .chain(swaps.iter().enumerate().map(|(at, swap)| (Some(at), swap.log_prior)))
}

/// Ways that begin at figure `i`, all before it set aside.
fn begin(stretches: &Stretches, i: usize, ways: &mut Ways) {
    let counter = stretches.counter;
    let units = priors::UNITS_PER_YEAR.ln();
    for (law, (_, log_law)) in counter.laws.iter().enumerate() {
        for scale in Scale::ALL {
            for (swap, log_sound) in readings_of(counter, i) {
                if scale != Scale::Hours && counter.seen[i].hours < UNIT_STEPS * counter.step_h {
                    continue;
                }
                let log_scale = if scale == Scale::Hours { 0.0 } else { units };
                let later = shown(counter, i, scale, swap);
                let aside: Rc<[(usize, Aside)]> = (0..i)
                    .map(|k| {
                        (k, set_aside(counter, k, backward_range(stretches, law, k, i, later), None, scale))
                    })
                    .collect();
                let log_aside: f64 = aside.iter().map(|(_, why)| why.sum().ln()).sum();
                let log_weight = log_law + log_scale + log_sound + log_aside;
                let state = State { law, scale, fault: Fault::None, owed: None, swap };
                ways.push(log_weight, state, || Edge {
                    from: None,
                    to: (i, 0),
                    event: Event::AsRecorded,
                    brief: Fault::None,
                    aside,
                    log_weight,
                    share: 0.0,
                });
            }
        }
    }
}

/// Figures set aside, and the logarithm of the chance of that.
type Passed = (Rc<[(usize, Aside)]>, f64);

/// Figures between `j` and `i` as they are set aside, if the counter went on from `j` as recorded. Worked out once for
/// all states that read `j` alike.
struct Between<'s, 'c, 'w> {
    stretches: &'s Stretches<'c, 'w>,
    j: usize,
    i: usize,
    known: Vec<((usize, Scale, Fault), Shown, Passed)>,
}

impl<'s, 'c, 'w> Between<'s, 'c, 'w> {
    fn new(stretches: &'s Stretches<'c, 'w>, j: usize, i: usize) -> Self {
        Between { stretches, j, i, known: Vec::new() }
    }

    fn get(&mut self, at: &State, earlier: Shown) -> Passed {
        let read = (at.law, at.scale, at.fault);
        if self.i == self.j + 1 {
            return (Rc::clone(&self.stretches.none), 0.0);
        }
        if let Some((.., known)) = self.known.iter().find(|(r, e, _)| (*r, *e) == (read, earlier)) {
            return known.clone();
        }
        let mut log_weight = 0.0;
        let set_aside = |k: usize| {
            let (expected, elapsed_h) = forward_range(self.stretches, at, self.j, k, earlier);
            let why =
                set_aside(self.stretches.counter, k, expected, Some((earlier.hours, elapsed_h)), at.scale);
            log_weight += why.sum().ln();
            (k, why)
        };
        let passed = (self.j + 1..self.i).map(set_aside).collect();
        self.known.push((read, earlier, (Rc::clone(&passed), log_weight)));
        (passed, log_weight)
    }
}

/// The same figures, if the counter also goes on to `later` at figure `i` as recorded: what they should have been is
/// known from both sides then. `None`: from before it is known closely enough, or that tells nothing more.
fn between_both(
    stretches: &Stretches,
    (j, i): (usize, usize),
    at: &State,
    earlier: Shown,
    later: Shown,
) -> Option<Passed> {
    let mut aside = Vec::new();
    let mut log_weight = 0.0;
    let mut is_closer = false;
    for k in j + 1..i {
        let (mut expected, elapsed_h) = forward_range(stretches, at, j, k, earlier);
        if expected.1 - expected.0 > OPEN_STEPS * stretches.counter.step_h
            && at.fault == Fault::None
            && stretches.since_zeroing(k, i).is_none()
        {
            let (low, high) = backward_range(stretches, at.law, k, i, later);
            let both = (expected.0.max(low), expected.1.min(high));
            if both.0 <= both.1 {
                is_closer |= both.1 - both.0 < 0.5 * (expected.1 - expected.0);
                expected = both;
            }
        }
        let why = set_aside(stretches.counter, k, expected, Some((earlier.hours, elapsed_h)), at.scale);
        log_weight += why.sum().ln();
        aside.push((k, why));
    }
    is_closer.then(|| (aside.into(), log_weight))
}

/// Ways that end at figure `j`, all behind it set aside.
fn finish(stretches: &Stretches, alive: &Alive, ways: &mut Ways) {
    let counter = stretches.counter;
    let (j, n) = (alive.j, counter.seen.len());
    let state = State { law: 0, scale: Scale::Hours, fault: Fault::None, owed: None, swap: None };
    let mut between = Between::new(stretches, j, n);
    for (from, (at, log_before)) in alive.states.iter().zip(alive.log_totals).enumerate() {
        let earlier = shown(counter, j, at.scale, at.swap);
        // A zeroing that should have followed by the last figure and did not.
        if matches!(at.owed, Some(Owed::Late(fit)) if !counter.may_be_late(fit, n - 1)) {
            continue;
        }
        let (aside, log_weight) = between.get(at, earlier);
        ways.push(log_before + log_weight, state, || Edge {
            from: Some((j, from)),
            to: (n, 0),
            event: Event::AsRecorded,
            brief: Fault::None,
            aside,
            log_weight,
            share: 0.0,
        });
    }
}

/// How a line's fault can go on over a stretch: the fault at its end, one within it, and the logarithm of the chance.
fn fault_courses(counter: &Counter, followed: Role, at: Fault, moves: &Moves) -> Vec<(Fault, Fault, f64)> {
    if !counter.watch.has(counter.role) || !counter.watch.has(followed) {
        return vec![(Fault::None, Fault::None, 0.0)];
    }
    let begins = |per_year: f64, breach_h: f64| {
        let chance = (per_year * moves.years).min(0.5);
        if breach_h > 0.2 { chance.max(priors::FAULT_WHEN_BREACHED) } else { chance }
    };
    let ends = |years: f64| 1.0 - (-moves.years / years).exp();
    match at {
        Fault::None => {
            let (under, over) = (
                begins(priors::UNDER_PER_YEAR, moves.under_breach_h),
                begins(priors::OVER_PER_YEAR, moves.over_breach_h),
            );
            let (under_ends, over_ends) = (ends(priors::UNDER_YEARS), ends(priors::OVER_YEARS));
            vec![
                (Fault::None, Fault::None, (1.0 - under - over).max(0.1).ln()),
                (Fault::Under, Fault::None, (under * (1.0 - under_ends)).ln()),
                (Fault::None, Fault::Under, (under * under_ends).ln()),
                (Fault::Over, Fault::None, (over * (1.0 - over_ends)).ln()),
                (Fault::None, Fault::Over, (over * over_ends).ln()),
            ]
        }
        Fault::Under | Fault::Over => {
            let end = ends(if at == Fault::Under { priors::UNDER_YEARS } else { priors::OVER_YEARS });
            vec![(at, Fault::None, (1.0 - end).ln()), (Fault::None, Fault::None, end.ln())]
        }
    }
}

/// The law of a new box: as likely as not that of the old one, which the set or the logger made; else any.
fn log_new_law(log_law: f64, same: bool) -> f64 {
    let kept = if same { priors::LAW_KEPT } else { 0.0 };
    (kept + (1.0 - priors::LAW_KEPT) * log_law.exp()).ln()
}

/// How the unit can change: the logarithm of the chance.
fn log_unit(from: Scale, to: Scale, years: f64) -> f64 {
    match (from, to) {
        (Scale::Hours, Scale::Hours) => 0.0,
        (Scale::Hours, _) => (priors::UNITS_PER_YEAR / 2.0 * years.min(1.0)).ln(),
        (_, Scale::Hours) => priors::UNITS_END.ln(),
        (a, b) if a == b => (1.0 - priors::UNITS_END).ln(),
        _ => f64::NEG_INFINITY,
    }
}

/// Ways from figure `j` to figure `i`, all between set aside.
fn extend(stretches: &Stretches, alive: &Alive, i: usize, ways: &mut Ways) {
    let (counter, j) = (stretches.counter, alive.j);
    // Worked out when the first way gets so far.
    let possibilities = OnceCell::new();
    // By the fault before, and whether the line that the counter follows is watched.
    let courses: [OnceCell<_>; 6] = Default::default();
    let mut between = Between::new(stretches, j, i);
    for (from, (at, log_before)) in alive.states.iter().zip(alive.log_totals).enumerate() {
        let earlier = shown(counter, j, at.scale, at.swap);
        let (aside, log_between) = between.get(at, earlier);
        if !ways.would_keep(log_before + log_between) {
            continue;
        }
        let moves = stretches.moves(j, i);
        let possibilities = possibilities.get_or_init(|| counter.possibilities(j, i, moves));
        let followed = Moves::follows(counter.laws[at.law].0, counter.role).0;
        let known = 2 * at.fault as usize + usize::from(counter.watch.has(followed));
        let courses = courses[known].get_or_init(|| fault_courses(counter, followed, at.fault, moves));
        let narrowed = narrowed(counter, j, at, alive.on_h.get(from).copied().flatten(), moves);
        for (swap, log_sound) in readings_of(counter, i) {
            for scale in Scale::ALL {
                // A small figure fits any unit: it goes on in the unit that was, and changes none.
                if scale != at.scale && counter.seen[i].hours < UNIT_STEPS * counter.step_h {
                    continue;
                }
                let log_rest = log_sound + log_unit(at.scale, scale, moves.years);
                let apart = (i - j - 1) as f64;
                if !ways.would_keep(log_before + log_between + log_rest + CLOSER_MOST * apart) {
                    continue;
                }
                let pair = Pair { earlier, later: shown(counter, i, scale, swap), narrowed };
                let closer = if scale == at.scale && i - j > 1 {
                    between_both(stretches, (j, i), at, earlier, pair.later)
                } else {
                    None
                };
                for (fault, brief, log_fault) in courses {
                    let within = at.fault.max(*fault).max(*brief);
                    for possible in possibilities {
                        let calm = possible.event == Event::AsRecorded && within == Fault::None;
                        let (aside, log_between) = closer
                            .as_ref()
                            .filter(|_| calm)
                            .map_or((&aside, log_between), |(aside, log_weight)| (aside, *log_weight));
                        let log_state = log_between + log_rest + log_fault;
                        if !ways.would_keep(log_before + log_state + possible.log_prior) {
                            continue;
                        }
                        let owed = if possible.owed.0 == at.owed {
                            possible.owed.1
                        } else if possible.event == Event::AsRecorded
                            && at.owed.is_some_and(|owed| counter.may_wait(owed, j, i))
                        {
                            at.owed
                        } else {
                            continue;
                        };
                        let new_box = possible.event == Event::Exchanged;
                        let laws = if new_box { 0..counter.laws.len() } else { at.law..at.law + 1 };
                        for law in laws {
                            let is = counter.laws[law].0;
                            let log_laws = stretches.log_new_laws[law];
                            let log_law = if new_box { log_laws[usize::from(law == at.law)] } else { 0.0 };
                            let log_prior = log_state + possible.log_prior + log_law;
                            let least = ways.least(log_before + log_prior);
                            if least > 0.0 {
                                continue;
                            }
                            let log_weight =
                                log_prior + log_likelihood(possible, moves, is, within, pair, least);
                            let state = State { law, scale, fault: *fault, owed, swap };
                            ways.push(log_before + log_weight, state, || Edge {
                                from: Some((j, from)),
                                to: (i, 0),
                                event: possible.event,
                                brief: *brief,
                                aside: Rc::clone(aside),
                                log_weight,
                                share: 0.0,
                            });
                        }
                    }
                }
            }
        }
    }
}

/// By how much the figures before narrow what can have moved since figure `j`: at the low end, and at the high end.
fn narrowed(counter: &Counter, j: usize, at: &State, on_h: Option<(f64, f64)>, moves: &Moves) -> (f64, f64) {
    let law = counter.laws[at.law].0;
    let (role, ratio) = Moves::follows(law, counter.role);
    let open = counter.watch.total_at(role, &counter.seen[j].mark);
    let cut_h = moves.cut_h(law);
    open.zip(on_h).map_or((0.0, 0.0), |((low, high), (least, most))| {
        (((high - most - cut_h.0) * ratio).max(0.0), ((least - low - cut_h.1) * ratio).max(0.0))
    })
}

/// Where the counter should stand at figure `k` if only what is recorded happened since figure `j`, and how much time
/// passed.
fn forward_range(stretches: &Stretches, at: &State, j: usize, k: usize, earlier: Shown) -> ((f64, f64), f64) {
    let (law, dark) = (stretches.counter.laws[at.law].0, !stretches.counter.fed);
    let elapsed_h = stretches.moves(j, k).elapsed_h;
    if let Some(since) = stretches.since_zeroing(j, k) {
        return (since.range(law, at.fault, dark), elapsed_h);
    }
    let (low, high) = stretches.moves(j, k).range(law, at.fault, dark);
    ((earlier.hours + low, earlier.hours + earlier.width_h + high), elapsed_h)
}

/// Where the counter should have stood at figure `k` if only what is recorded happened until figure `i`.
fn backward_range(stretches: &Stretches, law: usize, k: usize, i: usize, later: Shown) -> (f64, f64) {
    if stretches.since_zeroing(k, i).is_some() {
        return (0.0, priors::COUNTER_MAX_H);
    }
    let moves = stretches.moves(k, i);
    let (low, high) = moves.range(stretches.counter.laws[law].0, Fault::None, !stretches.counter.fed);
    (later.hours - high, later.hours + later.width_h - low)
}

/// Where the log leaves a total more open than this, a figure is passed over rather than counted on from, in hours.
const LOOSE_H: f64 = 6.0;
/// Where a figure should be is looked at from behind as well if it is more open than this many steps.
const OPEN_STEPS: f64 = 10.0;
/// By how much that can raise the chance of a figure set aside: a natural logarithm.
const CLOSER_MOST: f64 = 8.0;
/// A renewal takes no longer, in hours.
const WORK_H: f64 = 8.0;
/// A figure of fewer steps than this fits any unit, and so says nothing of it.
const UNIT_STEPS: f64 = 20.0;

/// The chances of a figure that is set aside, by reason; in the unit that figures are written in.
fn set_aside(
    counter: &Counter,
    k: usize,
    expected: (f64, f64),
    before: Option<(f64, f64)>,
    scale: Scale,
) -> Aside {
    let seen = &counter.seen[k];
    let step_h = counter.step_h;
    let per_hour = scale.written(1.0);
    let expected = (expected.0 * per_hour, expected.1 * per_hour);
    let before = before.map(|(figure_h, elapsed_h)| (figure_h * per_hour, elapsed_h * per_hour));
    let steps = |hours: f64| (hours / step_h).floor().max(0.0) as u64;
    let (first, last) = (steps(expected.0 + 1e-9), steps(expected.1));
    let within = before.is_some_and(|(figure_h, elapsed_h)| {
        (-step_h..=elapsed_h + step_h).contains(&(seen.hours - figure_h))
    });
    let elapsed_h = before.map_or(0.0, |(_, elapsed_h)| elapsed_h);
    let other = seen.other_radar_h.map_or(0.0, |(low, high)| step_h / (high - low).max(step_h));
    // What a fitting's record says was read when the work was done, which may be another day than it says.
    let reach_h = priors::MISDATED_DAYS * 24.0;
    let near = (expected.0 - reach_h..=expected.1 + reach_h).contains(&seen.hours);
    let other_day = seen.side != 0 && near;
    Aside {
        slip: priors::SLIP * seen.origins.chance_in(first, last.max(first)),
        off: if within { priors::OFF_WITHIN_CLOCK * step_h / (elapsed_h + 2.0 * step_h) } else { 0.0 },
        impossible: priors::IMPOSSIBLE * step_h / priors::IMPOSSIBLE_MAX_H,
        other: priors::OTHER_SOURCE * other,
        sound: if counter.watch.looseness_h(counter.role, &seen.mark) > LOOSE_H || seen.side < 0 {
            // What a fitting's record says was read before the work is hours older than the record.
            let work_h = if seen.side < 0 { WORK_H } else { 0.0 };
            let (low, high) = (expected.0 - work_h, expected.1);
            in_range(seen.hours, low, high, step_h, 0.0, step_h).exp()
        } else {
            let free_h = priors::MISNOTED_H * per_hour;
            let (low, high) = (expected.0 - free_h, expected.1 + free_h);
            priors::MISNOTED * in_range(seen.hours, low, high, step_h, 0.0, step_h).exp()
        },
        other_day: if other_day { priors::MISDATED * step_h / (2.0 * reach_h) } else { 0.0 },
    }
}

#[cfg(test)]
#[path = "chain_tests.rs"]
mod tests;
