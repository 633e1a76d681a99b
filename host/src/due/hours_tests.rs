use super::*;
use halfglass_protocol::record::{Anchor, Cause, ClockSource, Record, Session, Span};
use proptest::prelude::*;

const HOUR: u64 = 36_000;
const HOUR_MS: i64 = 3_600_000;
const INPUT: usize = 2;

fn base(uptime_h: u64, on_h: u64, session: u32) -> Record {
    let mut totals = Totals { uptime_tenths: uptime_h * HOUR, session, ..Totals::default() };
    totals.on_tenths[INPUT] = on_h * HOUR;
    Record::Base(totals)
}

fn span(uptime_h: u32, on_h: u32) -> Record {
    let mut span = Span { uptime_tenths: uptime_h * 36_000, ..Span::default() };
    span.on_tenths[INPUT] = on_h * 36_000;
    span.starts[INPUT] = 1;
    Record::Span(span)
}

fn session(number: u32, uptime_h: u64, lost_max_tenths: u32) -> Record {
    Record::Session(Session {
        session: number,
        uptime_tenths: uptime_h * HOUR,
        cause: Cause::Power,
        found_on: 0,
        lost_max_tenths,
        usb_only: false,
    })
}

/// An anchor so sure that it does not matter, at an hour of UTC.
fn anchor(session: u32, uptime_h: u64, at_h: u64) -> Record {
    let utc_ms = at_h * 3_600_000;
    Record::Anchor(Anchor {
        session,
        uptime_tenths: uptime_h * HOUR,
        utc_ms,
        uncertainty_ms: 0,
        source: ClockSource::Host,
    })
}

fn log(records: &[Record]) -> (Timeline, Dating) {
    let records: Vec<(u32, Record)> = (0..).zip(records.iter().copied()).collect();
    let line = Timeline::build(&records);
    let dating = Dating::new(&line.anchors, i64::MAX / 8);
    (line, dating)
}

fn asked(from_h: i64, as_of_h: i64, fed_from_radar: bool, rate: f64) -> Since {
    Since { input: INPUT, from_ms: from_h * HOUR_MS, as_of_ms: as_of_h * HOUR_MS, fed_from_radar, rate }
}

/// Low, best and high to a tenth of an hour: the clock's 100 ppm stay below that here.
fn tenths(hours: Interval) -> (f64, f64, f64) {
    let round = |h: f64| (h * 10.0).round() / 10.0;
    (round(hours.low), round(hours.best), round(hours.high))
}

/// By hand. Days 1 to 3 of one session, on for 6, 12 and 3 h. From hour 24 (a record's edge) to hour 72: 12 + 3 = 15.
#[test]
fn between_records_the_hours_are_exact() {
    let (line, dating) =
        log(&[base(0, 0, 1), session(1, 0, 0), span(24, 6), span(24, 12), span(24, 3), anchor(1, 72, 72)]);
    let growth = since(&line, &dating, &asked(24, 72, true, 0.0)).unwrap();
    assert_eq!(tenths(growth.hours), (15.0, 15.0, 15.0));
    assert_eq!((growth.cuts, growth.tail_h > 0.1, growth.before_h > 0.1), (0, false, false));
}

/// By hand. The same, from hour 36, in the middle of the second day with its 12 h: the first half can have had 12 of them
/// or none, so from 0 to 12 of them count, 6 by the straight line. And 3 of the third day.
#[test]
fn inside_a_record_the_bracket_is_limited_by_what_can_have_run() {
    let (line, dating) =
        log(&[base(0, 0, 1), session(1, 0, 0), span(24, 6), span(24, 12), span(24, 3), anchor(1, 72, 72)]);
    let growth = since(&line, &dating, &asked(36, 72, true, 0.0)).unwrap();
    assert_eq!(tenths(growth.hours), (3.0, 9.0, 15.0));
    // From hour 42: 6 h of the day are left, so at most 6 of the 12 fell behind it, and at most 12 before.
    let growth = since(&line, &dating, &asked(42, 72, true, 0.0)).unwrap();
    assert_eq!(tenths(growth.hours), (3.0, 6.0, 9.0));
}

/// By hand. The last record is 10 h old at a rate of 0.4: nothing, 4 h, 10 h on top of 21.
#[test]
fn time_since_the_last_record_is_nothing_usual_or_all() {
    let (line, dating) =
        log(&[base(0, 0, 1), session(1, 0, 0), span(24, 6), span(24, 12), span(24, 3), anchor(1, 72, 72)]);
    let growth = since(&line, &dating, &asked(0, 82, true, 0.4)).unwrap();
    assert_eq!(tenths(growth.hours), (21.0, 25.0, 31.0));
    // As of hour 48 the third day is not seen at all.
    let growth = since(&line, &dating, &asked(0, 48, true, 0.4)).unwrap();
    assert_eq!(tenths(growth.hours), (18.0, 18.0, 18.0));
}

/// By hand. Put in 10 h before the first record, at a rate of 0.5: nothing, 5 h, 10 h on top of 6.
#[test]
fn time_before_the_first_record_is_nothing_usual_or_all() {
    let (line, dating) = log(&[base(0, 0, 1), session(1, 0, 0), span(24, 6), anchor(1, 24, 124)]);
    let growth = since(&line, &dating, &asked(90, 124, true, 0.5)).unwrap();
    assert_eq!(tenths(growth.hours), (6.0, 11.0, 16.0));
}

/// By hand. Session 1 ran hours 0 to 10 (8 on), then dark to hour 30, session 2 to hour 40 (5 on); an anchor in each.
/// Fed from the radar: 13. Fed otherwise, at a rate of 0.5: 13, 13 + 10, 13 + 20.
#[test]
fn dark_time_counts_unless_the_logger_is_fed_from_the_radar() {
    let records = [
        base(0, 0, 1),
        session(1, 0, 0),
        anchor(1, 5, 5),
        span(10, 8),
        session(2, 10, 0),
        anchor(2, 12, 32),
        span(10, 5),
    ];
    let (line, dating) = log(&records);
    let growth = since(&line, &dating, &asked(0, 40, true, 0.5)).unwrap();
    assert_eq!(tenths(growth.hours), (13.0, 13.0, 13.0));
    assert!((growth.dark_h - 20.0).abs() < 0.1, "{}", growth.dark_h);
    let growth = since(&line, &dating, &asked(0, 40, false, 0.5)).unwrap();
    assert_eq!(tenths(growth.hours), (13.0, 23.0, 33.0));
    // Put in at hour 20, in the dark: 10 h of it are left.
    let growth = since(&line, &dating, &asked(20, 40, false, 0.5)).unwrap();
    assert_eq!(tenths(growth.hours), (5.0, 10.0, 15.0));
}

/// By hand. Two cuts of at most 1,800 s (18,000 tenths) each: up to 1 h more, and at a rate of 0.6 likeliest 0.3.
#[test]
fn what_power_cuts_can_have_taken_is_on_top() {
    let records = [
        base(0, 0, 1),
        session(1, 0, 0),
        anchor(1, 0, 0),
        span(10, 8),
        session(2, 10, 18_000),
        span(10, 5),
        session(3, 20, 18_000),
        anchor(3, 20, 20),
    ];
    let (line, dating) = log(&records);
    let growth = since(&line, &dating, &asked(0, 20, true, 0.6)).unwrap();
    assert_eq!((growth.cuts, growth.lost_h), (2, 1.0));
    assert_eq!(tenths(growth.hours), (13.0, 13.3, 14.0));
}

/// By hand. Starts: one in each of three records. From hour 36, in the second record: 1, or 2. From hour 24, where the clock
/// leaves it open by seconds in which record that is: 1 to 3, likeliest 2.
#[test]
fn starts_are_bracketed_like_hours() {
    let (line, dating) =
        log(&[base(0, 0, 1), session(1, 0, 0), span(24, 6), span(24, 12), span(24, 3), anchor(1, 72, 72)]);
    let starts = |from_h, as_of_h| {
        let starts = starts_since(&line, &dating, &asked(from_h, as_of_h, true, 0.0), 1.0, 4.0).unwrap();
        (starts.low, starts.best, starts.high)
    };
    let (low, best, high) = starts(24, 72);
    assert!(low == 1.0 && high == 3.0 && (best - 2.0).abs() < 0.01, "{best}");
    let (low, best, high) = starts(36, 72);
    assert!(low == 1.0 && high == 2.0 && (low..=high).contains(&best));
    // Two days without a record: nothing, one a day, four a day as on the busiest.
    let (low, _, high) = starts(36, 120);
    assert!(low == 1.0 && (high - 10.0).abs() < 0.1, "{low} {high}");
}

/// A true history: real time in milliseconds, a line that goes on and off, a logger that is powered at times and whose
/// clock is off by up to 100 ppm. The records are made from it as the logger makes them.
#[derive(Clone, Debug)]
struct Truth {
    /// On-periods of the line, in real time.
    on: Vec<(i64, i64)>,
    records: Vec<Record>,
    end_ms: i64,
}

fn overlap_ms(on: &[(i64, i64)], from_ms: i64, to_ms: i64) -> i64 {
    on.iter().map(|(a, b)| (b.min(&to_ms) - a.max(&from_ms)).max(0)).sum()
}

#[derive(Clone, Debug)]
struct Plan {
    /// Lengths of off and on, in minutes.
    pattern: Vec<(u16, u16)>,
    /// Lengths of powered and dark, in minutes; does a pull fall into it; does it end in a loss, in seconds.
    sessions: Vec<(u16, u16, bool, u8)>,
    drift_ppm: i8,
    fed: bool,
    anchor_error_ms: i16,
}

fn truth(plan: &Plan) -> Truth {
    let minute = 60_000;
    let mut sessions = Vec::new();
    let mut at = 0;
    for (powered, dark, pulled, lost_s) in &plan.sessions {
        let end = at + i64::from(*powered).max(5) * minute;
        sessions.push((at, end, *pulled, i64::from(*lost_s % 10) * 1_000));
        at = end + i64::from(*dark) * minute;
    }
    let end_ms = at;
    let mut on = Vec::new();
    let mut at = 0;
    for (off, run) in plan.pattern.iter().cycle().take(4_000) {
        let from = at + i64::from(*off).max(1) * minute;
        at = from + i64::from(*run).max(1) * minute;
        if from >= end_ms {
            break;
        }
        on.push((from, at.min(end_ms)));
    }
    if plan.fed {
        // Fed from the radar: nothing runs while the logger is dark.
        let lit = |(from, to): (i64, i64)| {
            sessions.iter().map(move |(a, b, ..)| (from.max(*a), to.min(*b))).filter(|(a, b)| a < b)
        };
        on = on.into_iter().flat_map(lit).collect();
    }
    let own = |ms: i64| (ms as f64 * (1.0 + f64::from(plan.drift_ppm) * 1e-6) / 100.0).floor() as u64;
    let mut records = Vec::new();
    let mut totals = Totals::default();
    for (number, (start, end, pulled, lost_ms)) in (1..).zip(&sessions) {
        totals.session = number;
        if number == 1 {
            records.push(Record::Base(totals));
        }
        records.push(Record::Session(Session {
            session: number,
            uptime_tenths: totals.uptime_tenths,
            cause: Cause::Power,
            found_on: 0,
            lost_max_tenths: if number == 1 { 0 } else { 110 },
            usb_only: false,
        }));
        let from_uptime = totals.uptime_tenths;
        let committed_end = end - lost_ms;
        let mut at = *start;
        while at < committed_end {
            let next = (at + 1_440 * minute).min(committed_end);
            let mut span =
                Span { uptime_tenths: (own(next - start) - own(at - start)) as u32, ..Span::default() };
            let on_ms = overlap_ms(&on, at, next);
            span.on_tenths[INPUT] = (own(on_ms) as u32).min(span.uptime_tenths);
            totals.add(&span);
            records.push(Record::Span(span));
            at = next;
        }
        if *pulled || number as usize == sessions.len() {
            let middle = start + (committed_end - start) / 2;
            records.push(Record::Anchor(Anchor {
                session: number,
                uptime_tenths: from_uptime + own(middle - start),
                utc_ms: (1_000_000_000_000 + middle + i64::from(plan.anchor_error_ms)) as u64,
                uncertainty_ms: 2_000,
                source: ClockSource::Host,
            }));
        }
    }
    Truth { on, records, end_ms }
}

fn plans() -> impl Strategy<Value = Plan> {
    (
        prop::collection::vec((1u16..2_000, 1u16..3_000), 1..8),
        prop::collection::vec((5u16..9_000, 1u16..3_000, any::<bool>(), any::<u8>()), 1..12),
        -100i8..=100,
        any::<bool>(),
        -1_900i16..1_900,
    )
        .prop_map(|(pattern, sessions, drift_ppm, fed, anchor_error_ms)| Plan {
            pattern,
            sessions,
            drift_ppm,
            fed,
            anchor_error_ms,
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// Whatever happened, the true hours lie between low and high: for any fitting, any date asked for, with dark
    /// time, floating sessions, drift, losses and clock errors.
    #[test]
    fn the_truth_lies_between_low_and_high(
        plan in plans(),
        from_share in -0.1f64..1.0,
        to_share in 0.0f64..1.2,
        rate in 0.0f64..1.0,
        lost_records in prop::collection::vec(1usize..40, 0..3),
    ) {
        let truth = truth(&plan);
        let from_ms = (truth.end_ms as f64 * from_share) as i64;
        let as_of_ms = from_ms + ((truth.end_ms - from_ms) as f64 * to_share) as i64;
        let mut records: Vec<(u32, Record)> = (0..).zip(truth.records.iter().copied()).collect();
        for lost in lost_records {
            // Anything but the first base can be lost; what is behind it waits for the next base, which never comes here.
            if lost < records.len() {
                records.remove(lost);
            }
        }
        let line = Timeline::build(&records);
        let epoch_ms = 1_000_000_000_000;
        let dating = Dating::new(&line.anchors, epoch_ms + 2 * truth.end_ms + 1_000_000);
        let asked = Since {
            input: INPUT,
            from_ms: epoch_ms + from_ms,
            as_of_ms: epoch_ms + as_of_ms,
            fed_from_radar: plan.fed,
            rate,
        };
        if let Some(growth) = since(&line, &dating, &asked) {
            let true_h = overlap_ms(&truth.on, from_ms, as_of_ms) as f64 / MS_PER_HOUR;
            let Interval { low, best, high } = growth.hours;
            // Clock rounding of one tenth a record is no loss that the logger admits to in this model.
            let slack = 0.1 * truth.records.len() as f64 / 3_600.0;
            prop_assert!(low - slack <= true_h && true_h <= high + slack, "{low} <= {true_h} <= {high}: {growth:?}");
            prop_assert!(low <= best && best <= high);
        }
    }
}
