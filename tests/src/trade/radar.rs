//! When a line of a radar is on.

use super::voyages::{Mode, Stay, season};
use super::{Trade, bell, wait, within};
use fastrand::Rng;

/// A line on, from its start to its end; hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Its start.
    pub from: f64,
    /// Its end.
    pub to: f64,
}

/// How a ship uses one of her radars.
struct Habits {
    /// It runs all the time under way; else for part of each day.
    always_at_sea: bool,
    /// If not: for so many hours of a day at sea, from this hour on.
    hours_at_sea: f64,
    from_hour: f64,
    /// It is watched at anchor.
    at_anchor: bool,
    /// It is tested in port so often, a day.
    tests_a_day: f64,
    /// Under way it is switched off and on again so often, a day.
    pauses_a_day: f64,
    /// A ferry's first and last hour, in the middle of winter and of summer, and whether it stays on between crossings.
    winter: (f64, f64),
    summer: (f64, f64),
    stays_on: bool,
    crossing_h: f64,
}

impl Habits {
    fn draw(trade: Trade, rng: &mut Rng) -> Habits {
        let first = within(rng, 4.5, 8.0);
        let hours = within(rng, 9.0, 16.0);
        let longer = if rng.f64() < 0.7 { within(rng, 0.0, 3.0) } else { 0.0 };
        Habits {
            always_at_sea: rng.f64() < if trade == Trade::Ferry { 1.0 } else { 0.6 },
            hours_at_sea: within(rng, 6.0, 18.0),
            from_hour: within(rng, 0.0, 24.0),
            at_anchor: rng.f64() < 0.5,
            tests_a_day: within(rng, 0.1, 1.0),
            pauses_a_day: within(rng, 0.0, 1.2),
            winter: (first, first + hours),
            summer: (first - longer * 0.2, (first + hours + longer).min(23.5)),
            stays_on: rng.f64() < 0.6,
            crossing_h: within(rng, 0.5, 3.0),
        }
    }
}

/// When the line was on in a life.
pub(super) fn runs(trade: Trade, stays: &[Stay], rng: &mut Rng) -> Vec<Run> {
    let mut habits = Habits::draw(trade, rng);
    // Another master has another habit: of one in four ships, once.
    let changes_at = if rng.f64() < 0.25 {
        stays.last().map_or(0.0, |last| last.to) * within(rng, 0.3, 0.9)
    } else {
        f64::INFINITY
    };
    let mut changed = false;
    let mut runs = Vec::new();
    for stay in stays {
        if !changed && stay.from > changes_at {
            changed = true;
            let other = Habits::draw(trade, rng);
            habits.hours_at_sea = other.hours_at_sea;
            habits.at_anchor = other.at_anchor;
            habits.pauses_a_day = other.pauses_a_day;
        }
        match stay.mode {
            Mode::Sea => at_sea(&habits, stay, rng, &mut runs),
            Mode::Port => tested(&habits, stay, rng, &mut runs),
            Mode::Anchor if habits.at_anchor => {
                broken(stay.from + 0.1, stay.to - 0.1, habits.pauses_a_day / 2.0, rng, &mut runs);
            }
            Mode::Anchor => tested(&habits, stay, rng, &mut runs),
            Mode::Crossings => crossings(&habits, stay, rng, &mut runs),
            Mode::LaidUp => {}
        }
    }
    runs
}

fn at_sea(habits: &Habits, stay: &Stay, rng: &mut Rng, runs: &mut Vec<Run>) {
    if habits.always_at_sea {
        broken(stay.from + 0.05, stay.to - 0.05, habits.pauses_a_day, rng, runs);
        return;
    }
    let mut day = (stay.from / 24.0).floor();
    while day * 24.0 < stay.to {
        let from = day * 24.0 + habits.from_hour + bell(rng, 0.7);
        // In fog longer.
        let fog = if rng.f64() < 0.08 { within(rng, 2.0, 10.0) } else { 0.0 };
        let to = from + (habits.hours_at_sea + fog + bell(rng, 1.0)).clamp(1.0, 22.0);
        let after = runs.last().map_or(f64::NEG_INFINITY, |run| run.to);
        let (from, to) = (from.max(stay.from + 0.05).max(after + 0.1), to.min(stay.to - 0.05));
        if to - from > 0.2 {
            runs.push(Run { from, to });
        }
        day += 1.0;
    }
}

/// On from one instant to another, but for short pauses.
fn broken(from: f64, to: f64, pauses_a_day: f64, rng: &mut Rng, runs: &mut Vec<Run>) {
    let mut at = from.max(runs.last().map_or(0.0, |run| run.to + 0.02));
    while at < to {
        let end = (at + wait(rng, 24.0 / pauses_a_day.max(0.01))).max(at + 0.1).min(to);
        if end - at > 0.02 {
            runs.push(Run { from: at, to: end });
        }
        at = end + within(rng, 0.05, 1.0);
    }
}

fn tested(habits: &Habits, stay: &Stay, rng: &mut Rng, runs: &mut Vec<Run>) {
    let mut at = stay.from + 0.1 + wait(rng, 24.0 / habits.tests_a_day);
    while at + 1.2 < stay.to {
        let to = at + within(rng, 0.1, 1.0);
        runs.push(Run { from: at, to });
        at = to + 0.1 + wait(rng, 24.0 / habits.tests_a_day);
    }
}

fn crossings(habits: &Habits, stay: &Stay, rng: &mut Rng, runs: &mut Vec<Run>) {
    let share = (1.0 + season(stay.from)) / 2.0;
    // Two timetables, changed twice a year.
    let (first, last) = if share > 0.5 { habits.summer } else { habits.winter };
    let (first, last) = (stay.from + first + bell(rng, 0.05), stay.from + last + bell(rng, 0.15));
    if habits.stays_on {
        runs.push(Run { from: first, to: last.min(stay.to - 0.1) });
        return;
    }
    let mut at = first;
    while at + habits.crossing_h < last.min(stay.to - 0.1) {
        let to = at + habits.crossing_h * (1.0 + bell(rng, 0.03)).clamp(0.9, 1.1);
        runs.push(Run { from: at, to });
        at = to + 0.4;
    }
}
