//! Edges at the logger's inputs, in microseconds, against the instants at which they truly came. The frequencies' half-periods are
//! physics (the outside check J7), how far they stray and how contacts bounce is said where it is drawn.
//! At length: `cargo run --release -p halfglass-tests --bin edges`.

use halfglass_protocol::config::Kind;
use halfglass_tests::edges::aliasing::{Counted, ON_US, SLOW, count};
use halfglass_tests::edges::board::{Watching, Way};
use halfglass_tests::edges::cases::{CLOCK_US, Case, cases, row};
use halfglass_tests::edges::measure::{Measured, measure};
use halfglass_tests::edges::signal::{Pulses, Signal};

const HOLD: Kind = Kind::Pulsed { hold_ms: 200 };

/// A heartbeat of 10 s, the filter's time, and what a look may be late.
const LOST_US_MAX: i64 = 10_000_000 + 1_000_000 + 200_000;

fn check(case: &Case, seed: u64) -> Measured {
    let measured = measure(case, seed);
    let told = format!("{} (seed {seed}):\n{}", case.name, row(case, &measured));
    let Measured { on, off, wrong_starts, above_us_max, short_us_max } = measured;
    assert_eq!(wrong_starts, 0, "{told}");
    assert_eq!((on.count as usize, off.count as usize), (case.runs, case.runs), "{told}");
    // On-edges round up and off-edges down: no edge makes a run longer, but for what the clock cannot tell.
    assert!(on.least_us > -CLOCK_US && off.least_us >= 0, "{told}: {on:?}, {off:?}");
    let (on_us, off_us) = case.bounds_us();
    assert!((on.worst_us as f64) < on_us + CLOCK_US as f64, "{told}");
    assert!((off.worst_us as f64) < off_us + CLOCK_US as f64, "{told}");
    // Never above the truth: within a run, in the hold behind it, shown or after a power cut.
    assert!(above_us_max <= 0, "{told}: {above_us_max} us above the truth");
    assert!(short_us_max <= LOST_US_MAX, "{told}: {short_us_max} us lost in a cut");
    measured
}

#[test]
fn edges_are_stamped_to_a_tenth_and_never_count_what_was_not() {
    for seed in 1..=2 {
        for case in cases(60) {
            check(&case, seed);
        }
    }
}

/// Pulses that no other follows within the hold are noise, however long each is: no start, no time.
#[test]
fn lone_pulses_are_noise() {
    for width in [0.000_01, 0.001, 0.01, 0.03] {
        let mut case = cases(20).remove(0);
        // One pulse in a second and a half.
        case.signal =
            Signal::Pulses(Pulses { hertz: 0.66, per_cycle: 1, width, missing: 0.0, missing_in_a_row: 0 });
        let measured = measure(&case, 3);
        assert_eq!((measured.on.count, measured.wrong_starts), (0, case.runs), "{width}: {measured:?}");
        assert!(measured.above_us_max <= 0, "{width}: {measured:?}");
    }
}

/// A break shorter than the hold is none; a longer one is, a start follows it, and nothing of it is counted.
#[test]
fn a_break_counts_from_the_hold_on() {
    let pulses = Pulses { hertz: 50.0, per_cycle: 2, width: 0.6, missing: 0.0, missing_in_a_row: 0 };
    for (break_us, starts) in [(150_000, 1), (300_000, 11), (900_000, 11)] {
        let mut random = fastrand::Rng::with_seed(4);
        let (mut moves, mut on_us, mut at_us) = (Vec::new(), 0, 10_000_000);
        for stretch in 0..11 {
            let long_us = random.u64(1_000_000..3_000_000);
            moves.extend(pulses.moves(at_us, at_us + long_us, &mut random));
            on_us += long_us + if starts == 1 && stretch > 0 { break_us } else { 0 };
            at_us += long_us + break_us;
        }
        let mut board = Watching::new(HOLD, Way::Latched);
        board.run_until(at_us + 20_000_000, &mut moves.into_iter().peekable());
        let told = format!("breaks of {break_us} us: {} us of {on_us}", board.total_us());
        assert_eq!(board.starts(), starts, "{told}");
        assert!(board.total_us() <= on_us, "{told}");
        // At each edge the tenth, a half-cycle without a pulse on either side of its middle, and a look.
        assert!(on_us - board.total_us() < u64::from(starts) * 2 * 170_000, "{told}");
    }
}

/// The half-periods go 10, 12 and 80 times into a tenth of a second: samples find one level for ever.
#[test]
fn slow_sampling_of_alternating_current_reads_a_constant() {
    let level = Kind::Contact { debounce_ms: 50 };
    for hertz in [50.0, 60.0, 400.0] {
        // Sampled: never a change, so never a pulse; as a level all or nothing, as chance has it.
        assert_eq!(count(hertz, 0.6, SLOW, HOLD, 20), Counted { least_us: 0, most_us: 0 }, "{hertz} Hz");
        let by_level = count(hertz, 0.6, SLOW, level, 20);
        assert_eq!(by_level.least_us, 0, "{hertz} Hz");
        assert!(by_level.most_us >= ON_US - 300_000, "{hertz} Hz: {by_level:?}");
        // Latched, the same current is counted whatever its phase.
        let latched = count(hertz, 0.6, Way::Latched, HOLD, 20);
        assert!(latched.least_us >= ON_US - 300_000 && latched.most_us <= ON_US, "{hertz} Hz: {latched:?}");
    }
}
