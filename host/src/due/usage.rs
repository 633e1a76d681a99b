//! How much a line is used: day by day, from the log.

use crate::timeline::curve::{Curve, Known};
use crate::timeline::dating::Dating;
use crate::timeline::{MS_PER_HOUR, TENTHS_PER_HOUR, Timeline};
use halfglass_protocol::record::Totals;

/// One day of 24 hours in UTC.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// When it began.
    pub start_ms: i64,
    /// How long the line was on, in hours.
    pub on_h: f64,
    /// How often it went on.
    pub starts: f64,
}

/// How far back usage is looked at, in days.
pub const DAYS_MAX: usize = 400;

const DAY_MS: i64 = 86_400_000;

/// A stretch of uptime longer than this between two records cannot be split into days.
const SPLIT_MAX_TENTHS: u64 = 50 * 36_000;

/// A day of which the logger saw less than this says nothing about usage, unless it is fed from the radar.
const SEEN_MIN_H: f64 = 12.0;

/// The days that the log tells about, up to an instant, oldest first. Days that it cannot tell about are left out.
#[must_use]
pub fn days(line: &Timeline, dating: &Dating, input: usize, as_of_ms: i64, fed_from_radar: bool) -> Vec<Day> {
    let curve = |value: &dyn Fn(&Totals) -> f64| Curve::of(line, dating, as_of_ms, value);
    let on = curve(&|totals| totals.on_tenths.get(input).copied().unwrap_or(0) as f64);
    let starts = curve(&|totals| f64::from(totals.starts.get(input).copied().unwrap_or(0)));
    let uptime = curve(&|totals| totals.uptime_tenths as f64);
    let (Some(first), Some(last)) = (on.first(), on.last()) else { return Vec::new() };
    let end_ms = last.when.best_ms().div_euclid(DAY_MS) * DAY_MS;
    let oldest_ms = end_ms - i64::try_from(DAYS_MAX).unwrap_or(0) * DAY_MS;
    let mut start_ms = (first.when.best_ms() + DAY_MS - 1).div_euclid(DAY_MS) * DAY_MS;
    start_ms = start_ms.max(oldest_ms);
    let mut days = Vec::new();
    while start_ms + DAY_MS <= end_ms {
        let growth = |curve: &Curve| curve.best_at(start_ms + DAY_MS) - curve.best_at(start_ms);
        let seen_h = growth(&uptime) / TENTHS_PER_HOUR;
        let whole = !blurred(&on.known, start_ms, start_ms + DAY_MS);
        if whole && (fed_from_radar || seen_h >= SEEN_MIN_H) {
            let scale = if fed_from_radar { 1.0 } else { 24.0 / seen_h.min(24.0) };
            let on_h = (growth(&on) / TENTHS_PER_HOUR * scale).clamp(0.0, 24.0);
            days.push(Day { start_ms, on_h, starts: (growth(&starts) * scale).max(0.0) });
        }
        start_ms += DAY_MS;
    }
    days
}

/// Whether a stretch too long to split overlaps the time.
fn blurred(known: &[Known], from_ms: i64, to_ms: i64) -> bool {
    let first = known.partition_point(|known| known.when.best_ms() <= from_ms).saturating_sub(1);
    known
        .iter()
        .skip(first)
        .zip(known.iter().skip(first + 1))
        .take_while(|(a, _)| a.when.best_ms() < to_ms)
        .any(|(a, b)| b.uptime_tenths.saturating_sub(a.uptime_tenths) > SPLIT_MAX_TENTHS)
}

/// How much of an hour the line is usually on: by the last 90 of the days, else by the whole log.
#[must_use]
pub fn rate(days: &[Day], line: &Timeline, dating: &Dating, input: usize, as_of_ms: i64) -> f64 {
    let recent = &days[days.len().saturating_sub(90)..];
    if !recent.is_empty() {
        let on_h: f64 = recent.iter().map(|day| day.on_h).sum();
        return on_h / (24.0 * recent.len() as f64);
    }
    let on =
        Curve::of(line, dating, as_of_ms, |totals| totals.on_tenths.get(input).copied().unwrap_or(0) as f64);
    let (Some(first), Some(last)) = (on.first(), on.last()) else { return 0.0 };
    let passed_h = (last.when.best_ms() - first.when.best_ms()) as f64 / MS_PER_HOUR;
    if passed_h <= 0.0 {
        0.0
    } else {
        ((last.value - first.value) / TENTHS_PER_HOUR / passed_h).clamp(0.0, 1.0)
    }
}
