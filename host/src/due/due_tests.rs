use super::course::Mark;
use super::*;

const DAY_MS: i64 = 86_400_000;
const HOUR_MS: i64 = 3_600_000;
/// 2026-01-01T00:00:00Z, by `date -u -d 2026-01-01 +%s`.
const START_MS: i64 = 1_767_225_600_000;

fn at(days: i64) -> i64 {
    START_MS + days * DAY_MS
}

fn exactly(ms: i64) -> When {
    When { lo_ms: ms, hi_ms: ms }
}

/// A line that was on for `on_h` hours of each of so many days, in two starts.
fn course(days: i64, on_h: f64) -> Course {
    let mark = |day: i64| Mark {
        at: exactly(at(day)),
        on_h: day as f64 * on_h,
        starts: 2.0 * day as f64,
        found_on: 0.0,
        dark_h: 0.0,
        lost_h: 0.0,
    };
    Course { marks: (0..=days).map(mark).collect(), fed_from_radar: true }
}

fn between(low: f64, best: f64, high: f64) -> Option<Interval> {
    Some(Interval { low, best, high })
}

/// A part put in new at the beginning, 100 days ago, with 10 h on each of them.
fn question() -> Question {
    let course = course(100, 10.0);
    Question {
        radar: "S-band".into(),
        part: "magnetron".into(),
        role: Role::Transmit,
        fitting: Some(Fitted {
            at: exactly(START_MS),
            within: exactly(START_MS),
            serial: "B-1".into(),
            hours_at_fit: Some(0.0),
        }),
        hours: between(999.9, 1_000.0, 1_000.1),
        line_doubted: false,
        days: usage::days(&course),
        course,
        legs: Vec::new(),
        said: Vec::new(),
        limit_h: Some(3_600.0),
        limit_months: None,
        limit_starts: None,
        warn_h: Some(300.0),
        lead_time_days: Some(45),
    }
}

fn day_of(ms: Option<i64>) -> f64 {
    (ms.unwrap() - START_MS) as f64 / DAY_MS as f64
}

/// By hand: 100 days at 10 h are 1,000 h; 2,600 h are left, 260 days at 10 h: day 360. A docking that a hundred days did not
/// show may come: so rather a little later than earlier.
#[test]
fn a_worked_example() {
    let answer = answer(&question(), at(100), 1);
    assert_eq!((answer.remaining_h, answer.hours), (Some(2_600.0), question().hours));
    let p50 = day_of(answer.forecast.p50_ms);
    assert!((356.0..368.0).contains(&p50), "{p50}");
    assert_eq!((answer.state, answer.forecast.limited_by), (State::Ok, Some(LimitedBy::Hours)));
    assert_eq!(answer.notes, Vec::<String>::new());
}

/// The states, with 1,000 h on the clock; each row's limit chosen by hand. `warn_h` is 300 and the lead 45 days = 450 h.
#[test]
fn states_follow_the_table() {
    for (limit_h, warn_h, lead_time_days, state) in [
        (990.0, 300.0, 45, State::Overdue),
        (1_000.05, 300.0, 45, State::Due),
        (1_290.0, 300.0, 0, State::Soon),
        (1_310.0, 300.0, 0, State::Ok),
        (1_430.0, 300.0, 45, State::Soon),
        (1_560.0, 300.0, 45, State::Ok),
    ] {
        let asked = Question {
            limit_h: Some(limit_h),
            warn_h: Some(warn_h),
            lead_time_days: Some(lead_time_days),
            ..question()
        };
        assert_eq!(answer(&asked, at(100), 1).state, state, "{limit_h} {lead_time_days}");
    }
}

/// By hand: 990 h were passed on day 99, 1,000 h on day 100; 500 on day 50.
#[test]
fn limit_already_passed() {
    for (limit_h, day) in [(990.0, 99), (500.0, 50)] {
        let asked = Question { limit_h: Some(limit_h), ..question() };
        let answer = answer(&asked, at(100), 1);
        assert_eq!((answer.state, answer.remaining_h), (State::Overdue, Some(limit_h - 1_000.0)));
        let passed = answer.forecast.p50_ms.unwrap();
        assert!((passed - at(day)).abs() < HOUR_MS, "{}", time::rfc3339(passed));
    }
    // Where all sources together hold a fifth more than the log, the log's hours count for more each: 1,000 h were reached
    // on day 100 / 1.2 = 83.3.
    let asked = Question { hours: between(1_199.9, 1_200.0, 1_200.1), limit_h: Some(1_000.0), ..question() };
    let passed = day_of(answer(&asked, at(100), 1).forecast.p50_ms);
    assert!((passed - 83.3).abs() < 0.1, "{passed}");
}

/// By hand: 1,000 h by day 100 and none pulled since, at 10 of 24 h likeliest: 1,200 on day 120, so 1,100 on day 110.
/// If all of the time counted, 1,480 on day 120: 1,100 on day 104. If none did, they lie ahead: 100 h, 10 days.
#[test]
fn a_limit_passed_since_the_last_pull_is_dated_there() {
    let asked = Question { hours: between(1_000.0, 1_200.0, 1_480.0), limit_h: Some(1_100.0), ..question() };
    let answer = answer(&asked, at(120), 1);
    assert_eq!(answer.state, State::Due);
    let Forecast { p10_ms, p50_ms, p90_ms, .. } = answer.forecast;
    assert!((104.0..107.0).contains(&day_of(p10_ms)), "{}", day_of(p10_ms));
    assert!((106.0..112.0).contains(&day_of(p50_ms)), "{}", day_of(p50_ms));
    assert!((112.0..131.0).contains(&day_of(p90_ms)), "{}", day_of(p90_ms));
    assert!(
        answer.notes[0].contains("20 days ago") && answer.notes[0].contains("480 h"),
        "{:?}",
        answer.notes
    );
}

#[test]
fn months_and_starts_count_too() {
    let months = Question { limit_months: Some(3), ..question() };
    let over = answer(&months, at(100), 1);
    assert_eq!((over.state, over.forecast.limited_by), (State::Overdue, Some(LimitedBy::Months)));
    assert!(over.notes.iter().any(|note| note.contains("over on 2026-04-01")), "{:?}", over.notes);
    // 200 starts in 100 days; the limit of 230 is 15 days off.
    let starts = Question { limit_starts: Some(230), lead_time_days: None, warn_h: None, ..question() };
    let near = answer(&starts, at(100), 1);
    assert_eq!((near.state, near.forecast.limited_by), (State::Ok, Some(LimitedBy::Starts)));
    assert!((day_of(near.forecast.p50_ms) - 115.0).abs() < 1.0);
}

/// Put in on 29 February 2024, or in the two days around it: 48 months later is 29 February 2028, 12 months later is 28
/// February 2025 (calendar dates by `date -u -d`).
#[test]
fn a_leap_day() {
    let leap_ms = 1_709_208_000_000; // 2024-02-29T12:00:00Z
    let fitting =
        question().fitting.map(|fit| Fitted { at: exactly(leap_ms), within: exactly(leap_ms), ..fit });
    let asked = Question { fitting, limit_h: None, limit_months: Some(48), ..question() };
    let due = answer(&asked, at(100), 1).forecast;
    assert_eq!(due.p50_ms.map(time::rfc3339).as_deref(), Some("2028-02-29T12:00:00Z"));
    let year = Question { limit_months: Some(12), ..asked.clone() };
    assert_eq!(
        answer(&year, leap_ms, 1).forecast.p50_ms.map(time::rfc3339).as_deref(),
        Some("2025-02-28T12:00:00Z")
    );
    // A fitting known to two days: the date is as open as that, and passed only when the later of them is over.
    let two_days = When { lo_ms: leap_ms - DAY_MS, hi_ms: leap_ms + DAY_MS };
    let fitting = question().fitting.map(|fit| Fitted { at: two_days, within: two_days, ..fit });
    let asked = Question { fitting, lead_time_days: Some(0), ..asked };
    let due_ms = time::months_later(leap_ms, 48).unwrap();
    let states = [-2, 0, 2].map(|days| answer(&asked, due_ms + days * DAY_MS, 1).state);
    assert_eq!(states, [State::Ok, State::Due, State::Overdue]);
    let due = answer(&asked, leap_ms, 1).forecast;
    assert!(due.p10_ms < due.p50_ms && due.p50_ms < due.p90_ms, "{due:?}");
}

#[test]
fn what_is_missing_is_named_and_no_date_is_given() {
    let says = |asked: &Question, word: &str, has_hours: bool| {
        let answer = answer(asked, at(100), 1);
        assert_eq!((answer.state, answer.forecast.p50_ms), (State::Unknown, None), "{word}");
        assert_eq!(answer.hours.is_some(), has_hours, "{word}");
        assert!(answer.notes.iter().any(|note| note.contains(word)), "{word}: {:?}", answer.notes);
    };
    let no_fitting = Question { fitting: None, ..question() };
    says(&no_fitting, "halfglass add fitting --radar \"S-band\"", false);
    let no_log = Question { hours: None, said: vec!["Nothing was pulled yet.".into()], ..question() };
    says(&no_log, "Nothing was pulled yet", false);
    let no_limit = Question { limit_h: None, ..question() };
    says(&no_limit, "Write limit_h", true);
    let swapped = Question { line_doubted: true, said: vec!["WIRING: motor there.".into()], ..question() };
    says(&swapped, "motor there", true);
    // Even a limit that seems passed: by whose hours?
    says(&Question { limit_h: Some(10.0), ..swapped }, "motor there", true);
    let no_starts =
        Question { limit_h: None, limit_starts: Some(100), course: Course::default(), ..question() };
    assert_eq!(answer(&no_starts, at(100), 1).state, State::Unknown);
}

#[test]
fn a_short_history_has_hours_but_no_date() {
    let asked = Question { days: question().days[90..].to_vec(), ..question() };
    let answer = answer(&asked, at(100), 1);
    assert!(answer.hours.is_some());
    assert_eq!((answer.forecast.p50_ms, answer.state), (None, State::Ok));
    assert!(answer.notes[0].contains("10 whole days, and 14 are needed"), "{:?}", answer.notes);
}

/// Each thing that leaves the hours open is told; what readings have settled is told as settled.
#[test]
fn why_the_hours_are_wide_is_told() {
    let says = |asked: &Question, words: &str| {
        let notes = answer(asked, at(100), 1).notes;
        assert!(notes.iter().any(|note| note.contains(words)), "{words}: {notes:?}");
    };
    let fitted = |at: When, within: When, hours_at_fit| {
        Some(Fitted { at, within, serial: "B-1".into(), hours_at_fit })
    };
    let wide = Question { hours: between(500.0, 1_000.0, 1_500.0), ..question() };
    let early = exactly(at(-10));
    let before_log = Question { fitting: fitted(early, early, None), ..wide.clone() };
    says(&before_log, "nothing or up to 240 h. Missing: how many hours");
    says(&before_log, "Taken as new");
    let settled = Question { hours: between(990.0, 1_000.0, 1_010.0), ..before_log };
    says(&settled, "up to 240 h; readings narrow that");
    let week = When { lo_ms: at(3), hi_ms: at(17) };
    let unconfirmed = fitted(exactly(at(10)), week, Some(0.0));
    says(&Question { fitting: unconfirmed, ..wide.clone() }, "may be off by up to 7 days");
    let inside = exactly(at(10) + 12 * HOUR_MS);
    says(
        &Question { fitting: fitted(inside, inside, Some(0.0)), ..wide.clone() },
        "inside one record: up to 10.0 h",
    );
    let mut dark = wide.clone();
    (dark.course.marks[50].dark_h, dark.course.marks[60].lost_h) = (20.0, 2.0);
    says(&dark, "without power for up to 20 h; it is fed from the radar");
    says(&dark, "taken up to 2.0 h");
    dark.course.fed_from_radar = false;
    says(&dark, "without power for up to 20 h, in which the radar may have run.");
    dark.hours = between(995.0, 1_000.0, 1_005.0);
    says(&dark, "may have run; readings narrow that");
}
