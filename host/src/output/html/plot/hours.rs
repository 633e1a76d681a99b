//! The figure of one radar: a panel a part with hours against time, then the stays ahead, then drop-outs by month.
//!
//! ```text
//!  hours   |      ___limit_____________|due|____     line: the part's hours; circle: what the counter showed
//!          |  o--'|  o---o---o-'. . . .|   |         triangle: a part put in; diamond: a figure in an open finding
//!          |o-'   |o-'//////           |   |         hatched: the logger was without power
//!          +------^--------------------now--------
//!  stays                            []  [X]   []     filled: planned for this radar
//! ```

use super::labels::{Labels, Side, short};
use super::scale::{Scale, round_ticks};
use super::{Figure, Mark};
use crate::output::html::book::{Book, Part, Seen};
use crate::output::html::words;
use crate::output::table::hours;
use crate::reconcile::{FactId, place};
use crate::time;
use halfglass_protocol::config::Role;
use std::collections::BTreeMap;

pub(super) mod course;
mod foot;
mod tables;

use course::Course;

/// Width of the picture, and its margins left and right.
const WIDTH: f64 = 760.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 16.0;
/// Height of a panel's words, of its picture, of the stays, of the drop-outs.
const HEAD: f64 = 34.0;
const GAP: f64 = 14.0;
const PANEL: f64 = 132.0;
const STAYS: f64 = 60.0;
const BARS: f64 = 62.0;
/// A radar's courses have so many points at most, all parts together.
const POINTS_MAX: usize = 400;

const DAY_MS: i64 = 86_400_000;

/// The figure of the radar at this place; `None`: nothing is known that could be drawn. `numbers`: which open finding rests
/// on a fact.
pub(in crate::output::html) fn radar(
    book: &Book,
    at: usize,
    numbers: &BTreeMap<FactId, usize>,
) -> Option<Figure> {
    let seen = book.seen.get(at)?;
    let parts: Vec<(usize, &Part)> =
        book.parts.iter().enumerate().filter(|(_, part)| part.settings.radar == seen.told.name).collect();
    let draw = Draw {
        book,
        seen,
        numbers,
        time: time_scale(book, seen, &parts)?,
        marks: Vec::new(),
        labels: Labels::new(WIDTH),
        y: 0.0,
    };
    Some(draw.all(at, &parts))
}

/// From the first fact to the last date that is near enough to be drawn beside the past.
fn time_scale(book: &Book, seen: &Seen, parts: &[(usize, &Part)]) -> Option<Scale> {
    let told = &seen.told;
    let points = told.log.points.first().map(|point| point.at.best_ms());
    let readings = told.readings.first().map(|reading| reading.at.lo_ms);
    let fittings = told.fittings.first().map(|fitting| fitting.at.lo_ms);
    let first_ms = [points, readings, fittings].into_iter().flatten().min()?;
    let past_ms = (book.as_of_ms - first_ms).max(30 * DAY_MS);
    let most_ms = book.as_of_ms + (past_ms / 10 * 7).clamp(90 * DAY_MS, 900 * DAY_MS);
    let due = parts.iter().filter_map(|(_, part)| {
        let forecast = &part.due.forecast;
        forecast.p90_ms.or(forecast.p50_ms)
    });
    let stays = book.problem.windows.iter().map(|window| window.to_ms);
    let last_ms = due.chain(stays).filter(|at_ms| *at_ms <= most_ms).max().unwrap_or(most_ms);
    let last_ms = last_ms.max(book.as_of_ms + past_ms / 10);
    // A little air, so that words find room behind the last date.
    let last_ms = last_ms + (last_ms - first_ms) / 20;
    Some(Scale { from: first_ms as f64, to: last_ms as f64, at_from: LEFT, at_to: WIDTH - RIGHT })
}

struct Draw<'a> {
    book: &'a Book,
    seen: &'a Seen,
    numbers: &'a BTreeMap<FactId, usize>,
    time: Scale,
    marks: Vec<Mark>,
    labels: Labels,
    /// How far down the picture has come.
    y: f64,
}

impl Draw<'_> {
    fn all(mut self, at: usize, parts: &[(usize, &Part)]) -> Figure {
        let courses: Vec<Course> =
            parts.iter().map(|(_, part)| Course::of(&self.seen.told, part, self.book.as_of_ms)).collect();
        let mut desc = Vec::new();
        for ((_, part), course) in parts.iter().zip(&courses) {
            self.part(part, course, parts.len());
            desc.push(sentence(part));
        }
        self.stays(parts);
        self.drop_outs();
        self.months();
        let name = words::shown(&self.seen.told.name);
        Figure {
            id: format!("radar-{at}"),
            title: format!("{name}: hours against time, with limits and due dates"),
            desc: desc.join(" "),
            width: WIDTH,
            height: super::tenth(self.y),
            tables: tables::of(self.book, self.seen, parts, &courses, self.numbers),
            marks: self.marks,
        }
    }

    fn part(&mut self, part: &Part, course: &Course, parts: usize) {
        let (top, foot) = (self.y + HEAD, self.y + HEAD + PANEL);
        let name = short(&part.settings.name, 34);
        let serial =
            part.due.serial.as_deref().map_or_else(String::new, |serial| format!(", {}", short(serial, 24)));
        let head = [(LEFT, self.y + 12.0, Side::Right)];
        self.marks.extend(self.labels.place(&head, &format!("{name}{serial}"), "strong"));
        let said = part.due.hours.map_or_else(
            || "hours not known".to_owned(),
            |of| format!("{} h now, hours of {}", hours(of.best), part.settings.ages_by.name()),
        );
        self.marks.extend(self.labels.place(&[(WIDTH - RIGHT, self.y + 12.0, Side::Left)], &said, "soft"));

        let role = part.settings.ages_by;
        let most = course.high_h().max(part.settings.limit_h.unwrap_or(0.0)).max(1.0);
        let scale = Scale { from: 0.0, to: most * 1.14, at_from: foot, at_to: top };
        self.ground(top, foot, &scale);
        self.dark(top, foot);
        self.due(part, &scale, top, foot);
        for piece in course.pieces(POINTS_MAX / parts.max(1)) {
            let drawn: Vec<(f64, f64)> =
                piece.iter().map(|(at_ms, h)| (self.time.at(*at_ms), scale.at(*h))).collect();
            self.marks.extend(Mark::polyline(&drawn, "hours"));
        }
        if let Some(of) = part.due.hours {
            let x = self.time.at_ms(self.book.as_of_ms);
            let (low, high) = (scale.at(of.low), scale.at(of.high));
            // Narrower than the line of hours, it would not be seen.
            if low - high > 2.0 {
                self.marks.push(Mark::line(x, low, x, high, "bounds"));
            }
        }
        self.readings(role, &scale);
        self.fittings(&part.settings.name, foot);
        self.now(top, foot);
        self.y = foot + GAP;
    }

    /// Axis, grid and what lies ahead.
    fn ground(&mut self, top: f64, foot: f64, scale: &Scale) {
        let now = self.time.at_ms(self.book.as_of_ms);
        self.marks.push(Mark::rect(now, top, WIDTH - RIGHT, foot, "ahead"));
        for tick in round_ticks(0.0, scale.to, 4.0) {
            let y = scale.at(tick);
            self.marks.push(Mark::line(LEFT, y, WIDTH - RIGHT, y, "grid"));
            let place = [(LEFT - 6.0, y + 4.0, Side::Left)];
            self.marks.extend(self.labels.place(&place, &format!("{tick:.0}"), "soft"));
        }
    }

    fn now(&mut self, top: f64, foot: f64) {
        let x = self.time.at_ms(self.book.as_of_ms);
        self.marks.push(Mark::line(x, top, x, foot, "now"));
    }

    /// Time without power that is wide enough to be seen; what touches is one.
    fn dark(&mut self, top: f64, foot: f64) {
        for (from, to) in dark_pixels(self.seen, &self.time) {
            self.marks.push(Mark::rect(from, top, to, foot, "dark"));
        }
    }

    /// The limit, and when it is reached.
    fn due(&mut self, part: &Part, scale: &Scale, top: f64, foot: f64) {
        let forecast = &part.due.forecast;
        let (edge, y_words) = (WIDTH - RIGHT, top - 6.0);
        if let Some(p50_ms) = forecast.p50_ms {
            let told = match forecast.p10_ms {
                Some(p10_ms) => {
                    format!("due {} ({})", time::date(p50_ms), words::dates(p10_ms, forecast.p90_ms))
                }
                None => format!("due {}", time::date(p50_ms)),
            };
            if self.time.holds_ms(p50_ms) {
                let x = self.time.at_ms(p50_ms);
                let from = forecast.p10_ms.map_or(x, |at_ms| self.time.at_ms(at_ms));
                let to = forecast.p90_ms.map_or(edge, |at_ms| self.time.at_ms(at_ms));
                // Narrower than this, a band would look like a line.
                let (from, to) = (from.min(x - 1.5), to.max(x + 1.5));
                self.marks.push(Mark::rect(from, top, to.min(edge), foot, "band"));
                self.marks.push(Mark::line(x, top, x, foot, "due"));
                self.projection(part, scale, x);
                let places =
                    [(x, y_words, Side::Middle), (edge, y_words, Side::Left), (x, y_words, Side::Left)];
                self.marks.extend(self.labels.place(&places, &told, ""));
            } else if p50_ms > self.book.as_of_ms {
                let place = [(edge, y_words, Side::Left)];
                self.marks.extend(self.labels.place(&place, &format!("{told}, beyond the picture →"), ""));
            } else {
                self.marks.extend(self.labels.place(&[(edge, y_words, Side::Left)], &told, ""));
            }
        }
        if let Some(limit_h) = part.settings.limit_h {
            let y = scale.at(limit_h);
            self.marks.push(Mark::line(LEFT, y, edge, y, "limit"));
            let places = [(LEFT + 6.0, y - 5.0, Side::Right), (LEFT + 6.0, y + 13.0, Side::Right)];
            self.marks.extend(self.labels.place(&places, &format!("limit {} h", hours(limit_h)), "warn"));
        }
    }

    /// From today's hours to the limit.
    fn projection(&mut self, part: &Part, scale: &Scale, x: f64) {
        if let (Some(of), Some(limit_h)) = (part.due.hours, part.settings.limit_h)
            && part.due.forecast.limited_by == Some(crate::due::LimitedBy::Hours)
            && of.best < limit_h
        {
            let now = self.time.at_ms(self.book.as_of_ms);
            self.marks.push(Mark::line(now, scale.at(of.best), x, scale.at(limit_h), "ahead-line"));
        }
    }

    fn readings(&mut self, role: Role, scale: &Scale) {
        let own = self.seen.told.readings.iter().filter(|reading| reading.quantity == role);
        for reading in own.filter(|reading| reading.hours >= 0.0 && reading.hours <= scale.to) {
            let (x, y) = (self.time.at_ms(reading.at.best_ms()), scale.at(reading.hours));
            match self.numbers.get(&FactId::Reading(reading.id)) {
                None => self.marks.push(Mark::Dot {
                    x: super::tenth(x),
                    y: super::tenth(y),
                    r: 2.6,
                    class: "reading",
                }),
                Some(number) => {
                    self.marks.push(Mark::diamond(x, y, 4.6, "odd"));
                    let places = [(x, y - 7.0, Side::Middle), (x, y + 16.0, Side::Middle)];
                    self.marks.extend(self.labels.place(&places, &number.to_string(), "odd-words"));
                }
            }
        }
    }

    fn fittings(&mut self, part: &str, foot: f64) {
        for fitting in self.seen.told.fittings.iter().filter(|fitting| fitting.part == part) {
            let x = self.time.at_ms(fitting.at.best_ms());
            self.marks.push(Mark::line(x, foot - PANEL, x, foot, "fitted"));
            self.marks.push(Mark::triangle(x, foot - 8.5, 5.0, "fitted-mark"));
            let text = short(&fitting.serial, 12);
            let y = foot - PANEL - 6.0;
            let places = [(x + 2.0, y, Side::Right), (x, y, Side::Left)];
            self.marks.extend(self.labels.place(&places, &text, "soft"));
        }
    }
}

/// Dark time as stretches of the picture, at least a fifth of a unit wide each.
fn dark_pixels(seen: &Seen, time: &Scale) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    for pair in seen.told.log.points.windows(2) {
        if pair[1].dark_h <= 0.0 {
            continue;
        }
        let (from, to) = (time.at_ms(pair[0].at.best_ms()), time.at_ms(pair[1].at.best_ms()));
        if to - from < 0.2 {
            continue;
        }
        match found.last_mut() {
            Some(last) if from - last.1 < 0.6 => last.1 = to.max(last.1),
            _ => found.push((from, to)),
        }
    }
    found
}

/// What the figure says of a part.
fn sentence(part: &Part) -> String {
    let name = words::shown(&part.settings.name);
    let now = part.due.hours.map_or_else(|| "hours not known".to_owned(), words::interval);
    let limit = part.settings.limit_h.map_or_else(String::new, |limit_h| format!(" of {} h", hours(limit_h)));
    let forecast = &part.due.forecast;
    let due = forecast.p50_ms.map_or_else(
        || "no due date".to_owned(),
        |at_ms| {
            let between = forecast.p10_ms.map(|from_ms| words::dates(from_ms, forecast.p90_ms));
            format!("due {} ({})", time::date(at_ms), between.unwrap_or_default())
        },
    );
    format!("{name}: {now}{limit}, {due}, {}.", part.due.state.name())
}

/// Where a role stands in a point's totals; transmit where it has none.
pub(super) fn column(role: Role) -> usize {
    place(role).unwrap_or(2)
}
