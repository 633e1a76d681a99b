//! How long it takes to say when parts are due: a thousand radars with two parts each, by length of history. One core.

use clap::Parser;
use fastrand::Rng;
use halfglass::due::course::Course;
use halfglass::due::usage::Day;
use halfglass::due::{self, Fitted, Interval, Question};
use halfglass::timeline::dating::When;
use halfglass_protocol::config::Role;
use halfglass_tests::trade::{Life, Trade};
use std::hint::black_box;
use std::time::Instant;

/// Asks the room that foresees about many radars and prints how long it took.
#[derive(Parser)]
struct Arguments {
    /// How many radars
    #[arg(long, default_value_t = 1_000)]
    radars: usize,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// Histories, in days; the longest is what the host looks back.
const HISTORIES_DAYS: [usize; 5] = [30, 90, 180, 270, 396];

/// Each size is timed so often, and the middle counts.
const ROUNDS: usize = 5;

const DAY_MS: i64 = 86_400_000;

fn main() {
    let arguments = Arguments::parse();
    let mut rows = Vec::new();
    for days in HISTORIES_DAYS {
        let questions = questions(arguments.radars, days);
        let as_of_ms = days as i64 * DAY_MS;
        let mut times_ms = Vec::new();
        let mut dated = 0;
        for _ in 0..ROUNDS {
            let began = Instant::now();
            dated = questions
                .iter()
                .filter(|question| black_box(due::answer(question, as_of_ms, 1)).forecast.p50_ms.is_some())
                .count();
            times_ms.push(began.elapsed().as_secs_f64() * 1_000.0);
        }
        times_ms.sort_by(f64::total_cmp);
        let median_ms = times_ms[ROUNDS / 2];
        rows.push(serde_json::json!({
            "radars": arguments.radars, "parts": questions.len(), "history_days": days, "median_ms": median_ms,
            "most_ms": times_ms[ROUNDS - 1], "dated": dated,
        }));
        if !arguments.json {
            println!(
                "{} radars, {} parts, {days} days of history: {median_ms:.0} ms, most {:.0} ms; {dated} dated",
                arguments.radars,
                questions.len(),
                times_ms[ROUNDS - 1]
            );
        }
    }
    if arguments.json {
        println!("{}", serde_json::Value::from(rows));
    }
}

/// Two parts of each radar: limits by common practice, no source: a magnetron of 4,000 h, a scanner motor of 10,000 h.
fn questions(radars: usize, days: usize) -> Vec<Question> {
    let mut questions = Vec::new();
    for radar in 0..radars {
        // A hundred ships are enough to draw from.
        let mut rng = Rng::with_seed(radar as u64 % 100);
        let trade = [Trade::Liner, Trade::Tramp, Trade::Ferry][radar % 3];
        let life = Life::draw(trade, &mut rng);
        let first = 365 + rng.usize(..365);
        for (part, role, limit_h) in
            [("magnetron", Role::Transmit, 4_000.0), ("scanner motor", Role::Motor, 10_000.0)]
        {
            let day = |at: usize| {
                let (from, to) = ((first + at) as f64 * 24.0, (first + at + 1) as f64 * 24.0);
                Day {
                    start_ms: at as i64 * DAY_MS,
                    on_h: life.on_h(to) - life.on_h(from),
                    starts: life.starts(to) - life.starts(from),
                }
            };
            let days: Vec<Day> = (0..days).map(day).collect();
            let best = rng.f64() * 0.9 * limit_h;
            let at = When { lo_ms: -400 * DAY_MS, hi_ms: -400 * DAY_MS };
            questions.push(Question {
                radar: format!("radar {radar}"),
                part: part.to_owned(),
                role,
                fitting: Some(Fitted { at, within: at, serial: "S".to_owned(), hours_at_fit: Some(0.0) }),
                hours: Some(Interval { low: (best - 5.0).max(0.0), best, high: best + 5.0 }),
                line_doubted: false,
                course: Course::default(),
                days,
                legs: Vec::new(),
                said: Vec::new(),
                limit_h: Some(limit_h),
                limit_months: None,
                limit_starts: None,
                warn_h: Some(300.0),
                lead_time_days: Some(45),
            });
        }
    }
    questions
}
