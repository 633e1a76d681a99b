//! The best of all combinations of the units' ways.

use super::Problem;
use super::assign::assign;
use super::board::Board;
use super::fit::{Load, holds};
use super::options::Options;
use super::units::{self, Unit};
use super::value::Value;
use std::ops::Add;

/// After so many ways weighed by branch and bound the best plan found so far is given.
pub const WEIGHED_MAX: usize = 10_000_000;

/// What it costs to see whether two radars have room in a window, in ways weighed.
const ROOM_COSTS: usize = 20;

/// With more ways than this in all, the bound does not look at which windows are taken.
const LOOKED_AT_MAX: usize = 4_000;

/// A plan: which choice each work takes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Solution {
    pub(super) picks: Vec<usize>,
    pub(super) value: Value,
    /// No plan is worth less.
    pub(super) least: Value,
    /// No other is better.
    pub(super) exact: bool,
}

pub(super) fn solve(problem: &Problem, options: &[Options]) -> Solution {
    let radars = problem.radars();
    let lean = units::lean(problem, options, &radars);
    let mut exact = lean.iter().all(|unit| unit.whole);
    let mut picks: Vec<usize> = options.iter().map(|own| own.choices.len().saturating_sub(1)).collect();
    let mut least = Value::NOTHING;
    for group in groups(lean) {
        let found = best(problem, options, &group, None);
        exact &= found.exact;
        least += found.least;
        found.apply(&group, &mut picks);
    }
    if let Some(value) = worth(problem, options, &radars, &picks) {
        return Solution { picks, value, least, exact: exact || value == least };
    }
    // Two radars were put where there is room for one of them.
    let all: Vec<Unit> =
        (0..).zip(&radars).map(|(radar, works)| units::all(problem, options, radar, works)).collect();
    let found = best(problem, options, &all, Some((least, &picks)));
    let whole = found.exact && all.iter().all(|unit| unit.whole);
    found.apply(&all, &mut picks);
    let value = worth(problem, options, &radars, &picks).unwrap_or(Value::WORST);
    Solution { picks, value, least, exact: whole || value == least }
}

/// What a plan is worth; `None` if a window does not hold what is planned for it.
/// `radars`: the works of each.
pub(super) fn worth(
    problem: &Problem,
    options: &[Options],
    radars: &[Vec<usize>],
    picks: &[usize],
) -> Option<Value> {
    let mut value = Value::NOTHING;
    let mut loads: Vec<Vec<Load>> = vec![Vec::new(); problem.windows.len()];
    for (radar, works) in radars.iter().enumerate() {
        for work in works {
            let own = options.get(*work)?;
            let choice = own.choices.get(*picks.get(*work)?)?;
            value += choice.cost;
            if let Some(here) = choice.window.and_then(|window| loads.get_mut(window)) {
                here.push(own.load(problem.works.get(*work)?, radar, choice));
            }
        }
    }
    for (window, loads) in problem.windows.iter().zip(&loads).filter(|(_, loads)| !loads.is_empty()) {
        let mut opened: Vec<usize> = loads.iter().map(|load| load.radar).collect();
        opened.sort_unstable();
        opened.dedup();
        let opened = i64::try_from(opened.len()).unwrap_or(i64::MAX);
        value += Value { both: opened - 1, isolations: opened, ..Value::NOTHING };
        if loads.len() > 1 && !holds(window, loads) {
            return None;
        }
    }
    Some(value)
}

/// Units that share windows, directly or through others.
fn groups(units: Vec<Unit>) -> Vec<Vec<Unit>> {
    let mut groups: Vec<(Vec<usize>, Vec<Unit>)> = Vec::new();
    for unit in units {
        let mut own: Vec<usize> = unit.patterns.iter().flat_map(|pattern| pattern.windows.clone()).collect();
        own.sort_unstable();
        own.dedup();
        let mut members = vec![unit];
        let mut apart = Vec::new();
        for (windows, units) in groups {
            if windows.iter().any(|window| own.binary_search(window).is_ok()) {
                own.extend(windows);
                own.sort_unstable();
                own.dedup();
                members.extend(units);
            } else {
                apart.push((windows, units));
            }
        }
        apart.push((own, members));
        groups = apart;
    }
    groups.into_iter().map(|(_, units)| units).collect()
}

/// A pattern for each unit.
struct Found {
    patterns: Vec<usize>,
    /// No patterns cost less together.
    least: Value,
    exact: bool,
}

impl Found {
    fn apply(&self, units: &[Unit], picks: &mut [usize]) {
        for (unit, at) in units.iter().zip(&self.patterns) {
            let Some(pattern) = unit.patterns.get(*at) else { continue };
            for (work, choice) in &pattern.picks {
                if let Some(pick) = picks.get_mut(*work) {
                    *pick = *choice;
                }
            }
        }
    }
}

/// The best patterns. `room`: radars that share a window must fit into it; given are then what no plan undercuts, and the
/// plan that was best without this, as each work's choice.
fn best(problem: &Problem, options: &[Options], units: &[Unit], room: Option<(Value, &[usize])>) -> Found {
    let mut board = Board::new(problem, options, room.is_some());
    let mut first = board.descend(units, room.map_or(&[], |(_, picks)| picks));
    let mut least = room.map_or(Value::NOTHING, |(least, _)| least);
    if room.is_none()
        && let Some(assignment) = assign(units)
    {
        least = assignment.value;
        let single = units.iter().flat_map(|unit| &unit.patterns).all(|pattern| pattern.windows.len() <= 1);
        if single {
            return Found { patterns: assignment.patterns, least, exact: true };
        }
        let value = board.value(units, &assignment.patterns);
        if value < first.1 {
            first = (assignment.patterns, value);
        }
    }
    let mut order: Vec<usize> = (0..units.len()).collect();
    order.sort_by_key(|at| units.get(*at).map(|unit| unit.patterns.len()));
    let ordered: Vec<&Unit> = order.iter().filter_map(|at| units.get(*at)).collect();
    let cheapest = |unit: &&Unit| unit.patterns.first().map_or(Value::NOTHING, |pattern| pattern.cost);
    let mut rest = vec![Value::NOTHING; ordered.len() + 1];
    for at in (0..ordered.len()).rev() {
        rest[at] = rest[at + 1] + ordered.get(at).map_or(Value::NOTHING, cheapest);
    }
    let ways: usize = ordered.iter().map(|unit| unit.patterns.len()).sum();
    let (patterns, value) = first;
    let mut search = Search {
        board,
        rest,
        looks: ways <= LOOKED_AT_MAX,
        least,
        best: order.iter().filter_map(|at| patterns.get(*at).copied()).collect(),
        best_value: value,
        now: Vec::new(),
        weighed: 0,
        units: ordered,
    };
    search.go(Value::NOTHING);
    let mut patterns = vec![0; units.len()];
    for (at, pattern) in order.iter().zip(&search.best) {
        patterns[*at] = *pattern;
    }
    let exact = search.weighed < WEIGHED_MAX || search.best_value == least;
    let least = if exact { search.best_value } else { least };
    Found { patterns, least, exact }
}

/// Branch and bound, unit after unit, depth first.
struct Search<'a> {
    board: Board<'a>,
    units: Vec<&'a Unit>,
    /// What the units from each on cost at least.
    rest: Vec<Value>,
    looks: bool,
    /// No plan costs less.
    least: Value,
    best: Vec<usize>,
    best_value: Value,
    now: Vec<usize>,
    weighed: usize,
}

impl Search<'_> {
    fn go(&mut self, so_far: Value) {
        let depth = self.now.len();
        let Some(unit) = self.units.get(depth).copied() else {
            if so_far < self.best_value {
                self.best_value = so_far;
                self.best.clone_from(&self.now);
            }
            return;
        };
        for (at, pattern) in unit.patterns.iter().enumerate() {
            if self.weighed >= WEIGHED_MAX || self.best_value == self.least {
                return;
            }
            self.weighed += 1;
            let rest = self.rest.get(depth + 1).copied().unwrap_or(Value::NOTHING);
            if so_far + pattern.cost + rest >= self.best_value {
                // The patterns behind it cost no less.
                return;
            }
            let cost = self.board.cost(pattern);
            if so_far + cost + rest >= self.best_value {
                continue;
            }
            if self.board.room {
                self.weighed += ROOM_COSTS;
                if !self.board.fits(unit, pattern) {
                    continue;
                }
            }
            self.board.place(unit, pattern);
            if so_far + cost + self.at_least(depth + 1, rest) < self.best_value {
                self.now.push(at);
                self.go(so_far + cost);
                self.now.pop();
            }
            self.board.lift(unit, pattern);
        }
    }

    /// What the units that are not decided cost at least beside those that are.
    fn at_least(&mut self, depth: usize, rest: Value) -> Value {
        if !self.looks {
            return rest;
        }
        let cost = |unit: &&Unit| unit.patterns.iter().map(|pattern| self.board.cost(pattern)).min();
        let units = self.units.get(depth..).unwrap_or_default();
        self.weighed += units.iter().map(|unit| unit.patterns.len()).sum::<usize>();
        units.iter().filter_map(cost).fold(Value::NOTHING, Add::add)
    }
}
