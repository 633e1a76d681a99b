use super::*;
use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Anchor, ClockSource, Record, Span, Totals};

const DAY_MS: i64 = 86_400_000;
/// 2026-01-01T00:00:00Z, by `date -u -d 2026-01-01 +%s`.
const START_MS: i64 = 1_767_225_600_000;

/// A logger that ran for so many days, with transmit on for `on_h` hours of each.
fn logger(days: u32, on_h: u32) -> Logger {
    let mut records =
        vec![Record::Base(Totals { session: 1, ..Totals::default() }), Record::Config(Config::as_in_guide())];
    for _ in 0..days {
        let mut span = Span { uptime_tenths: 864_000, ..Span::default() };
        span.on_tenths[2] = on_h * 36_000;
        span.starts[2] = 2;
        records.push(Record::Span(span));
    }
    records.push(Record::Anchor(Anchor {
        session: 1,
        uptime_tenths: u64::from(days) * 864_000,
        utc_ms: (START_MS + i64::from(days) * DAY_MS) as u64,
        uncertainty_ms: 1_000,
        source: ClockSource::Host,
    }));
    let records: Vec<_> = (0..).zip(records).collect();
    let timeline = Timeline::build(&records);
    let dating = Dating::new(&timeline.anchors, START_MS + 1_000 * DAY_MS);
    Logger { timeline, dating }
}

fn question() -> Question {
    Question {
        radar: "S-band".into(),
        part: "magnetron".into(),
        role: Role::Transmit,
        input: 2,
        lines: vec![(Role::Heater, 1), (Role::Transmit, 2)],
        logger: 0xab,
        fed_from_radar: true,
        limit_h: Some(3_600.0),
        limit_months: None,
        limit_starts: None,
        warn_h: Some(300.0),
        lead_time_days: Some(45),
        fitting: Some(Fitted { at_ms: START_MS, serial: "B-1".into(), hours_at_fit: Some(0.0) }),
    }
}

fn at(days: i64) -> i64 {
    START_MS + days * DAY_MS
}

/// By hand: 100 days at 10 h are 1,000 h; 2,600 h are left, 260 days at 10 h: day 360.
#[test]
fn a_worked_example() {
    let answer = answer(&question(), Some(&logger(100, 10)), at(100), 1);
    let hours = answer.hours.unwrap();
    assert!((hours.best - 1_000.0).abs() < 0.2 && hours.high - hours.low < 1.0, "{hours:?}");
    assert!((answer.remaining_h.unwrap() - 2_600.0).abs() < 0.2);
    let p50_days = (answer.forecast.p50_ms.unwrap() - START_MS) as f64 / DAY_MS as f64;
    assert!((p50_days - 360.0).abs() < 0.5, "{p50_days}");
    assert_eq!((answer.state, answer.forecast.limited_by), (State::Ok, Some(LimitedBy::Hours)));
    assert_eq!(answer.notes, Vec::<String>::new());
}

/// The states, with 1,000 h on the clock; each row's limit chosen by hand. `warn_h` is 300 and the lead 45 days = 450 h.
#[test]
fn states_follow_the_table() {
    let logger = logger(100, 10);
    for (limit_h, warn_h, lead_time_days, state) in [
        (990.0, 300.0, 45, State::Overdue),
        (1_000.05, 300.0, 45, State::Due),
        (1_290.0, 300.0, 0, State::Soon),
        (1_310.0, 300.0, 0, State::Ok),
        (1_440.0, 300.0, 45, State::Soon),
        (1_460.0, 300.0, 45, State::Ok),
    ] {
        let asked = Question {
            limit_h: Some(limit_h),
            warn_h: Some(warn_h),
            lead_time_days: Some(lead_time_days),
            ..question()
        };
        assert_eq!(answer(&asked, Some(&logger), at(100), 1).state, state, "{limit_h} {lead_time_days}");
    }
    // 990 h were passed on day 99, 1,000 h on day 100.
    let asked = Question { limit_h: Some(990.0), ..question() };
    let passed_ms = answer(&asked, Some(&logger), at(100), 1).forecast.p50_ms.unwrap();
    assert!((passed_ms - at(99)).abs() < 3_600_000, "{}", time::rfc3339(passed_ms));
}

/// By hand: 1,000 h by day 100 and none pulled since, at 10 of 24 h likeliest: 1,200 on day 120, so 1,100 on day 110.
/// If all of the time counted, 1,480 on day 120: 1,100 on day 104. If none did, they lie ahead: 100 h, 10 days.
#[test]
fn a_limit_passed_since_the_last_pull_is_dated_there() {
    let asked = Question { limit_h: Some(1_100.0), ..question() };
    let answer = answer(&asked, Some(&logger(100, 10)), at(120), 1);
    assert_eq!(answer.state, State::Due);
    let day = |ms: Option<i64>| (ms.unwrap() - START_MS) as f64 / DAY_MS as f64;
    let Forecast { p10_ms, p50_ms, p90_ms, .. } = answer.forecast;
    assert!((104.0..107.0).contains(&day(p10_ms)), "{}", day(p10_ms));
    assert!((106.0..112.0).contains(&day(p50_ms)), "{}", day(p50_ms));
    assert!((112.0..131.0).contains(&day(p90_ms)), "{}", day(p90_ms));
}

#[test]
fn months_and_starts_count_too() {
    let logger = logger(100, 10);
    let months = Question { limit_months: Some(3), ..question() };
    let over = answer(&months, Some(&logger), at(100), 1);
    assert_eq!((over.state, over.forecast.limited_by), (State::Overdue, Some(LimitedBy::Months)));
    assert!(over.notes.iter().any(|note| note.contains("over on 2026-04-01")), "{:?}", over.notes);
    // 200 starts in 100 days; the limit of 230 is 15 days off.
    let starts = Question { limit_starts: Some(230), lead_time_days: None, warn_h: None, ..question() };
    let near = answer(&starts, Some(&logger), at(100), 1);
    assert_eq!((near.state, near.forecast.limited_by), (State::Ok, Some(LimitedBy::Starts)));
    // Likeliest: in which of two records the fitting falls is open by a start or two.
    assert!((near.forecast.p50_ms.unwrap() - at(115)).abs() < DAY_MS);
}

#[test]
fn what_is_missing_is_named() {
    let logger = logger(100, 10);
    let says = |asked: &Question, logger: Option<&Logger>, as_of_ms: i64, word: &str| {
        let answer = answer(asked, logger, as_of_ms, 1);
        assert_eq!(answer.state, State::Unknown, "{word}");
        assert_eq!(answer.hours.is_some(), word.contains("limit_h"), "{word}");
        assert!(answer.notes.iter().any(|note| note.contains(word)), "{word}: {:?}", answer.notes);
    };
    let no_fitting = Question { fitting: None, ..question() };
    says(&no_fitting, Some(&logger), at(100), "halfglass add fitting --radar \"S-band\"");
    says(&question(), None, at(100), "Pull it");
    says(&question(), Some(&logger), START_MS - 10 * DAY_MS, "begins later");
    let no_limit = Question { limit_h: None, ..question() };
    says(&no_limit, Some(&logger), at(100), "Write limit_h");
    let mut early = question();
    early.fitting.as_mut().unwrap().at_ms = START_MS - 100 * DAY_MS;
    early.fitting.as_mut().unwrap().hours_at_fit = None;
    says(&early, Some(&logger), at(100), "hours_at_fit");
    let mut unanchored = logger.clone();
    unanchored.dating = Dating::new(&[], at(100));
    says(&question(), Some(&unanchored), at(100), "never set");
    let swapped = Question { input: 3, lines: vec![(Role::Transmit, 3)], ..question() };
    says(&swapped, Some(&logger), at(100), "configured for motor there");
}

#[test]
fn a_wrong_line_that_does_not_age_the_part_is_told_but_does_not_hide_its_hours() {
    let asked = Question { lines: vec![(Role::Heater, 4), (Role::Transmit, 2)], ..question() };
    let answer = answer(&asked, Some(&logger(100, 10)), at(100), 1);
    assert!(answer.hours.is_some());
    assert!(answer.notes[0].contains("heater on input 4") && answer.notes[0].contains("isolated there"));
}

/// By hand: 20 days without a pull at 10 of 24 h: 200 h likeliest on top of 1,000, up to 480.
#[test]
fn an_old_pull_widens_and_says_so() {
    let answer = answer(&question(), Some(&logger(100, 10)), at(120), 1);
    let hours = answer.hours.unwrap();
    assert!((hours.low - 1_000.0).abs() < 1.0 && (hours.best - 1_200.0).abs() < 1.0, "{hours:?}");
    assert!((hours.high - 1_480.0).abs() < 1.0, "{hours:?}");
    assert!(
        answer.notes[0].contains("20 days ago") && answer.notes[0].contains("480 h"),
        "{:?}",
        answer.notes
    );
}

#[test]
fn a_short_history_has_hours_but_no_date() {
    let answer = answer(&question(), Some(&logger(10, 10)), at(10), 1);
    assert!(answer.hours.is_some());
    assert_eq!((answer.forecast.p50_ms, answer.state), (None, State::Ok));
    assert!(answer.notes[0].contains("10 whole days, and 14 are needed"), "{:?}", answer.notes);
}
