//! Loggers on flash images that nobody wrote, or that were damaged in ways no power cut can: random bytes, bits flipped, pages
//! swapped or copied, erases that stopped midway, and images whose every check was made to match. What must hold for each
//! is in `halfglass_sim::ordeal`: no panic, no loop (flash operations of every call counted), totals within what the format can
//! say, commits that survive the next cut, records whole or empty and unchanged, a configuration that can be written.

use halfglass_firmware::ports::Layout;
use halfglass_firmware::provision;
use halfglass_protocol::config::Config;
use halfglass_protocol::record::Record;
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use halfglass_sim::forge::Forgery;
use halfglass_sim::ordeal::{
    Bounds, HEAD_TENTHS, Records, SMALL, SMALL_ERASE, SMALL_LEN, Told, undergo, words_tenths,
};
use halfglass_tests::asking::pull_all;
use proptest::prelude::*;
use std::sync::LazyLock;

/// An image by a logger that lived on it, and the most that any of its totals was.
struct Lived {
    image: Vec<u8>,
    most_tenths: u64,
}

/// Sessions with edges and pulls until the rings have turned at least twice.
fn lived<const G: usize, const P: usize>(layout: Layout, len: usize, sessions: u32, hours: u64) -> Lived {
    let mut random = fastrand::Rng::with_seed(9);
    let mut flash = Flash::<G, P>::new(len / P, 9);
    let config = Config { heartbeat_s: 3, ..Config::as_in_guide() };
    provision(&mut flash, &layout, &config).expect("a good flash");
    let mut most_tenths = 0;
    for _ in 0..sessions {
        flash.power_on(None);
        let mut bench = Powered::<_, 8>::on(flash, layout, board(1), 0b11);
        for _ in 0..20 {
            bench.run_until(bench.now_ms() + random.u64(200..hours * 360_000));
            bench.set_levels(random.u8(0..32));
        }
        pull_all(&mut bench);
        most_tenths = bench.logger.totals().uptime_tenths;
        flash = bench.logger.into_flash();
        flash.power_off();
    }
    Lived { image: flash.image().to_vec(), most_tenths }
}

static LIVED_4: LazyLock<Lived> = LazyLock::new(|| lived::<4, SMALL_ERASE>(SMALL, SMALL_LEN, 12, 1));
static LIVED_8: LazyLock<Lived> = LazyLock::new(|| lived::<8, SMALL_ERASE>(SMALL, SMALL_LEN, 12, 1));
static LIVED_16: LazyLock<Lived> = LazyLock::new(|| lived::<16, SMALL_ERASE>(SMALL, SMALL_LEN, 12, 1));
static LIVED_BOARD: LazyLock<Lived> =
    LazyLock::new(|| lived::<4, 1_024>(LAYOUT, LAYOUT_PAGES * 1_024, 60, 20));

/// Damage to an image. Places are fractions of its length.
#[derive(Clone, Copy, Debug)]
enum Damage {
    Flip(f64, u8),
    Swap(f64, f64),
    Copy(f64, f64),
    /// Erased from here on to the end of the page, or to here.
    Erased(f64, bool),
    /// Granules of a page that kept something, the others erased.
    Dirty(f64, u8),
    Zeros(f64),
}

impl Damage {
    fn apply(self, image: &mut [u8], page: usize) {
        let at = |place: f64| (place * image.len() as f64) as usize;
        let of = |place: f64| at(place) / page * page;
        match self {
            Damage::Flip(place, bit) => {
                let at = at(place);
                image[at] ^= 1 << bit;
            }
            Damage::Swap(a, b) => {
                let (a, b) = (of(a), of(b));
                let first = image[a..a + page].to_vec();
                image.copy_within(b..b + page, a);
                image[b..b + page].copy_from_slice(&first);
            }
            Damage::Copy(from, to) => {
                let (from, to) = (of(from), of(to));
                image.copy_within(from..from + page, to);
            }
            Damage::Erased(place, upper) => {
                let (at, start) = (at(place), of(place));
                let part = if upper { at..start + page } else { start..at };
                image[part].fill(0xFF);
            }
            Damage::Dirty(place, kept) => {
                let start = of(place);
                for (number, granule) in image[start..start + page].chunks_mut(16).enumerate() {
                    if number % 8 != usize::from(kept) {
                        granule.fill(0xFF);
                    }
                }
            }
            Damage::Zeros(place) => {
                let start = of(place);
                image[start..start + page].fill(0);
            }
        }
    }
}

fn damage() -> impl Strategy<Value = Damage> {
    let place = || 0.0..1.0;
    prop_oneof![
        8 => (place(), 0u8..8).prop_map(|(at, bit)| Damage::Flip(at, bit)),
        2 => (place(), place()).prop_map(|(a, b)| Damage::Swap(a, b)),
        2 => (place(), place()).prop_map(|(a, b)| Damage::Copy(a, b)),
        2 => (place(), any::<bool>()).prop_map(|(at, upper)| Damage::Erased(at, upper)),
        1 => (place(), 0u8..8).prop_map(|(at, kept)| Damage::Dirty(at, kept)),
        1 => place().prop_map(Damage::Zeros),
    ]
}

/// With granules of 4, 8 or 16 bytes, chosen by the first.
fn small(choice: u8, image: &[u8], bounds: Bounds) -> Result<Told, String> {
    match choice % 3 {
        0 => undergo::<4, SMALL_ERASE>(image, &SMALL, bounds),
        1 => undergo::<8, SMALL_ERASE>(image, &SMALL, bounds),
        _ => undergo::<16, SMALL_ERASE>(image, &SMALL, bounds),
    }
}

const fn at_most(most_tenths: u64) -> Bounds {
    Bounds { most_tenths, records: Records::Stay }
}

/// A lived image after damage: heads cannot say more than they did, so a total is at most the truth and what false words may add.
fn damaged_bounds(lived: &Lived, damages: &[Damage], layout: &Layout, granule: usize) -> Bounds {
    let moved = damages.iter().any(|damage| matches!(damage, Damage::Swap(..) | Damage::Copy(..)));
    let records = if moved { Records::Moved } else { Records::Stay };
    Bounds { most_tenths: lived.most_tenths + words_tenths(layout, granule), records }
}

/// A total is at most what 40 bits hold and the words.
fn forged_bounds(choice: u8) -> Bounds {
    Bounds { most_tenths: HEAD_TENTHS + words_tenths(&SMALL, granule(choice)), records: Records::Forged }
}

fn granule(choice: u8) -> usize {
    [4, 8, 16][usize::from(choice % 3)]
}

fn small_lived(choice: u8) -> &'static Lived {
    [&LIVED_4, &LIVED_8, &LIVED_16][usize::from(choice % 3)]
}

/// `PROPTEST_CASES` asks for more than every run of the tests makes. What fails is printed, and belongs into a test of its own.
fn config(cases: u32) -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(cases);
    ProptestConfig { cases, max_shrink_iters: 2_000, failure_persistence: None, ..ProptestConfig::default() }
}

fn passed(result: Result<Told, String>) -> Result<Told, TestCaseError> {
    result.map_err(TestCaseError::fail)
}

proptest! {
    #![proptest_config(config(400))]

    /// Random bytes. No head's CRC matches, so a total is at most what the words of all pages say together: cells x 8,191
    /// tenths.
    #[test]
    fn random_bytes(choice in 0u8..3, seed: u64) {
        let mut image = vec![0; SMALL_LEN];
        fastrand::Rng::with_seed(seed).fill(&mut image);
        passed(small(choice, &image, at_most(words_tenths(&SMALL, granule(choice)))))?;
    }

    /// Blank but for a few bytes.
    #[test]
    fn mostly_blank(choice in 0u8..3, bytes in prop::collection::vec((0..SMALL_LEN, any::<u8>()), 0..60)) {
        let mut image = vec![0xFF; SMALL_LEN];
        for (at, byte) in bytes {
            image[at] = byte;
        }
        passed(small(choice, &image, at_most(words_tenths(&SMALL, granule(choice)))))?;
    }

    /// A lived image, damaged.
    #[test]
    fn damaged(choice in 0u8..3, damages in prop::collection::vec(damage(), 1..30)) {
        let lived = small_lived(choice);
        let mut image = lived.image.clone();
        for damage in &damages {
            damage.apply(&mut image, SMALL_ERASE);
        }
        passed(small(choice, &image, damaged_bounds(lived, &damages, &SMALL, granule(choice))))?;
    }

    /// The same, and then the checks made to match what stands there: heads, words and records say anything.
    #[test]
    fn forged(choice in 0u8..3, checks in 0u8..16, damages in prop::collection::vec(damage(), 1..30)) {
        let mut image = small_lived(choice).image.clone();
        for damage in &damages {
            damage.apply(&mut image, SMALL_ERASE);
        }
        Forgery::from_bits(checks).apply(&mut image, &SMALL, granule(choice));
        passed(small(choice, &image, forged_bounds(choice)))?;
    }

    /// Random bytes whose checks match.
    #[test]
    fn forged_from_nothing(choice in 0u8..3, checks in 0u8..16, seed: u64) {
        let mut image = vec![0; SMALL_LEN];
        fastrand::Rng::with_seed(seed).fill(&mut image);
        Forgery::from_bits(checks).apply(&mut image, &SMALL, granule(choice));
        passed(small(choice, &image, forged_bounds(choice)))?;
    }
}

proptest! {
    #![proptest_config(config(40))]

    /// The first board's flash, lived and damaged.
    #[test]
    fn the_board_damaged(damages in prop::collection::vec(damage(), 1..60)) {
        let mut image = LIVED_BOARD.image.clone();
        for damage in &damages {
            damage.apply(&mut image, 1_024);
        }
        passed(undergo::<4, 1_024>(&image, &LAYOUT, damaged_bounds(&LIVED_BOARD, &damages, &LAYOUT, 4)))?;
    }

    /// The first board's flash, full of random bytes.
    #[test]
    fn the_board_random(seed: u64) {
        let mut image = vec![0; LAYOUT_PAGES * 1_024];
        fastrand::Rng::with_seed(seed).fill(&mut image);
        passed(undergo::<4, 1_024>(&image, &LAYOUT, at_most(words_tenths(&LAYOUT, 4))))?;
    }
}

/// What the trials stand on: a lived image passes whole, keeps its totals and records, and its rings have turned.
#[test]
fn undamaged() {
    for choice in 0..3 {
        let lived = small_lived(choice);
        let told =
            small(choice, &lived.image, at_most(lived.most_tenths)).expect("an image that a logger wrote");
        println!("granule {}: {told:?}", granule(choice));
        assert!(told.totals.uptime_tenths >= lived.most_tenths, "{} tenths", lived.most_tenths);
        assert!(told.records.0 > 20 && told.records.1 == 0, "{:?} records", told.records);
        assert_eq!(told.config.map(|config| config.heartbeat_s), Some(3));
        assert!(told.operations_most * 2 < told.operations_limit, "{} operations", told.operations_most);
    }
}

/// One byte on a blank flash: the sequence word of all ones, after which no greater one can be written.
#[test]
fn a_sequence_word_of_all_ones() {
    let mut image = vec![0xFF; SMALL_LEN];
    image[512] = 0xE0;
    small(0, &image, at_most(words_tenths(&SMALL, 4))).unwrap_or_else(|fault| panic!("{fault}"));
}

/// One bit in the head of a page of history: its records may be lost, those of the other pages are not.
#[test]
fn a_broken_head_costs_its_own_page_only() {
    let pull = |image: &[u8]| {
        let mut flash = Flash::<4, SMALL_ERASE>::from_image(image, 1);
        flash.power_on(None);
        let mut bench = Powered::<_, 8>::on(flash, SMALL, board(1), 0);
        bench.run_until(3_000);
        pull_all(&mut bench)
    };
    let whole = pull(&LIVED_4.image);
    let bases: Vec<u32> = whole
        .iter()
        .filter(|(_, bytes)| matches!(Record::decode(bytes), Some(Record::Base(_))))
        .map(|(index, _)| *index)
        .collect();
    assert_eq!(bases.len(), 3, "a base at the head of each page");
    for page in 0..usize::from(SMALL.history.pages) {
        let mut image = LIVED_4.image.clone();
        let start = SMALL.history.start as usize + page * SMALL.history.page_len as usize;
        // The head begins with the index of its base, behind the sequence word and eight bytes of retired pages.
        let base = u32::from_le_bytes(image[start + 12..start + 16].try_into().expect("four bytes"));
        let next = bases.iter().copied().find(|index| *index > base).unwrap_or(u32::MAX);
        image[start + 40] ^= 1;
        let damaged = pull(&image);
        for (index, record) in whole.iter().filter(|(index, _)| !(base..next).contains(*index)) {
            // The oldest page may have been overwritten by the pull's own records.
            if damaged.keys().next().is_some_and(|oldest| oldest <= index) {
                assert_eq!(damaged.get(index), Some(record), "page {page} at {base}..{next}: record {index}");
            }
        }
    }
}
