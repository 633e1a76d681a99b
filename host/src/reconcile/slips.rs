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

/// From which figures a slip can have made one, in whole steps.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Origins {
    written: u64,
}

impl Origins {
    /// Of a figure, in whole steps.
    pub(super) fn of(written: u64) -> Origins {
        // A counter of more than twelve digits is none; so nothing overflows.
        Origins { written: written.min(999_999_999_999) }
    }

    /// The chance of a slip to that figure, if any whole figure from `first` to `last` was meant alike.
    pub(super) fn chance_in(self, first: u64, last: u64) -> f64 {
        let mut room = [0; 20];
        let w = digits(self.written, &mut room);
        let places = w.len() as f64;
        let inside = |meant: u64| (first..=last).contains(&meant);
        let mut sum = 0.0;
        // `unit` is what a one is worth in the place.
        let mut unit = 10u64.pow(w.len() as u32);
        // One digit more than written, and no zero before it.
        let longer = first.max(unit);
        for (at, &digit) in w.iter().enumerate() {
            sum += self.missing_in(unit, Some(digit), longer, last) * 0.05 / (places + 1.0);
            unit /= 10;
            let (own, next) = (u64::from(digit), w.get(at + 1).map(|next| u64::from(*next)));
            let others = self.written - own * unit;
            let least = u64::from(at == 0 && w.len() > 1);
            sum += digits_in(others, unit, (least, own), first, last) * 0.45 / (9.0 * places);
            let Some(next) = next else { continue };
            if next == own {
                // Of a run, any digit may be the one too many: one figure.
                let is_first = at == 0 || w[at - 1] != digit;
                let meant = self.written / (unit * 10) * unit + self.written % unit;
                sum += f64::from(u8::from(is_first && inside(meant))) * 0.05 / (places - 1.0);
            } else if next >= least {
                let meant = self.written - own * unit - next * unit / 10 + next * unit + own * unit / 10;
                sum += f64::from(u8::from(inside(meant))) * 0.45 / (places - 1.0);
            }
        }
        sum += self.missing_in(1, None, longer, last) * 0.05 / (places + 1.0);
        sum / (last.saturating_sub(first) + 1) as f64
    }

    /// How many figures from `first` to `last` lose a digit of this place to become the written one. Before a digit of
    /// its own kind it is left out: behind that it gives the same figure.
    fn missing_in(self, unit: u64, before: Option<u8>, first: u64, last: u64) -> f64 {
        let (above, below) = (self.written / unit, self.written % unit);
        let without = above * 10 * unit + below;
        // Nothing stands before the last place: then all ten digits count.
        digits_in(without, unit, (0, before.map_or(10, u64::from)), first, last)
    }
}

/// How many digits from the least on, but for one, make a figure from `first` to `last` when put in the place that is worth
/// `unit`.
fn digits_in(others: u64, unit: u64, (least, but): (u64, u64), first: u64, last: u64) -> f64 {
    if others > last || others + 9 * unit < first {
        return 0.0;
    }
    let low = first.saturating_sub(others).div_ceil(unit).max(least);
    let high = ((last - others) / unit).min(9);
    let all = (high + 1).saturating_sub(low);
    (all - u64::from((low..=high).contains(&but))) as f64
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
        for _ in 0..600 {
            // Figures of few digits too, and zero.
            let written = random.u64(0..30_000) % 10u64.pow(random.u32(0..6));
            let first = random.u64(0..30_000) % 10u64.pow(random.u32(0..6));
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
