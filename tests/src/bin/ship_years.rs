//! Ship-years of known truth, and what the room that reconciles makes of them.

use clap::Parser;
use halfglass::reconcile::{Kind, reconcile};
use halfglass_tests::scenario::build::Scenario;
use halfglass_tests::scenario::event::Target;
use halfglass_tests::scenario::evidence::judge;
use halfglass_tests::scenario::logger::hours;
use halfglass_tests::scenario::score::{Mode, scenario, score};
use halfglass_tests::scenario::ship::COUNTED;
use halfglass_tests::scenario::table;
use halfglass_tests::scenario::tally::Tally;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// Lives ships with known truth, puts them on paper, reconciles them, and says how often that was right.
#[derive(Parser)]
struct Arguments {
    /// Ship-years in all: 4 in 10 at the declared rates, 3 clean, 3 with several things wrong; and beside them
    /// one ship a kind and ten years
    #[arg(long, default_value_t = 2000.0)]
    years: f64,
    /// The first ship's number
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only ships with one thing wrong, of this kind
    #[arg(long)]
    kind: Option<String>,
    /// Only this mode: clean, base, several, one
    #[arg(long, value_parser = ["clean", "base", "several", "one"])]
    mode: Option<String>,
    /// Ships with one thing wrong, a kind
    #[arg(long)]
    per_kind: Option<u32>,
    /// One ship, told at length; with --mode or --kind
    #[arg(long)]
    case: Option<u64>,
    /// How many misses to list
    #[arg(long, default_value_t = 20)]
    misses: usize,
    /// For a program
    #[arg(long)]
    json: bool,
    /// Ships at a time
    #[arg(long, default_value_t = 2)]
    threads: usize,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let kind = match &arguments.kind {
        None => None,
        Some(name) => match Kind::ALL.into_iter().find(|kind| kind.name() == name) {
            Some(kind) => Some(kind),
            None => {
                let names: Vec<&str> = Kind::ALL.into_iter().map(Kind::name).collect();
                eprintln!("There is no kind '{name}'. Use one of: {}", names.join(", "));
                return ExitCode::from(2);
            }
        },
    };
    let mode = match (kind, arguments.mode.as_deref()) {
        (Some(kind), _) => Some(Mode::One(kind)),
        (None, Some("clean")) => Some(Mode::Clean),
        (None, Some("several")) => Some(Mode::Several),
        (None, Some("base")) => Some(Mode::Base),
        (None, _) => None,
    };
    if let Some(seed) = arguments.case {
        tell(seed, mode.unwrap_or(Mode::Base));
        return ExitCode::SUCCESS;
    }
    let started = Instant::now();
    let per_kind = arguments.per_kind.unwrap_or((arguments.years / 10.0).ceil() as u32);
    let wanted = |name: &str| kind.is_none() && arguments.mode.as_deref().is_none_or(|only| only == name);
    let mut all: Vec<(String, Tally)> = Vec::new();
    for (name, mode, share) in
        [("clean", Mode::Clean, 0.3), ("base", Mode::Base, 0.4), ("several", Mode::Several, 0.3)]
    {
        if wanted(name) {
            let enough = |tally: &Tally| tally.years >= share * arguments.years;
            all.push((name.to_owned(), live(arguments.seed, mode, arguments.threads, &enough)));
        }
    }
    if kind.is_some() || wanted("one") {
        let mut ones = Tally::default();
        for (at, one) in
            Kind::ALL.into_iter().enumerate().filter(|(_, one)| kind.is_none_or(|kind| kind == *one))
        {
            let enough = |tally: &Tally| tally.ships >= per_kind;
            let seed = arguments.seed + 1_000_000 * (at as u64 + 1);
            ones.add(live(seed, Mode::One(one), arguments.threads, &enough));
        }
        all.push(("one".to_owned(), ones));
    }
    if arguments.json {
        let told: Vec<_> = all.iter().map(|(name, tally)| table::json(name, tally)).collect();
        println!("{}", serde_json::json!({"version": 1, "modes": told}));
        return ExitCode::SUCCESS;
    }
    for (name, tally) in &all {
        println!("{}", table::text(name, tally));
        if !tally.bins.iter().all(|(_, all)| *all == 0) {
            println!("{}", table::calibration(tally));
        }
        if !tally.confusion.is_empty() {
            println!("{}", table::confusion(tally));
        }
        for (seed, told) in tally.misses.iter().take(arguments.misses) {
            println!("  --case {seed}: {told}");
        }
        println!();
    }
    println!("{:.0} s", started.elapsed().as_secs_f64());
    ExitCode::SUCCESS
}

/// Ships from a number on, until there are enough; the same ships with any number of threads, but for the last few.
fn live(seed: u64, mode: Mode, threads: usize, enough: &(dyn Fn(&Tally) -> bool + Sync)) -> Tally {
    const BATCH: u64 = 16;
    let all = Mutex::new(std::collections::BTreeMap::new());
    let next = AtomicU64::new(0);
    let is_enough = || {
        let Ok(all) = all.lock() else { return true };
        let mut tally = Tally::default();
        for one in all.values() {
            let one: &Tally = one;
            tally.ships += one.ships;
            tally.years += one.years;
        }
        enough(&tally)
    };
    std::thread::scope(|scope| {
        for _ in 0..threads.max(1) {
            scope.spawn(|| {
                while !is_enough() {
                    let batch = next.fetch_add(1, Ordering::Relaxed);
                    let mut tally = Tally::default();
                    for at in 0..BATCH {
                        if let Some(scenario) = scenario(seed + batch * BATCH + at, mode) {
                            score(&scenario, &mut tally);
                        }
                    }
                    if let Ok(mut all) = all.lock() {
                        all.insert(batch, tally);
                    }
                    // A kind that no ship can have would never end.
                    if batch > 100_000 / BATCH || matches!(mode, Mode::One(_)) && batch > 2_000 {
                        break;
                    }
                }
            });
        }
    });
    let mut tally = Tally::default();
    for (_, one) in all.into_inner().unwrap_or_default() {
        tally.add(one);
    }
    tally
}

/// One ship at length.
fn tell(seed: u64, mode: Mode) {
    let Some(scenario) = scenario(seed, mode) else {
        println!("Nothing of that kind can go wrong on ship {seed}.");
        return;
    };
    let ship = &scenario.ship;
    println!("ship {seed}: from hour {:.0} to {:.0}, {} rounds", ship.start_h, ship.end_h, ship.rounds.len());
    for (radar, told) in ship.radars.iter().zip(&scenario.facts.radars) {
        println!(
            "{}: step {} h, fed by the radar {}, wired {:?}, counts {:?}, {} points, {} readings",
            radar.name,
            radar.step_h,
            radar.fed,
            radar.wired,
            radar.counts,
            told.log.points.len(),
            told.readings.len()
        );
        for fitting in &told.fittings {
            println!(
                "  fitting {} at {:.1}..{:.1}, zeroed {}",
                fitting.part,
                hours(fitting.at.lo_ms),
                hours(fitting.at.hi_ms),
                fitting.counter_zeroed
            );
        }
    }
    for event in &scenario.events {
        let verdict = judge(ship, event);
        println!("event {event:?}\n  evident {}, accepted {:?}", verdict.evident, verdict.accepted);
        for (kind, likelihood) in verdict.likelihoods.iter().take(5) {
            println!("    {:>24} {likelihood:.2}", kind.map_or("nothing", Kind::name));
        }
        readings_near(&scenario, &event.target(ship, &scenario.truths));
    }
    let accounts = reconcile(&scenario.facts);
    for (place, account) in accounts.iter().enumerate() {
        for finding in &account.findings {
            println!(
                "finding {} {} {:?} {:?} {:.1}..{:.1} at {:.3}{} instead {:?}\n    {}",
                account.radar,
                finding.kind.name(),
                finding.part,
                finding.line,
                hours(finding.from_ms),
                hours(finding.to_ms),
                finding.probability,
                if finding.is_question { " (question)" } else { "" },
                finding.instead,
                finding.evidence.join("\n    ")
            );
        }
        for (which, part) in ship.radars[place].parts.iter().enumerate() {
            let answer = account.parts.iter().find(|answer| answer.part == part.name);
            println!(
                "part {} {}: true {:?}, answer {:?}",
                account.radar,
                part.name,
                scenario.part_hours(place, which),
                answer
            );
        }
    }
}

/// What was read around an event, and what the counters truly stood at.
fn readings_near(scenario: &Scenario, target: &Target) {
    const NEAR_H: f64 = 2_000.0;
    for place in &target.radars {
        for (line, role) in COUNTED.into_iter().enumerate() {
            let readings = scenario.facts.radars[*place].readings.iter().filter(|reading| {
                let at = hours(reading.at.best_ms());
                let named = target.lines.is_empty() || target.lines.contains(&role);
                reading.quantity == role && named && at > target.from - NEAR_H && at < target.to + NEAR_H
            });
            let told: Vec<String> = readings
                .take(12)
                .map(|reading| {
                    let (from, to) = (hours(reading.at.lo_ms), hours(reading.at.hi_ms));
                    let source =
                        reading.source.as_ref().map_or(String::new(), |source| format!(" of {source}"));
                    let stood = scenario.counters[*place][line].stands_at(from.midpoint(to));
                    format!("{from:.1}..{to:.1} {} (stood at {stood:.1}){source}", reading.hours)
                })
                .collect();
            if !told.is_empty() {
                println!("    {} {}: {}", scenario.ship.radars[*place].name, role.name(), told.join(", "));
            }
        }
    }
}
