//! A time as well as it is known.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// When something was: not before one instant and not after another, both in UTC, in milliseconds since 1970.
/// The two are the same where the time is known exactly.
///
/// As JSON: a number if it is exact, as it was before there were other moments; else `[not before, not after]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Moment {
    lo_ms: i64,
    hi_ms: i64,
}

impl Moment {
    /// This instant.
    #[must_use]
    pub const fn exact(at_ms: i64) -> Moment {
        Moment { lo_ms: at_ms, hi_ms: at_ms }
    }

    /// Some instant between these two, given in either order.
    #[must_use]
    pub const fn between(one_ms: i64, other_ms: i64) -> Moment {
        if one_ms <= other_ms {
            Moment { lo_ms: one_ms, hi_ms: other_ms }
        } else {
            Moment { lo_ms: other_ms, hi_ms: one_ms }
        }
    }

    /// Not before.
    #[must_use]
    pub const fn lo_ms(self) -> i64 {
        self.lo_ms
    }

    /// Not after.
    #[must_use]
    pub const fn hi_ms(self) -> i64 {
        self.hi_ms
    }

    /// The middle: the instant that is wrong by the least at most.
    #[must_use]
    pub const fn best_ms(self) -> i64 {
        self.lo_ms.midpoint(self.hi_ms)
    }

    /// The middle of what lies at or before an instant, for something that had happened by then. `lo_ms` if
    /// nothing lies there.
    #[must_use]
    pub fn best_ms_by(self, as_of_ms: i64) -> i64 {
        self.lo_ms.midpoint(self.hi_ms.min(as_of_ms).max(self.lo_ms))
    }

    /// Whether the instant is known.
    #[must_use]
    pub const fn is_exact(self) -> bool {
        self.lo_ms == self.hi_ms
    }

    /// The least moment that holds both.
    #[must_use]
    pub fn hull(self, other: Moment) -> Moment {
        Moment { lo_ms: self.lo_ms.min(other.lo_ms), hi_ms: self.hi_ms.max(other.hi_ms) }
    }

    /// As it may be written again: RFC 3339 in UTC, or two of them with a slash between (ISO 8601's interval).
    #[must_use]
    pub fn written(self) -> String {
        let at = |ms: i64| match jiff::Timestamp::from_millisecond(ms) {
            // Fractions of a second are shown only where there are some.
            Ok(instant) => instant.to_string(),
            Err(_) => super::rfc3339(ms),
        };
        if self.is_exact() { at(self.lo_ms) } else { format!("{}/{}", at(self.lo_ms), at(self.hi_ms)) }
    }

    /// For tables: `2026-03-01 08:00`, or two of them with `to` between, in UTC.
    #[must_use]
    pub fn minute(self) -> String {
        let (lo, hi) = (super::minute(self.lo_ms), super::minute(self.hi_ms));
        if lo == hi { lo } else { format!("{lo} to {hi}") }
    }
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.is_exact() {
            self.lo_ms.serialize(serializer)
        } else {
            [self.lo_ms, self.hi_ms].serialize(serializer)
        }
    }
}

impl<'de> Deserialize<'de> for Moment {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Moment, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Kept {
            Exact(i64),
            Between([i64; 2]),
        }
        match Kept::deserialize(deserializer)? {
            Kept::Exact(at_ms) => Ok(Moment::exact(at_ms)),
            Kept::Between([lo_ms, hi_ms]) if lo_ms < hi_ms => Ok(Moment { lo_ms, hi_ms }),
            Kept::Between(_) => Err(D::Error::custom("a time ends before it begins")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kept_as_a_number_if_exact_and_as_two_if_not() {
        let json = |moment: Moment| serde_json::to_string(&moment).unwrap();
        assert_eq!(json(Moment::exact(5)), "5");
        assert_eq!(json(Moment::between(9, 5)), "[5,9]");
        for moment in [Moment::exact(-5), Moment::between(5, 9)] {
            assert_eq!(serde_json::from_str::<Moment>(&json(moment)).unwrap(), moment);
        }
        assert!(serde_json::from_str::<Moment>("[9,5]").is_err());
        assert!(serde_json::from_str::<Moment>("[5,5]").is_err(), "one fact has one form only");
    }

    #[test]
    fn the_middle_and_the_middle_of_what_has_passed() {
        let day = Moment::between(0, 24);
        assert_eq!(
            (day.best_ms(), day.best_ms_by(10), day.best_ms_by(99), day.best_ms_by(-3)),
            (12, 5, 12, 0)
        );
        assert_eq!(Moment::between(i64::MAX - 2, i64::MAX).best_ms(), i64::MAX - 1);
        assert_eq!(Moment::exact(7).hull(Moment::between(3, 5)), Moment::between(3, 7));
    }
}
