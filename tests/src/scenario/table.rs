//! Counts as tables.

use super::tally::{BINS, Parts, Row, Tally};
use halfglass::reconcile::Kind;
use serde_json::{Value, json};
use std::fmt::Write;

/// Wilson's limits of a share, 95 in 100.
#[must_use]
pub fn limits(right: u32, all: u32) -> (f64, f64) {
    let (n, z) = (f64::from(all).max(1e-9), 1.959_964);
    let share = f64::from(right) / n;
    let middle = (share + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

fn share(right: u32, all: u32) -> String {
    if all == 0 { "-".to_owned() } else { format!("{:.3}", f64::from(right) / f64::from(all)) }
}

impl Row {
    /// Found, of those whose evidence exists.
    #[must_use]
    pub fn recall(&self) -> f64 {
        f64::from(self.found) / f64::from(self.evident.max(1))
    }

    /// Right, of those reported, but for wrong ones at events that nobody could tell.
    #[must_use]
    pub fn precision(&self) -> f64 {
        f64::from(self.right) / f64::from((self.reported - self.excused).max(1))
    }
}

/// A middle or other share of figures.
#[must_use]
pub fn quantile(figures: &[f64], share: f64) -> f64 {
    let mut sorted = figures.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = ((sorted.len() as f64 - 1.0).max(0.0) * share).round() as usize;
    sorted.get(at).copied().unwrap_or(f64::NAN)
}

/// A mode's counts as text.
#[must_use]
pub fn text(name: &str, tally: &Tally) -> String {
    let mut out = format!("## {name}: {} ships, {:.0} ship-years\n\n", tally.ships, tally.years);
    let _ = writeln!(
        out,
        "| kind | planted | with evidence | found | asked | recall | found without | reported | right | excused | precision |\n|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for (kind, row) in &tally.rows {
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            kind.name(),
            row.planted,
            row.evident,
            row.found,
            row.asked,
            share(row.found, row.evident),
            row.lucky,
            row.reported,
            row.right,
            row.excused,
            share(row.right, row.reported - row.excused),
        );
    }
    let _ = writeln!(
        out,
        "\nFindings where nothing was wrong: {} ({:.4} a ship-year); neither right nor wrong: {}.",
        tally.false_all,
        f64::from(tally.false_all) / tally.years.max(1e-9),
        tally.moot
    );
    out + &parts(&tally.parts)
}

fn parts(parts: &Parts) -> String {
    let answered = parts.all - parts.unanswered;
    let mut out = format!(
        "\nParts with a fitting: {}, answered {answered}; truth inside: {} ({}); width: median {:.2} h, 95 % {:.1} h; \
         of the {} put in since the logger was, on lines that it sees: median {:.2} h.\n\n",
        parts.all,
        parts.inside,
        share(parts.inside, answered),
        quantile(&parts.widths_h, 0.5),
        quantile(&parts.widths_h, 0.95),
        parts.logged_widths_h.len(),
        quantile(&parts.logged_widths_h, 0.5)
    );
    let _ = writeln!(
        out,
        "| part's hours by | answers | median error h | 95 % h | within 24 h |\n|---|---|---|---|---|"
    );
    for (name, errors) in [
        ("reconcile", &parts.errors_h),
        ("the radar's last reading", &parts.radar_errors_h),
        ("the logger since the record", &parts.logger_errors_h),
    ] {
        let near = errors.iter().filter(|error| **error <= 24.0).count() as u32;
        let _ = writeln!(
            out,
            "| {name} | {} | {:.2} | {:.1} | {} |",
            errors.len(),
            quantile(errors, 0.5),
            quantile(errors, 0.95),
            share(near, errors.len() as u32)
        );
    }
    out
}

/// Whether probabilities mean what they say.
#[must_use]
pub fn calibration(tally: &Tally) -> String {
    let mut out =
        String::from("| probability | findings | right | share | 95 % limits |\n|---|---|---|---|---|\n");
    for (at, (right, all)) in tally.bins.iter().enumerate() {
        let to = BINS.get(at + 1).copied().unwrap_or(1.0);
        let (low, high) = limits(*right, *all);
        let _ = writeln!(
            out,
            "| {:.2}-{to:.2} | {all} | {right} | {} | {low:.3}-{high:.3} |",
            BINS[at],
            share(*right, *all)
        );
    }
    out
}

/// What was taken for what.
#[must_use]
pub fn confusion(tally: &Tally) -> String {
    let name = |kind: Option<Kind>| kind.map_or("nothing", Kind::name);
    let mut out = String::from("| truly | reported | times |\n|---|---|---|\n");
    for ((truly, reported), many) in &tally.confusion {
        let _ = writeln!(out, "| {} | {} | {many} |", name(*truly), name(*reported));
    }
    if !tally.beside.is_empty() {
        out.push_str("\n| at | wrongly reported as well | times |\n|---|---|---|\n");
    }
    for ((truly, reported), many) in &tally.beside {
        let _ = writeln!(out, "| {} | {} | {many} |", truly.name(), reported.name());
    }
    out
}

/// A mode's counts for a program.
#[must_use]
pub fn json(name: &str, tally: &Tally) -> Value {
    let rows: Vec<Value> = tally
        .rows
        .iter()
        .map(|(kind, row)| {
            json!({"kind": kind.name(), "planted": row.planted, "evident": row.evident, "found": row.found,
                "asked": row.asked, "reported": row.reported, "right": row.right, "excused": row.excused})
        })
        .collect();
    let bins: Vec<Value> = BINS
        .iter()
        .zip(tally.bins)
        .map(|(from, (right, all))| json!({"from": from, "right": right, "all": all}))
        .collect();
    let confusion: Vec<Value> = tally
        .confusion
        .iter()
        .map(|((truly, reported), many)| {
            json!({"truly": truly.map(Kind::name), "reported": reported.map(Kind::name), "times": many})
        })
        .collect();
    let parts = &tally.parts;
    json!({"mode": name, "ships": tally.ships, "years": tally.years, "kinds": rows, "calibration": bins,
        "confusion": confusion, "false": tally.false_all, "moot": tally.moot,
        "parts": {"all": parts.all, "unanswered": parts.unanswered, "inside": parts.inside,
            "width_median_h": quantile(&parts.widths_h, 0.5), "logged_width_median_h": quantile(&parts.logged_widths_h, 0.5), "error_median_h": quantile(&parts.errors_h, 0.5),
            "radar_error_median_h": quantile(&parts.radar_errors_h, 0.5),
            "logger_error_median_h": quantile(&parts.logger_errors_h, 0.5)}})
}
