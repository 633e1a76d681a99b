//! Hours since an instant, as an interval; every reason that widens it is kept by itself, so that it can be told.
//!
//! | time since `from`                    | low     | best             | high                    |
//! |--------------------------------------|---------|------------------|-------------------------|
//! | logged                               | logged  | logged           | logged                  |
//! | the record in which `from` falls     | by what must and what can have run on either side of it       |||
//! | before the first record              | nothing | at the usual rate| all of it               |
//! | dark, logger fed from the radar      | nothing | nothing          | nothing                 |
//! | dark, logger fed otherwise           | nothing | at the usual rate| all of it               |
//! | lost at power cuts                   | nothing | half, if running | what the logger admits  |
//! | since the last record                | nothing | at the usual rate| all of it               |
//!
//! The logger's clock widens all of it by 100 ppm, and nothing runs for longer than time has passed.

use super::Interval;
use crate::timeline::curve::{Curve, Known};
use crate::timeline::dating::{Dating, When};
use crate::timeline::{DRIFT, MS_PER_HOUR, TENTHS_PER_HOUR, Timeline};
use halfglass_protocol::record::{Damage, Totals};

/// Tenths of a second that one unreadable word of the logger's flash can have held (13 bits).
const WORD_TENTHS_MAX: f64 = 8_191.0;

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Since {
    /// The input whose on-time counts.
    pub input: usize,
    /// From when.
    pub from_ms: i64,
    /// Up to when; later records are not seen.
    pub as_of_ms: i64,
    /// The logger is fed from the radar: dark time is time off.
    pub fed_from_radar: bool,
    /// How much of an hour the line is usually on.
    pub rate: f64,
}

/// Hours run, and what widens them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Growth {
    /// Hours run since.
    pub hours: Interval,
    /// Hours between `from` and the first record; 0 if it falls inside the log.
    pub before_h: f64,
    /// Hours since the last record.
    pub tail_h: f64,
    /// At most so many hours without the logger running.
    pub dark_h: f64,
    /// At most so many hours lost at power cuts.
    pub lost_h: f64,
    /// How many power cuts.
    pub cuts: u32,
    /// At most so many hours in words that could not be read.
    pub unreadable_h: f64,
    /// How far apart low and high are for want of knowing where in its record `from` falls.
    pub bracket_h: f64,
    /// When the first record was made.
    pub first: When,
    /// When the last one was.
    pub last: When,
}

/// How many hours a line was on since an instant. `None`: no record tells.
#[must_use]
pub fn since(line: &Timeline, dating: &Dating, asked: &Since) -> Option<Growth> {
    let Since { input, from_ms, as_of_ms, fed_from_radar, rate } = *asked;
    let on = |totals: &Totals| totals.on_tenths.get(input).copied().unwrap_or(0) as f64;
    let curve = Curve::of(line, dating, as_of_ms, on);
    let uptime = Curve::of(line, dating, as_of_ms, |totals| totals.uptime_tenths as f64);
    let (first, last) = (*curve.first()?, *curve.last()?);
    let (start, end) = (curve.at(from_ms)?, curve.at(as_of_ms)?);

    let elapsed_h = hours_between(from_ms, as_of_ms);
    let before_h = hours_between(from_ms, first.when.best_ms().min(as_of_ms));
    let tail_h = hours_between(last.when.best_ms().max(from_ms), as_of_ms);
    let seen = Seen::after(line, &curve, from_ms);
    let (dark_best_h, dark_h) = dark(&uptime, dating, from_ms, as_of_ms);
    let (cuts, lost_tenths) = seen.lost(line);
    let lost_h = lost_tenths / TENTHS_PER_HOUR;
    let unreadable_h = seen.unreadable_tenths(line) / TENTHS_PER_HOUR;

    let low = (end.low - start.high).max(0.0) / TENTHS_PER_HOUR * (1.0 - DRIFT);
    let mut high = (end.high - start.low).max(0.0) / TENTHS_PER_HOUR * (1.0 + DRIFT);
    let logged_h = (end.best - start.best).max(0.0) / TENTHS_PER_HOUR;
    let mut best = logged_h + rate * (before_h + tail_h) + lost_h / 2.0 * rate;
    high += lost_h + unreadable_h;
    if !fed_from_radar {
        best += rate * dark_best_h;
        high += dark_h;
    }
    let high = high.min(elapsed_h).max(low);
    let best = best.clamp(low, high);
    Some(Growth {
        hours: Interval { low, best, high },
        before_h,
        tail_h,
        dark_h,
        lost_h,
        cuts,
        unreadable_h,
        bracket_h: if before_h > 0.0 { 0.0 } else { (start.high - start.low) / TENTHS_PER_HOUR },
        first: first.when,
        last: last.when,
    })
}

/// How often a line went on since an instant. Time without records has no bound on starts: there `high` is the
/// busiest day that was logged, day after day.
#[must_use]
pub fn starts_since(
    line: &Timeline,
    dating: &Dating,
    asked: &Since,
    per_day: f64,
    busiest_day: f64,
) -> Option<Interval> {
    let starts = |totals: &Totals| f64::from(totals.starts.get(asked.input).copied().unwrap_or(0));
    let curve = Curve::of(line, dating, asked.as_of_ms, starts);
    let (first, last) = (*curve.first()?, *curve.last()?);
    let surely_before = |known: &&Known| known.when.hi_ms <= asked.from_ms;
    let surely_after = |known: &&Known| known.when.lo_ms >= asked.from_ms;
    let start_low = curve.known.iter().filter(surely_before).map(|k| k.value).fold(first.value, f64::max);
    let start_high = curve.known.iter().filter(surely_after).map(|k| k.value).fold(last.value, f64::min);
    let start_best = curve.best_at(asked.from_ms).clamp(start_low, start_high.max(start_low));
    // A line found on when the logger started counts as a start there; it may be none of the radar's.
    let bit = 1u8.checked_shl(u32::try_from(asked.input).unwrap_or(8)).unwrap_or(0);
    let seen = Seen::after(line, &curve, asked.from_ms);
    let found_on = seen.starts(line).filter(|start| start.session.found_on & bit != 0).count() as f64;
    let before_days = hours_between(asked.from_ms, first.when.best_ms().min(asked.as_of_ms)) / 24.0;
    let tail_days = hours_between(last.when.best_ms().max(asked.from_ms), asked.as_of_ms) / 24.0;
    let unseen_days = before_days + tail_days;
    let low = (last.value - start_high - found_on).max(0.0);
    let high = (last.value - start_low + unseen_days * busiest_day).max(low);
    let best = last.value - start_best - found_on + unseen_days * per_day;
    Some(Interval { low, best: best.clamp(low, high), high })
}

/// The records that belong to a curve and may lie after an instant.
struct Seen {
    /// The first index that may.
    from_index: u32,
    /// One past the last index.
    to_index: u32,
    /// The first point that may.
    from_point: usize,
}

impl Seen {
    fn after(line: &Timeline, curve: &Curve, from_ms: i64) -> Seen {
        let from_point = curve.known.iter().rposition(|known| known.when.hi_ms <= from_ms);
        let from_index = from_point.and_then(|at| curve.known.get(at)).map_or(0, |known| known.index);
        // Records behind the last point that is seen are not, unless nothing comes behind them.
        let to_index = line.points.get(curve.known.len()).map_or(u32::MAX, |point| point.index);
        Seen { from_index, to_index, from_point: from_point.unwrap_or(0) }
    }

    fn starts<'a>(&self, line: &'a Timeline) -> impl Iterator<Item = &'a crate::timeline::Start> + use<'a> {
        let range = self.from_index..self.to_index;
        line.sessions.iter().filter(move |start| range.contains(&start.index))
    }

    /// Power cuts, and the tenths that they can have taken from a line.
    fn lost(&self, line: &Timeline) -> (u32, f64) {
        let mut cuts = 0;
        let mut tenths = 0.0;
        for start in self.starts(line).filter(|start| start.session.session > 1) {
            // A session too short to write anything was shorter than one heartbeat.
            let heartbeat_s = line.configs_since(start.index).next().map_or(60, |config| config.heartbeat_s);
            tenths += f64::from(start.session.lost_max_tenths);
            tenths += f64::from(start.skipped) * f64::from(heartbeat_s) * 10.0;
            cuts += 1 + start.skipped;
        }
        (cuts, tenths)
    }

    fn unreadable_tenths(&self, line: &Timeline) -> f64 {
        let range = self.from_index..self.to_index;
        line.damage
            .iter()
            .filter(|(index, points, _)| range.contains(index) && *points >= self.from_point)
            .map(|(_, _, damage)| match damage {
                Damage::WordsLost { words } => f64::from(*words) * WORD_TENTHS_MAX,
                _ => 0.0,
            })
            .sum()
    }
}

/// An instant known on both clocks.
#[derive(Clone, Copy)]
struct Node {
    session: u32,
    uptime: f64,
    when: When,
}

/// Time without the logger running between an instant and the last record, in hours: likeliest and at most.
///
/// Where a session floats, single gaps are not known but their sum is: between two anchors it is what passed less
/// what was powered. So this adds up from anchor to anchor, not from gap to gap.
fn dark(uptime: &Curve, dating: &Dating, from_ms: i64, as_of_ms: i64) -> (f64, f64) {
    let node = |known: &Known| Node { session: known.session, uptime: known.value, when: known.when };
    let mut nodes: Vec<Node> = uptime.first().map(node).into_iter().collect();
    for anchor in dating.anchors() {
        let utc_ms = i64::try_from(anchor.utc_ms).unwrap_or(i64::MAX / 4);
        let off_ms = i64::from(anchor.uncertainty_ms);
        let when = When { lo_ms: utc_ms - off_ms, hi_ms: utc_ms + off_ms };
        if utc_ms <= as_of_ms {
            nodes.push(Node { session: anchor.session, uptime: anchor.uptime_tenths as f64, when });
        }
    }
    nodes.extend(uptime.last().map(node));
    let from = uptime.at(from_ms);
    let (mut best_h, mut high_h) = (0.0, 0.0);
    for pair in nodes.windows(2) {
        let [a, b] = pair else { continue };
        if a.session == b.session || b.when.hi_ms <= from_ms || b.uptime < a.uptime {
            continue;
        }
        let from_high = from.map_or(a.uptime, |band| band.high);
        let from_best = from.map_or(a.uptime, |band| band.best);
        let powered_low =
            b.uptime - if from_ms > a.when.lo_ms { from_high.clamp(a.uptime, b.uptime) } else { a.uptime };
        let powered_best = b.uptime
            - if from_ms > a.when.best_ms() { from_best.clamp(a.uptime, b.uptime) } else { a.uptime };
        let passed_h = hours_between(a.when.lo_ms.max(from_ms), b.when.hi_ms);
        high_h += (passed_h - powered_low / TENTHS_PER_HOUR * (1.0 - DRIFT)).max(0.0);
        let passed_h = hours_between(a.when.best_ms().max(from_ms), b.when.best_ms());
        best_h += (passed_h - powered_best / TENTHS_PER_HOUR).max(0.0);
    }
    (best_h.min(high_h), high_h)
}

fn hours_between(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / MS_PER_HOUR
}

#[cfg(test)]
#[path = "hours_tests.rs"]
mod tests;
