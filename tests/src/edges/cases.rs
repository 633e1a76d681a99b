//! What is measured, how far each may be off, and the table of what came out.

use super::board::PULSE_LATE_US;
use super::measure::Measured;
use super::signal::{Pulses, Signal};
use halfglass_protocol::config::Kind;

/// Many runs of one signal on one line.
#[derive(Clone, Debug)]
pub struct Case {
    /// What it is.
    pub name: String,
    /// What the wire does.
    pub signal: Signal,
    /// How the line is read.
    pub kind: Kind,
    /// How many runs.
    pub runs: usize,
}

/// The usual filters, as `halfglass setup` sets them.
const DEBOUNCE: Kind = Kind::Contact { debounce_ms: 50 };
const HOLD: Kind = Kind::Pulsed { hold_ms: 200 };

/// Edges are stamped to so much.
const STAMP_US: f64 = 100_000.0;

/// The logger's clock counts whole milliseconds.
pub const CLOCK_US: i64 = 1_000;

/// All cases, each with so many runs.
#[must_use]
pub fn cases(runs: usize) -> Vec<Case> {
    let pulses = |name: &str, hertz: f64, per_cycle, width, missing, missing_in_a_row| Case {
        name: format!("{hertz} Hz, {name}"),
        signal: Signal::Pulses(Pulses { hertz, per_cycle, width, missing, missing_in_a_row }),
        kind: HOLD,
        runs,
    };
    let contact = |name: &str, bounce_us| Case {
        name: name.to_owned(),
        signal: Signal::Contact { bounce_us },
        kind: DEBOUNCE,
        runs,
    };
    let mut all = Vec::new();
    for hertz in [50.0, 60.0, 400.0] {
        all.push(pulses("a pulse each half-cycle", hertz, 2, 0.6, 0.0, 0));
    }
    for hertz in [50.0, 60.0, 400.0] {
        all.push(pulses("a pulse each cycle, of 10 % of it", hertz, 1, 0.1, 0.0, 0));
    }
    // At most 50 ms without a pulse, even at the lowest frequency and before the next comes.
    for (hertz, in_a_row) in [(50.0, 3), (60.0, 4), (400.0, 36)] {
        all.push(pulses("3 in 10 half-cycles missing", hertz, 2, 0.6, 0.3, in_a_row));
    }
    all.push(contact("contact, no bounce", 0..=0));
    all.push(contact("contact, bounces 1 to 20 ms", 1_000..=20_000));
    all
}

impl Case {
    /// The most by which on-edges are late and off-edges early, in microseconds: the stamp's own tenth, the longest wait for a
    /// pulse or the bounce, for the last pulse also a look.
    #[must_use]
    pub fn bounds_us(&self) -> (f64, f64) {
        match &self.signal {
            Signal::Pulses(pulses) => {
                // The lowest frequency; two half-cycles of which none was whole, and all that may be missing.
                let gap_us = pulses.period_us() / 0.95 * f64::from(1 + pulses.missing_in_a_row);
                (STAMP_US + gap_us, STAMP_US + gap_us + PULSE_LATE_US as f64)
            }
            Signal::Contact { bounce_us } => (STAMP_US + *bounce_us.end() as f64, STAMP_US),
        }
    }
}

/// The table's head, in Markdown.
#[must_use]
pub fn head() -> String {
    [
        "| line | edges | on late: mean | worst | at most | off early: mean | worst | at most | wrong starts |",
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    .join("\n")
}

/// A case's row; errors in milliseconds.
#[must_use]
pub fn row(case: &Case, measured: &Measured) -> String {
    let (on_us, off_us) = case.bounds_us();
    let Measured { on, off, wrong_starts, .. } = measured;
    let ms = |us: i64| us as f64 / 1e3;
    format!(
        "| {} | {} | {:.1} | {:.1} | {:.0} | {:.1} | {:.1} | {:.0} | {wrong_starts} |",
        case.name,
        on.count + off.count,
        on.mean_ms(),
        ms(on.worst_us),
        on_us / 1e3,
        off.mean_ms(),
        ms(off.worst_us),
        off_us / 1e3,
    )
}
