//! `cargo xtask bench foresee`: due dates of a fleet, plans of a fleet, Weibull fits; what an office waits for.
//!
//! Each is a program of its own, built once and run; here their figures stand in one answer.

use super::table::thousands;
use super::{life, program};
use anyhow::Result;
use comfy_table::{CellAlignment, Table, presets};
use serde::{Deserialize, Serialize};

/// A thousand radars with two parts each are answered in so many milliseconds, with the longest history.
const DUE_TARGET_MS: f64 = 1_000.0;

/// Fifty radars are planned over forty windows in so many milliseconds.
const PLAN_TARGET_MS: f64 = 1_000.0;

/// Due dates of so many radars.
#[derive(Deserialize, Serialize)]
struct DueRow {
    radars: u64,
    parts: u64,
    history_days: u64,
    median_ms: f64,
    most_ms: f64,
    dated: u64,
}

/// Plans of ships of one size.
#[derive(Deserialize, Serialize)]
struct PlanRow {
    size: String,
    windows: u64,
    ships: u64,
    median_ms: f64,
    most_ms: f64,
    proven_best: u64,
    proven_safest: u64,
    works: u64,
    planned: u64,
}

#[derive(Serialize)]
struct Json<'a> {
    version: u32,
    due: &'a [DueRow],
    due_target_ms: f64,
    /// Of the longest history beside the shortest.
    due_growth: f64,
    plan: &'a [PlanRow],
    plan_target_ms: f64,
    life: Option<serde_json::Value>,
    life_missing: Option<String>,
}

/// Measures and prints.
pub(super) fn run(json: bool) -> Result<()> {
    let due: Vec<DueRow> = program::said("foresee", &["--json"])?;
    let plan: Vec<PlanRow> = program::said("planning", &["--windows", "40", "--json"])?;
    // Without Python's libraries the rest still says something.
    let (life, life_missing) = match life::value() {
        Ok(life) => (Some(life), None),
        Err(fault) => (None, Some(format!("{fault:#}"))),
    };
    let growth =
        due.first().zip(due.last()).map_or(f64::NAN, |(first, last)| last.median_ms / first.median_ms);
    if json {
        let answer = Json {
            version: 1,
            due: &due,
            due_target_ms: DUE_TARGET_MS,
            due_growth: growth,
            plan: &plan,
            plan_target_ms: PLAN_TARGET_MS,
            life,
            life_missing,
        };
        println!("{}", serde_json::to_string_pretty(&answer)?);
        return Ok(());
    }
    println!("{}\n\n{}", due_text(&due, growth), plan_text(&plan));
    match (life, life_missing) {
        (Some(life), _) => println!("\n{}", serde_json::to_string_pretty(&life)?),
        (None, missing) => println!("\nWeibull fits: not measured: {}", missing.unwrap_or_default()),
    }
    Ok(())
}

fn due_text(rows: &[DueRow], growth: f64) -> String {
    let mut table = table(&["due dates", "days of history", "median ms", "most ms", "dated"]);
    for row in rows {
        table.add_row([
            format!("{} radars, {} parts", row.radars, row.parts),
            row.history_days.to_string(),
            thousands(row.median_ms, 0),
            thousands(row.most_ms, 0),
            row.dated.to_string(),
        ]);
    }
    let last_ms = rows.last().map_or(f64::NAN, |row| row.median_ms);
    let verdict = if last_ms <= DUE_TARGET_MS { "met" } else { "MISSED" };
    format!(
        "{}\n{verdict}: {last_ms:.0} ms with the longest history (at most {DUE_TARGET_MS:.0}); {growth:.1} times that of the \
         shortest. One core.",
        flush_right(table)
    )
}

fn plan_text(rows: &[PlanRow]) -> String {
    let mut table = table(&["plans", "windows", "median ms", "most ms", "proven best"]);
    for row in rows {
        table.add_row([
            row.size.clone(),
            row.windows.to_string(),
            thousands(row.median_ms, 1),
            thousands(row.most_ms, 1),
            format!("{} of {}", row.proven_best, row.ships),
        ]);
    }
    let most_ms = rows.iter().map(|row| row.median_ms).fold(0.0, f64::max);
    let verdict = if most_ms <= PLAN_TARGET_MS { "met" } else { "MISSED" };
    format!(
        "{}\n{verdict}: {most_ms:.0} ms in the slowest size (at most {PLAN_TARGET_MS:.0}).",
        flush_right(table)
    )
}

fn table(heading: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY);
    table.set_header(heading.iter().copied());
    table
}

fn flush_right(mut table: Table) -> Table {
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table
}
