//! The course of a part's hours: piece by piece, from one fitting to the next.

use super::column;
use crate::output::html::book::Part;
use crate::output::html::plot::thin::thin;
use crate::reconcile::{Log, Point, Radar};
use crate::time;

/// A part's hours against time: of the one fitted now and of those before it.
#[derive(Clone, Debug, Default)]
pub(in crate::output::html::plot) struct Course {
    /// From each fitting on: instants in milliseconds, and hours.
    pieces: Vec<Vec<(f64, f64)>>,
}

impl Course {
    /// By the logger's totals, and by what each part had run before it was put in.
    pub(in crate::output::html::plot) fn of(told: &Radar, part: &Part, as_of_ms: i64) -> Course {
        let column = column(part.settings.ages_by);
        let points: Vec<(f64, f64)> =
            told.log.points.iter().map(|point| (point.at.best_ms() as f64, point.on_h[column])).collect();
        let own: Vec<_> = told.fittings.iter().filter(|fit| fit.part == part.settings.name).collect();
        let (Some(first), Some(last)) = (points.first(), points.last()) else { return Course::default() };
        let mut pieces = Vec::new();
        for (at, fitting) in own.iter().enumerate() {
            let from = fitting.at.best_ms() as f64;
            let to = own.get(at + 1).map_or(as_of_ms as f64, |next| next.at.best_ms() as f64);
            // Where the log begins later, its first total says nothing of a part that was taken as new.
            if to < first.0 || (from < first.0 - 3_600_000.0 && fitting.hours_at_fit_h.is_none()) {
                continue;
            }
            let before_h = fitting.hours_at_fit_h.unwrap_or(0.0) - total_at(&points, from);
            let inside = points.iter().filter(|(x, _)| *x > from && *x < to);
            let mut piece = vec![(from.max(first.0), total_at(&points, from))];
            piece.extend(inside.copied());
            piece.push((to.min(last.0.max(from)), total_at(&points, to)));
            pieces.push(piece.into_iter().map(|(x, total_h)| (x, total_h + before_h)).collect::<Vec<_>>());
        }
        // The last piece ends at what is known for now.
        let now = part.due.hours.map(|of| (as_of_ms as f64, of.best));
        if let (Some(piece), Some(now)) = (pieces.last_mut(), now)
            && part.fitted_ms.is_some()
        {
            piece.push((now.0, now.1.max(piece.last().map_or(0.0, |last| last.1))));
        }
        Course { pieces }
    }

    /// The most hours that it reaches.
    pub(in crate::output::html::plot) fn high_h(&self) -> f64 {
        self.pieces.iter().flatten().map(|(_, h)| *h).fold(0.0, f64::max)
    }

    /// Its pieces, thinned to so many points in all.
    pub(in crate::output::html::plot) fn pieces(&self, most: usize) -> Vec<Vec<(f64, f64)>> {
        let all: usize = self.pieces.iter().map(Vec::len).sum();
        let share = |piece: &Vec<(f64, f64)>| (most * piece.len() / all.max(1)).max(2);
        self.pieces.iter().map(|piece| thin(piece, share(piece))).collect()
    }

    /// The hours at an instant, if a part was in.
    pub(in crate::output::html::plot) fn at(&self, at_ms: i64) -> Option<f64> {
        let at = at_ms as f64;
        let piece =
            self.pieces.iter().rev().find(|piece| piece.first().is_some_and(|first| first.0 <= at))?;
        Some(total_at(piece, at))
    }
}

/// Straight between points; level before the first and behind the last.
fn total_at(points: &[(f64, f64)], at: f64) -> f64 {
    let behind = points.partition_point(|(x, _)| *x <= at);
    match (behind.checked_sub(1).and_then(|before| points.get(before)), points.get(behind)) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0).max(1.0),
        (Some(only), None) | (None, Some(only)) => only.1,
        (None, None) => 0.0,
    }
}

/// How much something grew in each month of a log: the month's first instant in UTC, and the growth.
pub(in crate::output::html::plot) fn by_month(log: &Log, value: impl Fn(&Point) -> f64) -> Vec<(i64, f64)> {
    let points: Vec<(f64, f64)> =
        log.points.iter().map(|point| (point.at.best_ms() as f64, value(point))).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    let months = months(first.0 as i64, last.0 as i64);
    let grown =
        |from_ms: i64, to_ms: i64| total_at(&points, to_ms as f64) - total_at(&points, from_ms as f64);
    months.into_iter().map(|(from_ms, to_ms)| (from_ms, grown(from_ms, to_ms))).collect()
}

/// The months that hold two instants and all between: first instant, and that of the next month.
pub(in crate::output::html::plot) fn months(from_ms: i64, to_ms: i64) -> Vec<(i64, i64)> {
    let first = time::date(from_ms).get(..7).map(|month| format!("{month}-01T00:00Z"));
    let Some(first_ms) = first.and_then(|first| time::parse_ms(&first).ok()) else { return Vec::new() };
    let start = |month: u32| time::months_later(first_ms, month);
    // No ship lasts longer than a century.
    let all = (0..1_200).map_while(|month| start(month).zip(start(month + 1)));
    all.take_while(|(from_ms, _)| *from_ms <= to_ms).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reconcile::When;

    fn at(text: &str) -> i64 {
        time::parse_ms(text).unwrap()
    }

    fn log(totals: &[(&str, f64)]) -> Log {
        let point = |(when, h): &(&str, f64)| Point {
            at: When { lo_ms: at(when), hi_ms: at(when) },
            on_h: [0.0, 0.0, *h, 0.0, 0.0],
            dark_h: 0.0,
            lost_h: 0.0,
            drop_outs: *h as u32,
            short_warm_ups: 0,
        };
        Log { points: totals.iter().map(point).collect(), ..Log::default() }
    }

    /// By hand: 310 over the 31 days of January at 10 a day, then 5 a day for ten days of February.
    #[test]
    fn growth_by_month() {
        let log =
            log(&[("2026-01-01T00:00Z", 0.0), ("2026-02-01T00:00Z", 310.0), ("2026-02-11T00:00Z", 360.0)]);
        let months = by_month(&log, |point| point.on_h[2]);
        assert_eq!(months, [(at("2026-01-01T00:00Z"), 310.0), (at("2026-02-01T00:00Z"), 50.0)]);
        assert!(by_month(&Log::default(), |point| point.on_h[2]).is_empty());
    }
}
