//! Lives through many runs of one case and holds what the logger says of each against when it truly was.

use super::board::{Watching, Way};
use super::cases::Case;
use super::signal::{Move, Pulses, Signal, bouncing};
use crate::asking::pull_all;
use halfglass_protocol::config::Kind;
use halfglass_protocol::record::Record;

/// From one run to the next: the logger keeps single runs for 40 a day, one in 36 minutes.
const APART_US: u64 = 40 * 60 * 1_000_000;

/// Alternating current may stray so far from its nominal frequency: 5 % (IEC 60092-504, as quoted in a published test standard).
const STRAYS: f64 = 0.05;

/// What came of a case.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// On-edges: how much later than the truth each is stamped.
    pub on: Errors,
    /// Off-edges: how much earlier.
    pub off: Errors,
    /// Runs that were not logged as exactly one, and logged runs that were none.
    pub wrong_starts: usize,
    /// The most by which a total shown or recovered lay above the truth at any instant asked; negative: always below.
    pub above_us_max: i64,
    /// The most by which a recovered total fell short of the truth, less 0.2 s for each run so far.
    pub short_us_max: i64,
}

/// Errors of edges, in microseconds; an error below 0 makes a run too long.
#[derive(Clone, Copy, Debug)]
pub struct Errors {
    /// How many edges.
    pub count: u32,
    sum_us: i64,
    /// The least error.
    pub least_us: i64,
    /// The largest.
    pub worst_us: i64,
}

impl Default for Errors {
    fn default() -> Self {
        Self { count: 0, sum_us: 0, least_us: i64::MAX, worst_us: i64::MIN }
    }
}

impl Errors {
    fn take(&mut self, error_us: i64) {
        self.count += 1;
        self.sum_us += error_us;
        self.least_us = self.least_us.min(error_us);
        self.worst_us = self.worst_us.max(error_us);
    }

    /// The mean error, in milliseconds.
    #[must_use]
    pub fn mean_ms(&self) -> f64 {
        self.sum_us as f64 / f64::from(self.count.max(1)) / 1e3
    }
}

/// One on-period as it truly is, in microseconds since power came.
#[derive(Clone, Copy, Debug)]
struct Truth {
    /// The current comes, or the contact first touches.
    on_us: u64,
    /// The contact stands still; with current, as `on_us`.
    settled_us: u64,
    /// The current goes, or the contact first parts.
    off_us: u64,
}

impl Truth {
    /// Truly on until `at_us`, at least: bounces are left out. By a clock that counts whole milliseconds, as the logger's does.
    fn on_until_us(&self, at_us: u64) -> u64 {
        let (from_us, to_us) = (self.settled_us, self.off_us.min(at_us.max(self.settled_us)));
        (to_us / 1_000 - from_us / 1_000) * 1_000
    }
}

/// Lives through `case`; `seed` decides lengths, phases, frequencies, bounces and what is missing.
#[must_use]
pub fn measure(case: &Case, seed: u64) -> Measured {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut board = Watching::new(case.kind, Way::Latched);
    let mut measured = Measured { above_us_max: i64::MIN, short_us_max: i64::MIN, ..Measured::default() };
    let (mut truths, mut before_us) = (Vec::new(), 0);
    let mut now_us = 10_000_000;
    for run in 0..case.runs {
        let on_us = now_us + random.u64(0..1_000_000);
        let off_us = on_us + random.u64(1_000_000..30_000_000);
        let (truth, moves) = one_run(&case.signal, on_us, off_us, &mut random);
        let mut moves = moves.into_iter().peekable();
        // Somewhere within, and somewhere behind its end while hold or debounce may still run.
        let hold_us = hold_us(case.kind);
        for at_us in [random.u64(on_us..off_us), off_us + random.u64(0..2 * hold_us)] {
            board.run_until(at_us, &mut moves);
            let true_us = (before_us + truth.on_until_us(at_us)) as i64;
            let (shown_us, recovered_us) = (board.total_us() as i64, board.recovered_us() as i64);
            measured.above_us_max = measured.above_us_max.max(shown_us.max(recovered_us) - true_us);
            let rounding_us = (run as i64 + 1) * 200_000;
            measured.short_us_max = measured.short_us_max.max(true_us - recovered_us - rounding_us);
        }
        board.run_until(off_us + 5_000_000, &mut moves);
        before_us += truth.on_until_us(off_us);
        truths.push(truth);
        now_us = off_us + APART_US;
    }
    board.run_until(now_us, &mut std::iter::empty().peekable());
    measured.above_us_max = measured.above_us_max.max(board.total_us() as i64 - before_us as i64);
    let starts = board.starts() as usize;
    let logged = logged_runs(board);
    compare(&truths, &logged, &mut measured);
    measured.wrong_starts = measured.wrong_starts.max(starts.abs_diff(truths.len()));
    measured
}

fn hold_us(kind: Kind) -> u64 {
    let (Kind::Contact { debounce_ms: filter_ms } | Kind::Pulsed { hold_ms: filter_ms }) = kind;
    u64::from(filter_ms) * 1_000
}

fn one_run(signal: &Signal, on_us: u64, off_us: u64, random: &mut fastrand::Rng) -> (Truth, Vec<Move>) {
    match signal {
        Signal::Pulses(pulses) => {
            let hertz = pulses.hertz * (1.0 + STRAYS * (2.0 * random.f64() - 1.0));
            let moves = Pulses { hertz, ..pulses.clone() }.moves(on_us, off_us, random);
            (Truth { on_us, settled_us: on_us, off_us }, moves)
        }
        Signal::Contact { bounce_us } => {
            let mut moves = bouncing(on_us, random.u64(bounce_us.clone()), true, random);
            let settled_us = moves.last().map_or(on_us, |last| last.at_us);
            moves.extend(bouncing(off_us, random.u64(bounce_us.clone()), false, random));
            (Truth { on_us, settled_us, off_us }, moves)
        }
    }
}

/// The runs in the logger's history, from and to in microseconds.
fn logged_runs(board: Watching) -> Vec<(u64, u64)> {
    let records = pull_all(&mut board.into_next_session());
    let decoded = records.values().filter_map(|bytes| Record::decode(bytes));
    let runs = decoded.filter_map(|record| match record {
        Record::Run(run) => Some(run),
        _ => None,
    });
    runs.map(|run| (run.from_tenths * 100_000, (run.from_tenths + run.on_tenths) * 100_000)).collect()
}

/// Each true run should have one logged run that overlaps it, and no logged run is left over.
fn compare(truths: &[Truth], logged: &[(u64, u64)], measured: &mut Measured) {
    let mut matched = 0;
    for truth in truths {
        let overlaps = |run: &&(u64, u64)| run.0 < truth.off_us && run.1 > truth.on_us;
        let found: Vec<_> = logged.iter().filter(overlaps).collect();
        matched += found.len();
        if let [(from_us, to_us)] = found[..] {
            measured.on.take(*from_us as i64 - truth.on_us as i64);
            measured.off.take(truth.off_us as i64 - *to_us as i64);
        } else {
            measured.wrong_starts += 1;
        }
    }
    measured.wrong_starts += logged.len().abs_diff(matched);
}
