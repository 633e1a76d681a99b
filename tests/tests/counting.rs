//! From levels and pulses to totals, against plain arithmetic on the script that drove them.

use halfglass_firmware::ports::{Layout, Region};
use halfglass_protocol::config::{Config, Kind, Role};
use halfglass_protocol::record::{Record, Totals};
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use halfglass_tests::asking::pull_all;

type Chip = Flash<4, 1024>;

fn bench(config: &Config, layout: Layout) -> Powered<Chip, 8> {
    let mut flash = Chip::new(LAYOUT_PAGES, 1);
    halfglass_firmware::provision(&mut flash, &layout, config).expect("a good flash");
    Powered::on(flash, layout, board(1), 0)
}

fn contacts(debounce_ms: u16) -> Config {
    let mut config = Config::as_in_guide();
    for line in &mut config.lines {
        line.kind = Kind::Contact { debounce_ms };
    }
    config.warm_up_s = [180, 0];
    config
}

/// On-time within rounding (up, then down, to tenths: less than 0.2 s a run), never above; starts exact.
fn assert_counted(totals: &Totals, line: usize, true_ms: u64, runs: u32) {
    let logged_ms = totals.on_tenths[line] * 100;
    assert!(logged_ms <= true_ms, "line {line}: logged {logged_ms} ms of {true_ms}");
    let lost_ms = true_ms - logged_ms;
    assert!(lost_ms < 200 * u64::from(runs) + 1, "line {line}: lost {lost_ms} ms in {runs} runs");
    assert_eq!(totals.starts[line], runs, "line {line}: starts");
}

/// Random edges on five lines at once, each at least 30 ms behind the line's last, often many in one tenth.
#[test]
fn random_edges() {
    for seed in 0..40 {
        let mut random = fastrand::Rng::with_seed(seed);
        let mut bench = bench(&contacts(20), LAYOUT);
        let (mut on_ms, mut runs, mut moved_ms) = ([0; 5], [0; 5], [0; 5]);
        let mut levels = 0u8;
        let longest_ms = *random.choice(&[60, 400, 5_000, 300_000]).expect("some");
        for _ in 0..2_000 {
            let before_ms = bench.now_ms();
            bench.run_until(before_ms + random.u64(1..longest_ms));
            for (line, on_ms) in on_ms.iter_mut().enumerate() {
                *on_ms += u64::from(levels >> line & 1) * (bench.now_ms() - before_ms);
            }
            let line = random.usize(0..5);
            if bench.now_ms() - moved_ms[line] >= 30 {
                moved_ms[line] = bench.now_ms();
                levels ^= 1 << line;
                runs[line] += u32::from(levels >> line & 1);
                bench.set_levels(levels);
            }
        }
        // All off, and time for the last edges to prove themselves.
        bench.run_until(bench.now_ms() + 30);
        for (line, on_ms) in on_ms.iter_mut().enumerate() {
            *on_ms += u64::from(levels >> line & 1) * 30;
        }
        bench.set_levels(0);
        bench.run_until(bench.now_ms() + 20_000);
        bench.look();
        let totals = bench.logger.totals();
        for line in 0..5 {
            assert_counted(&totals, line, on_ms[line], runs[line]);
        }
        assert_eq!(totals.uptime_tenths, bench.now_ms() / 100, "uptime");
        assert_eq!(bench.logger.flash().violations, []);
    }
}

/// A contact that bounces for 1 to 20 ms at each change counts as one that does not.
#[test]
fn bounce() {
    let mut random = fastrand::Rng::with_seed(5);
    let mut bench = bench(&contacts(50), LAYOUT);
    let (mut on_ms, mut runs) = (0, 0);
    for _ in 0..300 {
        for level in [1u8, 0] {
            let change_ms = bench.now_ms();
            let bounce_ms = random.u64(1..=20);
            let mut now = level;
            while bench.now_ms() < change_ms + bounce_ms {
                bench.set_levels(now);
                now ^= 1;
                bench.run_until(bench.now_ms() + random.u64(1..=3));
            }
            bench.set_levels(level);
            if level == 1 {
                // On counts from where it stands still, off from where it first moves.
                runs += 1;
                on_ms += bench.now_ms() - change_ms;
            }
            let stay_ms = random.u64(500..30_000);
            bench.run_until(change_ms + bounce_ms + stay_ms);
            if level == 1 {
                on_ms += stay_ms;
            }
        }
    }
    bench.run_until(bench.now_ms() + 20_000);
    bench.look();
    let totals = bench.logger.totals();
    let logged_ms = totals.on_tenths[0] * 100;
    assert!(logged_ms <= on_ms);
    assert!(on_ms - logged_ms < u64::from(runs) * (200 + 25), "{} ms lost in {runs} runs", on_ms - logged_ms);
    assert_eq!(totals.starts[0], runs);
}

/// Alternating current through a full-wave opto: half periods of 10, 8.33 and 1.25 ms at 50, 60 and 400 Hz (physics; checks J7).
#[test]
fn alternating_current() {
    for (hertz, period_ms) in [(50, 10.0), (60, 1_000.0 / 120.0), (400, 1.25)] {
        let mut config = Config::as_in_guide();
        config.lines[3].kind = Kind::Pulsed { hold_ms: 100 };
        let mut bench = bench(&config, LAYOUT);
        let (mut on_ms, mut runs) = (0, 0);
        let mut random = fastrand::Rng::with_seed(hertz);
        for _ in 0..100 {
            bench.run_until(bench.now_ms() + random.u64(300..20_000));
            let from_ms = bench.now_ms();
            bench.set_pulses(3, Some(period_ms));
            bench.run_until(bench.now_ms() + random.u64(500..60_000));
            bench.set_pulses(3, None);
            on_ms += bench.now_ms() - from_ms;
            runs += 1;
        }
        bench.run_until(bench.now_ms() + 5_000);
        bench.look();
        let totals = bench.logger.totals();
        let logged_ms = totals.on_tenths[3] * 100;
        let lost_ms = on_ms - logged_ms;
        println!("{hertz} Hz: {lost_ms} ms lost in {runs} runs, {} ms an edge", lost_ms / (2 * runs));
        assert!(logged_ms <= on_ms, "{hertz} Hz");
        // Rounding to tenths at both ends and one look of 50 ms at the end.
        assert!(lost_ms < runs * 300, "{hertz} Hz: {lost_ms} ms lost in {runs} runs");
        assert_eq!(u64::from(totals.starts[3]), runs, "{hertz} Hz");
    }
}

/// One stray pulse is no run.
#[test]
fn a_lone_pulse_is_noise() {
    let mut config = Config::as_in_guide();
    config.lines[3].kind = Kind::Pulsed { hold_ms: 100 };
    let mut bench = bench(&config, LAYOUT);
    for _ in 0..50 {
        bench.run_until(bench.now_ms() + 5_000);
        bench.set_pulses(3, Some(3.0));
        bench.set_pulses(3, None);
    }
    bench.run_until(bench.now_ms() + 20_000);
    bench.look();
    let totals = bench.logger.totals();
    assert_eq!((totals.on_tenths[3], totals.starts[3]), (0, 0));
}

/// Transmit lost for under 10 s with the heater on is a drop-out; longer, or with the heater off, it is not. Transmit
/// sooner than the warm-up after heater-on is a short warm-up.
#[test]
fn drop_outs_and_short_warm_ups() {
    const SUPPLY: u8 = 1;
    const HEATER: u8 = 2;
    const TRANSMIT: u8 = 4;
    let mut bench = bench(&contacts(50), LAYOUT);
    let mut at = |seconds: f64, levels: u8| {
        bench.run_until((seconds * 1_000.0) as u64);
        bench.set_levels(levels);
    };
    at(10.0, SUPPLY);
    at(20.0, SUPPLY | HEATER);
    // 180 s are stated: 100 s is short.
    at(120.0, SUPPLY | HEATER | TRANSMIT);
    // 9.5 s: a drop-out.
    at(200.0, SUPPLY | HEATER);
    at(209.5, SUPPLY | HEATER | TRANSMIT);
    // 10.5 s: switched to standby.
    at(300.0, SUPPLY | HEATER);
    at(310.5, SUPPLY | HEATER | TRANSMIT);
    // The whole set off and on again: no drop-out, and short once more.
    at(400.0, SUPPLY);
    at(403.0, SUPPLY | HEATER);
    at(405.0, SUPPLY | HEATER | TRANSMIT);
    // Off, and a proper warm-up.
    at(500.0, SUPPLY);
    at(600.0, SUPPLY | HEATER);
    at(790.0, SUPPLY | HEATER | TRANSMIT);
    at(900.0, 0);
    bench.run_until(930_000);
    bench.look();
    let totals = bench.logger.totals();
    assert_eq!(totals.drop_outs, [1, 0]);
    assert_eq!(totals.short_warm_ups, [2, 0]);
    assert_eq!(totals.starts[2], 5);
}

/// A line chattering at 10 Hz for an hour: starts exact, on-time within a tenth of rounding per edge, and no more
/// flash than a few words a heartbeat.
#[test]
fn chatter_is_coalesced() {
    let mut bench = bench(&contacts(10), LAYOUT);
    bench.run_until(3_000);
    let programs_before = bench.logger.flash().counts.programs;
    let (mut on_ms, mut runs) = (0, 0);
    while bench.now_ms() < 3_603_000 {
        bench.set_levels(0b0000_0001);
        bench.run_until(bench.now_ms() + 61);
        on_ms += 61;
        runs += 1;
        bench.set_levels(0);
        bench.run_until(bench.now_ms() + 39);
    }
    bench.run_until(bench.now_ms() + 20_000);
    bench.look();
    let totals = bench.logger.totals();
    assert_counted(&totals, 0, on_ms, runs);
    let words = bench.logger.flash().counts.programs - programs_before;
    println!("{runs} runs cost {words} words");
    // 360 heartbeats of a few words, the day's edges, 40 runs kept singly, a few page heads.
    assert!(words < 360 * 5 + 500 + 40 * 8 + 500, "{words} words");
    let records = pull_all(&mut bench);
    let coalesced =
        |bytes: &Vec<u8>| matches!(Record::decode(bytes), Some(Record::Coalesced { lines: 1, .. }));
    assert!(records.values().any(coalesced), "no coalesced event");
}

/// Spans close at least every 24 h of uptime, and the base and spans add up to the totals.
#[test]
fn spans_add_up() {
    let mut bench = bench(&contacts(50), LAYOUT);
    bench.run_until(10_000);
    for day in 0..40u64 {
        bench.set_levels(0b0000_0111);
        bench.run_until(10_000 + day * 86_400_000 + 50_000_000);
        bench.set_levels(0b0000_0001);
        bench.run_until(10_000 + (day + 1) * 86_400_000);
    }
    let records = pull_all(&mut bench);
    let mut sum = Totals::default();
    let mut longest_tenths = 0;
    for record in records.values().map(|bytes| Record::decode(bytes).expect("a record")) {
        match record {
            Record::Base(totals) => {
                let expected = Totals { session: totals.session, ..sum };
                assert!(sum == Totals::default() || totals == expected, "{totals:?} instead of {expected:?}");
                sum = totals;
            }
            Record::Span(span) => {
                longest_tenths = longest_tenths.max(span.uptime_tenths);
                sum.add(&span);
            }
            Record::Session(session) => sum.session = session.session,
            _ => {}
        }
    }
    assert!(longest_tenths <= 864_000 + 6_000, "a span of {longest_tenths} tenths");
    assert_eq!(sum, bench.logger.totals());
}

/// A region may lie anywhere and need not start at 0.
#[test]
fn regions_may_lie_elsewhere() {
    let layout = Layout {
        journal: Region { start: 100 * 1_024, page_len: 1_024, pages: 8 },
        history: Region { start: 0, page_len: 2_048, pages: 8 },
        config: Region { start: 50 * 1_024, page_len: 1_024, pages: 2 },
    };
    let mut bench = bench(&contacts(50), layout);
    bench.set_levels(1);
    bench.run_until(3_600_000);
    bench.look();
    assert!(bench.logger.totals().on_tenths[0] >= 35_980);
    assert_eq!(bench.logger.config().line_of(Role::Supply, 0), Some(0));
    let image = bench.logger.flash().image();
    assert!(image[16 * 1_024..50 * 1_024].iter().all(|byte| *byte == 0xFF), "written outside its regions");
    assert!(image[52 * 1_024..100 * 1_024].iter().all(|byte| *byte == 0xFF), "written outside its regions");
}
