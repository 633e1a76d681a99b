//! A figure with its unit: volts, amperes and seconds, and what is made of them. Adding volts to ohms ends the test.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::str::FromStr;

/// A figure; its unit as powers of volt, ampere and second.
#[derive(Clone, Copy, PartialEq)]
pub struct Quantity {
    /// In that unit, without prefix.
    pub value: f64,
    unit: [i8; 3],
}

/// Names of units. The first that fits is printed.
const UNITS: [(&str, [i8; 3]); 10] = [
    ("", [0, 0, 0]),
    ("V", [1, 0, 0]),
    ("A", [0, 1, 0]),
    ("s", [0, 0, 1]),
    ("Ω", [1, -1, 0]),
    ("W", [1, 1, 0]),
    ("F", [-1, 1, 1]),
    ("Hz", [0, 0, -1]),
    ("C", [0, 1, 1]),
    ("J", [1, 1, 1]),
];

const PREFIXES: [(&str, f64); 7] =
    [("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("µ", 1e-6), ("n", 1e-9), ("p", 1e-12)];

impl Quantity {
    /// A bare number.
    #[must_use]
    pub const fn number(value: f64) -> Self {
        Self { value, unit: [0; 3] }
    }

    fn of(self, value: f64) -> Self {
        Self { value, ..self }
    }

    fn same(self, other: Self) -> Self {
        assert_eq!(self.unit, other.unit, "{self} and {other} are not of one kind");
        other
    }

    /// The unit of this times that (1) or of this over that (-1).
    fn powers(self, other: Self, turned: i8) -> [i8; 3] {
        [0, 1, 2].map(|base| self.unit[base] + turned * other.unit[base])
    }

    /// This many times as much.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        self.of(self.value * factor)
    }

    /// The bare number that this is.
    ///
    /// # Panics
    /// It has a unit.
    #[must_use]
    pub fn bare(self) -> f64 {
        Quantity::number(0.0).same(self).value
    }

    /// The smaller.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        self.of(self.value.min(self.same(other).value))
    }

    /// The larger.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        self.of(self.value.max(self.same(other).value))
    }
}

impl Add for Quantity {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.of(self.value + self.same(other).value)
    }
}

impl Sub for Quantity {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.of(self.value - self.same(other).value)
    }
}

impl Neg for Quantity {
    type Output = Self;
    fn neg(self) -> Self {
        self.of(-self.value)
    }
}

impl Mul for Quantity {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { value: self.value * other.value, unit: self.powers(other, 1) }
    }
}

impl Div for Quantity {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        Self { value: self.value / other.value, unit: self.powers(other, -1) }
    }
}

impl PartialOrd for Quantity {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        self.value.partial_cmp(&self.same(*other).value)
    }
}

impl FromStr for Quantity {
    type Err = String;

    /// `3.3 kΩ`, `10,000 µF`, `50 %`, `8`.
    fn from_str(text: &str) -> Result<Self, String> {
        let (number, name) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
        let fault = || format!("'{text}' is no figure with a unit");
        let value: f64 = number.replace(',', "").parse().map_err(|_| fault())?;
        if name == "%" {
            return Ok(Quantity::number(value / 100.0));
        }
        for (unit_name, unit) in UNITS {
            if let Some(prefix) = name.strip_suffix(unit_name)
                && let Some((_, factor)) = PREFIXES.iter().find(|(known, _)| *known == prefix)
                && (prefix.is_empty() || !unit_name.is_empty())
            {
                return Ok(Self { value: value * factor, unit });
            }
        }
        Err(fault())
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = UNITS.iter().find(|(_, unit)| *unit == self.unit).map_or("?", |(name, _)| name);
        let size = self.value.abs();
        let fits = |(prefix, factor): &&(&str, f64)| {
            // Farads are told in microfarads at most, bare numbers plain.
            size >= factor * 0.9995
                && (unit != "F" || *factor < 1e-3)
                && (!unit.is_empty() || prefix.is_empty())
        };
        let plain = ("", 1.0);
        let (prefix, factor) =
            if size == 0.0 { &plain } else { PREFIXES.iter().find(fits).unwrap_or(&plain) };
        let value = self.value / factor;
        let digits = match value.abs() {
            whole if whole >= 99.95 => 0,
            tens if tens >= 9.995 => 1,
            _ => 2,
        };
        write!(f, "{value:.digits$}")?;
        if unit.is_empty() { Ok(()) } else { write!(f, " {prefix}{unit}") }
    }
}

impl fmt::Debug for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// From the least to the most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The least.
    pub least: Quantity,
    /// The most.
    pub most: Quantity,
}

impl Range {
    /// One value.
    #[must_use]
    pub const fn exactly(value: Quantity) -> Self {
        Self { least: value, most: value }
    }

    /// A value that may be off by this share either way.
    #[must_use]
    pub fn within(value: Quantity, share: f64) -> Self {
        Self { least: value.times(1.0 - share), most: value.times(1.0 + share) }
    }
}

/// What comes of `figure` at every corner of what goes in.
pub fn corners<const N: usize>(given: [Range; N], figure: impl Fn([Quantity; N]) -> Quantity) -> Range {
    let at = |corner: usize| {
        let mut ends = given.map(|range| range.least);
        for (input, end) in ends.iter_mut().enumerate() {
            if corner >> input & 1 == 1 {
                *end = given[input].most;
            }
        }
        figure(ends)
    };
    let all = (1..1 << N).map(at);
    all.fold(Range::exactly(at(0)), |range, one| Range {
        least: range.least.min(one),
        most: range.most.max(one),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Quantity {
        text.parse().expect("a figure")
    }

    /// Ohm's law, Joule's law and a time constant, worked by hand.
    #[test]
    fn units_follow_from_what_is_done() {
        assert_eq!((of("12 V") / of("4 kΩ")).to_string(), "3.00 mA");
        assert_eq!((of("3 mA") * of("3 mA") * of("4 kΩ")).to_string(), "36.0 mW");
        assert_eq!((of("22 kΩ") * of("10 nF")).to_string(), "220 µs");
        assert_eq!((of("50 mA") * of("24 ms") / of("0.8 V")).to_string(), "1500 µF");
        assert_eq!((of("50 Hz") * of("20 ms")).bare(), 1.0);
        assert_eq!(of("10,000 µF").to_string(), "10000 µF");
        assert_eq!(of("50 %"), Quantity::number(0.5));
        assert!("12 bananas".parse::<Quantity>().is_err());
        assert!("3 k".parse::<Quantity>().is_err());
    }

    #[test]
    #[should_panic(expected = "not of one kind")]
    fn volts_and_ohms_do_not_add() {
        let _ = of("1 V") + of("1 Ω");
    }

    /// Two resistors of 1 % across 10 V to 12 V: the least current is the least voltage over the largest resistance.
    #[test]
    fn corners_find_the_worst() {
        let volts = Range { least: of("10 V"), most: of("12 V") };
        let ohms = Range::within(of("1 kΩ"), 0.01);
        let amperes = corners([volts, ohms], |[volts, ohms]| volts / ohms);
        assert_eq!(
            (amperes.least.to_string(), amperes.most.to_string()),
            ("9.90 mA".into(), "12.1 mA".into())
        );
    }
}
