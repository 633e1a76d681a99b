//! How long a plan takes, and whether it is proven to be the best: invented ships of several sizes, many of each.

use clap::Parser;
use halfglass::plan::{self, Problem};
use halfglass_tests::planning::year;
use std::time::Instant;

/// Plans invented ships and prints what it took.
#[derive(Parser)]
struct Arguments {
    /// How many ships of each size
    #[arg(long, default_value_t = 20)]
    ships: u64,
    /// How many windows in a year
    #[arg(long, default_value_t = 40)]
    windows: usize,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// A size: so many ships, each with radars and parts of a radar.
const SIZES: [(&str, usize, usize, usize); 4] = [
    ("50 radars on 25 ships, 2 parts each", 25, 2, 2),
    ("50 radars sharing their windows, 1 part each", 1, 50, 1),
    ("50 radars sharing their windows, 2 parts each", 1, 50, 2),
    ("2 radars, 4 parts each", 1, 2, 4),
];

fn main() {
    let arguments = Arguments::parse();
    let mut rows = Vec::new();
    for (name, ships, radars, parts) in SIZES {
        let (mut times_ms, mut exact, mut safest, mut planned, mut works) = (Vec::new(), 0, 0, 0, 0);
        for seed in 0..arguments.ships {
            let dice = &mut fastrand::Rng::with_seed(seed);
            let problems: Vec<Problem> =
                (0..ships).map(|_| year(dice, radars, parts, arguments.windows).problem).collect();
            let began = Instant::now();
            let answers: Vec<plan::Answer> = problems.iter().map(plan::plan).collect();
            times_ms.push(began.elapsed().as_secs_f64() * 1_000.0);
            exact += u64::from(answers.iter().all(|answer| answer.exact));
            let as_safe = |answer: &plan::Answer| answer.value.chance_percent == answer.least.chance_percent;
            safest += u64::from(answers.iter().all(as_safe));
            let all = answers.iter().flat_map(|answer| &answer.works);
            planned += all.clone().filter(|work| work.window.is_some()).count();
            works += all.count();
        }
        times_ms.sort_by(f64::total_cmp);
        let (median, most) = (times_ms[times_ms.len() / 2], times_ms[times_ms.len() - 1]);
        rows.push(serde_json::json!({
            "size": name, "windows": arguments.windows, "ships": arguments.ships, "median_ms": median, "most_ms": most,
            "proven_best": exact, "proven_safest": safest, "works": works, "planned": planned,
        }));
        if !arguments.json {
            println!(
                "{name}, {} windows: median {median:.1} ms, most {most:.1} ms; proven best {exact} of {}, proven least \
                 chance {safest}; {planned} of \
                 {works} works planned",
                arguments.windows, arguments.ships
            );
        }
    }
    if arguments.json {
        println!("{}", serde_json::Value::from(rows));
    }
}
