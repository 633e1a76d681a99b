//! Weeks of a ship on simulated flash: every total against plain arithmetic, and erases against a prediction worked out by
//! hand. The 25 years are `cargo run --release -p halfglass-tests --bin endurance`; docs/endurance.md holds their figures.

use halfglass::wear::{Sighting, Wear};
use halfglass_tests::endurance::life::Duty;
use halfglass_tests::endurance::profile::{PROFILES, Profile, USUAL};
use halfglass_tests::endurance::run::{Outcome, run};

fn profile(name: &str) -> Profile {
    *PROFILES.iter().find(|profile| profile.name == name).expect("a life of that name")
}

fn live(name: &str, days: u32) -> Outcome {
    live_as(&profile(name), days)
}

fn live_as(profile: &Profile, days: u32) -> Outcome {
    run(profile, days, &|_| ()).unwrap_or_else(|fault| panic!("{}: {fault}", profile.name))
}

/// How a life's erases follow from its words.
struct Prediction {
    /// Commits that the usual life causes in a day: heartbeats, and half a word for each of 200 edges, because an
    /// edge puts the next heartbeat off by half of one on average.
    words_a_day: f64,
    /// Words that fit on a page behind its head, two held in reserve.
    words_a_page: f64,
}

impl Prediction {
    /// Two boots a day pass one cell over, burn four, write a Resume, repeat a word, and say the first 2 s in a Blend and the lines found
    /// on in a Starts: 9 cells.
    fn erases_a_day(&self) -> f64 {
        (self.words_a_day + 2.0 * 9.0) / self.words_a_page
    }
}

/// Eight lines: a head of 8 bytes of retired pages, a snapshot of 95 and a CRC of 4 behind the sequence word.
fn words_a_page(page: u32, granule: u32) -> f64 {
    let head = granule + (8 + 95 + 4_u32).div_ceil(granule) * granule;
    f64::from((page - head) / granule - 2)
}

fn assert_near(what: &str, measured: f64, predicted: f64, percent: f64) {
    println!("{what}: {measured:.3}, predicted {predicted:.3}");
    assert!(
        (measured / predicted - 1.0).abs() * 100.0 <= percent,
        "{what}: {measured} instead of {predicted}"
    );
}

/// The three flash chips and both heartbeats: erases a day are words a day by words a page, spread evenly.
#[test]
fn erases_are_as_predicted() {
    for (name, heartbeat_s, page, granule, pages, days) in [
        ("nrf51", 10.0, 1_024, 4, 64, 56),
        ("small", 60.0, 1_024, 4, 8, 56),
        ("granule8", 10.0, 2_048, 8, 32, 56),
        ("granule16", 10.0, 8_192, 16, 8, 56),
    ] {
        let outcome = live(name, days);
        let prediction = Prediction {
            words_a_day: 86_400.0 / heartbeat_s + 200.0 / 2.0,
            words_a_page: words_a_page(page, granule),
        };
        let a_day = outcome.journal.all as f64 / f64::from(days);
        assert_near(name, a_day, prediction.erases_a_day(), 3.0);
        // Evenly, but for pages that were erased ahead of need when power went.
        let mean = outcome.journal.all as f64 / f64::from(pages);
        assert!(f64::from(outcome.journal.worst) <= mean * 1.03 + 1.0, "{name}: {:?}", outcome.journal);
        assert_eq!(outcome.coalesced, 0, "{name}");
    }
}

/// The history's pages are used up so slowly that 61 of 62 hold 13 months.
#[test]
fn history_reaches_back_thirteen_months() {
    let days = 120;
    let outcome = live("nrf51", days);
    // Erases are of 1 KiB, pages of history are 2 KiB.
    let pages_a_day = outcome.history.all as f64 / 2.0 / f64::from(days);
    let kept_days = 61.0 / pages_a_day;
    println!("{pages_a_day:.3} pages a day, {kept_days:.0} days kept");
    assert!(kept_days >= 396.0, "{kept_days} days");
    assert_eq!(outcome.gap_records, 0);
}

/// The configuration is written afresh once a year, so that its cells do not fade, however short the sessions.
#[test]
fn the_configuration_is_rewritten_yearly() {
    for boots in [2, 1] {
        let duty = Duty::Ship { edges: USUAL, boots };
        let outcome = live_as(&Profile { duty, ..profile("nrf51") }, 3 * 366);
        // Written once at commissioning and at each of three anniversaries.
        assert_eq!(outcome.config.all, 4, "{boots} boots a day");
    }
}

/// Two days of chatter: merging holds the wear to a few words a heartbeat.
#[test]
fn chatter_costs_a_few_words_a_heartbeat() {
    for name in ["chatter-alone", "chatter-beside"] {
        // The pull is where merging is told.
        let outcome = live_as(&Profile { pull_every_days: 1, ..profile(name) }, 2);
        assert!(outcome.coalesced > 0, "{name}: merging was not said");
        let a_day = outcome.journal.all as f64 / 2.0;
        // At most five words a heartbeat and 500 edge words.
        let most = (8_640.0 * 5.0 + 500.0) / words_a_page(1_024, 4);
        println!("{name}: {a_day:.1} erases a day of at most {most:.1}");
        assert!(a_day <= most, "{name}: {a_day} erases a day");
    }
}

/// Sessions under 2 s write nothing. Boots every 3 s cost nine cells each, and a page at whose end power goes is erased
/// once ahead of need and once more when it is needed.
#[test]
fn boots_cost_what_they_must() {
    let outcome = live("boot-1s", 1);
    assert_eq!((outcome.journal.all, outcome.history.all, outcome.boots), (0, 0, 86_400));
    let outcome = live("boot-3s", 1);
    let pages = 28_800.0 * 9.0 / words_a_page(1_024, 4);
    println!("{} erases for {pages:.0} pages", outcome.journal.all);
    assert!(outcome.journal.all as f64 <= 2.1 * pages, "{} erases for {pages} pages", outcome.journal.all);
    assert!(outcome.journal.all as f64 >= pages, "{} erases for {pages} pages", outcome.journal.all);
}

/// What the host says of a flash's wear, from the logger's own figures, beside the erases that the simulated flash counted page by page.
/// It must not say less than there were, or a logger would be trusted too long.
#[test]
fn the_host_s_figure_of_wear_is_never_below_the_truth() {
    // Life, days, and by how much the figure may be above the truth: not every start erases ahead.
    for (name, days, above) in
        [("nrf51", 56, 1.10), ("small", 56, 1.30), ("granule16", 56, 1.15), ("boot-3s", 1, 1.6)]
    {
        let outcome = live(name, days);
        let sighting = Sighting::of(0, &outcome.status);
        let wear = Wear::of(&[sighting]).expect("one sighting is enough");
        let (told, worst) = (wear.totals.erases, outcome.journal.worst);
        println!(
            "{name}: totals told {told}, worst page {worst}; history {} and {}",
            wear.history.erases, outcome.history.worst
        );
        assert!(
            told >= worst && f64::from(told) <= f64::from(worst) * above + 1.0,
            "{name}: {told} for {worst}"
        );
        assert!(wear.history.erases >= outcome.history.worst, "{name}: {wear:?} for {:?}", outcome.history);
    }
}
