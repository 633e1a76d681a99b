//! Twenty-five years of a logger, and what they cost its flash.

use clap::Parser;
use halfglass_tests::endurance::life::Duty;
use halfglass_tests::endurance::profile::{PROFILES, Profile};
use halfglass_tests::endurance::{run, table};
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Lives years of a ship on simulated flash with the real firmware, checks every total, and prints what it cost.
#[derive(Parser)]
struct Arguments {
    /// How many years; lives that are told by the week or the year stay what they are, unless this is less
    #[arg(long, default_value_t = 25.0)]
    years: f64,
    /// Only lives whose name begins so
    #[arg(long)]
    only: Option<String>,
    /// Lives at a time
    #[arg(long, default_value_t = 2)]
    threads: usize,
}

struct Progress {
    days_all: u32,
    days_done: AtomicU32,
    next: AtomicUsize,
    done: AtomicUsize,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let asked = (arguments.years * 365.25).round() as u32;
    let wanted = |profile: &&Profile| {
        arguments.only.as_ref().is_none_or(|only| profile.name.starts_with(only.as_str()))
    };
    let profiles: Vec<&Profile> = PROFILES.iter().filter(wanted).collect();
    let started = Instant::now();
    let progress = Progress {
        days_all: profiles.iter().map(|profile| profile.days(asked)).sum(),
        days_done: AtomicU32::new(0),
        next: AtomicUsize::new(0),
        done: AtomicUsize::new(0),
    };
    // The longest first, so that no thread waits for another.
    let mut order: Vec<usize> = (0..profiles.len()).collect();
    order.sort_by_key(|at| !matches!(profiles[*at].duty, Duty::Chatter { .. }));
    let results = Mutex::new(vec![None; profiles.len()]);
    std::thread::scope(|scope| {
        for _ in 0..arguments.threads.max(1) {
            scope.spawn(|| live(&profiles, &order, asked, &progress, &results));
        }
        tell(&profiles, &progress, started);
    });
    let results = results.into_inner().expect("no thread panicked");
    let mut sound = true;
    println!("{}", table::head());
    for (profile, result) in profiles.iter().zip(&results) {
        match result {
            Some(Ok(outcome)) => println!("{}", table::row(profile, outcome)),
            Some(Err(fault)) => {
                sound = false;
                println!("| {}: {fault} |", profile.name);
            }
            None => sound = false,
        }
    }
    println!();
    for (profile, result) in profiles.iter().zip(&results) {
        if let Some(Ok(outcome)) = result {
            println!("{}", table::remark(profile, outcome));
        }
    }
    println!();
    for (profile, result) in profiles.iter().zip(&results) {
        if let Some(Ok(outcome)) = result
            && let Some((told, met)) = table::target(profile, outcome)
        {
            println!("{told}");
            sound &= met;
        }
    }
    println!("\n{:.0} s", started.elapsed().as_secs_f64());
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn live(
    profiles: &[&Profile],
    order: &[usize],
    asked: u32,
    progress: &Progress,
    results: &Mutex<Vec<Option<Result<run::Outcome, run::Fault>>>>,
) {
    loop {
        let Some(at) = order.get(progress.next.fetch_add(1, Ordering::Relaxed)).copied() else { return };
        let profile = profiles[at];
        let day = |_| {
            progress.days_done.fetch_add(1, Ordering::Relaxed);
        };
        // A panic is that life's fault and no other's.
        let lived = std::panic::catch_unwind(|| run::run(profile, profile.days(asked), &day));
        let lived = lived.unwrap_or_else(|_| Err("a panic".to_owned()));
        if let Some(result) = results.lock().ok().as_mut().and_then(|results| results.get_mut(at)) {
            *result = Some(lived);
        }
        progress.done.fetch_add(1, Ordering::Relaxed);
    }
}

/// A line that says how far it is, on a terminal each second, elsewhere each minute.
fn tell(profiles: &[&Profile], progress: &Progress, started: Instant) {
    let terminal = std::io::stderr().is_terminal();
    let every_s = if terminal { 1 } else { 60 };
    let mut told_s = 0;
    while progress.done.load(Ordering::Relaxed) < profiles.len() {
        std::thread::sleep(Duration::from_millis(200));
        let gone_s = started.elapsed().as_secs();
        if gone_s < told_s + every_s {
            continue;
        }
        told_s = gone_s;
        let days = progress.days_done.load(Ordering::Relaxed);
        let lives = progress.done.load(Ordering::Relaxed);
        let line =
            format!("{lives} of {} lives, day {days} of {}, {gone_s} s", profiles.len(), progress.days_all);
        if terminal {
            eprint!("\r{line} ");
            let _ = std::io::stderr().flush();
        } else {
            eprintln!("{line}");
        }
    }
    if terminal {
        eprintln!();
    }
}
