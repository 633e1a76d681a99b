//! Which radars are opened in which windows, as far as it is decided: what one more adds, and whether there is room.

use super::Problem;
use super::fit::{Load, holds};
use super::options::Options;
use super::units::{self, Pattern, Unit};
use super::value::Value;

/// Which radars are opened where, as far as it is decided.
pub(super) struct Board<'a> {
    problem: &'a Problem,
    options: &'a [Options],
    pub(super) room: bool,
    opened: Vec<i64>,
    loads: Vec<Vec<Load>>,
}

impl<'a> Board<'a> {
    pub(super) fn new(problem: &'a Problem, options: &'a [Options], room: bool) -> Board<'a> {
        let windows = problem.windows.len();
        Board { problem, options, room, opened: vec![0; windows], loads: vec![Vec::new(); windows] }
    }

    /// What a pattern adds to what is decided.
    pub(super) fn cost(&self, pattern: &Pattern) -> Value {
        let taken = |window: &&usize| self.opened.get(**window).is_some_and(|radars| *radars > 0);
        let both = pattern.windows.iter().filter(taken).count();
        pattern.cost + Value::both(i64::try_from(both).unwrap_or(i64::MAX))
    }

    fn takes(&self, unit: &Unit, pattern: &Pattern, window: usize) -> Vec<Load> {
        let here = |(work, at): &&(usize, usize)| {
            let choice = self.options.get(*work).and_then(|own| own.choices.get(*at));
            choice.is_some_and(|choice| choice.window == Some(window))
        };
        let picks: Vec<(usize, usize)> = pattern.picks.iter().filter(here).copied().collect();
        units::loads(self.problem, self.options, unit.radar, &picks)
    }

    pub(super) fn fits(&self, unit: &Unit, pattern: &Pattern) -> bool {
        !self.room
            || pattern.windows.iter().all(|at| {
                let (Some(window), Some(loads)) = (self.problem.windows.get(*at), self.loads.get(*at)) else {
                    return false;
                };
                loads.is_empty() || holds(window, &[loads.clone(), self.takes(unit, pattern, *at)].concat())
            })
    }

    pub(super) fn place(&mut self, unit: &Unit, pattern: &Pattern) {
        for window in &pattern.windows {
            if let Some(radars) = self.opened.get_mut(*window) {
                *radars += 1;
            }
            if self.room {
                let takes = self.takes(unit, pattern, *window);
                if let Some(loads) = self.loads.get_mut(*window) {
                    loads.extend(takes);
                }
            }
        }
    }

    pub(super) fn lift(&mut self, unit: &Unit, pattern: &Pattern) {
        for window in &pattern.windows {
            if let Some(radars) = self.opened.get_mut(*window) {
                *radars -= 1;
            }
            if let Some(loads) = self.loads.get_mut(*window) {
                loads.retain(|load| load.radar != unit.radar);
            }
        }
    }

    /// The cheapest pattern that there is room for.
    fn cheapest(&self, unit: &Unit) -> Option<usize> {
        let fitting = unit.patterns.iter().enumerate().filter(|(_, pattern)| self.fits(unit, pattern));
        fitting.min_by_key(|(_, pattern)| self.cost(pattern)).map(|(at, _)| at)
    }

    /// A good plan to begin with: each unit takes what `picks` say, if there is room, else what is cheapest beside those
    /// before it; then each thinks again until none changes its mind.
    pub(super) fn descend(&mut self, units: &[Unit], picks: &[usize]) -> (Vec<usize>, Value) {
        let told = |pattern: &Pattern| {
            !picks.is_empty() && pattern.picks.iter().all(|(work, choice)| picks.get(*work) == Some(choice))
        };
        let mut patterns: Vec<Option<usize>> = Vec::with_capacity(units.len());
        for unit in units {
            let told = unit.patterns.iter().position(|pattern| told(pattern) && self.fits(unit, pattern));
            if let Some(pattern) = told.and_then(|at| unit.patterns.get(at)) {
                self.place(unit, pattern);
            }
            patterns.push(told);
        }
        let mut changed = true;
        // Every change is for the better, so this ends; the bound is for safety.
        for _ in 0..100 {
            if !changed {
                break;
            }
            changed = false;
            for (unit, chosen) in units.iter().zip(&mut patterns) {
                let now = chosen.and_then(|at| unit.patterns.get(at));
                if let Some(pattern) = now {
                    self.lift(unit, pattern);
                }
                let new = self.cheapest(unit);
                let worth = |at: Option<usize>| at.and_then(|at| unit.patterns.get(at)).map(|p| self.cost(p));
                if new.is_some() && (chosen.is_none() || worth(new) < worth(*chosen)) {
                    *chosen = new;
                    changed = true;
                }
                if let Some(pattern) = chosen.and_then(|at| unit.patterns.get(at)) {
                    self.place(unit, pattern);
                }
            }
        }
        for (unit, chosen) in units.iter().zip(&patterns) {
            if let Some(pattern) = chosen.and_then(|at| unit.patterns.get(at)) {
                self.lift(unit, pattern);
            }
        }
        let patterns: Vec<usize> = patterns.into_iter().map(|chosen| chosen.unwrap_or(0)).collect();
        let value = self.value(units, &patterns);
        (patterns, value)
    }

    /// What patterns cost together.
    pub(super) fn value(&mut self, units: &[Unit], patterns: &[usize]) -> Value {
        let chosen =
            || units.iter().zip(patterns).filter_map(|(unit, at)| Some((unit, unit.patterns.get(*at)?)));
        let mut value = Value::NOTHING;
        for (unit, pattern) in chosen() {
            value += self.cost(pattern);
            self.place(unit, pattern);
        }
        for (unit, pattern) in chosen() {
            self.lift(unit, pattern);
        }
        value
    }
}
