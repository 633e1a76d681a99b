use super::*;

const DAY_MS: i64 = 86_400_000;

fn days(on_h: impl Fn(usize) -> f64, count: usize) -> Vec<Day> {
    (0..count).map(|at| Day { start_ms: at as i64 * DAY_MS, on_h: on_h(at), starts: 2.0 }).collect()
}

fn ask<'a>(days: &'a [Day], now_h: f64, limit_h: f64) -> Ask<'a> {
    let now = Interval { low: now_h, best: now_h, high: now_h };
    let hours = Some(Limit { now, limit: limit_h, since_fitting: None, passed_ms: None });
    Ask { days, legs: &[], hours, starts: None, expiry: None, as_of_ms: 0, seed: 7 }
}

/// By hand: 10 h every day, 100 h left: 10 days, whichever way the blocks fall; but sixty days do not show how use drifts,
/// nor when in a day it comes.
#[test]
fn even_usage_gives_a_narrow_band_around_one_date() {
    let history = days(|_| 10.0, 60);
    let forecast = forecast(&ask(&history, 900.0, 1_000.0));
    let day = |at: Option<i64>| at.unwrap() as f64 / DAY_MS as f64;
    let (p10, p50, p90) = (day(forecast.p10_ms), day(forecast.p50_ms), day(forecast.p90_ms));
    assert!((9.5..10.5).contains(&p50) && p50 - p10 < 2.0 && p90 - p50 < 2.0, "{p10} {p50} {p90}");
    assert_eq!((forecast.limited_by, forecast.percentiles_ms.len()), (Some(LimitedBy::Hours), 100));
    assert_eq!(forecast.notes, Vec::<String>::new());
}

/// By hand: 20 days at sea of 24 h, 10 in port of 0 h: 16 h a day on the whole, 1,600 h are 100 days.
#[test]
fn uneven_usage_gives_a_band_around_the_mean() {
    let history = days(|at| if at % 30 < 20 { 24.0 } else { 0.0 }, 360);
    let forecast = forecast(&ask(&history, 0.0, 1_600.0));
    let day = |at: Option<i64>| at.unwrap() as f64 / DAY_MS as f64;
    assert!((day(forecast.p50_ms) - 100.0).abs() < 10.0, "{}", day(forecast.p50_ms));
    let percentile = |share: usize| Some(forecast.percentiles_ms[share - 1]);
    assert_eq!(
        (percentile(10), percentile(50), percentile(90)),
        (forecast.p10_ms, forecast.p50_ms, forecast.p90_ms)
    );
    let band = day(forecast.p90_ms) - day(forecast.p10_ms);
    assert!(band > 5.0 && band < 60.0, "{band}");
}

#[test]
fn a_shorter_history_gives_a_wider_band() {
    let usage = |at: usize| if at % 12 < 8 { 24.0 } else { 0.0 };
    let band = |count| {
        let history = days(usage, count);
        let forecast = forecast(&ask(&history, 0.0, 5_000.0));
        forecast.p90_ms.unwrap() - forecast.p10_ms.unwrap()
    };
    assert!(2 * band(36) > 3 * band(360), "{} {}", band(36), band(360));
}

#[test]
fn too_little_history_or_no_usage_gives_no_date_and_says_why() {
    let short = forecast(&ask(&days(|_| 10.0, 13), 0.0, 100.0));
    assert_eq!(short.p50_ms, None);
    assert!(short.why_not.unwrap().contains("13 whole days"));
    let mut idle = days(|_| 0.0, 60);
    idle.iter_mut().for_each(|day| day.starts = 0.0);
    let idle = forecast(&ask(&idle, 0.0, 100.0));
    assert_eq!(idle.p50_ms, None);
    assert!(idle.why_not.unwrap().contains("not used on any of the 60 days"));
}

#[test]
fn the_limit_that_comes_first_counts() {
    let history = days(|_| 10.0, 60);
    // Hours: day 10. Starts, 2 a day with 8 left: day 4. Months: day 7.
    let eight = Interval { low: 92.0, best: 92.0, high: 92.0 };
    let starts = Some(Limit { now: eight, limit: 100.0, since_fitting: None, passed_ms: None });
    let both = Ask {
        starts,
        expiry: Some(When { lo_ms: 7 * DAY_MS, hi_ms: 7 * DAY_MS }),
        ..ask(&history, 900.0, 1_000.0)
    };
    let all = forecast(&both);
    let day = all.p50_ms.unwrap() as f64 / DAY_MS as f64;
    assert!((3.5..4.5).contains(&day) && all.limited_by == Some(LimitedBy::Starts), "{day}");
    let months = forecast(&Ask { starts: None, ..both });
    assert_eq!((months.p50_ms, months.limited_by), (Some(7 * DAY_MS), Some(LimitedBy::Months)));
    let only = forecast(&Ask { hours: None, starts: None, ..both });
    assert_eq!((only.p10_ms, only.limited_by), (Some(7 * DAY_MS), Some(LimitedBy::Months)));
}

#[test]
fn a_limit_passed_is_dated_in_the_past() {
    let history = days(|_| 10.0, 60);
    let mut passed = ask(&history, 1_010.0, 1_000.0);
    passed.as_of_ms = 60 * DAY_MS;
    passed.hours.as_mut().unwrap().passed_ms =
        Some(&|now_h| 60 * DAY_MS - ((now_h - 1_000.0) / 10.0) as i64 * DAY_MS);
    assert_eq!(forecast(&passed).p50_ms, Some(59 * DAY_MS));
}

#[test]
fn the_same_seed_gives_the_same_answer() {
    let history = days(|at| (at % 7) as f64 * 3.0, 100);
    let once = forecast(&ask(&history, 0.0, 3_000.0));
    assert_eq!(once, forecast(&ask(&history, 0.0, 3_000.0)));
    assert_ne!(once, forecast(&Ask { seed: 8, ..ask(&history, 0.0, 3_000.0) }));
}
