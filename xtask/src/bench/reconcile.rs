//! `cargo xtask bench reconcile`: how long reconciling a fleet takes, and how that grows with the number of readings.

use super::program;
use super::table::{ratio, thousands};
use anyhow::{Context, Result};
use comfy_table::{CellAlignment, Table, presets};
use serde::{Deserialize, Serialize};

/// At most so long for 500 radars of five years, on two cores.
const TARGET_S: f64 = 2.0;

#[derive(Deserialize)]
struct Measured {
    radars: u64,
    rows: Vec<Took>,
}

/// With so many times the readings.
#[derive(Deserialize)]
struct Took {
    times: u64,
    readings: u64,
    one_thread_s: f64,
    two_threads_s: f64,
}

/// What a row of the table says; ratios are to the row with the readings as they are.
#[derive(Serialize)]
struct Row {
    times: u64,
    readings: u64,
    one_thread_s: f64,
    one_thread_ratio: f64,
    two_threads_s: f64,
    two_threads_ratio: f64,
    readings_per_s: f64,
}

#[derive(Serialize)]
struct Json<'a> {
    version: u32,
    radars: u64,
    rows: &'a [Row],
    target_s: f64,
}

/// Measures and prints.
pub(super) fn run(json: bool) -> Result<()> {
    let measured: Measured = program::said("reconciling", &[])?;
    let rows = rows(&measured.rows)?;
    if json {
        let answer = Json { version: 1, radars: measured.radars, rows: &rows, target_s: TARGET_S };
        println!("{}", serde_json::to_string_pretty(&answer)?);
    } else {
        println!("{}", text(measured.radars, &rows));
    }
    Ok(())
}

fn rows(all: &[Took]) -> Result<Vec<Row>> {
    let first = all.first().context("nothing was measured")?;
    let row = |took: &Took| Row {
        times: took.times,
        readings: took.readings,
        one_thread_s: took.one_thread_s,
        one_thread_ratio: took.one_thread_s / first.one_thread_s,
        two_threads_s: took.two_threads_s,
        two_threads_ratio: took.two_threads_s / first.two_threads_s,
        readings_per_s: took.readings as f64 / took.one_thread_s,
    };
    Ok(all.iter().map(row).collect())
}

fn text(radars: u64, rows: &[Row]) -> String {
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY);
    table.set_header([
        format!("{radars} radars, five years"),
        "readings".to_owned(),
        "one thread, s".to_owned(),
        "two threads, s".to_owned(),
        "readings per second,\none thread".to_owned(),
    ]);
    for row in rows {
        table.add_row([
            format!("{} x the readings", row.times),
            thousands(row.readings as f64, 0),
            format!("{:.3} (x{})", row.one_thread_s, ratio(row.one_thread_ratio)),
            format!("{:.3} (x{})", row.two_threads_s, ratio(row.two_threads_ratio)),
            thousands(row.readings_per_s, 0),
        ]);
    }
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let verdict = |took_s: f64| if took_s <= TARGET_S { "met" } else { "MISSED" };
    let mut out = format!(
        "{table}\n\nIn brackets: the ratio to the readings as they are. A ship is reconciled apart from all others: two threads \
         take turns at the ships.\n"
    );
    if let Some(row) = rows.first() {
        for (took_s, threads) in [(row.one_thread_s, "one thread"), (row.two_threads_s, "two threads")] {
            out += &format!("{}: {took_s:.2} s on {threads} (at most {TARGET_S})\n", verdict(took_s));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 readings in 0.5 s are 200 a second; twice as many in 1.5 s took three times as long.
    #[test]
    fn ratios_are_to_the_first_row() {
        let took = |times, one_thread_s| Took {
            times,
            readings: 100 * times,
            one_thread_s,
            two_threads_s: one_thread_s / 2.0,
        };
        let rows = rows(&[took(1, 0.5), took(2, 1.5)]).unwrap();
        assert_eq!(rows[0].readings_per_s, 200.0);
        assert_eq!((rows[1].one_thread_ratio, rows[1].two_threads_ratio), (3.0, 3.0));
    }
}
