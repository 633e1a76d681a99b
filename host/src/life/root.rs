//! Where a function crosses zero: Newton's steps inside a bracket, halving where a step leaves it or gains too little.

/// More steps are never needed: halving alone exhausts a double's 64 bits in about as many, from any bracket of one sign.
const STEPS_MAX: usize = 200;

/// A function's value and slope.
#[derive(Clone, Copy, Debug)]
pub(super) struct Value {
    pub(super) value: f64,
    pub(super) slope: f64,
}

/// The zero between `low` and `high`, where the function has opposite signs, tried first at `at`. The bracket is never left,
/// whatever the slopes say. Which sign is where need not be told: `falling` says that it is positive at `low`.
pub(super) fn between(
    mut low: f64,
    mut high: f64,
    mut at: f64,
    falling: bool,
    f: impl Fn(f64) -> Value,
) -> f64 {
    let mut step_before = high - low;
    if !(low < at && at < high) {
        at = low + (high - low) / 2.0;
    }
    for _ in 0..STEPS_MAX {
        let Value { value, slope } = f(at);
        if value == 0.0 {
            return at;
        }
        if (value > 0.0) == falling {
            low = at;
        } else {
            high = at;
        }
        let newton = value / slope;
        let mut next = at - newton;
        // Halve as well where Newton's steps do not shrink fast: they would crawl.
        if !(low < next && next < high) || newton.abs() > step_before.abs() / 2.0 {
            next = low + (high - low) / 2.0;
        }
        let step = next - at;
        at = next;
        if step.abs() <= 2.0 * f64::EPSILON * at.abs() || low >= high {
            break;
        }
        step_before = step;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_plain_zero() {
        let root = between(0.0, 2.0, 1.0, false, |x| Value { value: x * x - 2.0, slope: 2.0 * x });
        assert!((root - 2.0_f64.sqrt()).abs() < 1e-15);
    }

    /// Newton alone runs away from the zero of the arc tangent when it starts beyond 1.39.
    #[test]
    fn survives_slopes_that_lead_astray() {
        let arc = |x: f64| Value { value: x.atan(), slope: 1.0 / (1.0 + x * x) };
        assert!(between(-30.0, 1_000.0, 900.0, false, arc).abs() < 1e-12);
        let lying = |x: f64| Value { value: 3.0 - x, slope: f64::NAN };
        assert!((between(0.0, 1e6, 1.0, true, lying) - 3.0).abs() < 1e-9);
        let flat = |x: f64| Value { value: (x - 1.0).powi(9), slope: 0.0 };
        assert!((between(-7.0, 40.0, 5.0, false, flat) - 1.0).abs() < 1e-12);
    }
}
