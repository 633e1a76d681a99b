//! The ship's way beside a plain model, and what must not move it.

use super::way::{
    APART_MS, Change, MAKES_WAY_MS, MAKES_WAY_TENTH_KNOTS, NO_WAY_MS, NO_WAY_TENTH_KNOTS, RECORDS_MAX,
    SILENT_MS, Tracker,
};
use halfglass_protocol::record::Motion;
use proptest::prelude::*;
use std::vec::Vec;

const MINUTE_MS: u64 = 60_000;
const HOUR_MS: u64 = 60 * MINUTE_MS;

fn meant(speed: u16) -> Option<(Motion, u64)> {
    match speed {
        NO_WAY_TENTH_KNOTS..MAKES_WAY_TENTH_KNOTS => None,
        0..NO_WAY_TENTH_KNOTS => Some((Motion::NoWay, NO_WAY_MS)),
        _ => Some((Motion::MakingWay, MAKES_WAY_MS)),
    }
}

/// What has lasted up to the speed of this number, by all speeds up to there: looked up anew each time.
fn lasting(said: &[(u64, u16)], at: usize) -> Option<Change> {
    let (motion, enough_ms) = meant(said[at].1)?;
    let same = |pair: &&[(u64, u16)]| {
        meant(pair[0].1).is_some_and(|(is, _)| is == motion) && pair[1].0 - pair[0].0 <= APART_MS
    };
    let behind = said[..=at].windows(2).rev().take_while(same).count();
    let since_ms = said[at - behind].0;
    (said[at].0 - since_ms >= enough_ms).then_some(Change { since_ms, motion })
}

/// What is known at an instant, with no bound on how often it changes.
fn model(said: &[(u64, u16)], now_ms: u64) -> Change {
    let said = &said[..said.partition_point(|(at_ms, _)| *at_ms <= now_ms)];
    let mut known = Change { since_ms: 0, motion: Motion::NotKnown };
    for at in 0..said.len() {
        if at > 0 && said[at].0 - said[at - 1].0 >= SILENT_MS && known.motion != Motion::NotKnown {
            known = Change { since_ms: said[at - 1].0, motion: Motion::NotKnown };
        }
        if let Some(lasts) = lasting(said, at).filter(|lasts| lasts.motion != known.motion) {
            known = lasts;
        }
    }
    match said.last() {
        Some((last_ms, _)) if now_ms - last_ms >= SILENT_MS && known.motion != Motion::NotKnown => {
            Change { since_ms: *last_ms, motion: Motion::NotKnown }
        }
        _ => known,
    }
}

/// Speeds each half minute, in stretches of minutes with silences in between.
fn speeds(stretches: &[(u16, u16, u16)]) -> Vec<(u64, u16)> {
    let mut at_ms = 5 * MINUTE_MS;
    let mut said = Vec::new();
    for (speed, minutes, silent_minutes) in stretches {
        for _ in 0..minutes * 2 {
            said.push((at_ms, *speed));
            at_ms += MINUTE_MS / 2;
        }
        at_ms += u64::from(*silent_minutes) * MINUTE_MS;
    }
    said
}

/// What a tracker tells of them: when it was told, and what. A board wakes each minute besides.
fn told(said: &[(u64, u16)], until_ms: u64) -> Vec<(u64, Change)> {
    let mut tracker = Tracker::new();
    let mut told = Vec::new();
    let mut said = said.iter().peekable();
    for now_ms in (0..until_ms).step_by(MINUTE_MS as usize / 4) {
        let mut change = None;
        if let Some((_, speed)) = said.next_if(|(at_ms, _)| *at_ms <= now_ms) {
            change = tracker.hear(*speed, now_ms);
        } else if now_ms % MINUTE_MS == 0 {
            change = tracker.wait(now_ms);
        }
        told.extend(change.map(|change| (now_ms, change)));
    }
    told
}

fn stretches(count: usize) -> impl Strategy<Value = Vec<(u16, u16, u16)>> {
    // Speeds about both figures; as long as a change takes, and shorter; silences that matter and such that do not.
    let speed = prop_oneof![0u16..5, 5u16..35, 28u16..200];
    let silent = prop_oneof![4 => Just(0u16), 1 => 1u16..4, 1 => 25u16..40];
    prop::collection::vec((speed, 1u16..30, silent), 1..count)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// As long as there is room for records, what is told is what the model knows, since the same instant, at each instant.
    #[test]
    fn what_is_told_is_what_the_model_knows(stretches in stretches(10)) {
        let said = speeds(&stretches);
        let until_ms = said.last().unwrap().0 + HOUR_MS;
        let told = told(&said, until_ms);
        // Looked at when a board wakes, and a speed of that instant has been heard.
        let mut expected = Vec::new();
        let mut last = Motion::NotKnown;
        for now_ms in (0..until_ms).step_by(MINUTE_MS as usize / 4) {
            let woken = now_ms % MINUTE_MS == 0 || said.binary_search_by_key(&now_ms, |(at_ms, _)| *at_ms).is_ok();
            let known = model(&said, now_ms);
            if woken && known.motion != last {
                last = known.motion;
                expected.push((now_ms, known));
            }
        }
        prop_assert!(expected.len() < usize::from(super::way::RECORDS_FIRST), "{}", expected.len());
        prop_assert_eq!(told, expected);
    }

    /// However it is driven: never more records than are said, never the same twice, never back in time; and while one of the
    /// two ways is told, she has gone on that way.
    #[test]
    fn records_are_bounded_and_true(stretches in stretches(40), times in 4usize..12) {
        let said = speeds(&stretches.repeat(times));
        let until_ms = said.last().unwrap().0 + HOUR_MS;
        let told = told(&said, until_ms);
        for (at, (now_ms, change)) in told.iter().enumerate() {
            let day = told[at..].iter().take_while(|(later_ms, _)| later_ms - now_ms < 24 * HOUR_MS).count();
            prop_assert!(day <= 48, "{day} in a day");
            prop_assert!(change.since_ms <= *now_ms);
            let before = at.checked_sub(1).map_or(Change { since_ms: 0, motion: Motion::NotKnown }, |at| told[at].1);
            prop_assert!(before.motion != change.motion && before.since_ms <= change.since_ms);
            let known = model(&said, *now_ms);
            prop_assert!(change.motion == Motion::NotKnown || *change == known, "{change:?}, {known:?}");
        }
        prop_assert!(told.len() as u64 <= u64::from(RECORDS_MAX) + until_ms / HOUR_MS);
    }
}

/// A ferry of the busiest kind, half an hour's crossing and half an hour's stay, day and night: 48 changes a day, of which 24 a
/// day are kept in the long run. By hand: she is known to make way from ten minutes behind departure until 20 behind arrival. What
/// is told is that or nothing, and it is told for hours on end, not now and then.
#[test]
fn a_year_of_short_crossings_wears_the_history_by_24_records_a_day() {
    const DAYS: u64 = 365;
    let mut tracker = Tracker::new();
    let (mut records, mut silences, mut told) = (0, 0, Motion::NotKnown);
    for minute in 0..DAYS * 24 * 60 {
        let speed = if minute % 60 < 30 { 120 } else { 2 };
        if let Some(change) = tracker.hear(speed, minute * MINUTE_MS) {
            records += 1;
            silences += u64::from(change.motion == Motion::NotKnown);
            told = change.motion;
        }
        let known = if (10..50).contains(&(minute % 60)) { Motion::MakingWay } else { Motion::NoWay };
        assert!(told == Motion::NotKnown || told == known, "minute {minute}: {told:?}");
    }
    std::println!("{records} records in {DAYS} days, {silences} of them that it is not known");
    assert!((20 * DAYS..=24 * DAYS + 12).contains(&records), "{records}");
    assert!(silences * 15 < records, "{silences}");
}

/// Changes as fast as they can come, 96 a day, behind a hundred days at sea: no more was saved up than a day's.
#[test]
fn what_is_saved_up_has_an_end() {
    let mut tracker = Tracker::new();
    let at_sea_min = 100 * 24 * 60;
    let mut records = 0;
    for minute in 0..at_sea_min + 24 * 60 {
        let sails = minute < at_sea_min || (minute - at_sea_min) % 33 > 21;
        let told = tracker.hear(if sails { 90 } else { 0 }, minute * MINUTE_MS);
        records += u32::from(told.is_some() && minute >= at_sea_min);
    }
    assert!((24..=48).contains(&records), "{records}");
}

/// A receiver at a berth wanders; a year of that is one record.
#[test]
fn noise_at_a_berth_is_no_change() {
    let mut tracker = Tracker::new();
    let mut told = Vec::new();
    let mut noise = 12_345u32;
    for second in 0..365 * 86_400u64 {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        told.extend(tracker.hear((noise >> 24) as u16 % 5, 7_000 + second * 1_000));
    }
    assert_eq!(told, [Change { since_ms: 7_000, motion: Motion::NoWay }]);
}

/// By hand: she lies from the beginning, shifts along the quay for 8 minutes in the second hour, sails in the fourth, takes a
/// pilot at 2 kn for 15 minutes in the fifth, stops for 12 in the sixth, and is fast in the ninth.
#[test]
fn a_passage_and_short_manoeuvres() {
    let speed = |minute: u64| match minute {
        0..90 | 98..200 => 3,
        90..98 => 45,
        200..260 => 80,
        260..275 => 20,
        275..330 => 140,
        330..342 => 4,
        342..520 => 150,
        520..535 => 25,
        _ => 1,
    };
    let mut tracker = Tracker::new();
    let mut told = Vec::new();
    for second in 0..900 * 60 {
        let change = tracker.hear(speed(second / 60), second * 1_000);
        told.extend(change.map(|change| (second / 60, change.since_ms / MINUTE_MS, change.motion)));
    }
    assert_eq!(told, [(20, 0, Motion::NoWay), (210, 200, Motion::MakingWay), (555, 535, Motion::NoWay),]);
    // The talker is switched off at 15 hours.
    assert_eq!(tracker.wait(929 * MINUTE_MS), None);
    let silent = Change { since_ms: 900 * MINUTE_MS - 1_000, motion: Motion::NotKnown };
    assert_eq!(tracker.wait(930 * MINUTE_MS), Some(silent));
    assert_eq!(tracker.wait(2_000 * MINUTE_MS), None);
}
