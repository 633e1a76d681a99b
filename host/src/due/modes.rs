//! What a line runs in a day at sea, in port and at anchor: by the days of the log and the legs sailed meanwhile.
//!
//! Most days are spent in two modes, so that no day tells one mode's use alone. The three figures are those that leave the
//! least squares over all days: use = hours at sea x rate at sea + hours in port x rate in port + ... What they leave is how
//! much a day can be off.

use super::ahead::days_between;
use super::usage::{DAY_MS, Day, Leg, Mode};

/// A day of which the legs tell less than this, in parts of it, is not looked at.
const TOLD_MIN: f64 = 0.9;

/// A mode in which less was spent, in days, has no figure of its own.
const SPENT_MIN_DAYS: f64 = 2.0;

/// So many days, and they tell the modes.
const DAYS_MIN: usize = 10;

/// What grows in a day of each mode, and by how much a day is off (one deviation).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rate {
    by_mode: [f64; 3],
    pub(super) off: f64,
}

impl Rate {
    pub(super) fn of(&self, mode: Mode) -> f64 {
        self.by_mode[place(mode)]
    }
}

const fn place(mode: Mode) -> usize {
    match mode {
        Mode::Sea => 0,
        Mode::Port => 1,
        Mode::Anchor => 2,
    }
}

/// Of both quantities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rates {
    pub(super) on_h: Rate,
    pub(super) starts: Rate,
}

impl Rates {
    /// `None`: neither legs nor use tell what is run at sea.
    pub(super) fn of(legs: &[&Leg], days: &[Day]) -> Option<Rates> {
        let mut spent: Vec<(&Day, [f64; 3])> = days.iter().map(|day| (day, spent(legs, day))).collect();
        spent.retain(|(_, modes)| modes.iter().sum::<f64>() >= TOLD_MIN);
        let at_sea: f64 = spent.iter().map(|(_, modes)| modes[0]).sum();
        if spent.len() < DAYS_MIN || at_sea < SPENT_MIN_DAYS {
            spent = by_use(days)?;
        }
        let rate = |of: fn(&Day) -> f64, most: f64| {
            let days: Vec<(f64, [f64; 3])> = spent.iter().map(|(day, modes)| (of(day), *modes)).collect();
            fit(&days, most)
        };
        Some(Rates { on_h: rate(|day| day.on_h, 24.0), starts: rate(|day| day.starts, f64::INFINITY) })
    }
}

/// How much of a day was spent in each mode, in parts of it.
fn spent(legs: &[&Leg], day: &Day) -> [f64; 3] {
    let end_ms = day.start_ms + DAY_MS;
    let mut spent = [0.0; 3];
    for leg in legs.iter().filter(|leg| leg.from_ms < end_ms && leg.to_ms > day.start_ms) {
        spent[place(leg.mode)] += days_between(leg.from_ms.max(day.start_ms), leg.to_ms.min(end_ms));
    }
    spent
}

/// Where no legs tell the modes: days of much use are taken for days at sea, the others for days in port.
fn by_use(days: &[Day]) -> Option<Vec<(&Day, [f64; 3])>> {
    let mut on_h: Vec<f64> = days.iter().map(|day| day.on_h).collect();
    on_h.sort_by(f64::total_cmp);
    let much = on_h.get(on_h.len() * 9 / 10).copied().unwrap_or(0.0) / 2.0;
    let mode = |day: &Day| if day.on_h > much { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    (much > 0.0).then(|| days.iter().map(|day| (day, mode(day))).collect())
}

/// The figures that leave the least squares. A mode that was hardly spent gets that of the mode most like it.
fn fit(days: &[(f64, [f64; 3])], most: f64) -> Rate {
    let mut rows = [[0.0; 4]; 3];
    for (use_, modes) in days {
        for (a, row) in rows.iter_mut().enumerate() {
            for (b, mode) in modes.iter().enumerate() {
                row[b] += modes[a] * mode;
            }
            row[3] += modes[a] * use_;
        }
    }
    let spent: [f64; 3] = std::array::from_fn(|mode| days.iter().map(|(_, modes)| modes[mode]).sum());
    for (mode, row) in rows.iter_mut().enumerate() {
        // What was hardly spent must not be solved for; a trifle keeps the rest from dividing by nothing.
        row[mode] += if spent[mode] < SPENT_MIN_DAYS { 1e9 } else { 1e-6 };
    }
    let mut by_mode = solve(rows).map(|rate| rate.clamp(0.0, most));
    let has = |mode: usize| spent[mode] >= SPENT_MIN_DAYS;
    match (has(1), has(2)) {
        (true, false) => by_mode[2] = by_mode[1],
        (false, true) => by_mode[1] = by_mode[2],
        // Nothing tells what is run where she lies: as little as can be.
        (false, false) => (by_mode[1], by_mode[2]) = (0.0, 0.0),
        (true, true) => {}
    }
    let square: f64 = days
        .iter()
        .map(|(use_, modes)| {
            (use_ - modes.iter().zip(by_mode).map(|(m, rate)| m * rate).sum::<f64>()).powi(2)
        })
        .sum();
    Rate { by_mode, off: (square / days.len().max(1) as f64).sqrt() }
}

/// Three equations, the right-hand sides behind them: by elimination. They are symmetric and positive, so no row need be
/// exchanged.
fn solve(mut rows: [[f64; 4]; 3]) -> [f64; 3] {
    for pivot in 0..3 {
        for below in pivot + 1..3 {
            let times = rows[below][pivot] / rows[pivot][pivot];
            let above = rows[pivot];
            for (column, from) in rows[below].iter_mut().zip(above) {
                *column -= times * from;
            }
        }
    }
    let mut solved = [0.0; 3];
    for row in (0..3).rev() {
        let known: f64 = (row + 1..3).map(|column| rows[row][column] * solved[column]).sum();
        solved[row] = (rows[row][3] - known) / rows[row][row];
    }
    solved
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_MS: i64 = 3_600_000;

    /// By hand: 20 h a day at sea, 2 in port; she sails and comes in at noon, every third day.
    #[test]
    fn days_of_two_modes_tell_both() {
        let legs: Vec<Leg> = (0..20)
            .map(|at| Leg {
                from_ms: (at * 36 + 12) * HOUR_MS,
                to_ms: (at * 36 + 48) * HOUR_MS,
                mode: if at % 2 == 0 { Mode::Sea } else { Mode::Port },
            })
            .collect();
        let of: Vec<&Leg> = legs.iter().collect();
        let day = |at: i64| Day { start_ms: at * DAY_MS, on_h: 0.0, starts: 0.0 };
        let days: Vec<Day> = (0..32)
            .map(|at| {
                let [sea, port, _] = spent(&of, &day(at));
                Day { on_h: 20.0 * sea + 2.0 * port, starts: sea, ..day(at) }
            })
            .collect();
        let rates = Rates::of(&of, &days).unwrap();
        let on_h =
            [Mode::Sea, Mode::Port, Mode::Anchor].map(|mode| (rates.on_h.of(mode) * 1e3).round() / 1e3);
        assert_eq!(on_h, [20.0, 2.0, 2.0], "at anchor as in port");
        assert!(rates.on_h.off < 1e-3 && (rates.starts.of(Mode::Sea) - 1.0).abs() < 1e-3);
    }

    #[test]
    fn without_legs_much_use_is_sea() {
        let day =
            |at: i64| Day { start_ms: at * DAY_MS, on_h: if at % 3 == 0 { 1.0 } else { 19.0 }, starts: 1.0 };
        let days: Vec<Day> = (0..30).map(day).collect();
        let rates = Rates::of(&[], &days).unwrap();
        assert!(
            (rates.on_h.of(Mode::Sea) - 19.0).abs() < 1e-3 && (rates.on_h.of(Mode::Port) - 1.0).abs() < 1e-3
        );
        let idle: Vec<Day> = days.iter().map(|day| Day { on_h: 0.0, ..*day }).collect();
        assert!(Rates::of(&[], &idle).is_none());
    }
}
