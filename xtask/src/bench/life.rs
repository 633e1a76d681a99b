//! `cargo xtask bench life`: Weibull fits per second, here and by Python's libraries, on the same lives in one run.

use super::program;
use super::table::{ratio, thousands};
use crate::oracles;
use anyhow::{Context, Result, bail};
use comfy_table::{CellAlignment, Table, presets};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::io::Write;
use std::process::Stdio;

/// At least so many times as many fits as the fastest of the libraries.
const TARGET_RATIO: f64 = 50.0;

#[derive(Deserialize)]
struct Here {
    kinds: Vec<HereKind>,
}

#[derive(Deserialize)]
struct HereKind {
    kind: String,
    fits_per_s: f64,
}

#[derive(Deserialize)]
struct There {
    kinds: Vec<ThereKind>,
}

#[derive(Deserialize)]
struct ThereKind {
    kind: String,
    libraries: BTreeMap<String, Library>,
}

/// What a library did.
#[derive(Deserialize)]
struct Library {
    fits_per_s: f64,
    furthest_off: f64,
    failed: u64,
}

/// Of one kind of lives.
#[derive(Serialize)]
struct Row {
    lives: String,
    fits_per_s: f64,
    libraries: BTreeMap<String, Beside>,
}

#[derive(Serialize)]
struct Beside {
    fits_per_s: f64,
    furthest_off: f64,
    failed: u64,
    ours_over_theirs: f64,
}

#[derive(Serialize)]
struct Json<'a> {
    version: u32,
    rows: &'a [Row],
    least_ratio: f64,
    target_ratio: f64,
}

/// Measures, and gives the answer as JSON.
pub(super) fn value() -> Result<serde_json::Value> {
    let rows = measure()?;
    let least_ratio = least_ratio(&rows);
    Ok(serde_json::to_value(Json { version: 1, rows: &rows, least_ratio, target_ratio: TARGET_RATIO })?)
}

fn least_ratio(rows: &[Row]) -> f64 {
    let ratios = rows.iter().flat_map(|row| row.libraries.values().map(|beside| beside.ours_over_theirs));
    ratios.fold(f64::INFINITY, f64::min)
}

/// Measures and prints.
pub(super) fn run(json: bool) -> Result<()> {
    let rows = measure()?;
    let least_ratio = least_ratio(&rows);
    if json {
        let answer = Json { version: 1, rows: &rows, least_ratio, target_ratio: TARGET_RATIO };
        println!("{}", serde_json::to_string_pretty(&answer)?);
    } else {
        println!("{}", text(&rows, least_ratio));
    }
    Ok(())
}

fn measure() -> Result<Vec<Row>> {
    // Made ready first: so that nothing else runs while fits are counted.
    let mut library = oracles::script("fits.py")?;
    let fits = program::output("fits", &[])?;
    let here: Here = program::read("fits", &fits)?;
    eprintln!("fitting the same lives in Python");
    let mut child =
        library.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().context("could not start Python")?;
    // The script reads all of its input before it writes: neither waits for the other.
    child.stdin.take().context("Python takes no input")?.write_all(&fits)?;
    let said = child.wait_with_output()?;
    if !said.status.success() {
        bail!("the Python libraries ended with {}", said.status);
    }
    let there: There = serde_json::from_slice(&said.stdout).context("what Python wrote makes no sense")?;
    let rows = here.kinds.into_iter().zip(there.kinds).map(|(here, there)| {
        if here.kind != there.kind {
            bail!("{} here, {} there: the lives were mixed up", here.kind, there.kind);
        }
        let beside = |Library { fits_per_s, furthest_off, failed }: Library| {
            let ours_over_theirs = here.fits_per_s / fits_per_s;
            Beside { fits_per_s, furthest_off, failed, ours_over_theirs }
        };
        let libraries = there.libraries.into_iter().map(|(name, library)| (name, beside(library))).collect();
        Ok(Row { lives: here.kind, fits_per_s: here.fits_per_s, libraries })
    });
    rows.collect()
}

fn text(rows: &[Row], least_ratio: f64) -> String {
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY);
    let names: Vec<&String> = rows.first().map_or(Vec::new(), |row| row.libraries.keys().collect());
    let mut heading = vec!["Weibull fits per second".to_owned(), "halfglass".to_owned()];
    heading.extend(names.iter().map(|name| (*name).clone()));
    heading.push("furthest off".to_owned());
    table.set_header(heading);
    let mut failures = String::new();
    for row in rows {
        let mut cells = vec![row.lives.clone(), thousands(row.fits_per_s, 0)];
        let mut furthest: f64 = 0.0;
        for (name, beside) in &row.libraries {
            cells.push(format!(
                "{} (ours x{})",
                thousands(beside.fits_per_s, 0),
                ratio(beside.ours_over_theirs)
            ));
            furthest = furthest.max(beside.furthest_off);
            if beside.failed > 0 {
                failures += &format!("{name}, {}: {} sets could not be fitted\n", row.lives, beside.failed);
            }
        }
        cells.push(format!("{furthest:.0e}"));
        table.add_row(cells);
    }
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let verdict = if least_ratio >= TARGET_RATIO { "met" } else { "MISSED" };
    format!(
        "{table}\n\nThe same lives on this machine in one run; one core each. Furthest off: the largest relative difference between \
         their scale or shape and ours.\n{failures}{verdict}: {} times as many fits as the fastest, at the least (at least {})",
        ratio(least_ratio),
        ratio(TARGET_RATIO),
    )
}
