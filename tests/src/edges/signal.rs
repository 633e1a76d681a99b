//! What comes to an input while something is on: moves of its level, in microseconds.

use std::ops::RangeInclusive;

/// The level moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// When.
    pub at_us: u64,
    /// To what; an input at rest is low.
    pub high: bool,
}

/// How a wire says that something is on.
#[derive(Clone, Debug, PartialEq)]
pub enum Signal {
    /// Alternating current behind an opto.
    Pulses(Pulses),
    /// A contact, which bounces at both ends.
    Contact {
        /// For how long, in microseconds.
        bounce_us: RangeInclusive<u64>,
    },
}

/// The pulses that an opto makes of alternating current: each stands in the middle of its half-cycle.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulses {
    /// Cycles a second.
    pub hertz: f64,
    /// Pulses a cycle: 2 behind a full-wave opto, 1 behind a half-wave one.
    pub per_cycle: u32,
    /// The share of the time between pulses that one takes.
    pub width: f64,
    /// The share of pulses that do not come.
    pub missing: f64,
    /// At most so many are missing one after the other.
    pub missing_in_a_row: u32,
}

impl Pulses {
    /// From the middle of one pulse to the next, in microseconds.
    #[must_use]
    pub fn period_us(&self) -> f64 {
        1e6 / (self.hertz * f64::from(self.per_cycle))
    }

    /// The moves within `[from_us, to_us)`; the current comes at any point of its cycle and is cut off at any.
    pub fn moves(&self, from_us: u64, to_us: u64, random: &mut fastrand::Rng) -> Vec<Move> {
        self.moves_in_phase(from_us, to_us, random.f64(), random)
    }

    /// The same with the first pulse in the middle of a period of which this share is over when the current comes.
    pub fn moves_in_phase(
        &self,
        from_us: u64,
        to_us: u64,
        phase: f64,
        random: &mut fastrand::Rng,
    ) -> Vec<Move> {
        let period_us = self.period_us();
        let (mut moves, mut in_a_row) = (Vec::new(), 0);
        for pulse in 0_u64.. {
            let middle_us = from_us as f64 + (pulse as f64 + 0.5 - phase) * period_us;
            let begin_us = (middle_us - self.width * period_us / 2.0).max(from_us as f64) as u64;
            let end_us = ((middle_us + self.width * period_us / 2.0).max(0.0) as u64).min(to_us);
            if begin_us >= to_us {
                break;
            }
            if in_a_row < self.missing_in_a_row && random.f64() < self.missing {
                in_a_row += 1;
                continue;
            }
            in_a_row = 0;
            if end_us > begin_us {
                moves.push(Move { at_us: begin_us, high: true });
                moves.push(Move { at_us: end_us, high: false });
            }
        }
        moves
    }
}

/// A contact goes to `high` at `at_us` and bounces for `bounce_us`; it stands still from the last move on.
pub fn bouncing(at_us: u64, bounce_us: u64, high: bool, random: &mut fastrand::Rng) -> Vec<Move> {
    let mut moves = vec![Move { at_us, high }];
    let mut next_us = at_us;
    loop {
        // Off again for a little, and back.
        let parted_us = next_us + random.u64(50..=1_500);
        let back_us = parted_us + random.u64(50..=1_500);
        if back_us >= at_us + bounce_us {
            break;
        }
        moves.push(Move { at_us: parted_us, high: !high });
        moves.push(Move { at_us: back_us, high });
        next_us = back_us;
    }
    // The last time it comes back is at the very end.
    let parted_us = random.u64(next_us..at_us + bounce_us.max(1)).max(next_us + 1);
    if parted_us < at_us + bounce_us {
        moves.push(Move { at_us: parted_us, high: !high });
        moves.push(Move { at_us: at_us + bounce_us, high });
    }
    moves
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half periods of 10, 8.33 and 1.25 ms at 50, 60 and 400 Hz (physics; the outside check J7).
    #[test]
    fn pulses_stand_half_a_period_apart() {
        for (hertz, apart_us, per_second) in
            [(50.0, 10_000.0, 100), (60.0, 8_333.3, 120), (400.0, 1_250.0, 800)]
        {
            let pulses = Pulses { hertz, per_cycle: 2, width: 0.1, missing: 0.0, missing_in_a_row: 0 };
            assert!((pulses.period_us() - apart_us).abs() < 0.1);
            let mut random = fastrand::Rng::with_seed(1);
            let moves = pulses.moves_in_phase(0, 1_000_000, 0.0, &mut random);
            assert_eq!(moves.len(), 2 * per_second, "{hertz} Hz");
            assert!(moves.is_sorted_by_key(|one| one.at_us));
            let high_us: u64 = moves.chunks(2).map(|pulse| pulse[1].at_us - pulse[0].at_us).sum();
            assert!((95_000..=105_000).contains(&high_us), "{hertz} Hz: high for {high_us} us of a second");
        }
    }

    #[test]
    fn a_bounce_ends_where_it_says() {
        let mut random = fastrand::Rng::with_seed(2);
        for _ in 0..1_000 {
            let bounce_us = random.u64(1_000..=20_000);
            let moves = bouncing(5_000, bounce_us, true, &mut random);
            assert!(moves.is_sorted_by_key(|one| one.at_us));
            assert!(moves.chunks(2).all(|pair| pair[0].high), "{moves:?}");
            let last = moves.last().expect("a move");
            assert!(last.high && last.at_us == 5_000 + bounce_us, "{moves:?}");
        }
    }
}
