//! What is left of a life comes from the incomplete gamma function, which at great age is too small for a double, while the
//! survival that divides it is as small. Their ratio is neither.

use statrs::function::gamma::{gamma_ur, ln_gamma};

/// Beyond this argument the library's function nears the smallest double.
const LIBRARY_UP_TO: f64 = 300.0;

/// e^x Γ(a, x), where Γ(a, x) is the integral of t^(a−1) e^−t from x up.
pub(super) fn scaled_upper_gamma(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return ln_gamma(a).exp();
    }
    if x <= LIBRARY_UP_TO.max(a) {
        return gamma_ur(a, x) * (ln_gamma(a) + x).exp();
    }
    // The continued fraction x^a / (x + (1−a)/(1 + 1/(x + (2−a)/(1 + 2/(x + …, evaluated from a depth at which, so far
    // out, it has long settled.
    let depth = 60;
    let mut tail = x;
    for at in (1..=depth).rev() {
        let at = f64::from(at);
        tail = x + (at - a) / (1.0 + at / tail);
    }
    x.powf(a) / tail
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: mpmath 1.3.0, `exp(x) * gammainc(a, x)` at 50 digits.
    #[test]
    fn known_values() {
        for (a, x, expected) in VALUES {
            let got = scaled_upper_gamma(a, x);
            assert!((got / expected - 1.0).abs() < 1e-11, "{a} {x}: {got} for {expected}");
        }
    }

    const VALUES: [(f64, f64, f64); 11] = [
        (0.5, 0.01, 1.588928626317),
        (0.5, 2.0, 0.5959060788259),
        (0.1, 299.0, 0.005896509062092),
        (0.1, 301.0, 0.005861351912274),
        (2.0, 299.9, 300.9),
        (2.0, 300.1, 301.1),
        (1.5, 5000.0, 70.71774847957),
        (0.02, 1e6, 1.318255446667e-6),
        (20.0, 310.0, 2.308044407852e47),
        (40.0, 1e4, 1.003914875032e156),
        (0.28, 1e9, 3.311311212442e-7),
    ];
}
