//! Differences of unknowns, each bounded from both sides, and the tightest bounds that they leave together.
//!
//! The shortest path through such differences is the tightest upper bound, and the longest the lower.

/// `x[to] - x[from]` lies between `low` and `high`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bound {
    /// Which unknown.
    pub(super) from: usize,
    /// Which other.
    pub(super) to: usize,
    /// In hours.
    pub(super) low: f64,
    /// In hours.
    pub(super) high: f64,
}

/// The tightest bounds on `x[to] - x[from]`. `None`: the bounds contradict each other.
pub(super) fn solve(unknowns: usize, bounds: &[Bound], from: usize, to: usize) -> Option<(f64, f64)> {
    let high = shortest(unknowns, bounds, from)?[to];
    let low = -shortest(unknowns, bounds, to)?[from];
    (low <= high + 1e-6).then_some((low, high.max(low)))
}

/// Shortest distances from one unknown to all. `None`: there is a negative cycle.
fn shortest(unknowns: usize, bounds: &[Bound], from: usize) -> Option<Vec<f64>> {
    let mut distance = vec![f64::INFINITY; unknowns];
    distance[from] = 0.0;
    for _ in 0..=unknowns {
        let mut changed = false;
        for bound in bounds {
            for (a, b, length) in [(bound.from, bound.to, bound.high), (bound.to, bound.from, -bound.low)] {
                if distance[a] + length < distance[b] - 1e-9 {
                    distance[b] = distance[a] + length;
                    changed = true;
                }
            }
        }
        if !changed {
            return Some(distance);
        }
    }
    None
}
