//! Scales: from instants and figures to places, and where their axes are marked.

use crate::time;

const DAY_MS: f64 = 86_400_000.0;

/// A straight scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    /// The figures at both ends.
    pub(super) from: f64,
    pub(super) to: f64,
    /// Their places.
    pub(super) at_from: f64,
    pub(super) at_to: f64,
}

impl Scale {
    /// Where a figure is.
    pub(super) fn at(&self, figure: f64) -> f64 {
        let span = self.to - self.from;
        let share = if span == 0.0 { 0.0 } else { (figure - self.from) / span };
        self.at_from + share * (self.at_to - self.at_from)
    }

    /// Where an instant is, or the end that it lies beyond.
    pub(super) fn at_ms(&self, ms: i64) -> f64 {
        self.at((ms as f64).clamp(self.from, self.to))
    }

    /// Whether an instant is in the picture.
    pub(super) fn holds_ms(&self, ms: i64) -> bool {
        (self.from..=self.to).contains(&(ms as f64))
    }
}

/// Round figures from `low` to `high`, at most `count` and one: steps of 1, 2 or 5 times a power of ten.
pub(super) fn round_ticks(low: f64, high: f64, count: f64) -> Vec<f64> {
    let raw = (high - low) / count;
    if !(raw.is_finite() && raw > 0.0) {
        return Vec::new();
    }
    let power = 10_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|times| times * power).into_iter().find(|step| *step >= raw * 0.999);
    let step = step.unwrap_or(raw);
    let first = (low / step).ceil();
    (0..64).map(|at| (first + f64::from(at)) * step).take_while(|tick| *tick <= high + step * 1e-6).collect()
}

/// How many decimals tell such ticks apart.
pub(super) fn decimals(ticks: &[f64]) -> usize {
    let step = ticks.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(f64::INFINITY, f64::min);
    if step.is_finite() && step > 0.0 && step < 1.0 { (-step.log10().floor()).min(6.0) as usize } else { 0 }
}

/// First days of months between two instants, few enough to be labelled: instant and label.
pub(super) fn month_ticks(from_ms: f64, to_ms: f64, count: usize) -> Vec<(i64, String)> {
    let months = (to_ms - from_ms) / DAY_MS / 30.44;
    let step =
        [1, 2, 3, 6, 12, 24, 60, 120].into_iter().find(|step| months / f64::from(*step) <= count as f64);
    let step = step.unwrap_or(240);
    // From the January before: then labels stand at the same months every year.
    let year = time::date(from_ms as i64).get(..4).map(str::to_owned).unwrap_or_default();
    let Ok(first_ms) = time::parse_ms(&format!("{year}-01-01T00:00Z")) else { return Vec::new() };
    let all = (0..6_000).step_by(step as usize).map_while(|month| time::months_later(first_ms, month));
    let inside = all.skip_while(|at_ms| (*at_ms as f64) < from_ms).take_while(|at_ms| *at_ms as f64 <= to_ms);
    let label = |at_ms: i64| {
        let date = time::date(at_ms);
        let end = if step < 12 { 7 } else { 4 };
        date.get(..end).unwrap_or(&date).to_owned()
    };
    inside.map(|at_ms| (at_ms, label(at_ms))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(round_ticks(0.0, 6_600.0, 4.0), [0.0, 2_000.0, 4_000.0, 6_000.0]);
        assert_eq!(round_ticks(6.8, 7.6, 4.0).len(), 5);
        assert_eq!(decimals(&round_ticks(6.8, 7.6, 4.0)), 1);
        assert!(round_ticks(1.0, 1.0, 4.0).is_empty() && round_ticks(0.0, f64::NAN, 4.0).is_empty());
    }

    #[test]
    fn months_are_marked_at_their_first_day() {
        let at = |text| time::parse_ms(text).unwrap() as f64;
        let ticks = month_ticks(at("2024-09-01T06:00Z"), at("2026-12-01T00:00Z"), 10);
        let labels: Vec<&str> = ticks.iter().map(|(_, label)| label.as_str()).collect();
        assert_eq!(
            labels,
            [
                "2024-10", "2025-01", "2025-04", "2025-07", "2025-10", "2026-01", "2026-04", "2026-07",
                "2026-10"
            ]
        );
        let years = month_ticks(at("2015-03-01T00:00Z"), at("2026-12-01T00:00Z"), 12);
        assert_eq!((years.len(), years[0].1.as_str()), (11, "2016"));
    }

    #[test]
    fn a_scale_runs_from_end_to_end() {
        let scale = Scale { from: 0.0, to: 10.0, at_from: 100.0, at_to: 0.0 };
        assert_eq!((scale.at(0.0), scale.at(5.0), scale.at(10.0)), (100.0, 50.0, 0.0));
        assert_eq!((scale.at_ms(99), scale.holds_ms(11)), (0.0, false));
    }
}
