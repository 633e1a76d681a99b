//! The ship's time as clock anchors: sentences read beside another reader of them, and from a crystal that is off to dates that
//! hold the truth.

use halfglass::timeline::Timeline;
use halfglass::timeline::dating::Dating;
use halfglass_firmware::sentence::{FIRST_YEAR, Listener, parse};
use halfglass_protocol::record::{Anchor, ClockSource, Record};
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use halfglass_tests::asking::pull_all;
use nmea::ParseResult;
use proptest::prelude::*;

const HOUR_MS: f64 = 3_600_000.0;
/// When the logger is switched on: 1 March 2027, 08:00 UTC.
const BEGIN_MS: f64 = 1_803_888_000_000.0;

/// A sentence with its check sum.
fn sealed(content: &str) -> String {
    let sum = content.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${content}*{sum:02X}")
}

proptest! {
    /// The crate `nmea` 0.8.0, which reads by other means (nom and chrono), says the same of sound sentences.
    #[test]
    fn another_reader_says_the_same(
        ms in 1_767_225_600_000i64..2_700_000_000_000, decimals in 0usize..4, speed in 0u16..10_000,
    ) {
        let at = jiff::Timestamp::from_millisecond(ms).unwrap();
        let (date, time) = (at.strftime("%d,%m,%Y"), at.strftime("%H%M%S"));
        let fraction = format!("{:03}", ms % 1_000);
        let fraction = if decimals == 0 { String::new() } else { format!(".{}", &fraction[..decimals]) };
        let (whole, tenth) = (speed / 10, speed % 10);
        let zda = sealed(&format!("GPZDA,{time}{fraction},{date},00,00"));
        let rmc = sealed(&format!(
            "INRMC,{time}{fraction},A,4807.038,N,01131.000,E,{whole:03}.{tenth},084.4,{},003.1,W,A",
            at.strftime("%d%m%y")
        ));
        let vtg = sealed(&format!("INVTG,054.7,T,034.4,M,{whole:03}.{tenth},N,010.2,K,D"));
        for sentence in [zda, rmc, vtg] {
            let said = parse(sentence.as_bytes(), FIRST_YEAR).expect("a sound sentence");
            let (utc, knots) = match nmea::parse_str(&sentence).expect("a sound sentence") {
                ParseResult::ZDA(zda) => (zda.utc_date_time(), None),
                ParseResult::RMC(rmc) => {
                    let utc = rmc.fix_date.zip(rmc.fix_time).map(|(date, time)| date.and_time(time));
                    (utc, rmc.speed_over_ground)
                }
                ParseResult::VTG(vtg) => (None, vtg.speed_over_ground),
                other => panic!("{other:?}"),
            };
            prop_assert_eq!(said.utc.map(|utc| utc.ms as i64), utc.map(|utc| utc.and_utc().timestamp_millis()));
            let tenths = knots.map(|knots| (knots * 10.0).round() as u16);
            prop_assert_eq!(said.speed_tenth_knots, tenths);
        }
    }
}

/// A logger's clock that runs wrong, hour by hour.
struct Crystal {
    /// Real milliseconds at the beginning of each hour of the logger's own.
    hours: Vec<f64>,
}

impl Crystal {
    /// By so many parts in a million at each hour: positive when the logger's hour lasts longer than an hour.
    fn new(hours: usize, ppm: impl Fn(f64) -> f64) -> Crystal {
        let mut at = BEGIN_MS;
        let mut all = vec![at];
        for hour in 0..hours {
            at += HOUR_MS * (1.0 + ppm(hour as f64) * 1e-6);
            all.push(at);
        }
        Crystal { hours: all }
    }

    /// The real instant (UTC, milliseconds since 1970) at which the logger's clock shows so many milliseconds.
    fn truth(&self, own_ms: f64) -> f64 {
        let hour = ((own_ms / HOUR_MS) as usize).min(self.hours.len() - 2);
        let (from, to) = (self.hours[hour], self.hours[hour + 1]);
        from + (to - from) * (own_ms / HOUR_MS - hour as f64)
    }

    /// The other way round.
    fn own(&self, truth_ms: f64) -> f64 {
        let hour = self.hours.partition_point(|at| *at <= truth_ms).clamp(1, self.hours.len() - 1) - 1;
        let (from, to) = (self.hours[hour], self.hours[hour + 1]);
        HOUR_MS * (hour as f64 + (truth_ms - from) / (to - from))
    }
}

/// A tuning fork of the worst kind: cut 20 ppm off, aged 5 ppm a year, its parabola of 0.0436 ppm/C2 about 25 C; in a mast house
/// between -15 and 55 C, by day and by season (two makers' data sheets of 32 kHz crystals: tolerance +-20 ppm, ageing up to 5 ppm
/// in the first year, parabola 0.035 +- 0.0086 ppm/C2 about 25 C). Never further off than 95 ppm.
fn tuning_fork(hour: f64) -> f64 {
    let day = (hour / 24.0 * std::f64::consts::TAU).sin();
    let season = (hour / 8_766.0 * std::f64::consts::TAU).cos();
    let celsius = 20.0 + 15.0 * day - 20.0 * season;
    20.0 + 5.0 * hour / 8_766.0 + 0.0436 * (celsius - 25.0).powi(2)
}

/// Anchors from a host's pulls: its clock is right to a second.
fn anchors(crystal: &Crystal, every_h: usize, random: &mut fastrand::Rng) -> Vec<Anchor> {
    let at = |hour: usize| {
        let own_ms = hour as f64 * HOUR_MS + 5_000.0;
        let off_ms = (random.f64() - 0.5) * 2.0 * 1_000.0;
        Anchor {
            session: 1,
            uptime_tenths: (own_ms / 100.0) as u64,
            utc_ms: (crystal.truth(own_ms) + off_ms) as u64,
            uncertainty_ms: 1_101,
            source: ClockSource::Host,
        }
    };
    (0..crystal.hours.len() - 1).step_by(every_h).map(at).collect()
}

/// How far off the truth lies from what is said, at worst, and how wide what is said is: both in milliseconds. Positive: the
/// truth lies outside.
fn worst(crystal: &Crystal, dating: &Dating, hours: usize) -> (f64, f64) {
    let (mut outside, mut width) = (f64::MIN, 0.0f64);
    for quarter in 0..hours * 4 {
        let own_ms = quarter as f64 * HOUR_MS / 4.0;
        let when = dating.when(1, (own_ms / 100.0) as u64);
        let truth_ms = crystal.truth(own_ms);
        outside = outside.max(when.lo_ms as f64 - truth_ms).max(truth_ms - when.hi_ms as f64);
        width = width.max((when.hi_ms - when.lo_ms) as f64);
    }
    (outside, width)
}

/// With the worst crystal there is, either way round, every instant is where the timeline says, from an anchor a day to an anchor
/// a month. By hand: 100 ppm are 8.64 s a day; between two anchors a month apart the middle is 15 days from either, 129.6 s.
#[test]
fn the_truth_lies_within_what_anchors_leave_open() {
    let hours = 400 * 24;
    for sign in [1.0, -1.0] {
        let crystal = Crystal::new(hours, |hour| sign * tuning_fork(hour));
        let off_s = (crystal.hours[hours] - BEGIN_MS - hours as f64 * HOUR_MS) / 1_000.0;
        for (name, every_h, width_s_max) in
            [("a day", 24, 2.0 * (1.1 + 4.4)), ("a month", 30 * 24, 2.0 * (1.1 + 130.0))]
        {
            let mut random = fastrand::Rng::with_seed(7);
            let anchors = anchors(&crystal, every_h, &mut random);
            let dating = Dating::new(&anchors, i64::MAX / 8);
            // Up to the last anchor: behind it the distance grows on.
            let (outside, width) = worst(&crystal, &dating, (anchors.len() - 1) * every_h);
            println!(
                "anchors {name} apart, clock off by {off_s:.0} s in 400 days: truth {:.2} s inside at worst, widest {:.1} s",
                -outside / 1_000.0,
                width / 1_000.0
            );
            assert!(outside <= 0.0, "{name}: {outside} ms outside");
            assert!(width / 1_000.0 <= width_s_max, "{name}: {width} ms wide");
            assert!(dating.contradictions().is_empty());
            // And without any later anchor.
            let alone = Dating::new(&anchors[..1], i64::MAX / 8);
            assert!(worst(&crystal, &alone, hours).0 <= 0.0);
        }
    }
}

/// A clock further off than the bound is seen: its anchors contradict each other.
#[test]
fn a_clock_that_is_further_off_than_any_crystal_is_seen() {
    let crystal = Crystal::new(90 * 24, |_| 150.0);
    let anchors = anchors(&crystal, 30 * 24, &mut fastrand::Rng::with_seed(7));
    let dating = Dating::new(&anchors, i64::MAX / 8);
    assert_eq!(dating.contradictions().len(), anchors.len() - 1);
    let alone = Dating::new(&anchors[..1], i64::MAX / 8);
    assert!(worst(&crystal, &alone, 90 * 24).0 > 0.0, "this test cannot fail");
}

/// The whole way: a talker whose sentences come up to a second late, now and then garbled, a listener on the real firmware, its
/// history pulled, and every instant dated.
#[test]
fn from_sentences_to_dates_that_hold_the_truth() {
    const DAYS: usize = 40;
    let mut random = fastrand::Rng::with_seed(20_261_126);
    let crystal = Crystal::new((DAYS + 1) * 24, tuning_fork);
    let mut flash = Flash::<4, 1_024>::new(LAYOUT_PAGES, 1);
    flash.power_on(None);
    let mut board = Powered::<_, 8>::on(flash, LAYOUT, board(1), 0b1);
    let mut listener = Listener::new();
    let (mut sent, mut garbled) = (0, 0);
    // The plotter that sends them is on for half a minute of every third hour.
    for hour in (0..DAYS * 24).step_by(3) {
        let first_s = crystal.truth(hour as f64 * HOUR_MS + 3_000.0) / 1_000.0;
        for second in 0..30 {
            let utc_s = first_s.ceil() as i64 + second;
            let at = jiff::Timestamp::from_second(utc_s).unwrap();
            let mut text =
                format!("{}\r\n", sealed(&at.strftime("GPZDA,%H%M%S.00,%d,%m,%Y,00,00").to_string()))
                    .into_bytes();
            sent += 1;
            if random.u8(..) < 3 {
                let place = random.usize(..text.len());
                text[place] ^= 1 << random.u8(..8);
                garbled += 1;
            }
            let late_ms = random.f64() * 700.0;
            let mut own_ms = crystal.own(utc_s as f64 * 1_000.0 + late_ms);
            for byte in text {
                board.run_until(own_ms as u64);
                listener.hear(&mut board.logger, byte, own_ms as u64, own_ms as u64);
                // 4,800 bit/s: a byte takes 2.08 ms.
                own_ms += 2.083;
            }
        }
    }
    board.run_until(((DAYS * 24) as f64 * HOUR_MS) as u64);
    let records: Vec<(u32, Record)> = pull_all(&mut board)
        .into_iter()
        .map(|(index, bytes)| (index, Record::decode(&bytes).expect("a sound record")))
        .collect();
    let line = Timeline::build(&records);
    let errors: Vec<f64> = line
        .anchors
        .iter()
        .map(|anchor| (anchor.utc_ms as f64 - crystal.truth(anchor.uptime_tenths as f64 * 100.0)).abs())
        .collect();
    let worst_ms = errors.iter().fold(0.0, |worst: f64, error| worst.max(*error));
    println!(
        "{sent} sentences, {garbled} garbled: {} anchors, off by {worst_ms:.0} ms at worst",
        errors.len()
    );
    // One a day.
    assert_eq!(line.anchors.len(), DAYS);
    for (anchor, error_ms) in line.anchors.iter().zip(&errors) {
        assert_eq!(anchor.source, ClockSource::Ship);
        assert!(*error_ms <= f64::from(anchor.uncertainty_ms), "{anchor:?} is off by {error_ms} ms");
    }
    let dating = Dating::new(&line.anchors, i64::MAX / 8);
    assert!(dating.contradictions().is_empty());
    let (outside, width) = worst(&crystal, &dating, DAYS * 24);
    println!("truth {:.2} s inside at worst, widest {:.1} s", -outside / 1_000.0, width / 1_000.0);
    assert!(outside <= 0.0, "{outside} ms outside");
}
