//! The figures side by side.

use super::core::Costs;
use super::here::{Measured, Row, Verdict, Years};
use anyhow::Result;
use comfy_table::{CellAlignment, Table, presets};
use serde::Serialize;

/// What the other figures are set against.
const OURS: &str = "halfglass";

/// Erases that a page is good for, by the data sheets of common small controllers.
const ERASES_MAX: f64 = 10_000.0;

const YEAR_S: f64 = 365.25 * 86_400.0;

/// Modelled: what a slow chip (an nRF51) takes for a word and for a page.
const WORD_MS: f64 = 0.046;
const ERASE_MS: f64 = 22.0;

const WORD_LEN: f64 = 4.0;
const FLASH_LEN: f64 = 64.0 * 1024.0;

impl Row {
    fn bytes_per_commit(&self) -> f64 {
        self.life.programmed_bytes as f64 / self.life.commits as f64
    }

    fn worst_page_erases_per_1e6(&self) -> f64 {
        self.life.worst_page_erases as f64 * 1e6 / self.life.commits as f64
    }

    fn busy_ms_per_1e6(&self) -> f64 {
        let words = self.life.programmed_bytes as f64 / WORD_LEN;
        (words * WORD_MS + self.life.erases as f64 * ERASE_MS) * 1e6 / self.life.commits as f64
    }
}

fn years(worst_page_erases_per_1e6: f64, heartbeat_s: f64) -> f64 {
    ERASES_MAX / worst_page_erases_per_1e6 * 1e6 * heartbeat_s / YEAR_S
}

/// A figure of one store; `None`: not measured.
type Of<'a> = Box<dyn Fn(&Row) -> Option<f64> + 'a>;

/// A line of the table: what, and how much of it by store (`None`: not measured).
struct Measure<'a> {
    what: String,
    floor: Option<f64>,
    of: Of<'a>,
    /// Digits behind the point.
    digits: usize,
    /// The ratio to ours says something.
    ratio: bool,
    /// For ours, at most this.
    target: Option<f64>,
}

fn measures<'a>(here: &Measured, costs: &'a Costs) -> Vec<Measure<'a>> {
    let amount = &here.amount;
    let line = |what: &str, digits, of: Of<'a>| Measure {
        what: what.to_owned(),
        floor: None,
        of,
        digits,
        ratio: true,
        target: None,
    };
    let cost = |row: &Row| costs.get(&row.store).and_then(|cost| cost.as_ref().ok());
    let floor_erases = 1e6 * WORD_LEN / FLASH_LEN;
    let wrong = |cuts: u64, what: &str, of: fn(&Row) -> &Verdict| Measure {
        ratio: false,
        target: Some(0.0),
        ..line(&format!("wrong after {cuts} {what}"), 0, Box::new(move |row| Some(of(row).wrong as f64)))
    };
    vec![
        Measure {
            floor: Some(WORD_LEN),
            target: Some(4.4),
            ..line("bytes programmed per commit", 2, Box::new(|row| Some(row.bytes_per_commit())))
        },
        Measure {
            floor: Some(floor_erases),
            target: Some(70.0),
            ..line(
                "erases of the worst page per 1e6 commits",
                0,
                Box::new(|row| Some(row.worst_page_erases_per_1e6())),
            )
        },
        Measure {
            floor: Some(years(floor_erases, 10.0)),
            ..line(
                "years to 10,000 erases, a commit every 10 s",
                1,
                Box::new(|row| Some(years(row.worst_page_erases_per_1e6(), 10.0))),
            )
        },
        Measure {
            floor: Some(years(floor_erases, 60.0)),
            ..line(
                "the same, every 60 s",
                1,
                Box::new(|row| Some(years(row.worst_page_erases_per_1e6(), 60.0))),
            )
        },
        Measure {
            target: Some(1_433.0),
            ..line(
                &format!("bytes read at a cold mount, mean of {}", amount.cold_levels),
                0,
                Box::new(|row| Some(row.cold_reads.mean_bytes)),
            )
        },
        line("the same, median", 0, Box::new(|row| Some(row.cold_reads.median_bytes as f64))),
        line("the same, worst", 0, Box::new(|row| Some(row.cold_reads.worst_bytes as f64))),
        Measure {
            target: Some(2_048.0),
            ..line(
                "code bytes, thumbv6m",
                0,
                Box::new(move |row| cost(row).map(|cost| cost.code_bytes as f64)),
            )
        },
        line(
            "instructions per commit, thumbv6m",
            0,
            Box::new(move |row| {
                cost(row).and_then(|cost| cost.instructions_per_commit.as_ref().ok().copied())
            }),
        ),
        line("ns per commit on this machine", 0, Box::new(|row| Some(row.ns_per_commit))),
        line("modelled flash-busy ms per 1e6 commits", 0, Box::new(|row| Some(row.busy_ms_per_1e6()))),
        wrong(amount.word_cuts, "word cuts", |row| &row.word_cuts),
        wrong(amount.erase_cuts, "erase cuts", |row| &row.erase_cuts),
        wrong(amount.flicker_cuts, "cuts with flicker", |row| &row.flicker_cuts),
    ]
}

/// The table, what could not be measured, and how ours stands against its targets.
pub(crate) fn text(here: &Measured, costs: &Costs) -> String {
    let measures = measures(here, costs);
    let ours = here.rows.iter().find(|row| row.store == OURS);
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY);
    let mut heading = vec![format!("{} commits", thousands(here.amount.commits as f64, 0))];
    for row in &here.rows {
        heading.push(row.store.replacen("sequential-storage-", "sequential-storage\n", 1));
    }
    heading.push("floor\n(arithmetic)".to_owned());
    table.set_header(heading);
    for measure in &measures {
        let our_value = ours.and_then(|row| (measure.of)(row));
        let mut cells = vec![measure.what.clone()];
        for row in &here.rows {
            let against = our_value.filter(|_| measure.ratio && row.store != OURS);
            cells.push(figure((measure.of)(row), measure.digits, against));
        }
        cells.push(figure(measure.floor, measure.digits, our_value.filter(|_| measure.floor.is_some())));
        table.add_row(cells);
    }
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let mut out = table.to_string();
    out += "\n\nIn brackets: the ratio to ours. The floor is 4 bytes a commit with nothing else written, by arithmetic.\n";
    out +=
        &format!("Flash-busy time is modelled: {WORD_MS} ms a word, {ERASE_MS} ms an erase (nRF51-like).\n");
    out += "Code and instructions are differences from the same image without a store.\n";
    out += &notes(here, costs);
    out += "\nHalfglass with eight lines, edges and reboots (64 pages of 1 KiB):\n";
    for years in &here.eight_lines {
        out += &eight(years);
    }
    if let Some(ours) = ours {
        out += "\nTargets for halfglass, four lines:\n";
        for measure in measures.iter().filter(|measure| measure.target.is_some()) {
            out += &against_target(measure, ours);
        }
    }
    out
}

fn against_target(measure: &Measure<'_>, ours: &Row) -> String {
    let value = (measure.of)(ours);
    let verdict = match (value, measure.target) {
        (Some(value), Some(target)) if value <= target => "met",
        (Some(_), _) => "MISSED",
        (None, _) => "not measured",
    };
    let target = figure(measure.target, if measure.digits == 0 { 0 } else { 1 }, None);
    format!("  {verdict:12} {}: {} (at most {target})\n", measure.what, figure(value, measure.digits, None))
}

fn figure(value: Option<f64>, digits: usize, ours: Option<f64>) -> String {
    match (value, ours) {
        (None, _) => "not measured".to_owned(),
        (Some(value), Some(ours)) if ours > 0.0 => {
            format!("{} (x{})", thousands(value, digits), ratio(value / ours))
        }
        (Some(value), _) => thousands(value, digits),
    }
}

/// A ratio to two digits that count, as long as it is small.
pub(super) fn ratio(ratio: f64) -> String {
    match ratio {
        small if small < 1.995 => format!("{small:.2}"),
        middling if middling < 9.95 => format!("{middling:.1}"),
        large => thousands(large, 0),
    }
}

/// A figure with its digits in groups.
pub(super) fn thousands(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let (whole, rest) = text.split_once('.').map_or((text.as_str(), ""), |(whole, rest)| (whole, rest));
    let mut out = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    if rest.is_empty() { out } else { format!("{out}.{rest}") }
}

fn notes(here: &Measured, costs: &Costs) -> String {
    let mut out = String::new();
    for row in &here.rows {
        let verdicts =
            [("word cuts", &row.word_cuts), ("erase cuts", &row.erase_cuts), ("flicker", &row.flicker_cuts)];
        for (what, verdict) in verdicts.into_iter().filter(|(_, verdict)| verdict.wrong > 0) {
            out += &format!("{}, {what}: {}\n", row.store, kinds(verdict));
        }
        let broken = row.life.rules_broken
            + row.word_cuts.rules_broken
            + row.erase_cuts.rules_broken
            + row.flicker_cuts.rules_broken;
        if broken > 0 {
            out += &format!("{}: broke the chip's programming rules {broken} times\n", row.store);
        }
    }
    for failure in &here.failures {
        out += &format!("{}: {}\n", failure.store, failure.reason);
    }
    for (store, cost) in costs {
        match cost {
            Err(reason) => out += &format!("{store}: {reason}\n"),
            Ok(cost) => {
                if let Err(reason) = &cost.instructions_per_commit {
                    out += &format!("{store}: instructions not counted: {reason}\n");
                }
            }
        }
    }
    out
}

fn kinds(verdict: &Verdict) -> String {
    [
        (verdict.lost, "lost acknowledged commits"),
        (verdict.invented, "showed totals that never were"),
        (verdict.no_mount, "could not be mounted"),
        (verdict.no_commit, "took no further commit"),
        (verdict.not_kept, "lost the next acknowledged commit at the reboot after"),
        (verdict.crashed, "panicked or never came back"),
    ]
    .into_iter()
    .filter(|(times, _)| *times > 0)
    .map(|(times, what)| format!("{times} x {what}"))
    .collect::<Vec<_>>()
    .join(", ")
}

fn eight(years: &Years) -> String {
    let erases_per_year = years.worst_page_erases as f64 * 365.25 / f64::from(years.days);
    format!(
        "  {} lines, heartbeat {} s, {} edges and {} boots a day: {:.2} bytes per commit, {:.0} erases of the worst page a \
         year, {:.1} years to 10,000 ({} commits in {} days)\n",
        years.lines,
        years.heartbeat_s,
        years.edges_per_day,
        years.boots_per_day,
        years.programmed_bytes as f64 / years.commits as f64,
        erases_per_year,
        ERASES_MAX / erases_per_year,
        thousands(years.commits as f64, 0),
        years.days,
    )
}

/// One store in the JSON; what was not measured is null.
#[derive(Serialize)]
struct JsonRow<'a> {
    store: &'a str,
    bytes_per_commit: f64,
    worst_page_erases_per_1e6: f64,
    cold_read_bytes: f64,
    code_bytes: Option<u64>,
    ns_per_commit: f64,
    wrong_word_cuts: u64,
    wrong_erase_cuts: u64,
    wrong_flicker: u64,
}

#[derive(Serialize)]
struct Json<'a> {
    rows: Vec<JsonRow<'a>>,
}

/// The stores that were measured. `cold_read_bytes` is the mean.
pub(crate) fn json(here: &Measured, costs: &Costs) -> Result<String> {
    let rows = here.rows.iter().map(|row| JsonRow {
        store: &row.store,
        bytes_per_commit: row.bytes_per_commit(),
        worst_page_erases_per_1e6: row.worst_page_erases_per_1e6(),
        cold_read_bytes: row.cold_reads.mean_bytes,
        code_bytes: costs.get(&row.store).and_then(|cost| cost.as_ref().ok()).map(|cost| cost.code_bytes),
        ns_per_commit: row.ns_per_commit,
        wrong_word_cuts: row.word_cuts.wrong,
        wrong_erase_cuts: row.erase_cuts.wrong,
        wrong_flicker: row.flicker_cuts.wrong,
    });
    Ok(serde_json::to_string_pretty(&Json { rows: rows.collect() })?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_grouped() {
        assert_eq!(thousands(1_234_567.0, 0), "1,234,567");
        assert_eq!(thousands(999.0, 0), "999");
        assert_eq!(thousands(1_000.25, 2), "1,000.25");
        assert_eq!(figure(Some(36.0), 1, Some(4.0)), "36.0 (x9.0)");
        assert_eq!(figure(None, 0, Some(4.0)), "not measured");
    }

    /// One commit a second for a million seconds wears a page once: 10,000 erases are 1e10 seconds.
    #[test]
    fn years_by_hand() {
        assert!((years(1.0, 1.0) - 1e10 / 31_557_600.0).abs() < 1e-9);
    }
}
