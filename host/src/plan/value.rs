//! What a plan is worth: five figures, less being better, the earlier counting before all that follow.

use std::ops::{Add, AddAssign, Sub};

/// The worth of a plan or of a piece of one. Ordered by its fields from the first to the last, so that no amount of a
/// later figure outweighs one step of an earlier. Whole steps, because a difference that nobody can foresee must not decide.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Value {
    /// The chance that a limit passes with no usable window left: each work's in whole percent, added up.
    pub chance_percent: i64,
    /// Both radars opened together: in each window the radars opened there beyond the first, added up.
    pub both: i64,
    /// For a limit that passes: by how many days, each work's whole, added up.
    pub days_over: i64,
    /// Isolations: works on one radar in one window are one.
    pub isolations: i64,
    /// Life given up, in tenths of an hour.
    pub given_up_tenths: i64,
}

impl Value {
    /// Worse than any plan.
    pub(super) const WORST: Value = Value { chance_percent: i64::MAX / 4, ..Value::NOTHING };
    pub(super) const NOTHING: Value =
        Value { chance_percent: 0, both: 0, days_over: 0, isolations: 0, given_up_tenths: 0 };

    pub(super) const fn both(radars: i64) -> Value {
        Value { both: radars, ..Value::NOTHING }
    }

    fn each(self, other: Value, of: impl Fn(i64, i64) -> i64) -> Value {
        Value {
            chance_percent: of(self.chance_percent, other.chance_percent),
            both: of(self.both, other.both),
            days_over: of(self.days_over, other.days_over),
            isolations: of(self.isolations, other.isolations),
            given_up_tenths: of(self.given_up_tenths, other.given_up_tenths),
        }
    }
}

impl Add for Value {
    type Output = Value;

    fn add(self, other: Value) -> Value {
        self.each(other, i64::saturating_add)
    }
}

impl Sub for Value {
    type Output = Value;

    fn sub(self, other: Value) -> Value {
        self.each(other, i64::saturating_sub)
    }
}

impl AddAssign for Value {
    fn add_assign(&mut self, other: Value) {
        *self = *self + other;
    }
}
