//! Slips of the pen: how likely one figure is written when another was meant, and which digits slipped.
//!
//! Two neighbouring digits change places (45 of 100 slips), one digit is wrong (45), one is missing or doubled (10).
//! Common practice, no source.

/// What slipped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slip {
    /// The digits at this place and the next, from the left, changed places.
    Exchanged(usize),
    /// The digit at this place is wrong.
    Wrong(usize),
    /// The digit at this place of the true figure is missing.
    Missing(usize),
    /// The digit at this place of the true figure stands twice.
    Doubled(usize),
}

/// The chance that `written` is written where `meant` was meant, given that a digit slipped, and what slipped. Both in
/// whole steps. `None`: no single slip does it.
pub(super) fn slip(meant: u64, written: u64) -> Option<(f64, Slip)> {
    if meant == written {
        return None;
    }
    let (m, w) = (digits(meant), digits(written));
    let n = m.len();
    if w.len() == n {
        let mut differ = (0..n).filter(|i| m[*i] != w[*i]);
        let (first, second, third) = (differ.next()?, differ.next(), differ.next());
        return match (second, third) {
            (None, _) => Some((0.45 / (9.0 * n as f64), Slip::Wrong(first))),
            (Some(second), None) if second == first + 1 && m[first] == w[second] && m[second] == w[first] => {
                Some((0.45 / (n as f64 - 1.0), Slip::Exchanged(first)))
            }
            _ => None,
        };
    }
    let same_but_for = |long: &[u8], short: &[u8]| {
        (0..long.len()).find(|i| {
            let mut rest = long.to_vec();
            rest.remove(*i);
            rest == short
        })
    };
    if w.len() + 1 == n {
        let at = same_but_for(&m, &w)?;
        return Some((0.05 / n as f64, Slip::Missing(at)));
    }
    // Leading zeros are not written, so 02713 for 2713 cannot be told.
    if w.len() == n + 1 {
        let at = (0..n).find(|i| {
            let mut doubled = m.clone();
            doubled.insert(*i, m[*i]);
            doubled == w
        })?;
        return Some((0.05 / n as f64, Slip::Doubled(at)));
    }
    None
}

fn digits(value: u64) -> Vec<u8> {
    value.to_string().into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_named() {
        let what = |meant, written| slip(meant, written).map(|(_, slip)| slip);
        assert_eq!(what(2_713, 2_173), Some(Slip::Exchanged(1)));
        assert_eq!(what(2_713, 2_413), Some(Slip::Wrong(1)));
        assert_eq!(what(2_713, 273), Some(Slip::Missing(2)));
        assert_eq!(what(2_713, 27_113), Some(Slip::Doubled(2)));
        assert_eq!(what(2_713, 2_713), None);
        assert_eq!(what(2_713, 3_172), None);
    }

    /// By hand: 45 + 45 + 10 of 100, less the one wrong digit in 36 that makes a leading zero, which is not written.
    #[test]
    fn the_chances_of_all_slips_add_up_to_one() {
        let sum: f64 =
            (0..100_000).filter_map(|written| slip(2_713, written)).map(|(chance, _)| chance).sum();
        assert!((sum - (1.0 - 0.45 / 36.0)).abs() < 1e-9, "{sum}");
    }
}
