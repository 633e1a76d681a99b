//! `halfglass month-end`: the readings of all radars in one go, each checked at once; then what the planner is told.

mod ask;
mod check;

use super::door::{AsOf, Asked};
use super::{Outcome, feed};
use crate::output;
use crate::output::screen::Screen;
use crate::output::table::printable;
use crate::ship::Settings;
use crate::ship::facts::{Fact, Fields, Known, QUANTITIES, Reading};
use crate::store::Kept;
use crate::time;
use crate::{Error, Result};
use check::{Check, Doubt};
use halfglass_protocol::config::Role;
use std::io::IsTerminal;
use std::path::Path;

/// Arguments of `month-end`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass month-end                          asks for each counter, one after the other
  halfglass month-end --reading S-band/transmit=2713 --reading S-band/motor=8120

Month-end in five minutes: pull the loggers (`halfglass pull`), go to the displays with this running, type what
they show. A figure that does not fit what the logger counted is questioned at once, while you can still look
again. At the end stands what to enter in the office's planner; `halfglass feed csv` writes the same as a file.

Without a terminal, readings that do not fit are not kept (exit code 1), unless --keep says that they are what
the displays showed.")]
pub struct Args {
    /// When the displays were read; without it, now
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// Who read them
    #[arg(long, value_name = "NAME")]
    pub by: Option<String>,
    /// A figure, for instance S-band/transmit=2713; as often as there are counters
    #[arg(long = "reading", value_name = "RADAR/QUANTITY=HOURS")]
    pub readings: Vec<String>,
    /// Keep readings that do not fit, too: they were looked at again
    #[arg(long)]
    pub keep: bool,
}

/// A counter of a radar.
#[derive(Clone, Debug, PartialEq)]
struct Counter {
    radar: String,
    quantity: Role,
}

/// Runs it.
///
/// # Errors
/// A figure or a time cannot be read, or the ship folder cannot be used; nothing was kept.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let screen = Screen::of_stdout();
    let mut asked = Asked::open(ship, &AsOf::default())?;
    let clock = asked.store.clock()?;
    let counters = counters(&asked.settings, &asked.store.standing()?);
    if counters.is_empty() {
        return Err(Error::input(
            "ship.toml names no part that ages by a radar's counter, and no reading was ever kept",
            "Write [[radar]] and [[part]] blocks into it first.",
        ));
    }
    let at = args.at.clone().unwrap_or_else(|| time::rfc3339(asked.now_ms));
    let at_ms =
        clock.moment(&at).map_err(|what| Error::input(format!("--at: {what}"), "Nothing was kept."))?.hi_ms();
    asked.as_of_ms = asked.now_ms.max(at_ms);
    let known = Known { settings: &asked.settings, clock: &clock };
    let by = (at.as_str(), args.by.as_deref());
    let check = Check::new(&asked)?;
    let (readings, doubts) = if args.readings.is_empty() {
        if !std::io::stdin().is_terminal() {
            return Err(Error::input("there is no terminal to ask at", example(&counters)));
        }
        let mut input = std::io::stdin().lock();
        let readings =
            ask::ask(&counters, &check, &known, by, &mut input, (&mut std::io::stdout().lock(), screen))?;
        let doubts = check.doubts(&readings);
        (readings, doubts)
    } else {
        let given: Result<Vec<Reading>> =
            args.readings.iter().map(|text| given(text, &counters, by, &known)).collect();
        let readings = given?;
        let doubts = check.doubts(&readings);
        if !doubts.is_empty() && !args.keep {
            let advice =
                "Nothing was kept. Look again; if the displays do show this, say it again with --keep.";
            let said = doubted(&readings, &doubts, screen);
            output::print_text(&format!("{said}\n{}", screen.paragraph(advice)))?;
            return Ok(Outcome::Findings);
        }
        (readings, doubts)
    };
    let new = asked.store.add_all(&readings)?;
    let count = |n: u64, what: &str| if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") };
    let mut text = format!("\n{} kept.\n", count(u64::from(new), "reading"));
    if !doubts.is_empty() {
        text.push_str(&doubted(&readings, &doubts, screen));
        text.push_str("`halfglass reconcile` weighs that with everything else.\n");
    }
    output::print(&text)?;
    let rows = feed::rows(ship, &asked)?;
    output::print_text(&output::feed::planner(&asked.settings.ship, asked.as_of_ms, &rows, screen))?;
    Ok(Outcome::Fine)
}

/// The counters to read: those that were ever read, and those whose hours age a part.
fn counters(settings: &Settings, readings: &[Kept<Reading>]) -> Vec<Counter> {
    let mut counters = Vec::new();
    for radar in &settings.radars {
        for quantity in QUANTITIES {
            let own =
                |kept: &Kept<Reading>| kept.fact.radar == radar.name && kept.fact.quantity == quantity.name();
            let read = readings.iter().any(own);
            let any_read = readings.iter().any(|kept| kept.fact.radar == radar.name);
            let ages = settings.parts.iter().any(|part| part.radar == radar.name && part.ages_by == quantity);
            if read || (ages && !any_read) {
                counters.push(Counter { radar: radar.name.clone(), quantity });
            }
        }
    }
    counters
}

fn example(counters: &[Counter]) -> String {
    let one = |counter: &Counter| format!("--reading {}/{}=HOURS", counter.radar, counter.quantity.name());
    format!(
        "Give the figures: halfglass month-end {}",
        counters.iter().map(one).collect::<Vec<_>>().join(" ")
    )
}

/// A figure from the command line.
fn given(text: &str, counters: &[Counter], by: (&str, Option<&str>), known: &Known<'_>) -> Result<Reading> {
    let wrong =
        |what: String| Error::input(format!("--reading {text}: {what}; nothing was kept"), example(counters));
    let (counter, hours) = text.split_once('=').ok_or_else(|| wrong("there is no `=HOURS`".to_owned()))?;
    // A radar's name may hold a slash, a quantity does not.
    let (radar, quantity) =
        counter.rsplit_once('/').ok_or_else(|| wrong("there is no `RADAR/QUANTITY`".to_owned()))?;
    let quantity = Role::from_name(quantity.trim()).filter(|role| QUANTITIES.contains(role));
    let quantity = quantity.ok_or_else(|| wrong("no radar counts that".to_owned()))?;
    let hours = figure(hours.trim()).map_err(wrong)?;
    reading(&Counter { radar: radar.trim().to_owned(), quantity }, hours, by, known)
}

/// Hours as typed. A comma among them is not guessed at: it groups thousands here and marks decimals there.
fn figure(text: &str) -> std::result::Result<f64, String> {
    match text.parse::<f64>() {
        Ok(hours) if hours.is_finite() && (0.0..1e7).contains(&hours) => Ok(hours),
        _ => Err(format!("`{text}` is not a number of hours: write it as 1234 or 1234.5")),
    }
}

/// A reading, checked by the rules that hold for all.
fn reading(
    counter: &Counter,
    hours: f64,
    (at, by): (&str, Option<&str>),
    known: &Known<'_>,
) -> Result<Reading> {
    Reading::check(
        &Typed {
            at,
            radar: &counter.radar,
            quantity: counter.quantity.name(),
            hours: hours.to_string(),
            by: by.unwrap_or(""),
        },
        known,
    )
}

struct Typed<'a> {
    at: &'a str,
    radar: &'a str,
    quantity: &'a str,
    hours: String,
    by: &'a str,
}

impl Fields for Typed<'_> {
    fn text(&self, field: &str) -> &str {
        match field {
            "at" => self.at,
            "radar" => self.radar,
            "quantity" => self.quantity,
            "hours" => &self.hours,
            "by" => self.by,
            _ => "",
        }
    }

    fn error(&self, _field: &str, what: &str) -> Error {
        Error::input(what, "No reading was kept.")
    }
}

fn doubted(readings: &[Reading], doubts: &[Doubt], screen: Screen) -> String {
    let mut text = String::new();
    for doubt in doubts {
        if let Some(reading) = readings.get(doubt.reading) {
            text.push_str(&format!(
                "{}, {}: {}\n",
                printable(&reading.radar),
                reading.quantity,
                reading.hours
            ));
        }
        for sentence in &doubt.sentences {
            text.push_str(&screen.indented(sentence, "  "));
        }
    }
    text
}

#[cfg(test)]
mod tests;
