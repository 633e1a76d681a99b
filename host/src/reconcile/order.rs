//! Instants nearly in order of time, so that those near another instant are found without walking through all.

use std::ops::Range;

/// Figures stand in order of time, but for minutes around a fitting. So these are: the latest instant up to each place,
/// and the earliest from each on.
pub(super) struct Order {
    latest_ms: Vec<i64>,
    earliest_ms: Vec<i64>,
}

impl Order {
    /// Of periods, or of instants that begin and end at once.
    pub(super) fn new(periods: impl Iterator<Item = (i64, i64)>) -> Order {
        let (mut earliest_ms, mut latest_ms): (Vec<i64>, Vec<i64>) = periods.unzip();
        for k in 1..latest_ms.len() {
            latest_ms[k] = latest_ms[k].max(latest_ms[k - 1]);
        }
        for k in (1..earliest_ms.len()).rev() {
            earliest_ms[k - 1] = earliest_ms[k - 1].min(earliest_ms[k]);
        }
        Order { latest_ms, earliest_ms }
    }

    /// All that end at `from_ms` or later and begin at `to_ms` or earlier lie in this range; others may, too.
    pub(super) fn near(&self, from_ms: i64, to_ms: i64) -> Range<usize> {
        let first = self.latest_ms.partition_point(|ms| *ms < from_ms);
        first..self.earliest_ms.partition_point(|ms| *ms <= to_ms).max(first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the third stands a minute early.
    #[test]
    fn nothing_near_is_left_out() {
        let order = Order::new([10, 30, 29, 50].map(|ms| (ms, ms)).into_iter());
        assert_eq!(order.near(30, 30), 1..3);
        assert_eq!(order.near(29, 29), 1..3);
        assert_eq!(order.near(31, 49), 3..3);
        assert_eq!(order.near(0, 99), 0..4);
    }
}
