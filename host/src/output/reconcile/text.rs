//! The answer of `reconcile` for people: hours, then what disagrees and what to do about it, worst first.

use super::{Item, Radar, Report, State, words};
use crate::output::look;
use crate::output::screen::Screen;
use crate::output::table::{Sheet, hours, printable};
use crate::reconcile::{Finding, Rate};
use crate::time;

/// How much is open, a table of hours, then each radar's findings.
#[must_use]
pub fn text(report: &Report, screen: Screen) -> String {
    let name = printable(&report.ship);
    let mut text = format!("{name}, as of {} UTC\n\n", time::minute(report.as_of_ms));
    if report.radars.is_empty() {
        text.push_str(&screen.paragraph(
            "ship.toml names no radar yet: write [[radar]] and [[part]] blocks into it, limits from the set's manual.",
        ));
        return text;
    }
    text.push_str(&look::bold(&screen.paragraph(&first(report))));
    text.push('\n');
    text.push_str(&parts(report, screen));
    let mut number = 0;
    for radar in &report.radars {
        text.push_str(&format!("\n{}", look::bold(&heading(radar))));
        for item in radar.items.iter().filter(|item| item.is_open()) {
            number += 1;
            text.push_str(&one(report, item, number, screen));
        }
        text.push_str(&rest(radar, screen));
    }
    text
}

/// What the whole answer comes to.
fn first(report: &Report) -> String {
    let open = |radar: &Radar| radar.items.iter().filter(|item| item.is_open()).count();
    let said: Vec<String> = report
        .radars
        .iter()
        .filter(|radar| open(radar) > 0)
        .map(|radar| format!("{} on {}", open(radar), radar.name))
        .collect();
    match report.radars.iter().map(open).sum() {
        0 => "Nothing is open.".to_owned(),
        1 => format!("1 finding is open: {}. It says what to do.", said.join(", ")),
        all => format!("{all} findings are open: {}. Worst first, each with what to do.", said.join(", ")),
    }
}

fn parts(report: &Report, screen: Screen) -> String {
    let heading = ["Radar", "Part", "Serial", "Fitted", "Low", "Best", "High"];
    let mut rows = Vec::new();
    let mut unknown = String::new();
    for radar in &report.radars {
        for part in &radar.parts {
            let figure = |h: Option<f64>| h.map_or_else(|| "-".to_owned(), |h| format!("{} h", hours(h)));
            rows.push(vec![
                radar.name.clone(),
                part.part.clone(),
                part.serial.clone().unwrap_or_else(|| "-".to_owned()),
                part.fitted.map_or_else(|| "-".to_owned(), |when| time::date(when.best_ms())),
                figure(part.hours.map(|h| h.low)),
                figure(part.hours.map(|h| h.best)),
                figure(part.hours.map(|h| h.high)),
            ]);
            if let Some(why) = &part.why_not {
                let (radar, part) = (&radar.name, &part.part);
                unknown.push_str(&screen.paragraph(&format!("{radar}, {part}: {why}.")));
            }
        }
    }
    if rows.is_empty() {
        return "ship.toml names no part yet.\n".to_owned();
    }
    let sheet = Sheet::new(&heading, &["Low", "Best", "High"], rows);
    let means = "Hours run, as all sources together leave them: not below, likeliest, not above.";
    format!("{}\n\n{}{}", sheet.on(screen), screen.paragraph(means), unknown)
}

fn heading(radar: &Radar) -> String {
    let open = || radar.items.iter().filter(|item| item.is_open());
    let questions = open().filter(|item| item.finding.is_question).count();
    let told = open().count() - questions;
    let count = |n: usize, what: &str| match n {
        1 => format!("1 {what}"),
        n => format!("{n} {what}s"),
    };
    let says = match (told, questions) {
        (0, 0) if !radar.has_log && !radar.has_papers => {
            "there is nothing to set against each other yet".to_owned()
        }
        (0, 0) if !radar.has_log => {
            "without a log there is nothing to set what was written against".to_owned()
        }
        (0, 0) if !radar.has_papers => "nothing was written down to set the log against".to_owned(),
        (0, 0) => "all sources agree".to_owned(),
        (told, 0) => count(told, "finding"),
        (0, questions) => count(questions, "question"),
        (told, questions) => format!("{}, {}", count(told, "finding"), count(questions, "question")),
    };
    format!("{}: {says}.\n", printable(&radar.name))
}

/// One finding.
fn one(report: &Report, item: &Item, number: usize, screen: Screen) -> String {
    let finding = &item.finding;
    let title = title(finding);
    let mut rows: Vec<(&str, String)> = Vec::new();
    rows.push(("when", when(finding.from_ms, finding.to_ms)));
    rows.push(("how sure", words::how_sure(finding.probability)));
    let mut label = "because";
    for sentence in &finding.evidence {
        rows.push((std::mem::take(&mut label), sentence.clone()));
    }
    if let Some(instead) = finding.instead {
        rows.push(("or else", words::otherwise(instead)));
    }
    rows.push(("do", finding.advice.clone()));
    if let State::Reopened { text, at } = &item.state {
        let then = format!("On {} UTC it was answered: {text}. There is new evidence since.", at.minute());
        rows.push(("reopened", then));
    }
    let number = format!("{number:>3}.");
    let title = format!("{} [{}]", title, finding.kind.name());
    let mut text = format!("\n{}", look::bold(&screen.numbered(&number, &title)));
    text.push_str(&screen.labelled(&rows, "     "));
    // A command is not wrapped: it is there to be copied.
    text.push_str(&format!("     close     {}\n", answer(report, item)));
    text
}

/// A finding in a few sentences, for where there is no room for more: what it is, or the question, and the figures.
#[must_use]
pub fn told(finding: &Finding) -> Vec<String> {
    let mut sentences = vec![title(finding)];
    sentences.extend(finding.evidence.iter().cloned());
    sentences
}

fn title(finding: &Finding) -> String {
    if finding.is_question { words::question(finding) } else { format!("{}.", words::title(finding)) }
}

/// The command that answers a finding.
pub(in crate::output) fn answer(report: &Report, item: &Item) -> String {
    let folder = report.folder.display().to_string();
    let ship = match folder.as_str() {
        "." => String::new(),
        // A folder's name may hold a space.
        name if name.contains(|c: char| !c.is_alphanumeric() && !"/\\-_.:~".contains(c)) => {
            format!("--ship \"{}\" ", printable(name))
        }
        name => format!("--ship {name} "),
    };
    format!(
        "halfglass {ship}add answer --at {} --finding {} --evidence {} --text \"...\"",
        time::rfc3339(report.as_of_ms),
        item.key,
        item.digest
    )
}

pub(in crate::output) fn when(from_ms: i64, to_ms: i64) -> String {
    let (from, to) = (time::minute(from_ms), time::minute(to_ms));
    if from == to { format!("{from} UTC") } else { format!("{from} to {to} UTC") }
}

/// What stands below a radar's findings: what was answered, rates, notes.
fn rest(radar: &Radar, screen: Screen) -> String {
    let mut lines = Vec::new();
    for item in &radar.items {
        if let State::Answered { text, at } = &item.state {
            let title = words::title(&item.finding);
            lines.push(format!("Answered on {}: {title}: {text} [{}]", time::date(at.best_ms()), item.key));
        }
    }
    match (&radar.drop_outs, &radar.short_warm_ups) {
        (None, None) => {}
        (drop_outs, short) if !some(drop_outs.as_ref()) && !some(short.as_ref()) => {
            lines.push("No drop-outs and no short warm-ups.".to_owned());
        }
        (drop_outs, short) => {
            lines.extend(drop_outs.as_ref().map(|of| rate("Drop-outs", of)));
            lines.extend(short.as_ref().map(|of| rate("Short warm-ups", of)));
        }
    }
    lines.extend(radar.notes.iter().cloned());
    if lines.is_empty() { String::new() } else { format!("\n{}", screen.notes(&lines)) }
}

/// Rarer than this by chance is a rise; rarer than the second, perhaps one. Common practice, no source.
pub(in crate::output) const RISES: (f64, f64) = (0.01, 0.05);

/// Whether there were any.
pub(in crate::output) fn some(rate: Option<&Rate>) -> bool {
    rate.is_some_and(|rate| rate.per_100_h > 0.0)
}

/// How frequent something is, and whether it has become more frequent.
pub(in crate::output) fn rate(what: &str, rate: &Rate) -> String {
    if !some(Some(rate)) {
        return format!("{what}: none.");
    }
    let trend = match rate.chance_of_rise {
        chance if chance < RISES.0 => "they have become more frequent",
        chance if chance < RISES.1 => "perhaps they have become more frequent",
        _ => "no rise beyond chance",
    };
    format!(
        "{what}: {:.2} per 100 transmit hours, {:.2} over the last 500: {trend}.",
        rate.per_100_h, rate.recent_per_100_h
    )
}
