//! The cheapest assignment of units to windows, where the first unit in a window is free and each further one is dearer:
//! the Hungarian method (Kuhn 1955) with potentials, on values instead of numbers. It needs of them only an order that
//! adding keeps, which an order by fields from the first to the last has.

use super::units::Unit;
use super::value::Value;

/// An assignment.
#[derive(Clone, Debug)]
pub(super) struct Assignment {
    /// What it costs. No plan of these units costs less; and it is exact if no unit opens in several windows.
    pub(super) value: Value,
    /// Each unit's pattern.
    pub(super) patterns: Vec<usize>,
}

/// A place that a unit can take.
#[derive(Clone, Copy, Debug)]
struct Place {
    /// `None`: in no window.
    window: Option<usize>,
    /// Not the first there.
    further: bool,
}

/// Assigns each unit to one window of one of its patterns, the cheapest in which that window is. A unit that
/// opens in several windows is felt by others in one of them only, so the value is a lower bound.
pub(super) fn assign(units: &[Unit]) -> Option<Assignment> {
    let places = places(units);
    let cheapest = |row: usize, place: &Place| -> Option<(Value, usize)> {
        let own = units.get(row)?.patterns.iter().enumerate();
        let fits = own.filter(|(_, pattern)| match place.window {
            None => pattern.windows.is_empty(),
            Some(window) => pattern.windows.contains(&window),
        });
        let (at, pattern) = fits.min_by_key(|(_, pattern)| pattern.cost)?;
        Some((pattern.cost + Value::both(i64::from(place.further)), at))
    };
    let costs: Vec<Vec<Option<(Value, usize)>>> =
        (0..units.len()).map(|row| places.iter().map(|place| cheapest(row, place)).collect()).collect();
    let columns = hungarian(&costs, places.len())?;
    let mut assignment = Assignment { value: Value::NOTHING, patterns: Vec::new() };
    for (row, column) in columns.into_iter().enumerate() {
        let (value, pattern) = (*costs.get(row)?.get(column)?)?;
        assignment.value += value;
        assignment.patterns.push(pattern);
    }
    Some(assignment)
}

/// Of each window as many places as units want it, and as many in no window.
fn places(units: &[Unit]) -> Vec<Place> {
    let mut windows: Vec<usize> =
        units.iter().flat_map(|unit| &unit.patterns).flat_map(|p| &p.windows).copied().collect();
    windows.sort_unstable();
    windows.dedup();
    let mut places = Vec::new();
    for window in windows {
        let wants = |unit: &&Unit| unit.patterns.iter().any(|pattern| pattern.windows.contains(&window));
        let count = units.iter().filter(wants).count();
        places.extend((0..count).map(|at| Place { window: Some(window), further: at > 0 }));
    }
    places.extend(units.iter().map(|_| Place { window: None, further: false }));
    places
}

/// For each row its column, so that the sum is least; `None` if a row has no column left.
fn hungarian(costs: &[Vec<Option<(Value, usize)>>], columns: usize) -> Option<Vec<usize>> {
    let cost =
        |row: usize, column: usize| costs.get(row).and_then(|row| *row.get(column)?).map(|(value, _)| value);
    let mut row_price = vec![Value::NOTHING; costs.len()];
    let mut column_price = vec![Value::NOTHING; columns];
    let mut taken_by: Vec<Option<usize>> = vec![None; columns];
    for new in 0..costs.len() {
        // The cheapest way from the new row to each column, by way of columns that are taken.
        let mut reach: Vec<Option<Value>> = vec![None; columns];
        let mut came_from: Vec<Option<usize>> = vec![None; columns];
        let mut done = vec![false; columns];
        let (mut row, mut last) = (new, None);
        let mut done_rows = vec![new];
        let free = loop {
            for column in (0..columns).filter(|column| !done[*column]) {
                let Some(cost) = cost(row, column) else { continue };
                let reduced = cost - row_price[row] - column_price[column];
                if reach[column].is_none_or(|known| reduced < known) {
                    reach[column] = Some(reduced);
                    came_from[column] = last;
                }
            }
            let open = (0..columns).filter(|column| !done[*column]);
            let (step, next) = open.filter_map(|column| Some((reach[column]?, column))).min()?;
            for row in &done_rows {
                row_price[*row] += step;
            }
            for column in 0..columns {
                if done[column] {
                    column_price[column] = column_price[column] - step;
                } else if let Some(known) = reach[column].as_mut() {
                    *known = *known - step;
                }
            }
            done[next] = true;
            match taken_by[next] {
                None => break next,
                Some(owner) => {
                    row = owner;
                    done_rows.push(owner);
                    last = Some(next);
                }
            }
        };
        let mut column = free;
        while let Some(before) = came_from[column] {
            taken_by[column] = taken_by[before];
            column = before;
        }
        taken_by[column] = Some(new);
    }
    let mut of_row = vec![None; costs.len()];
    for (column, row) in taken_by.iter().enumerate() {
        if let Some(row) = row {
            of_row[*row] = Some(column);
        }
    }
    of_row.into_iter().collect()
}
