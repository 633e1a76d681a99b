use super::*;
use crate::timeline::Logger;
use halfglass_protocol::config::Config;
use halfglass_protocol::record::{Anchor, Cause, ClockSource, Record, Session, Span};

const HOUR: u64 = 36_000;
const HOUR_MS: i64 = 3_600_000;
const LINES: [(Role, u8); 2] = [(Role::Heater, 1), (Role::Transmit, 2)];

/// `hours` of uptime with transmit on for `on_h` of them, and a drop-out of the second radar.
fn grown(hours: u64, on_h: u64) -> Record {
    let mut span = Span { uptime_tenths: (hours * HOUR) as u32, ..Span::default() };
    span.on_tenths[2] = (on_h * HOUR) as u32;
    span.starts[2] = 3;
    span.drop_outs[1] = 1;
    Record::Span(span)
}

fn session(number: u32, uptime_h: u64) -> Record {
    Record::Session(Session {
        session: number,
        uptime_tenths: uptime_h * HOUR,
        cause: Cause::Power,
        found_on: 0,
        lost_max_tenths: 100,
        usb_only: false,
    })
}

fn anchor(session: u32, uptime_h: u64, utc_h: u64) -> Record {
    Record::Anchor(Anchor {
        session,
        uptime_tenths: uptime_h * HOUR,
        utc_ms: utc_h * 3_600_000,
        uncertainty_ms: 0,
        source: ClockSource::Host,
    })
}

fn base(session: u32, uptime_h: u64, on_h: u64) -> Record {
    let mut totals = Totals { session, uptime_tenths: uptime_h * HOUR, ..Totals::default() };
    totals.on_tenths[2] = on_h * HOUR;
    Record::Base(totals)
}

fn logger(records: &[Record]) -> Logger {
    let records: Vec<(u32, Record)> = (0..).zip(records.iter().copied()).collect();
    let timeline = Timeline::build(&records);
    let dating = Dating::new(&timeline.anchors, 10_000 * HOUR_MS);
    Logger { timeline, dating }
}

fn alone(logger: &Logger) -> Stretch<'_> {
    Stretch { device_id: 7, logger, from: None, to: None }
}

fn round(hours: f64) -> f64 {
    (hours * 10.0).round() / 10.0
}

/// By hand: anchors at hours 1000 (uptime 0) and 1100 (uptime 40): 60 h dark. Session 1 ran 10 h, session 2 20 h, session
/// 3 10 h: each of the two gaps was 0 to 60 h, both together 60.
#[test]
fn the_dark_of_floating_sessions_adds_up_to_what_is_known_of_it() {
    let logger = logger(&[
        base(1, 0, 0),
        anchor(1, 0, 1_000),
        grown(10, 5),
        session(2, 10),
        grown(20, 5),
        session(3, 30),
        grown(10, 5),
        anchor(3, 40, 1_100),
        session(4, 40),
        grown(5, 0),
    ]);
    let seen = log(&[alone(&logger)], &LINES, 9_999 * HOUR_MS).log;
    let dark: Vec<f64> = seen.points.iter().map(|point| round(point.dark_h)).collect();
    assert_eq!(dark[..6], [0.0, 0.0, 30.0, 0.0, 30.0, 0.0]);
    assert!(dark[6] > 8_000.0, "behind the last anchor only the present bounds it: {dark:?}");
    let lost: Vec<f64> =
        seen.points.iter().map(|point| point.lost_h * TENTHS_PER_HOUR).map(f64::round).collect();
    assert_eq!(lost, [0.0, 0.0, 100.0, 0.0, 100.0, 0.0, 100.0, 0.0]);
    assert_eq!(seen.points.last().map(|point| round(point.on_h[2])), Some(15.0));
    assert_eq!(seen.wired, [false, true, true, false, false]);
}

/// By hand: anchored on both sides, one gap is known by itself.
#[test]
fn a_gap_between_anchored_sessions_stands_by_itself() {
    let logger = logger(&[
        base(1, 0, 0),
        anchor(1, 0, 1_000),
        grown(10, 0),
        session(2, 10),
        anchor(2, 10, 1_013),
        grown(10, 0),
        session(3, 20),
        anchor(3, 20, 1_100),
        grown(10, 0),
    ]);
    let seen = log(&[alone(&logger)], &LINES, 9_999 * HOUR_MS).log;
    let dark: Vec<f64> = seen.points.iter().map(|point| round(point.dark_h)).collect();
    assert_eq!(dark, [0.0, 0.0, 3.0, 0.0, 77.0, 0.0]);
    let seen = log(&[alone(&logger)], &LINES, 1_015 * HOUR_MS).log;
    assert_eq!(seen.points.len(), 3, "what is dated later is not seen");
}

/// By hand: logger A counts 5 h by hour 1010; logger B, which had 700 h from elsewhere, is put in at hour 1012 and counts
/// 4 h more by hour 1030.
#[test]
fn another_logger_s_totals_go_on() {
    let a = logger(&[base(1, 0, 0), anchor(1, 0, 1_000), grown(10, 5)]);
    let b = logger(&[
        base(8, 2_000, 690),
        anchor(8, 2_000, 1_000),
        grown(10, 10),
        session(9, 2_010),
        anchor(9, 2_010, 1_014),
        grown(16, 4),
    ]);
    let at = Moment::exact(1_012 * HOUR_MS);
    let stretches = [
        Stretch { device_id: 1, logger: &a, from: None, to: Some(at) },
        Stretch { device_id: 2, logger: &b, from: Some(at), to: None },
    ];
    let seen = log(&stretches, &LINES, 9_999 * HOUR_MS);
    let points: Vec<(i64, f64, f64)> = seen
        .log
        .points
        .iter()
        .map(|point| (point.at.best_ms() / HOUR_MS, round(point.on_h[2]), round(point.dark_h)))
        .collect();
    assert_eq!(points, [(1_000, 0.0, 0.0), (1_010, 5.0, 0.0), (1_014, 5.0, 4.0), (1_030, 9.0, 0.0)]);
    assert_eq!(round(seen.unwatched_h), 4.0);
    // Starts go on likewise: three in each stretch with records.
    let starts: Vec<f64> = seen.starts.iter().map(|starts| starts.all[2]).collect();
    assert_eq!(starts, [0.0, 3.0, 3.0, 6.0]);
}

#[test]
fn drop_outs_are_those_of_the_radar_that_the_transmit_line_belongs_to() {
    let mut config = Config::as_in_guide();
    config.lines[2].radar = 1;
    let records = [base(1, 0, 0), Record::Config(config), anchor(1, 0, 1_000), grown(10, 5), grown(10, 5)];
    let drop_outs = |records: &[Record]| {
        let logger = logger(records);
        log(&[alone(&logger)], &LINES, 9_999 * HOUR_MS).log.points.last().map(|point| point.drop_outs)
    };
    assert_eq!(drop_outs(&records), Some(2));
    config.lines[2].radar = 0;
    assert_eq!(drop_outs(&[records[0], Record::Config(config), records[2], records[3]]), Some(0));
}

#[test]
fn without_an_anchor_nothing_can_be_placed() {
    let logger = logger(&[base(1, 0, 0), grown(10, 5)]);
    assert!(log(&[alone(&logger)], &LINES, 9_999 * HOUR_MS).log.points.is_empty());
    assert!(log(&[], &LINES, 0).log.points.is_empty());
}
