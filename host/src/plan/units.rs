//! What is chosen independently: works that may share a window with each other, and all ways of spreading them.

use super::Problem;
use super::fit::{Load, holds};
use super::options::Options;
use super::value::Value;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// At most so many ways of spreading the works of one unit are looked at: four works over forty windows, and leaving.
const WAYS_MAX: usize = 3_000_000;

/// And so many where all are kept: three works.
const WAYS_KEPT_MAX: usize = 100_000;

/// Works of one radar.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    pub(super) radar: usize,
    /// Cheapest first.
    pub(super) patterns: Vec<Pattern>,
    /// No way that could be better was left out.
    pub(super) whole: bool,
}

/// One way of spreading them.
#[derive(Clone, Debug)]
pub(super) struct Pattern {
    /// Where the radar is opened, rising.
    pub(super) windows: Vec<usize>,
    /// Without what other radars do: `both` is 0.
    pub(super) cost: Value,
    /// Which work takes which of its choices.
    pub(super) picks: Vec<(usize, usize)>,
}

/// A work with those of its choices that are to be looked at.
type Allowed = (usize, Vec<usize>);

/// Units in which every work keeps to its least chance of passing, as far as the windows of its own radar allow. If a
/// plan of those stands, no better one has any other: the first figure of a plan's value is the sum of those chances.
pub(super) fn lean(problem: &Problem, options: &[Options], radars: &[Vec<usize>]) -> Vec<Unit> {
    let mut units = Vec::new();
    for (radar, works) in radars.iter().enumerate() {
        let allowed: Vec<Allowed> =
            works.iter().map(|work| (*work, safest(&choices_of(options, *work)))).collect();
        let mut apart = Vec::new();
        for cluster in clusters(options, allowed) {
            apart.push(spread(problem, options, radar, &cluster, Kept::thin()).thinned_out());
        }
        if apart.iter().all(|unit| !unit.patterns.is_empty()) {
            units.extend(apart);
        } else {
            // Works that cannot share the only window which suits both: all ways, then the least chance of those.
            let all_choices: Vec<Allowed> = works.iter().map(|work| every(options, *work)).collect();
            let mut unit = spread(problem, options, radar, &all_choices, Kept::thin());
            let least = unit.patterns.iter().map(|pattern| pattern.cost.chance_percent).min();
            unit.patterns.retain(|pattern| Some(pattern.cost.chance_percent) == least);
            units.push(unit.thinned_out());
        }
    }
    units
}

/// A radar with all ways of spreading its works.
pub(super) fn all(problem: &Problem, options: &[Options], radar: usize, works: &[usize]) -> Unit {
    let allowed: Vec<Allowed> = works.iter().map(|work| every(options, *work)).collect();
    let mut unit = spread(problem, options, radar, &allowed, Kept::All(Vec::new()));
    unit.patterns.sort_by_key(|pattern| pattern.cost);
    unit
}

fn every(options: &[Options], work: usize) -> Allowed {
    (work, (0..options.get(work).map_or(0, |own| own.choices.len())).collect())
}

fn choices_of(options: &[Options], work: usize) -> Vec<Value> {
    options.get(work).map(|own| own.choices.iter().map(|choice| choice.cost).collect()).unwrap_or_default()
}

fn safest(costs: &[Value]) -> Vec<usize> {
    let least = costs.iter().map(|cost| cost.chance_percent).min();
    (0..costs.len()).filter(|at| costs.get(*at).map(|cost| cost.chance_percent) == least).collect()
}

/// Works whose windows overlap, directly or through others, belong together.
fn clusters(options: &[Options], allowed: Vec<Allowed>) -> Vec<Vec<Allowed>> {
    let windows = |(work, choices): &Allowed| -> Vec<usize> {
        let own = options.get(*work);
        choices.iter().filter_map(|at| own?.choices.get(*at)?.window).collect()
    };
    let mut clusters: Vec<(Vec<usize>, Vec<Allowed>)> = Vec::new();
    for work in allowed {
        let mut own = windows(&work);
        let mut members = vec![work];
        let mut apart = Vec::new();
        for (others, theirs) in clusters {
            if others.iter().any(|window| own.contains(window)) {
                own.extend(others);
                members.extend(theirs);
            } else {
                apart.push((others, theirs));
            }
        }
        apart.push((own, members));
        clusters = apart;
    }
    clusters.into_iter().map(|(_, members)| members).collect()
}

/// All ways of spreading works over their choices that the windows hold.
fn spread(problem: &Problem, options: &[Options], radar: usize, works: &[Allowed], kept: Kept) -> Unit {
    let mut works = works.to_vec();
    let whole = trim(options, &mut works, kept.ways_max());
    let mut spread = Spread { problem, options, radar, works: &works, picks: Vec::new(), kept };
    spread.go(0, Value::NOTHING);
    Unit { radar, patterns: spread.kept.patterns(), whole }
}

/// Which ways are kept.
enum Kept {
    /// All.
    All(Vec<Pattern>),
    /// Of those that open the radar in the same windows and have the same chance of passing, the cheapest.
    Cheapest(BTreeMap<(Vec<usize>, i64), Pattern>),
}

impl Kept {
    fn thin() -> Kept {
        Kept::Cheapest(BTreeMap::new())
    }

    fn ways_max(&self) -> usize {
        match self {
            Kept::All(_) => WAYS_KEPT_MAX,
            Kept::Cheapest(_) => WAYS_MAX,
        }
    }

    fn take(&mut self, windows: Vec<usize>, cost: Value, picks: &[(usize, usize)]) {
        let pattern = |windows| Pattern { windows, cost, picks: picks.to_vec() };
        match self {
            Kept::All(all) => all.push(pattern(windows)),
            Kept::Cheapest(cheapest) => match cheapest.entry((windows, cost.chance_percent)) {
                Entry::Vacant(entry) => {
                    let windows = entry.key().0.clone();
                    entry.insert(pattern(windows));
                }
                Entry::Occupied(mut entry) if cost < entry.get().cost => {
                    let windows = entry.key().0.clone();
                    entry.insert(pattern(windows));
                }
                Entry::Occupied(_) => {}
            },
        }
    }

    fn patterns(self) -> Vec<Pattern> {
        match self {
            Kept::All(all) => all,
            Kept::Cheapest(cheapest) => cheapest.into_values().collect(),
        }
    }
}

/// Leaves to each work its cheapest choices, until the ways are few enough. Whether nothing was left out.
fn trim(options: &[Options], works: &mut [Allowed], ways_max: usize) -> bool {
    let ways = |works: &[Allowed]| works.iter().map(|(_, own)| own.len()).fold(1usize, usize::saturating_mul);
    let mut whole = true;
    while ways(works) > ways_max {
        whole = false;
        let Some((work, choices)) = works.iter_mut().max_by_key(|(_, choices)| choices.len()) else { break };
        let costs = choices_of(options, *work);
        let dearest = choices.iter().copied().max_by_key(|at| costs.get(*at).copied());
        choices.retain(|at| Some(*at) != dearest);
    }
    whole
}

struct Spread<'a> {
    problem: &'a Problem,
    options: &'a [Options],
    radar: usize,
    works: &'a [Allowed],
    picks: Vec<(usize, usize)>,
    kept: Kept,
}

impl Spread<'_> {
    fn go(&mut self, depth: usize, cost: Value) {
        let Some((work, allowed)) = self.works.get(depth) else {
            let mut windows: Vec<usize> = self.picks.iter().filter_map(|pick| self.window(*pick)).collect();
            windows.sort_unstable();
            windows.dedup();
            let isolations = i64::try_from(windows.len()).unwrap_or(i64::MAX);
            let cost = Value { isolations, ..cost };
            self.kept.take(windows, cost, &self.picks);
            return;
        };
        for at in allowed {
            let own = self.options.get(*work).and_then(|own| own.choices.get(*at));
            let Some(choice) = own else { continue };
            self.picks.push((*work, *at));
            if choice.window.is_none_or(|window| self.fits(window)) {
                self.go(depth + 1, cost + choice.cost);
            }
            self.picks.pop();
        }
    }

    fn window(&self, (work, at): (usize, usize)) -> Option<usize> {
        self.options.get(work)?.choices.get(at)?.window
    }

    fn fits(&self, window: usize) -> bool {
        let here: Vec<(usize, usize)> =
            self.picks.iter().copied().filter(|pick| self.window(*pick) == Some(window)).collect();
        // Each on its own was looked at before.
        here.len() < 2
            || self
                .problem
                .windows
                .get(window)
                .is_some_and(|window| holds(window, &loads(self.problem, self.options, self.radar, &here)))
    }
}

/// What these picks take of the window in which they all are.
pub(super) fn loads(
    problem: &Problem,
    options: &[Options],
    radar: usize,
    picks: &[(usize, usize)],
) -> Vec<Load> {
    picks
        .iter()
        .filter_map(|(work, at)| {
            let own = options.get(*work)?;
            Some(own.load(problem.works.get(*work)?, radar, own.choices.get(*at)?))
        })
        .collect()
}

impl Unit {
    /// Keeps only ways that can be best as long as two radars in one window have room: none that opens the radar in more
    /// windows at no less cost.
    fn thinned_out(mut self) -> Unit {
        let mut patterns = std::mem::take(&mut self.patterns);
        patterns.sort_by_key(|pattern| (pattern.cost, pattern.windows.len()));
        for pattern in patterns {
            let within =
                |known: &Pattern| known.windows.iter().all(|window| pattern.windows.contains(window));
            // Those kept so far cost no more.
            if !self.patterns.iter().any(within) {
                self.patterns.push(pattern);
            }
        }
        self
    }
}
