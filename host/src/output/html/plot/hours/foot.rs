//! What stands under the panels: the stays ahead, drop-outs by month, and the time axis.

use super::{BARS, Draw, LEFT, RIGHT, STAYS, WIDTH, course};
use crate::output::html::book::{Book, Part};
use crate::output::html::plot::Mark;
use crate::output::html::plot::labels::{Side, short};
use crate::output::html::plot::scale::{Scale, month_ticks};
use crate::plan;
use crate::time;

impl Draw<'_> {
    /// The stays ahead; those in which a part of this radar is to be renewed are filled.
    pub(super) fn stays(&mut self, parts: &[(usize, &Part)]) {
        let ahead = ahead(self.book, &self.time);
        if ahead.is_empty() {
            return;
        }
        let (top, foot) = (self.y + 8.0, self.y + 22.0);
        let place = [(LEFT - 6.0, foot - 3.0, Side::Left)];
        self.marks.extend(self.labels.place(&place, "stays", "soft"));
        let planned = |window: &plan::Window| {
            parts
                .iter()
                .filter_map(|(at, _)| self.book.planned(*at)?.window.as_ref())
                .any(|stay| stay.from_ms == window.from_ms && stay.place == window.place)
        };
        let drawn: Vec<(f64, f64, bool, String)> = ahead
            .iter()
            .map(|window| {
                let from = self.time.at_ms(window.from_ms);
                let to = self.time.at_ms(window.to_ms).max(from + 3.0);
                (from, to, planned(window), short(&window.place, 18))
            })
            .collect();
        // The words of a stay that matters go first.
        for wanted in [true, false] {
            for (from, to, chosen, name) in drawn.iter().filter(|(_, _, chosen, _)| *chosen == wanted) {
                self.marks.push(Mark::rect(
                    *from,
                    top,
                    *to,
                    foot,
                    if *chosen { "stay-chosen" } else { "stay" },
                ));
                let middle = (from + to) / 2.0;
                let (class, y) = if *chosen { ("strong", foot + 12.0) } else { ("soft", foot + 12.0) };
                let places = [(middle, y, Side::Middle), (middle, y + 16.0, Side::Middle)];
                self.marks.extend(self.labels.place(&places, name, class));
            }
        }
        self.y += STAYS;
    }

    pub(super) fn drop_outs(&mut self) {
        let months = course::by_month(&self.seen.told.log, |point| f64::from(point.drop_outs));
        let most = months.iter().map(|(_, count)| *count).fold(0.0, f64::max);
        if most < 1.0 {
            return;
        }
        let (top, foot) = (self.y + 26.0, self.y + BARS);
        let head = [(LEFT, self.y + 14.0, Side::Right)];
        self.marks.extend(self.labels.place(&head, "drop-outs a month", "soft"));
        let scale = Scale { from: 0.0, to: most, at_from: foot, at_to: top };
        self.marks.push(Mark::line(LEFT, foot, WIDTH - RIGHT, foot, "grid"));
        let place = [(LEFT - 6.0, top + 4.0, Side::Left)];
        self.marks.extend(self.labels.place(&place, &format!("{most:.0}"), "soft"));
        for (month_ms, count) in months.iter().filter(|(_, count)| *count > 0.0) {
            let next_ms = time::months_later(*month_ms, 1).unwrap_or(*month_ms);
            let (from, to) = (self.time.at_ms(*month_ms), self.time.at_ms(next_ms.min(self.book.as_of_ms)));
            let to = (to - 1.0).max(from + 1.0);
            self.marks.push(Mark::rect(from, scale.at(*count), to, foot, "drop"));
        }
        self.y += BARS;
    }

    /// The time axis, under everything.
    pub(super) fn months(&mut self) {
        let y = self.y + 4.0;
        self.marks.push(Mark::line(LEFT, y, WIDTH - RIGHT, y, "axis"));
        let now = self.time.at_ms(self.book.as_of_ms);
        self.marks.push(Mark::line(now, y, now, y + 5.0, "now"));
        let today = format!("as of {}", time::date(self.book.as_of_ms));
        let places = [(now, y + 32.0, Side::Middle), (WIDTH - RIGHT, y + 32.0, Side::Left)];
        self.marks.extend(self.labels.place(&places, &today, "strong"));
        for (at_ms, label) in month_ticks(self.time.from, self.time.to, 11) {
            let x = self.time.at_ms(at_ms);
            self.marks.push(Mark::line(x, y, x, y + 4.0, "axis"));
            self.marks.extend(self.labels.place(&[(x, y + 17.0, Side::Middle)], &label, "soft"));
        }
        self.y = y + 40.0;
    }
}

/// Stays that have not ended and are in the picture.
fn ahead<'a>(book: &'a Book, time: &Scale) -> Vec<&'a plan::Window> {
    let open = |window: &&plan::Window| window.to_ms > book.as_of_ms && time.holds_ms(window.from_ms);
    book.problem.windows.iter().filter(open).collect()
}
