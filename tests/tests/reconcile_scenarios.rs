//! Ships of known truth, a few hundred years of them, and papers as odd as people make them. The whole of it, with
//! thousands of years, is `cargo run --release -p halfglass-tests --bin ship_years`.

use halfglass::reconcile::{Facts, Fitting, Kind, Radar, When, reconcile};
use halfglass_tests::scenario::build::Scenario;
use halfglass_tests::scenario::logger::ms;
use halfglass_tests::scenario::score::{Mode, scenario, ships};
use halfglass_tests::scenario::table;
use halfglass_tests::scenario::tally::Tally;

/// More than this many of `all` at this rate happens by chance once in a thousand times (binomial).
fn most(all: u32, rate: f64) -> u32 {
    let mut chance = (1.0 - rate).powi(all as i32);
    let (mut sum, mut many) = (chance, 0);
    while sum < 0.999 && many < all {
        many += 1;
        chance *= f64::from(all - many + 1) / f64::from(many) * rate / (1.0 - rate);
        sum += chance;
    }
    many
}

fn told(name: &str, tally: &Tally) -> String {
    let misses: Vec<String> =
        tally.misses.iter().map(|(seed, told)| format!("--case {seed}: {told}")).collect();
    format!("{}\n{}\n{}", table::text(name, tally), table::confusion(tally), misses.join("\n"))
}

/// Target: 0.02 false findings a clean ship-year. Counted in tenths of years, so that the binomial serves.
#[test]
fn clean_ships_stay_quiet_and_their_hours_hold_the_truth() {
    let tally = ships(10_000, 60, Mode::Clean);
    assert!(tally.years > 100.0, "too few years to mean anything: {}", tally.years);
    let allowed = most((tally.years * 10.0) as u32, 0.002);
    assert!(tally.false_all <= allowed, "more than {allowed} false findings: {}", told("clean", &tally));
    let answered = tally.parts.all - tally.parts.unanswered;
    assert!(answered > 50, "too few parts to mean anything: {answered}");
    assert!(tally.parts.inside + 1 >= answered, "{}", told("clean", &tally));
}

/// Target: 99.9 % of the intervals hold the truth, at the rates at which things go wrong.
#[test]
fn hours_hold_the_truth_where_things_go_wrong() {
    let tally = ships(20_000, 40, Mode::Base);
    let answered = tally.parts.all - tally.parts.unanswered;
    assert!(answered > 50, "too few parts to mean anything: {answered}");
    assert!(tally.parts.inside + 1 >= answered, "{}", told("base", &tally));
}

/// Target: each kind is found in 97 of 100 ships where the papers hold the evidence, and right in 97 of 100.
#[test]
fn each_kind_is_found_and_little_else() {
    let mut failed = Vec::new();
    for (at, kind) in Kind::ALL.into_iter().enumerate() {
        let tally = ships(30_000 + 1_000 * at as u64, 5, Mode::One(kind));
        let Some(row) = tally.rows.get(&kind) else {
            failed.push(format!("{} never planted", kind.name()));
            continue;
        };
        let missed = row.evident - row.found;
        let wrong = row.reported - row.excused - row.right;
        if missed > most(row.evident, 0.03) || wrong > most(row.reported, 0.03) {
            failed.push(told(kind.name(), &tally));
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

fn ship() -> Facts {
    (1..)
        .filter_map(|seed| scenario(seed, Mode::Clean))
        .find(|scenario: &Scenario| {
            let radars = &scenario.facts.radars;
            radars.len() == 2 && radars.iter().all(|radar| !radar.fittings.is_empty())
        })
        .map(|scenario| scenario.facts)
        .unwrap_or_default()
}

#[test]
fn an_empty_ship_has_empty_accounts() {
    assert!(reconcile(&Facts::default()).is_empty());
    let bare = Facts {
        as_of_ms: ms(100.0),
        radars: vec![Radar { name: "bare".to_owned(), step_h: 1.0, ..Radar::default() }],
    };
    let accounts = reconcile(&bare);
    assert_eq!(accounts.len(), 1);
    assert_eq!(accounts[0].radar, "bare");
    assert!(accounts[0].findings.is_empty() && accounts[0].parts.is_empty(), "{accounts:?}");
}

#[test]
fn two_radars_answer_each_for_itself() {
    let facts = ship();
    let names: Vec<&str> = facts.radars.iter().map(|radar| radar.name.as_str()).collect();
    let both = reconcile(&facts);
    assert_eq!(both.iter().map(|account| account.radar.as_str()).collect::<Vec<_>>(), names);
    for (radar, account) in facts.radars.iter().zip(&both) {
        let mut known: Vec<&str> = radar.parts.iter().map(|part| part.name.as_str()).collect();
        let mut told: Vec<&str> = account.parts.iter().map(|part| part.part.as_str()).collect();
        known.sort_unstable();
        told.sort_unstable();
        assert_eq!(known, told, "{}", radar.name);
    }
}

/// The order in which people typed their papers in is no fact.
#[test]
fn readings_out_of_order_change_nothing() {
    let facts = ship();
    let mut shuffled = facts.clone();
    for radar in &mut shuffled.radars {
        fastrand::Rng::with_seed(7).shuffle(&mut radar.readings);
        radar.fittings.reverse();
        radar.works.reverse();
    }
    assert_eq!(reconcile(&facts), reconcile(&shuffled));
}

#[test]
fn the_same_reading_twice_is_no_finding() {
    let facts = ship();
    let mut doubled = facts.clone();
    for radar in &mut doubled.radars {
        for mut again in radar.readings.clone() {
            again.id += 50_000_000;
            radar.readings.push(again);
        }
        radar.readings.sort_by_key(|reading| reading.at.lo_ms);
    }
    let (once, twice) = (reconcile(&facts), reconcile(&doubled));
    for (once, twice) in once.iter().zip(&twice) {
        assert_eq!(once.findings.len(), twice.findings.len(), "{:#?}", twice.findings);
        for (a, b) in once.parts.iter().zip(&twice.parts) {
            assert_eq!((&a.part, a.hours.is_some()), (&b.part, b.hours.is_some()));
        }
    }
}

#[test]
fn a_fitting_before_any_reading_is_answered_in_bounds() {
    let mut facts = ship();
    let first = facts.radars[0].readings.iter().map(|reading| reading.at.lo_ms).min().unwrap_or_default();
    let before = first - 400 * 86_400_000;
    let part = facts.radars[0].parts[0].name.clone();
    facts.radars[0].fittings = vec![Fitting {
        id: 1,
        at: When { lo_ms: before, hi_ms: before },
        part: part.clone(),
        serial: "old".to_owned(),
        counter_zeroed: true,
        zeroed_at: None,
        counter_before_h: None,
        counter_after_h: None,
        hours_at_fit_h: None,
    }];
    let accounts = reconcile(&facts);
    let answer = accounts[0].parts.iter().find(|answer| answer.part == part);
    let answer = answer.unwrap_or_else(|| panic!("no {part}: {accounts:?}"));
    match answer.hours {
        Some(hours) => {
            let life_h = (facts.as_of_ms - before) as f64 / 3.6e6;
            assert!(hours.low >= 0.0 && hours.low <= hours.best && hours.best <= hours.high, "{answer:?}");
            assert!(hours.high <= life_h * 1.001 + 1.0, "more hours than have passed, {life_h}: {answer:?}");
        }
        None => assert!(answer.why_not.is_some(), "{answer:?}"),
    }
}

#[test]
fn without_a_log_or_without_readings_the_answers_stay_in_bounds() {
    for (no_log, no_readings) in [(true, false), (false, true), (true, true)] {
        let mut facts = ship();
        for radar in &mut facts.radars {
            if no_log {
                radar.log = halfglass::reconcile::Log::default();
            }
            if no_readings {
                radar.readings.clear();
            }
        }
        for (radar, account) in facts.radars.iter().zip(reconcile(&facts)) {
            for answer in &account.parts {
                let fitted = radar.fittings.iter().any(|fitting| fitting.part == answer.part);
                match answer.hours {
                    Some(hours) => {
                        let sane = 0.0 <= hours.low && hours.low <= hours.best && hours.best <= hours.high;
                        assert!(
                            fitted && sane && hours.high.is_finite(),
                            "{no_log} {no_readings}: {answer:?}"
                        );
                    }
                    None => assert!(answer.why_not.is_some(), "{no_log} {no_readings}: {answer:?}"),
                }
            }
            let sure = account.findings.iter().filter(|finding| no_log && finding.kind == Kind::LineDead);
            assert_eq!(sure.count(), 0, "no log, so no line can be dead: {:?}", account.findings);
        }
    }
}
