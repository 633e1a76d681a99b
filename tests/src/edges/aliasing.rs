//! Why pulses are latched: 10, 8.33 and 1.25 ms all go a whole number of times into a tenth of a second, so a board that
//! samples ten times a second finds the same level each time, whatever the current does.

use super::board::{Watching, Way};
use super::signal::Pulses;
use halfglass_protocol::config::Kind;

/// The current is on for so long.
pub const ON_US: u64 = 60_000_000;

/// Sampling at 10 Hz.
pub const SLOW: Way = Way::Sampled { every_us: 100_000 };

/// What one way of looking counts of [`ON_US`], over all phases.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counted {
    /// The least of any phase, in microseconds.
    pub least_us: u64,
    /// The most.
    pub most_us: u64,
}

/// Full-wave pulses of this width, in so many phases, seen in this way and read as this kind of line.
#[must_use]
pub fn count(hertz: f64, width: f64, way: Way, kind: Kind, phases: u32) -> Counted {
    let pulses = Pulses { hertz, per_cycle: 2, width, missing: 0.0, missing_in_a_row: 0 };
    let mut counted = Counted { least_us: u64::MAX, most_us: 0 };
    for phase in 0..phases {
        let share = (f64::from(phase) + 0.5) / f64::from(phases);
        let from_us = 10_000_000;
        let moves = pulses.moves_in_phase(from_us, from_us + ON_US, share, &mut fastrand::Rng::with_seed(1));
        let mut board = Watching::new(kind, way);
        board.run_until(from_us + ON_US + 10_000_000, &mut moves.into_iter().peekable());
        counted.least_us = counted.least_us.min(board.total_us());
        counted.most_us = counted.most_us.max(board.total_us());
    }
    counted
}

/// The table, in Markdown: seconds counted of [`ON_US`], least and most of 20 phases.
#[must_use]
pub fn table() -> String {
    let mut lines = vec![
        "| 60 s of current | latched, as pulses | sampled at 10 Hz, as pulses | sampled at 10 Hz, as a level |".to_owned(),
        "|---|---:|---:|---:|".to_owned(),
    ];
    let hold = Kind::Pulsed { hold_ms: 200 };
    let level = Kind::Contact { debounce_ms: 50 };
    for hertz in [50.0, 60.0, 400.0] {
        let cell = |way, kind| {
            let Counted { least_us, most_us } = count(hertz, 0.6, way, kind, 20);
            let seconds = |us: u64| format!("{:.1}", us as f64 / 1e6);
            if least_us == most_us {
                format!("{} s", seconds(least_us))
            } else {
                format!("{} to {} s", seconds(least_us), seconds(most_us))
            }
        };
        lines.push(format!(
            "| {hertz} Hz | {} | {} | {} |",
            cell(Way::Latched, hold),
            cell(SLOW, hold),
            cell(SLOW, level)
        ));
    }
    lines.join("\n")
}
