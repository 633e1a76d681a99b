use super::*;

#[test]
fn a_figure_is_hours_or_says_why_not() {
    assert_eq!(figure("2713"), Ok(2713.0));
    assert_eq!(figure("2713.5"), Ok(2713.5));
    for text in ["2,713", "2713 h", "-1", "1e9", "NaN", ""] {
        assert!(figure(text).unwrap_err().contains("write it as 1234"), "{text}");
    }
}

use crate::reconcile::{self, Log, Part, Point, Radar, When};
use std::io::Cursor;

const DAY_MS: i64 = 86_400_000;

/// A radar that transmits 10 h a day for 100 days, and what its counter showed on some of them.
fn facts(readings: &[(i64, f64)]) -> reconcile::Facts {
    let when = |day: i64| When { lo_ms: day * DAY_MS, hi_ms: day * DAY_MS };
    let point = |day: i64| {
        let h = day as f64;
        let on_h = [24.0 * h, 12.0 * h, 10.0 * h, 10.0 * h, 0.0];
        Point { at: when(day), on_h, dark_h: 0.0, lost_h: 0.0, drop_outs: 0, short_warm_ups: 0 }
    };
    let reading = |(id, (day, hours)): (usize, &(i64, f64))| reconcile::Reading {
        id: id as i64,
        at: when(*day),
        quantity: Role::Transmit,
        hours: *hours,
        source: None,
    };
    let radar = Radar {
        name: "S".to_owned(),
        step_h: 1.0,
        log: Log { wired: [true; 5], points: (0..=100).map(point).collect(), ..Log::default() },
        readings: readings.iter().enumerate().map(reading).collect(),
        parts: vec![Part { name: "magnetron".to_owned(), ages_by: Role::Transmit, needs_aloft: false }],
        ..Radar::default()
    };
    reconcile::Facts { as_of_ms: 100 * DAY_MS, radars: vec![radar] }
}

/// What is asked and answered, with these lines typed on day 100.
fn dialogue(typed: &str) -> (Vec<f64>, String) {
    let facts = facts(&[(10, 1_100.0), (40, 1_400.0), (70, 1_700.0)]);
    let before = reconcile::reconcile(&facts);
    let check = Check { facts, before };
    let mut settings = Settings {
        ship: String::new(),
        radars: Vec::new(),
        parts: Vec::new(),
        spares: Vec::new(),
        loggers: Vec::new(),
    };
    settings.radars.push(crate::ship::settings::Radar {
        name: "S".to_owned(),
        logger: 1,
        fed_from_radar: false,
        lines: Vec::new(),
        counter_step_h: Some(1.0),
        warm_up_s: None,
    });
    let clock = time::Clock::default();
    let known = Known { settings: &settings, clock: &clock };
    let counters = [Counter { radar: "S".to_owned(), quantity: Role::Transmit }];
    let mut out = Vec::new();
    let by = ("1970-04-11T00:00Z", None);
    let readings =
        ask::ask(&counters, &check, &known, by, &mut Cursor::new(typed), (&mut out, Screen::PIPE)).unwrap();
    (readings.iter().map(|reading| reading.hours).collect(), String::from_utf8(out).unwrap())
}

#[test]
fn what_fits_is_taken_without_a_word() {
    let (kept, said) = dialogue("2000\n");
    assert_eq!(kept, [2_000.0]);
    assert!(!said.contains("Look again"), "{said}");
}

/// By hand: it stood at 2,000.
#[test]
fn what_does_not_fit_is_asked_again_and_may_be_put_right() {
    let (kept, said) = dialogue("200\n2000\n");
    assert_eq!(kept, [2_000.0], "{said}");
    assert!(said.contains("Look again"), "{said}");
}

#[test]
fn what_was_looked_at_again_stands() {
    for typed in ["200\n\n", "200\n200\n"] {
        let (kept, said) = dialogue(typed);
        assert_eq!(kept, [200.0], "{said}");
    }
}

#[test]
fn a_counter_may_be_left_out_and_nonsense_is_asked_again() {
    assert!(dialogue("\n").0.is_empty());
    assert!(dialogue("").0.is_empty());
    let (kept, said) = dialogue("2,000\n2000\n");
    assert_eq!(kept, [2_000.0]);
    assert!(said.contains("is not a number of hours"), "{said}");
}
