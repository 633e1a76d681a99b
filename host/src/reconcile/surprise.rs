//! How likely a figure is, if it should lie in a known range: the arithmetic of surprise.
//!
//! A counter that shows whole steps of width `w`, rounded down, hides where in its step it stands. So two figures
//! whose true distance lies in `[low, high]` differ by something in `[low - w, high + w]`, any of it as likely as any
//! other, and a time that was noted a little wrong blurs the edges:
//!
//! ```text
//!   chance     ____________________      height w / (high - low + 2 w + 2 free)
//!             /                    \     edges: a logistic curve, because a wrong time is now and then very wrong
//!   _________/                      \________
//!          low - w - free      high + w + free
//! ```

use super::priors::{TIME_FREE_H, TIME_SCALE_H};

/// The natural logarithm of the chance of showing `x`, if the range is `low` to `high` and figures come in steps of
/// `grid_h`. `before_h` and `after_h` is how far rounding down widens the range on either side.
pub(super) fn in_range(x: f64, low: f64, high: f64, before_h: f64, after_h: f64, grid_h: f64) -> f64 {
    in_range_or_less(x, (low, high), (before_h, after_h), grid_h, f64::NEG_INFINITY)
}

/// The same, where what is less than `least` counts as nothing: most is, and far outside the range no logarithm is needed
/// to say so.
pub(super) fn in_range_or_less(
    x: f64,
    (low, high): (f64, f64),
    (before_h, after_h): (f64, f64),
    grid_h: f64,
    least: f64,
) -> f64 {
    let from = (x - (low - before_h - TIME_FREE_H)) / TIME_SCALE_H;
    let to = (high + after_h + TIME_FREE_H - x) / TIME_SCALE_H;
    // The logistic curve lies below its asymptotes.
    if from.min(0.0) + to.min(0.0) < least {
        return f64::NEG_INFINITY;
    }
    height(low, high, before_h + after_h, grid_h).ln() + edge(from) + edge(to)
}

/// The chance of any figure well within a range, rounding widening it by `rounding_h` in all.
pub(super) fn height(low: f64, high: f64, rounding_h: f64, grid_h: f64) -> f64 {
    (grid_h / (high - low + rounding_h + 2.0 * TIME_FREE_H)).min(1.0)
}

/// The logarithm of the logistic function.
fn edge(x: f64) -> f64 {
    if x > 35.0 {
        0.0
    } else if x < -35.0 {
        x
    } else {
        -(-x).exp().ln_1p()
    }
}

/// The logarithm of a sum of exponentials.
pub(super) fn log_sum(logs: impl Iterator<Item = f64>) -> f64 {
    let mut sum = LogSum::default();
    logs.for_each(|log| sum.add(log));
    sum.log()
}

/// The same, one by one.
#[derive(Clone, Copy, Debug)]
pub(super) struct LogSum {
    most: f64,
    /// As a share of the greatest.
    sum: f64,
}

impl Default for LogSum {
    fn default() -> Self {
        LogSum { most: f64::NEG_INFINITY, sum: 0.0 }
    }
}

impl LogSum {
    pub(super) fn add(&mut self, log: f64) {
        if log > self.most {
            self.sum = self.sum * (self.most - log).exp() + 1.0;
            self.most = log;
        } else if log > f64::NEG_INFINITY {
            self.sum += (log - self.most).exp();
        }
    }

    /// The logarithm; of nothing, minus infinity.
    pub(super) fn log(self) -> f64 {
        self.most + self.sum.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: step 1, range 300 to 300: the box is 2.2 wide, so 1 / 2.2 inside. One hour outside its edge: exp(-10).
    #[test]
    fn inside_it_is_flat_and_outside_it_falls() {
        assert!((in_range(300.0, 300.0, 300.0, 1.0, 1.0, 1.0) - (1.0f64 / 2.2).ln()).abs() < 1e-4);
        let outside = in_range(302.1, 300.0, 300.0, 1.0, 1.0, 1.0);
        assert!((outside - (1.0f64 / 2.2).ln() + 10.0).abs() < 1e-3, "{outside}");
    }

    #[test]
    fn sums_of_logs() {
        let logs = [0.5f64.ln(), 0.25f64.ln()];
        assert!((log_sum(logs.iter().copied()) - 0.75f64.ln()).abs() < 1e-12);
        assert_eq!(log_sum(std::iter::empty()), f64::NEG_INFINITY);
    }
}
