//! What the ship did so far: by the legs that are recorded, and where none is, by her speed.
//!
//! A speed over ground does not tell a berth from an anchorage: where she made no way she counts as in port.

use super::ahead::days_between;
use super::spells::LAID_UP_DAYS;
use super::usage::{DAY_MS, DAYS_MAX, Leg, Mode};
use crate::time;

/// A logger's power goes and comes, and its speed is known again some minutes later: as long as this, between two stretches of
/// one way, she went on that way.
const JOIN_MAX_MS: i64 = 3_600_000;

/// Legs and speed that differ for so long on end, in days, are worth a sentence; less is a waiting for a tide or a pilot.
const DIFFER_MIN_DAYS: f64 = 1.0;

/// Stretches that a speed tells, of one logger or several, as one row without overlaps, up to an instant.
#[must_use]
pub fn row(mut told: Vec<Leg>, as_of_ms: i64) -> Vec<Leg> {
    told.sort_by_key(|leg| (leg.from_ms, leg.to_ms));
    let mut row: Vec<Leg> = Vec::with_capacity(told.len());
    for leg in told {
        let to_ms = leg.to_ms.min(as_of_ms);
        match row.last_mut() {
            Some(last) if last.mode == leg.mode && leg.from_ms - last.to_ms <= JOIN_MAX_MS => {
                last.to_ms = last.to_ms.max(to_ms);
            }
            last => {
                // What was told first stands; dates of two loggers differ by what their clocks leave open.
                let from_ms = last.map_or(leg.from_ms, |last| leg.from_ms.max(last.to_ms));
                if from_ms < to_ms {
                    row.push(Leg { from_ms, to_ms, mode: leg.mode });
                }
            }
        }
    }
    row
}

/// The legs, and of the row that a speed tells what no leg covers. Where she made no way for as long as a lay-up lasts, that was no
/// stay in port: it is left out, as nobody writes a leg for it.
#[must_use]
pub fn with_speed(legs: &[Leg], by_speed: &[Leg]) -> Vec<Leg> {
    let mut covered: Vec<&Leg> = legs.iter().collect();
    covered.sort_by_key(|leg| leg.from_ms);
    let mut all = legs.to_vec();
    let laid_up =
        |told: &&Leg| told.mode != Mode::Sea && days_between(told.from_ms, told.to_ms) >= LAID_UP_DAYS as f64;
    for told in by_speed.iter().filter(|told| !laid_up(told)) {
        let mut from_ms = told.from_ms;
        for leg in covered.iter().filter(|leg| leg.to_ms > told.from_ms && leg.from_ms < told.to_ms) {
            if leg.from_ms > from_ms {
                all.push(Leg { from_ms, to_ms: leg.from_ms, mode: told.mode });
            }
            from_ms = from_ms.max(leg.to_ms);
        }
        if from_ms < told.to_ms {
            all.push(Leg { from_ms, ..*told });
        }
    }
    all
}

/// Where a leg says sea and her speed no way for a day on end, or the other way round: the last such time, and how many there are.
#[must_use]
pub fn disagreement(legs: &[Leg], by_speed: &[Leg], as_of_ms: i64) -> Option<String> {
    let oldest_ms = as_of_ms - i64::try_from(DAYS_MAX).unwrap_or(0) * DAY_MS;
    let both = legs.iter().flat_map(|leg| by_speed.iter().map(move |told| (leg, told)));
    let mut differ: Vec<(i64, i64, Mode)> = both
        .filter(|(leg, told)| (leg.mode == Mode::Sea) != (told.mode == Mode::Sea))
        .map(|(leg, told)| {
            (leg.from_ms.max(told.from_ms).max(oldest_ms), leg.to_ms.min(told.to_ms), leg.mode)
        })
        .filter(|(from_ms, to_ms, _)| days_between(*from_ms, *to_ms) >= DIFFER_MIN_DAYS)
        .collect();
    differ.sort_by_key(|(from_ms, ..)| *from_ms);
    let (from_ms, to_ms, mode) = *differ.last()?;
    let (leg, speed) = match mode {
        Mode::Sea => ("at sea", "she made no way"),
        Mode::Port => ("in port", "she made way"),
        Mode::Anchor => ("at anchor", "she made way"),
    };
    let more = match differ.len() - 1 {
        0 => String::new(),
        1 => ", and once before".to_owned(),
        times => format!(", and {times} times before"),
    };
    Some(format!(
        "The legs have her {leg} from {} to {} UTC, while by her speed {speed}{more}. The legs are taken; put right what \
         she did not sail as planned (halfglass import legs FILE).",
        time::minute(from_ms),
        time::minute(to_ms)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_MS: i64 = 3_600_000;

    fn leg(from: i64, to: i64, mode: Mode) -> Leg {
        Leg { from_ms: from * HOUR_MS, to_ms: to * HOUR_MS, mode }
    }

    fn hours(mut legs: Vec<Leg>) -> Vec<(i64, i64, Mode)> {
        legs.sort_by_key(|leg| leg.from_ms);
        legs.iter().map(|leg| (leg.from_ms / HOUR_MS, leg.to_ms / HOUR_MS, leg.mode)).collect()
    }

    /// By hand: two loggers tell the same stay; a boot of an hour cuts a passage; what lies behind the instant is cut off.
    #[test]
    fn stretches_of_several_loggers_are_one_row() {
        use Mode::{Port, Sea};
        let told = [leg(0, 10, Port), leg(1, 12, Port), leg(11, 30, Sea), leg(31, 40, Sea), leg(45, 60, Sea)];
        let row = row(told.to_vec(), 50 * HOUR_MS);
        assert_eq!(hours(row), [(0, 12, Port), (12, 40, Sea), (45, 50, Sea)]);
    }

    /// By hand: a leg in the middle of a stretch, one over its end, and one elsewhere.
    #[test]
    fn legs_stand_and_speed_fills_what_they_leave() {
        use Mode::{Anchor, Port, Sea};
        let legs = [leg(95, 130, Port), leg(20, 30, Anchor), leg(200, 210, Sea)];
        let by_speed = [leg(0, 100, Sea), leg(100, 120, Port), leg(120, 140, Port)];
        let expected = [
            (0, 20, Sea),
            (20, 30, Anchor),
            (30, 95, Sea),
            (95, 130, Port),
            (130, 140, Port),
            (200, 210, Sea),
        ];
        assert_eq!(hours(with_speed(&legs, &by_speed)), expected);
        assert_eq!(hours(with_speed(&[], &by_speed)), hours(by_speed.to_vec()));
        let laid_up = [leg(0, 24 * 45, Port), leg(24 * 45, 24 * 100, Sea)];
        assert_eq!(hours(with_speed(&[], &laid_up)), hours(laid_up[1..].to_vec()));
    }

    #[test]
    fn a_day_of_difference_is_told_and_hours_are_not() {
        use Mode::{Anchor, Port, Sea};
        let as_of_ms = 1_000 * HOUR_MS;
        let by_speed = [leg(0, 100, Port), leg(100, 300, Sea)];
        let of = |legs: &[Leg]| disagreement(legs, &by_speed, as_of_ms);
        assert_eq!(of(&[leg(0, 100, Anchor), leg(77, 100, Sea), leg(100, 300, Sea)]), None);
        let told = of(&[leg(30, 60, Sea), leg(110, 140, Anchor)]).unwrap();
        assert!(told.contains("at anchor from 1970-01-05 14:00 to 1970-01-06 20:00 UTC"), "{told}");
        assert!(told.contains("she made way, and once before"), "{told}");
        assert_eq!(disagreement(&[leg(30, 60, Sea)], &by_speed, as_of_ms + 400 * DAY_MS), None);
    }
}
