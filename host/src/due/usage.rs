//! How much a line is used: day by day, from its course; and what the ship did meanwhile, from her legs.

use super::course::Course;
use crate::timeline::hours_between;

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

/// What a ship does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// She is under way.
    Sea,
    /// She is in port.
    Port,
    /// She lies at anchor.
    Anchor,
}

/// A stretch of her voyage, sailed or planned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leg {
    /// From when.
    pub from_ms: i64,
    /// Until when.
    pub to_ms: i64,
    /// What she does.
    pub mode: Mode,
}

/// How far back usage is looked at, in days.
pub const DAYS_MAX: usize = 400;

pub(super) const DAY_MS: i64 = 86_400_000;

/// A powered stretch longer than this between two marks cannot be split into days, in hours.
const SPLIT_MAX_H: f64 = 50.0;

/// A day of which the logger saw less than this says nothing about usage, unless it is fed from the radar.
const SEEN_MIN_H: f64 = 12.0;

/// The days that a course tells about, up to its end, oldest first. Days that it cannot tell about are left out.
#[must_use]
pub fn days(course: &Course) -> Vec<Day> {
    let Some((first, last)) = course.ends() else { return Vec::new() };
    let end_ms = last.at.best_ms().div_euclid(DAY_MS) * DAY_MS;
    let oldest_ms = end_ms - i64::try_from(DAYS_MAX).unwrap_or(0) * DAY_MS;
    let begin_ms = ((first.at.best_ms() + DAY_MS - 1).div_euclid(DAY_MS) * DAY_MS).max(oldest_ms);
    let mut days = Vec::new();
    let mut start_ms = begin_ms;
    while start_ms + DAY_MS <= end_ms {
        let growth = |of| course.best_at(start_ms + DAY_MS, of) - course.best_at(start_ms, of);
        let (seen_h, split) = seen(course, start_ms);
        if split && (course.fed_from_radar || seen_h >= SEEN_MIN_H) {
            let scale = if course.fed_from_radar { 1.0 } else { 24.0 / seen_h.min(24.0) };
            let on_h = (growth(|mark| mark.on_h) * scale).clamp(0.0, 24.0);
            days.push(Day { start_ms, on_h, starts: (growth(|mark| mark.starts) * scale).max(0.0) });
        }
        start_ms += DAY_MS;
    }
    days
}

/// For how much of a day the logger had power, in hours; and whether its marks are near enough to each other to tell one
/// day's hours from the next one's.
fn seen(course: &Course, start_ms: i64) -> (f64, bool) {
    let end_ms = start_ms + DAY_MS;
    let first = course.marks.partition_point(|mark| mark.at.best_ms() <= start_ms).saturating_sub(1);
    let (mut seen_h, mut split) = (0.0, true);
    for (a, b) in course.marks.iter().skip(first).zip(course.marks.iter().skip(first + 1)) {
        let (from_ms, to_ms) = (a.at.best_ms(), b.at.best_ms());
        if from_ms >= end_ms {
            break;
        }
        let elapsed_h = hours_between(from_ms, to_ms);
        let powered_h = (elapsed_h - b.dark_h).max(0.0);
        let inside_h = hours_between(from_ms.max(start_ms), to_ms.min(end_ms));
        if elapsed_h > 0.0 {
            seen_h += inside_h * powered_h / elapsed_h;
        }
        split &= powered_h <= SPLIT_MAX_H;
    }
    (seen_h, split)
}

/// How much of an hour the line is usually on: by the last 90 of the days, else by the whole course.
#[must_use]
pub fn rate(days: &[Day], course: &Course) -> f64 {
    let recent = &days[days.len().saturating_sub(90)..];
    if !recent.is_empty() {
        let on_h: f64 = recent.iter().map(|day| day.on_h).sum();
        return on_h / (24.0 * recent.len() as f64);
    }
    let Some((first, last)) = course.ends() else { return 0.0 };
    let passed_h = hours_between(first.at.best_ms(), last.at.best_ms());
    if passed_h <= 0.0 { 0.0 } else { ((last.on_h - first.on_h) / passed_h).clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::super::course::Mark;
    use super::*;
    use crate::timeline::dating::When;

    const HOUR_MS: i64 = 3_600_000;

    fn course(marks: &[(i64, f64, f64)], fed_from_radar: bool) -> Course {
        let mark = |&(hour, on_h, dark_h): &(i64, f64, f64)| Mark {
            at: When { lo_ms: hour * HOUR_MS, hi_ms: hour * HOUR_MS },
            on_h,
            starts: 0.0,
            found_on: 0.0,
            dark_h,
            lost_h: 0.0,
        };
        Course { marks: marks.iter().map(mark).collect(), fed_from_radar }
    }

    fn on_h(course: &Course) -> Vec<(i64, f64)> {
        days(course).iter().map(|day| (day.start_ms / DAY_MS, (day.on_h * 10.0).round() / 10.0)).collect()
    }

    /// By hand: marks at hours 0, 24, 36 (10 h more), then dark to hour 60, then to hour 84 with 12 h more. The first day had
    /// 6 h. Of the second 12 h were seen, with 10 on: fed from elsewhere that is 20 a day, fed from the radar it is 10.
    /// The third: dark for 12 h, then half of 12.
    #[test]
    fn days_are_what_grew_in_them_and_half_dark_ones_are_scaled_unless_dark_means_off() {
        let marks = [(0, 0.0, 0.0), (24, 6.0, 0.0), (36, 16.0, 0.0), (60, 16.0, 24.0), (84, 28.0, 0.0)];
        assert_eq!(on_h(&course(&marks, false)), [(0, 6.0), (1, 20.0), (2, 12.0)]);
        assert_eq!(on_h(&course(&marks, true)), [(0, 6.0), (1, 10.0), (2, 6.0)]);
    }

    #[test]
    fn days_inside_one_long_record_are_left_out() {
        assert_eq!(on_h(&course(&[(0, 0.0, 0.0), (24, 6.0, 0.0), (96, 60.0, 0.0)], true)), [(0, 6.0)]);
        assert_eq!(on_h(&course(&[(1, 0.0, 0.0), (30, 6.0, 0.0)], true)), [], "no whole day");
        assert_eq!(rate(&[], &course(&[(1, 0.0, 0.0), (31, 6.0, 0.0)], true)), 0.2);
        assert_eq!(rate(&[], &Course::default()), 0.0);
    }
}
