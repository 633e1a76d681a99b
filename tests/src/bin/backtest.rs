//! Whether dates foreseen come true: invented ships of four trades, 30, 90 and 180 days before a limit. What is printed stands in
//! docs/due.md.

use clap::Parser;
use halfglass_tests::trade::backtest::{Case, Modes, cases};
use halfglass_tests::trade::score::{Row, Rule, row, rows};

/// Foresees limits whose date is known and prints how well.
#[derive(Parser)]
struct Arguments {
    /// How many lives, a quarter of them in each trade
    #[arg(long, default_value_t = 5_000)]
    lives: usize,
    /// Which lives; those that the model was tuned on are others
    #[arg(long, default_value_t = 2_026)]
    seed: u64,
    /// What is known of sea and port so far
    #[arg(long, value_enum, default_value_t)]
    modes: Modes,
    /// As JSON
    #[arg(long)]
    json: bool,
    /// Also by length of history, and with and without a legs file
    #[arg(long)]
    apart: bool,
}

fn main() {
    let arguments = Arguments::parse();
    let cases = cases(arguments.lives, arguments.seed, arguments.modes);
    let rows = rows(&cases);
    if arguments.json {
        let rows: Vec<serde_json::Value> = rows.iter().map(json).collect();
        println!(
            "{}",
            serde_json::json!({ "version": 1, "lives": arguments.lives, "seed": arguments.seed, "rows": rows })
        );
        return;
    }
    println!(
        "{} lives, seed {}. Days; inside: share of true instants from p10 to p90.\n",
        arguments.lives, arguments.seed
    );
    println!("{HEADING}");
    for row in &rows {
        println!("| {} {}", row.trade.name(), text(row));
    }
    if arguments.apart {
        println!("\n{HEADING}");
        let history = |low: usize, high: usize| move |case: &Case| (low..high).contains(&case.history_days);
        apart(&cases, "history under 45 days", history(0, 45));
        apart(&cases, "history 45 to 120 days", history(45, 120));
        apart(&cases, "history over 120 days", history(120, 999));
        apart(&cases, "with legs", |case| case.legs);
        apart(&cases, "without legs", |case| !case.legs);
        apart(&cases, "laid up when asked", |case| case.laid_up);
        apart(&cases, "limited by starts", |case| case.by_starts);
    }
}

const HEADING: &str = "| trade | days ahead | dated | no date | inside, % | 95 % limits | early, late, % | width | off | \
off by average | off by month | loss | loss by average | loss by month |\n|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|";

fn apart(cases: &[Case], name: &str, test: impl Fn(&Case) -> bool) {
    for trade in halfglass_tests::trade::Trade::ALL {
        for days in halfglass_tests::trade::backtest::HORIZONS_DAYS {
            let own = |case: &&Case| case.trade == trade && case.horizon_days == days && test(case);
            let own: Vec<&Case> = cases.iter().filter(own).collect();
            if let Some(row) = row(trade, days, &own) {
                println!("| {}, {name} {}", trade.name(), text(&row));
            }
        }
    }
}

fn text(row: &Row) -> String {
    let percent = |share: f64| share * 100.0;
    let [share, low, high] = row.inside.map(percent);
    let [early, late] = row.outside.map(percent);
    let [ours, average, month] = row.rules;
    format!(
        "| {} | {} | {} | {share:.1} | {low:.1} to {high:.1} | {early:.1}, {late:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:.2} | {:.2} \
         | {:.2} |",
        row.horizon_days,
        row.cases,
        row.no_date,
        row.width_days,
        ours.off_days,
        average.off_days,
        month.off_days,
        ours.pinball_days,
        average.pinball_days,
        month.pinball_days,
    )
}

fn json(row: &Row) -> serde_json::Value {
    // What is never reached is no number.
    let days = |days: f64| if days.is_finite() { serde_json::json!(days) } else { serde_json::Value::Null };
    let rule = |rule: Rule| serde_json::json!({ "off_days": days(rule.off_days), "pinball_days": days(rule.pinball_days) });
    let [ours, average, month] = row.rules;
    serde_json::json!({
        "trade": row.trade.name(), "horizon_days": row.horizon_days, "cases": row.cases, "no_date": row.no_date,
        "inside": row.inside[0], "inside_low": row.inside[1], "inside_high": row.inside[2],
        "before_p10": row.outside[0], "behind_p90": row.outside[1], "width_days": days(row.width_days),
        "ours": rule(ours), "by_average": rule(average), "by_last_month": rule(month),
    })
}
