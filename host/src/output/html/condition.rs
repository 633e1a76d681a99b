//! What was measured at like settings, to be drawn and told: the trend is the other rooms', the points are the facts.

use super::book::Book;
use super::words::shown;
use crate::output::condition::{self, Series};
use crate::ship::facts::Condition;

const DAY_MS: f64 = 86_400_000.0;

/// Measurements that may be compared, and what they show.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// The radar, ready to be shown.
    pub(super) radar: String,
    /// What was measured, and at which settings; ready to be shown.
    pub(super) what: String,
    /// In which unit.
    pub(super) unit: String,
    /// Instants and figures, by time; those of the tube before are among them.
    pub(super) points: Vec<(i64, f64)>,
    /// When the part was put in that the trend is of.
    pub(super) renewed_ms: Option<i64>,
    /// The ends of the trend's line.
    pub(super) line: Option<(i64, f64, i64, f64)>,
    /// All of it in a sentence.
    pub(super) says: String,
    /// It wants attention.
    pub(super) warns: bool,
}

/// A ship's measurements in groups, those that warn first.
pub(super) fn groups(book: &Book) -> Vec<Group> {
    book.series.iter().map(|series| group(book, series)).collect()
}

fn group(book: &Book, series: &Series) -> Group {
    let own = book.conditions.iter().filter(|fact| alike(fact, series));
    let mut points: Vec<(i64, f64)> =
        own.map(|fact| (fact.at.best_ms_by(book.as_of_ms), fact.value)).collect();
    points.sort_by_key(|(at_ms, _)| *at_ms);
    // The line stands on days since the fitting, or since the first figure if none is recorded.
    let from_ms = series.since_ms.or(points.first().map(|(at_ms, _)| *at_ms));
    let line = from_ms.zip(series.trend.line.as_ref().ok()).map(|(from_ms, (line, _))| {
        let first_ms =
            points.iter().map(|(at_ms, _)| *at_ms).find(|at_ms| *at_ms >= from_ms).unwrap_or(from_ms);
        let at = |at_ms: i64| line.at((at_ms - from_ms) as f64 / DAY_MS);
        (first_ms, at(first_ms), series.newest_ms, at(series.newest_ms))
    });
    Group {
        radar: shown(&series.radar),
        what: what(series),
        unit: shown(&series.unit),
        points,
        renewed_ms: series.since_ms,
        line,
        says: shown(&condition::sentence(series)),
        warns: series.trend.warns(),
    }
}

fn alike(fact: &Condition, series: &Series) -> bool {
    let same = |a: &str, b: &str| a.trim().to_lowercase() == b.trim().to_lowercase();
    let pulse = match (&fact.pulse, &series.pulse) {
        (Some(a), Some(b)) => same(a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    fact.radar == series.radar
        && same(&fact.quantity, &series.quantity)
        && same(&fact.unit, &series.unit)
        && pulse
        && fact.range_nm == series.range_nm
}

fn what(series: &Series) -> String {
    let pulse = series.pulse.as_ref().map(|pulse| format!(", {} pulse", shown(pulse)));
    let range = series.range_nm.map(|range_nm| format!(", {range_nm} nm"));
    [Some(shown(&series.quantity)), pulse, range].into_iter().flatten().collect()
}

impl Group {
    /// A figure with its unit.
    pub(super) fn figure(&self, value: f64) -> String {
        format!("{value} {}", self.unit)
    }
}
