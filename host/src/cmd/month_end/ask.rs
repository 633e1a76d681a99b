//! The dialogue at a terminal: one counter after the other, each figure looked at while the display is still in sight.

use super::check::Check;
use super::{Counter, figure, reading};
use crate::output::screen::Screen;
use crate::output::table::printable;
use crate::ship::facts::{Known, Reading};
use crate::{Error, Result};
use std::io::{BufRead, Write};

/// Asks for all figures. Nothing is kept yet.
///
/// # Errors
/// The terminal went away.
pub(super) fn ask(
    counters: &[Counter],
    check: &Check,
    known: &Known<'_>,
    (at, by): (&str, Option<&str>),
    input: &mut impl BufRead,
    (out, screen): (&mut impl Write, Screen),
) -> Result<Vec<Reading>> {
    let mut readings: Vec<Reading> = Vec::new();
    let how = "Copy each figure from the radar's own display. Enter alone leaves a counter out.";
    say(out, &format!("{}\n", screen.paragraph(how)))?;
    for counter in counters {
        let name = format!("{}, {} hours: ", printable(&counter.radar), counter.quantity.name());
        let mut question = name.clone();
        let mut doubted: Option<f64> = None;
        loop {
            say(out, &question)?;
            let Some(text) = line(input)? else { return Ok(readings) };
            let hours = match (text.as_str(), doubted) {
                ("", None) => break,
                // Looked at again, and so it stands.
                ("", Some(hours)) => {
                    readings.push(reading(counter, hours, (at, by), known)?);
                    break;
                }
                (text, _) => match figure(text) {
                    Ok(hours) => hours,
                    Err(what) => {
                        say(out, &screen.indented(&format!("{what}."), "  "))?;
                        continue;
                    }
                },
            };
            let mut trial = readings.clone();
            trial.push(reading(counter, hours, (at, by), known)?);
            let last = trial.len() - 1;
            let doubts = check.doubts(&trial);
            let mut own = doubts.iter().filter(|doubt| doubt.reading == last).peekable();
            if own.peek().is_none() || doubted == Some(hours) {
                readings = trial;
                break;
            }
            for sentence in own.flat_map(|doubt| &doubt.sentences) {
                say(out, &screen.indented(sentence, "  "))?;
            }
            doubted = Some(hours);
            question = format!("  Look again. Figure, or Enter if it does show {hours}: ");
        }
    }
    Ok(readings)
}

fn say(out: &mut impl Write, text: &str) -> Result<()> {
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    written.map_err(|error| gone(&error))
}

/// A line without its end; `None` at the end of input.
fn line(input: &mut impl BufRead) -> Result<Option<String>> {
    let mut text = String::new();
    match input.read_line(&mut text) {
        Ok(0) => Ok(None),
        Ok(_) => Ok(Some(text.trim().to_owned())),
        Err(error) => Err(gone(&error)),
    }
}

fn gone(error: &std::io::Error) -> Error {
    Error::input(
        format!("the terminal cannot be used ({error}); no reading was kept"),
        "Give the figures with --reading.",
    )
}
