//! The ways to one figure: from each figure before it, with all that can have happened in between.

use super::aside::{Aside, Between, CLOSER_MOST, backward_range, between_both, set_aside};
use super::narrow::narrowed;
use super::{Alive, DROP, Edge, State, Stretches, shown};
use crate::reconcile::counter::Counter;
use crate::reconcile::events::{Event, Owed, Pair, Scale, log_likelihood};
use crate::reconcile::moves::{Fault, Moves};
use crate::reconcile::priors;
use halfglass_protocol::config::Role;
use std::cell::OnceCell;
use std::rc::Rc;

/// A figure of fewer steps than this fits any unit, and so says nothing of it.
const UNIT_STEPS: f64 = 20.0;

/// Ways to one figure.
#[derive(Default)]
pub(super) struct Ways {
    pub(super) kept: Vec<Way>,
    pub(super) most: Option<f64>,
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
pub(super) struct Way {
    pub(super) edge: Edge,
    pub(super) state: State,
    pub(super) log_total: f64,
}

/// A figure taken as sound: as it stands, or a swapped one; with the logarithm of the chance of that.
fn readings_of(counter: &Counter, i: usize) -> impl Iterator<Item = (Option<usize>, f64)> {
    let swaps = &counter.seen[i].swaps;
    let as_is = (1.0 - priors::SLIP - priors::OFF_WITHIN_CLOCK - priors::IMPOSSIBLE).ln();
    std::iter::once((None, as_is))
        .chain(swaps.iter().enumerate().map(|(at, swap)| (Some(at), swap.log_prior)))
}

/// Ways that begin at figure `i`, all before it set aside.
pub(super) fn begin(stretches: &Stretches, i: usize, ways: &mut Ways) {
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

/// Ways that end at figure `j`, all behind it set aside.
pub(super) fn finish(stretches: &Stretches, alive: &Alive, ways: &mut Ways) {
    let counter = stretches.counter;
    let (j, n) = (alive.j, counter.seen.len());
    let state = State { law: 0, scale: Scale::Hours, fault: Fault::None, owed: None, swap: None };
    let mut between = Between::new(stretches, j, n);
    let log_most = between.log_most();
    for (from, (at, log_before)) in alive.states.iter().zip(alive.log_totals).enumerate() {
        let earlier = shown(counter, j, at.scale, at.swap);
        // A zeroing that should have followed by the last figure and did not.
        if matches!(at.owed, Some(Owed::Late(fit)) if !counter.may_be_late(fit, n - 1)) {
            continue;
        }
        if !ways.would_keep(log_before + log_most) {
            continue;
        }
        let (passed, log_weight) = between.get(at, earlier);
        ways.push(log_before + log_weight, state, || Edge {
            from: Some((j, from)),
            to: (n, 0),
            event: Event::AsRecorded,
            brief: Fault::None,
            aside: between.figures(passed),
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
pub(super) fn log_new_law(log_law: f64, same: bool) -> f64 {
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
pub(super) fn extend(stretches: &Stretches, alive: &Alive, i: usize, ways: &mut Ways) {
    let (counter, j) = (stretches.counter, alive.j);
    // Worked out when the first way gets so far.
    let possibilities = OnceCell::new();
    // By the fault before, and whether the line that the counter follows is watched.
    let courses: [OnceCell<_>; 6] = Default::default();
    let mut between = Between::new(stretches, j, i);
    let log_most = between.log_most();
    for (from, (at, log_before)) in alive.states.iter().zip(alive.log_totals).enumerate() {
        let earlier = shown(counter, j, at.scale, at.swap);
        // Most states are so unlikely that it need not be known how they set figures aside.
        if !ways.would_keep(log_before + log_most) {
            continue;
        }
        let (passed, log_between) = between.get(at, earlier);
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
                let log_closest = closer.as_ref().map_or(log_between, |(_, closer)| log_between.max(*closer));
                for (fault, brief, log_fault) in courses {
                    // Nothing that can happen makes it likelier.
                    if !ways.would_keep(log_before + (log_closest + log_rest + log_fault)) {
                        continue;
                    }
                    let within = at.fault.max(*fault).max(*brief);
                    for possible in possibilities {
                        let calm = possible.event == Event::AsRecorded && within == Fault::None;
                        let closer = closer.as_ref().filter(|_| calm);
                        let log_between = closer.map_or(log_between, |(_, log_chance)| *log_chance);
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
                                aside: closer
                                    .map_or_else(|| between.figures(passed), |(aside, _)| Rc::clone(aside)),
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
