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
    let (mut meant_digits, mut written_digits) = ([0; 20], [0; 20]);
    let (m, w) = (digits(meant, &mut meant_digits), digits(written, &mut written_digits));
    let n = m.len();
    let places = n as f64;
    if w.len() == n {
        let mut differ = (0..n).filter(|i| m[*i] != w[*i]);
        let (first, second, third) = (differ.next()?, differ.next(), differ.next());
        return match (second, third) {
            (None, _) => Some((0.45 / (9.0 * places), Slip::Wrong(first))),
            (Some(second), None) if second == first + 1 && m[first] == w[second] && m[second] == w[first] => {
                Some((0.45 / (places - 1.0), Slip::Exchanged(first)))
            }
            _ => None,
        };
    }
    // Leading zeros are not written, so 02713 for 2713 cannot be told.
    if w.len() + 1 == n {
        return without(m, w).map(|at| (0.05 / places, Slip::Missing(at)));
    }
    if w.len() == n + 1 {
        let doubled = |at: &usize| *at < n && w[*at] == m[*at] && w[*at + 1] == m[*at];
        let at = (0..n).filter(doubled).find(|at| w[..*at] == m[..*at] && w[*at + 1..] == m[*at..])?;
        return Some((0.05 / places, Slip::Doubled(at)));
    }
    None
}

/// All figures that can have become one figure by a slip, each with its chance; worked out once for a reading.
#[derive(Clone, Debug, Default)]
pub(super) struct Origins {
    by_figure: Vec<(u64, f64)>,
}

impl Origins {
    /// Of a figure, in whole steps.
    pub(super) fn of(written: u64) -> Origins {
        let mut meant = origins(written);
        meant.sort_unstable();
        meant.dedup();
        let chance = |meant| slip(meant, written).map(|(chance, _)| (meant, chance));
        Origins { by_figure: meant.into_iter().filter_map(chance).collect() }
    }

    /// The chance of a slip to that figure, if any whole figure from `first` to `last` was meant alike.
    pub(super) fn chance_in(&self, first: u64, last: u64) -> f64 {
        let from = self.by_figure.partition_point(|(meant, _)| *meant < first);
        let inside = self.by_figure.get(from..).unwrap_or(&[]).iter().take_while(|(meant, _)| *meant <= last);
        let sum: f64 = inside.map(|(_, chance)| chance).sum();
        sum / (last.saturating_sub(first) + 1) as f64
    }
}

/// All figures from which one slip can have made `written`; some more than once, and some others.
fn origins(written: u64) -> Vec<u64> {
    let mut room = [0; 20];
    let w = digits(written, &mut room);
    let value =
        |digits: &[u8]| digits.iter().fold(0u64, |sum, d| sum.wrapping_mul(10).wrapping_add(u64::from(*d)));
    let mut all = Vec::new();
    for at in 0..=w.len() {
        for digit in 0..10 {
            let mut longer = w.to_vec();
            longer.insert(at, digit);
            all.push(value(&longer));
            if at < w.len() {
                let mut other = w.to_vec();
                other[at] = digit;
                all.push(value(&other));
            }
        }
        if at < w.len() {
            let mut shorter = w.to_vec();
            shorter.remove(at);
            all.push(value(&shorter));
        }
        if at + 1 < w.len() {
            let mut other = w.to_vec();
            other.swap(at, at + 1);
            all.push(value(&other));
        }
    }
    all
}

/// The place whose digit is missing from `short`, if `short` is `long` but for one digit.
fn without(long: &[u8], short: &[u8]) -> Option<usize> {
    (0..long.len()).find(|at| long[..*at] == short[..*at] && long[*at + 1..] == short[*at..])
}

/// The digits of a figure, from the left.
fn digits(value: u64, room: &mut [u8; 20]) -> &[u8] {
    let mut at = room.len();
    let mut rest = value;
    loop {
        at -= 1;
        room[at] = (rest % 10) as u8;
        rest /= 10;
        if rest == 0 || at == 0 {
            return &room[at..];
        }
    }
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

    /// A range is looked at from the other end; the sum is the same.
    #[test]
    fn origins_agree_with_trying_every_figure() {
        let mut random = fastrand::Rng::with_seed(1);
        for _ in 0..300 {
            let written = random.u64(0..30_000);
            let first = random.u64(0..30_000);
            let last = first + random.u64(0..5_000);
            let plain: f64 = (first..=last).filter_map(|meant| slip(meant, written)).map(|(c, _)| c).sum();
            let plain = plain / (last - first + 1) as f64;
            assert!(
                (Origins::of(written).chance_in(first, last) - plain).abs() < 1e-12,
                "{first} {last} {written}"
            );
        }
    }

    /// By hand: 45 + 45 + 10 of 100, less the one wrong digit in 36 that makes a leading zero, which is not written.
    #[test]
    fn the_chances_of_all_slips_add_up_to_one() {
        let sum: f64 =
            (0..100_000).filter_map(|written| slip(2_713, written)).map(|(chance, _)| chance).sum();
        assert!((sum - (1.0 - 0.45 / 36.0)).abs() < 1e-9, "{sum}");
    }
}
