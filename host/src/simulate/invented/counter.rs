//! A radar's own hour counter, and what an officer makes of it.

use super::HOUR_MS;
use super::spans::{self, Span};

/// An hour counter: it counts while its line is on, from the figure that it was last set to.
pub(super) struct Counter<'a> {
    /// What it counts, as written in readings.csv.
    pub(super) quantity: &'static str,
    /// When that was on.
    pub(super) on: &'a [Span],
    /// When it was set to which figure, in hours; by time.
    pub(super) set: Vec<(i64, i64)>,
}

impl Counter<'_> {
    /// What it shows, in whole hours, rounded down.
    pub(super) fn shows_h(&self, at_ms: i64) -> i64 {
        let last = self.set.iter().rfind(|(set_ms, _)| *set_ms < at_ms).or(self.set.first());
        let (set_ms, from_h) = last.copied().unwrap_or((at_ms, 0));
        from_h + spans::lasted_ms(self.on, set_ms, at_ms) / HOUR_MS
    }
}

/// A figure as it is written by somebody in a hurry: two neighbouring digits changed places, those nearest to the front
/// that differ, but for the first.
pub(super) fn slipped(hours: i64) -> i64 {
    let mut digits = hours.to_string().into_bytes();
    let at = (1..digits.len().saturating_sub(1)).find(|at| digits[*at] != digits[at + 1]);
    if let Some(at) = at {
        digits.swap(at, at + 1);
    }
    String::from_utf8(digits).ok().and_then(|text| text.parse().ok()).unwrap_or(hours)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_counter_counts_from_what_it_was_set_to() {
        let on = [(0, 10 * HOUR_MS), (20 * HOUR_MS, 30 * HOUR_MS)];
        let counter = Counter { quantity: "transmit", on: &on, set: vec![(0, 100), (25 * HOUR_MS, 0)] };
        let shows = |hour: i64| counter.shows_h(hour * HOUR_MS);
        assert_eq!([shows(5), shows(15), shows(25), shows(28), shows(40)], [105, 110, 115, 3, 5]);
    }

    #[test]
    fn digits_change_places() {
        assert_eq!([slipped(1_654), slipped(1_554), slipped(16), slipped(2_000)], [1_564, 1_545, 16, 2_000]);
    }
}
