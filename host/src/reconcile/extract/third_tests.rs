//! Two counters of one radar against one logger, worked out by hand: 24 h a day of supply, 20 of heater, 10 of transmit.

use crate::reconcile::{Account, Facts, Fitting, Kind, Log, Part, Point, Radar, Reading, When, reconcile};
use halfglass_protocol::config::Role;

const DAY_MS: i64 = 86_400_000;
const DAYS: i64 = 364;

fn at(day: i64) -> When {
    When { lo_ms: day * DAY_MS, hi_ms: day * DAY_MS }
}

/// A year of weekly readings of counters that run at these ratios to the logger.
fn account(counters: &[(Role, f64)]) -> Account {
    let per_day_h = |role: Role| if role == Role::Heater { 20.0 } else { 10.0 };
    let point = |day: i64| Point {
        at: at(day),
        on_h: [24.0, 20.0, 10.0, 0.0, 0.0].map(|h| h * day as f64),
        dark_h: 0.0,
        lost_h: 0.0,
        drop_outs: 0,
        short_warm_ups: 0,
    };
    let reading = |day: i64, place: usize, (role, ratio): (Role, f64)| Reading {
        id: day * 10 + place as i64,
        at: at(day),
        quantity: role,
        hours: (5_000.0 + per_day_h(role) * day as f64 * ratio).floor(),
        source: None,
    };
    let read = |day: i64| counters.iter().enumerate().map(move |(place, one)| reading(day, place, *one));
    let radar = Radar {
        name: "X-band".to_owned(),
        step_h: 1.0,
        log: Log {
            wired: [true, true, true, false, false],
            points: (0..=DAYS).map(point).collect(),
            ..Log::default()
        },
        readings: (0..=DAYS / 7).flat_map(|week| read(week * 7)).collect(),
        fittings: vec![Fitting {
            id: 1,
            at: at(30),
            part: "magnetron".to_owned(),
            serial: "A".to_owned(),
            counter_zeroed: false,
            zeroed_at: None,
            counter_before_h: None,
            counter_after_h: None,
            hours_at_fit_h: None,
        }],
        parts: vec![Part { name: "magnetron".to_owned(), ages_by: Role::Transmit, needs_aloft: false }],
        ..Radar::default()
    };
    reconcile(&Facts { as_of_ms: DAYS * DAY_MS, radars: vec![radar] }).remove(0)
}

/// Everything that is said of a ratio: the lines concerned, the sentences, the advice.
fn said(account: &Account) -> Vec<(Option<Role>, String, &str)> {
    let rates = account.findings.iter().filter(|finding| finding.kind == Kind::CounterRate);
    rates.map(|finding| (finding.line, finding.evidence.join(" "), finding.advice.as_str())).collect()
}

/// 364 days of 10 h at 1.03 are 3,749 h; the other counter's 7,280 h are its line's.
#[test]
fn another_counter_that_agrees_with_the_logger_proves_its_clock() {
    let account = account(&[(Role::Transmit, 1.03), (Role::Heater, 1.0)]);
    let said = said(&account);
    let [(line, evidence, advice)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*line, Some(Role::Transmit));
    assert!(
        evidence.contains("The heater counter of the same radar moved 7280 h in that time, its line 7279"),
        "{evidence}"
    );
    assert!(evidence.contains("so the transmit counter runs 3.0 % fast"), "{evidence}");
    assert!(advice.starts_with("Go by the logger's hours"), "{advice}");
    // The part ran 334 days of 10 h, give or take seven days of fitting.
    let hours = account.parts[0].hours.unwrap();
    assert!(hours.high < 3_340.0 + 10.0 * 7.0 + 2.0, "no reason to doubt the logger: {hours:?}");
}

#[test]
fn two_counters_off_alike_are_one_finding_about_the_loggers_clock() {
    let account = account(&[(Role::Transmit, 1.03), (Role::Heater, 1.03)]);
    let said = said(&account);
    let [(line, evidence, advice)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*line, None);
    assert!(evidence.contains("so the logger's clock runs 2.9 % slow"), "{evidence}");
    assert!(advice.contains("the logger"), "{advice}");
    // Who is right is a conclusion, not a fact: the hours hold what either says, 3,340 by the one, 3,440.2 by the other.
    let hours = account.parts[0].hours.unwrap();
    assert!(hours.low < 3_340.0 && 3_440.2 < hours.high, "{hours:?}");
}

#[test]
fn two_counters_off_by_two_ratios_do_not_speak_for_each_other() {
    let account = account(&[(Role::Transmit, 1.03), (Role::Heater, 0.95)]);
    let said = said(&account);
    assert_eq!(said.len(), 2, "{said:?}");
    for (_, _, advice) in said {
        assert!(advice.starts_with("No other counter of this radar says whose clock is off"), "{advice}");
        assert!(advice.ends_with("which of the two is it?"), "{advice}");
    }
}

#[test]
fn without_a_third_witness_it_is_asked() {
    let account = account(&[(Role::Transmit, 1.03)]);
    let said = said(&account);
    let [(line, _, advice)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*line, Some(Role::Transmit));
    assert!(advice.ends_with("which of the two is it?"), "{advice}");
    let hours = account.parts[0].hours.unwrap();
    assert!(hours.low < 3_340.0 && 3_440.2 < hours.high, "neither is preferred: {hours:?}");
}
