//! From what figures a slip of a digit leads to the one on paper, and how likely.

use crate::scenario::rates::{SLIP_SWAPS, SLIP_WRONG};

/// Figures that may have been meant, with the chance that a slip of each gives this one.
pub(super) fn meant(figure: f64, step_h: f64) -> Vec<(f64, f64)> {
    let per_hour = (1.0 / step_h).round();
    let digits: Vec<u8> = format!("{}", (figure * per_hour).round() as i64).into_bytes();
    let many = digits.len() as f64;
    let mut found: Vec<(Vec<u8>, f64)> = Vec::new();
    for at in 0..digits.len() {
        if at + 1 < digits.len() {
            let mut other = digits.clone();
            other.swap(at, at + 1);
            found.push((other, SLIP_SWAPS / many));
        }
        for digit in b'0'..=b'9' {
            let mut other = digits.clone();
            other[at] = digit;
            found.push((other, SLIP_WRONG / many / 9.0));
        }
        // Doubled: the one that was meant is shorter.
        if at + 1 < digits.len() && digits[at] == digits[at + 1] {
            let mut other = digits.clone();
            other.remove(at);
            found.push((other, 0.05 / (many - 1.0)));
        }
    }
    // Missing: the one that was meant is longer.
    for at in 0..=digits.len() {
        for digit in b'0'..=b'9' {
            let mut other = digits.clone();
            other.insert(at, digit);
            found.push((other, 0.05 / (many + 1.0)));
        }
    }
    found.retain(|(other, _)| *other != digits && (other[0] != b'0' || other.len() == 1));
    found
        .into_iter()
        .filter_map(|(other, chance)| {
            let read: f64 = String::from_utf8(other).ok()?.parse().ok()?;
            Some((read / per_hour, chance))
        })
        .collect()
}
