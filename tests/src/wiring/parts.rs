//! The parts and design inputs that the guide states, by their signs.

use super::quantity::{Quantity, Range};
use std::collections::BTreeMap;

/// What stands in the guide.
#[derive(Clone, Debug, Default)]
pub struct Parts {
    ranges: BTreeMap<String, Range>,
    texts: BTreeMap<String, String>,
}

impl Parts {
    /// Reads the guide: tables headed `sign | what | least | most` are design inputs, tables headed `part | what | value` are parts.
    ///
    /// # Errors
    /// A figure that cannot be read, or a sign that stands there twice.
    pub fn read(guide: &str) -> Result<Parts, String> {
        let mut parts = Parts::default();
        let mut kind = None;
        for line in guide.lines() {
            let cells = cells(line);
            match cells.as_slice() {
                [] => kind = None,
                ["sign", ..] => kind = Some("sign"),
                ["part", ..] => kind = Some("part"),
                [rule, ..] if rule.starts_with("---") => {}
                [sign, _, least, most, ..] if kind == Some("sign") => parts.take(sign, least, most)?,
                [sign, _, value, ..] if kind == Some("part") => parts.take_part(sign, value)?,
                _ => {}
            }
        }
        Ok(parts)
    }

    fn take(&mut self, sign: &str, least: &str, most: &str) -> Result<(), String> {
        let (least, most) = match (least, most) {
            ("", only) | (only, "") => (only, only),
            both => both,
        };
        let range = Range { least: least.parse()?, most: most.parse()? };
        self.put(sign, range)
    }

    /// `2 × 39 kΩ, 2 W`: a value, and for a resistor its rating. Some parts have no value that anything is computed from.
    fn take_part(&mut self, sign: &str, value: &str) -> Result<(), String> {
        for one in sign.split(", ") {
            self.texts.insert(one.to_owned(), value.to_owned());
        }
        let figures = value.strip_prefix("2 × ").unwrap_or(value);
        let mut figures = figures.split(", ").map(str::parse::<Quantity>);
        if let Some(Ok(figure)) = figures.next() {
            self.put(sign, Range::exactly(figure))?;
        }
        if let Some(Ok(rating)) = figures.next().filter(|_| sign.starts_with('R')) {
            self.put(&rating_of(sign), Range::exactly(rating))?;
        }
        Ok(())
    }

    fn put(&mut self, sign: &str, range: Range) -> Result<(), String> {
        match self.ranges.insert(sign.to_owned(), range) {
            None => Ok(()),
            Some(_) => Err(format!("{sign} stands in the guide twice")),
        }
    }

    /// A design input, from its least to its most.
    ///
    /// # Panics
    /// It does not stand in the guide.
    #[must_use]
    pub fn range(&self, sign: &str) -> Range {
        *self.ranges.get(sign).unwrap_or_else(|| panic!("{sign} does not stand in the guide"))
    }

    /// A design input or part with one value.
    ///
    /// # Panics
    /// It does not stand in the guide, or has two.
    #[must_use]
    pub fn one(&self, sign: &str) -> Quantity {
        let range = self.range(sign);
        assert_eq!(range.least, range.most, "{sign} has two values");
        range.least
    }

    /// A resistor within its tolerance.
    #[must_use]
    pub fn resistor(&self, sign: &str) -> Range {
        Range::within(self.one(sign), self.one("tol_R").bare())
    }

    /// What a resistor may turn into heat.
    #[must_use]
    pub fn rating(&self, sign: &str) -> Quantity {
        self.one(&rating_of(sign))
    }

    /// A filter's capacitor within its tolerance.
    #[must_use]
    pub fn capacitor(&self, sign: &str) -> Range {
        Range::within(self.one(sign), self.one("tol_C").bare())
    }

    /// The parts' values as they are written, by sign.
    #[must_use]
    pub fn texts(&self) -> &BTreeMap<String, String> {
        &self.texts
    }
}

fn rating_of(sign: &str) -> String {
    format!("rating of {sign}")
}

/// The cells of a table's row; none if it is no row.
#[must_use]
pub fn cells(line: &str) -> Vec<&str> {
    let row = line.trim().strip_prefix('|').and_then(|row| row.strip_suffix('|'));
    row.map(|row| row.split('|').map(str::trim).collect()).unwrap_or_default()
}
