//! Invented ships of four trades, and what a part of their radars runs from day to day: to see whether dates foreseen come
//! true. It has its own truth, made without a look at the model that foresees: instants at which a line goes on and off,
//! hour by hour of voyages that are sailed first and planned afterwards. The figures are common practice, no source.
//!
//! ```text
//!  voyages   what the ship does: sea, port, anchor, laid up        (voyages)
//!  radar     when a line is on meanwhile                           (radar)
//!  plan      what her officer knew of the voyages ahead            (plan)
//!  speed     what a speed input told of the voyages behind         (speed)
//!  backtest  a part's limit, three dates before it, and the score  (backtest, score)
//! ```
//! Times are hours since the life began.

pub mod backtest;
mod plan;
mod radar;
pub mod score;
mod speed;
mod voyages;

use fastrand::Rng;
pub use radar::Run;
pub use voyages::{Mode, Stay};

/// What a ship does for a living.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trade {
    /// The same ports in the same order, by a timetable.
    Liner,
    /// Where the cargo is; charters of some months, waiting in between.
    Tramp,
    /// Every day the same crossings, by summer and winter timetables, with a docking.
    Ferry,
    /// Laid up for months, and sailing again from a date that is known beforehand.
    LaidUp,
}

impl Trade {
    /// All of them.
    pub const ALL: [Trade; 4] = [Trade::Liner, Trade::Tramp, Trade::Ferry, Trade::LaidUp];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Trade::Liner => "liner",
            Trade::Tramp => "tramp",
            Trade::Ferry => "coastal ferry",
            Trade::LaidUp => "laid up, then active",
        }
    }
}

/// One ship, and one line of one of her radars.
#[derive(Clone, Debug)]
pub struct Life {
    /// What she does.
    pub trade: Trade,
    /// Her voyages, without a gap.
    pub stays: Vec<Stay>,
    /// When the line was on, by time.
    pub runs: Vec<Run>,
    /// On-time up to the beginning of each run.
    before_h: Vec<f64>,
    /// The life's length.
    pub hours: f64,
    /// Between these a limit may fall that is worth foreseeing.
    pub limits: (f64, f64),
}

/// How long a life is followed, in hours.
const LIFE_H: f64 = 4.2 * 8_766.0;

impl Life {
    /// Draws a life.
    #[must_use]
    pub fn draw(trade: Trade, rng: &mut Rng) -> Life {
        let (stays, limits) = voyages::sail(trade, rng, LIFE_H);
        let runs = radar::runs(trade, &stays, rng);
        let mut sum = 0.0;
        let mut before_h = Vec::with_capacity(runs.len());
        for run in &runs {
            before_h.push(sum);
            sum += run.to - run.from;
        }
        Life { trade, stays, runs, before_h, hours: LIFE_H, limits }
    }

    /// On-time up to an instant.
    #[must_use]
    pub fn on_h(&self, at: f64) -> f64 {
        let Some(last) = self.runs.partition_point(|run| run.from <= at).checked_sub(1) else { return 0.0 };
        self.before_h[last] + (at.min(self.runs[last].to) - self.runs[last].from)
    }

    /// Starts up to an instant.
    #[must_use]
    pub fn starts(&self, at: f64) -> f64 {
        self.runs.partition_point(|run| run.from <= at) as f64
    }

    /// The instant at which the on-time reached this.
    #[must_use]
    pub fn reached_on_h(&self, on_h: f64) -> Option<f64> {
        let last = self.before_h.partition_point(|before| *before < on_h).checked_sub(1)?;
        let run = self.runs.get(last)?;
        let at = run.from + on_h - self.before_h[last];
        (at <= run.to).then_some(at)
    }

    /// The instant of the start of this number.
    #[must_use]
    pub fn reached_starts(&self, starts: usize) -> Option<f64> {
        self.runs.get(starts.checked_sub(1)?).map(|run| run.from)
    }
}

/// Between two, evenly.
fn within(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.f64()
}

/// Between two, evenly by their logarithms.
fn log_within(rng: &mut Rng, low: f64, high: f64) -> f64 {
    within(rng, low.ln(), high.ln()).exp()
}

/// A bell with this deviation.
fn bell(rng: &mut Rng, deviation: f64) -> f64 {
    let u = rng.f64().max(1e-12);
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * rng.f64()).cos() * deviation
}

/// A wait of this mean that knows no age.
fn wait(rng: &mut Rng, mean: f64) -> f64 {
    -rng.f64().max(1e-12).ln() * mean
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voyages_have_no_gap_and_runs_no_overlap_and_instants_are_found_back() {
        for (seed, trade) in (0..40).zip(Trade::ALL.into_iter().cycle()) {
            let life = Life::draw(trade, &mut Rng::with_seed(seed));
            assert_eq!(life.stays[0].from, 0.0);
            assert!(
                life.stays.windows(2).all(|pair| pair[0].to == pair[1].from && pair[0].from < pair[0].to)
            );
            assert!(life.stays.last().unwrap().to >= life.hours);
            assert!(life.runs.iter().all(|run| run.from < run.to));
            assert!(life.runs.windows(2).all(|pair| pair[0].to < pair[1].from), "{trade:?} {seed}");
            let middle = life.on_h(life.hours) / 2.0;
            let at = life.reached_on_h(middle).unwrap();
            assert!((life.on_h(at) - middle).abs() < 1e-6);
            let number = life.runs.len() / 2;
            assert_eq!(life.starts(life.reached_starts(number).unwrap()), number as f64);
        }
    }

    /// Sanity by trade: what share of time the line is on.
    #[test]
    fn the_trades_use_their_radars_about_as_ships_do() {
        for (trade, low, high) in [
            (Trade::Liner, 0.15, 0.9),
            (Trade::Tramp, 0.1, 0.85),
            (Trade::Ferry, 0.2, 0.9),
            (Trade::LaidUp, 0.05, 0.8),
        ] {
            for seed in 0..30 {
                let life = Life::draw(trade, &mut Rng::with_seed(seed));
                let share = life.on_h(life.hours) / life.hours;
                assert!((low..high).contains(&share), "{trade:?} {seed}: {share}");
            }
        }
    }
}
