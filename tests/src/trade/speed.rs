//! What a logger with a speed input told of the voyages so far. It saw each change of way to the minutes, and no more than that.

use super::Life;
use super::voyages::Mode;
use halfglass::due::usage;

/// Stretches of way and no way between two instants, in hours: making way is at sea, else she counts as in port. A ferry makes way
/// while her radar is on.
pub(super) fn told(life: &Life, since: f64, as_of: f64) -> Vec<(f64, f64, usage::Mode)> {
    let mut told = Vec::new();
    let mut add = |from: f64, to: f64, mode: usage::Mode| {
        let (from, to) = (from.max(since), to.min(as_of));
        if from < to {
            told.push((from, to, mode));
        }
    };
    for stay in life.stays.iter().filter(|stay| stay.to > since && stay.from < as_of) {
        match stay.mode {
            Mode::Sea => add(stay.from, stay.to, usage::Mode::Sea),
            Mode::Port | Mode::Anchor | Mode::LaidUp => add(stay.from, stay.to, usage::Mode::Port),
            Mode::Crossings => {
                let mut at = stay.from;
                let first = life.runs.partition_point(|run| run.to <= stay.from);
                for run in life.runs[first..].iter().take_while(|run| run.from < stay.to) {
                    add(at, run.from, usage::Mode::Port);
                    add(run.from.max(stay.from), run.to.min(stay.to), usage::Mode::Sea);
                    at = run.to;
                }
                add(at, stay.to, usage::Mode::Port);
            }
        }
    }
    told
}
