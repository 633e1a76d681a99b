//! The figure of what was measured at like settings: points, and the line through those since the last renewal.

use super::labels::{Labels, Side};
use super::scale::{Scale, decimals, month_ticks, round_ticks};
use super::{Figure, Mark, Table};
use crate::output::html::condition::Group;
use crate::time;

const WIDTH: f64 = 370.0;
const HEIGHT: f64 = 132.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 12.0;
const FOOT: f64 = 104.0;

/// The figure of one group; `None`: fewer than two measurements.
pub(in crate::output::html) fn trend(id: &str, group: &Group) -> Option<Figure> {
    let (first, last) = (group.points.first()?, group.points.last()?);
    if group.points.len() < 2 || first.0 == last.0 {
        return None;
    }
    let values = || group.points.iter().map(|(_, value)| *value);
    let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
    // A level course is drawn in the middle, not as noise from edge to edge.
    let room = ((high - low) * 0.15).max(high.abs().max(low.abs()) * 0.02).max(1e-6);
    let x = Scale { from: first.0 as f64, to: last.0 as f64, at_from: LEFT + 6.0, at_to: WIDTH - RIGHT };
    let y = Scale { from: low - room, to: high + room, at_from: FOOT, at_to: TOP };
    let mut marks = Vec::new();
    let mut labels = Labels::new(WIDTH);
    let ticks = round_ticks(y.from, y.to, 4.5);
    let digits = decimals(&ticks);
    for tick in &ticks {
        let at = y.at(*tick);
        marks.push(Mark::line(LEFT, at, WIDTH - RIGHT, at, "grid"));
        let text = format!("{tick:.digits$}");
        marks.extend(labels.place(&[(LEFT - 5.0, at + 4.0, Side::Left)], &text, "soft"));
    }
    marks.push(Mark::line(LEFT, FOOT, WIDTH - RIGHT, FOOT, "axis"));
    for (at_ms, label) in month_ticks(x.from, x.to, 5) {
        let at = x.at_ms(at_ms);
        marks.push(Mark::line(at, FOOT, at, FOOT + 4.0, "axis"));
        marks.extend(labels.place(&[(at, FOOT + 17.0, Side::Middle)], &label, "soft"));
    }
    if let Some(renewed_ms) = group.renewed_ms.filter(|at_ms| x.holds_ms(*at_ms)) {
        let at = x.at_ms(renewed_ms);
        marks.push(Mark::line(at, TOP, at, FOOT, "fitted"));
        marks.push(Mark::triangle(at, FOOT - 8.5, 5.0, "fitted-mark"));
    }
    if let Some((from_ms, from, to_ms, to)) = group.line {
        marks.push(Mark::line(x.at_ms(from_ms), y.at(from), x.at_ms(to_ms), y.at(to), "hours"));
    }
    for (at_ms, value) in &group.points {
        marks.push(Mark::Dot {
            x: super::tenth(x.at_ms(*at_ms)),
            y: super::tenth(y.at(*value)),
            r: 2.8,
            class: "reading",
        });
    }
    let rows = group.points.iter().map(|(at_ms, value)| vec![time::date(*at_ms), group.figure(*value)]);
    Some(Figure {
        id: id.to_owned(),
        title: format!("{}: {}", group.radar, group.what),
        desc: group.says.clone(),
        width: WIDTH,
        height: HEIGHT,
        marks,
        tables: vec![Table {
            caption: "Measured at like settings".to_owned(),
            heading: vec!["Date".to_owned(), "Figure".to_owned()],
            rows: rows.rev().take(60).collect(),
        }],
    })
}
