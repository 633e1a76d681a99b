//! `halfglass feed`: hours and dates for whatever planner or calendar the office runs.

use super::door::{AsOf, Asked, Foreseen};
use super::{Outcome, plan as cmd_plan, reconcile as cmd_reconcile};
use crate::due::{self, LimitedBy, Question};
use crate::feed::calendar::{self, Event};
use crate::feed::steady::{instant, steady};
use crate::feed::{Given, Held, Row, Stay, Tenths};
use crate::output;
use crate::plan::{self, Planned};
use crate::reconcile::place;
use crate::ship::settings::Part;
use crate::store::{Meter, Store};
use crate::{Error, Result};
use std::path::{Path, PathBuf};

/// Arguments of `feed`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass feed csv --out hours.csv           a row for each part; `halfglass schema feed-csv` describes the columns
  halfglass feed json                          the same for programs; `halfglass schema feed`
  halfglass feed ics --out radar.ics           planned work, days to order by, latest days

The two meters of a row, cumulative_h and since_renewal_h, never fall and never move by more than the time that
passed since the last feed, whatever turns up meanwhile; the note says what is held back. The ship folder remembers
what was given out. Importing a calendar again brings it up to date: an event keeps its identity while the part
is fitted, and one that no longer stands is marked cancelled.")]
pub struct Args {
    /// In which form
    #[arg(value_name = "FORM")]
    pub form: Form,
    /// Write it there instead of printing it
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// The date to answer for
    #[command(flatten)]
    pub as_of: AsOf,
}

/// The forms of a feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Form {
    /// Rows as JSON
    Json,
    /// Rows as CSV (RFC 4180)
    Csv,
    /// A calendar (RFC 5545)
    Ics,
}

/// Runs it.
///
/// # Errors
/// The ship folder cannot be used, the date is no date, or the file cannot be written.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let asked = Asked::open(ship, &args.as_of)?;
    let rows = rows(ship, &asked)?;
    let (ship_name, as_of_ms) = (&asked.settings.ship, instant(asked.as_of_ms));
    let text = match args.form {
        Form::Json => output::feed::json(ship_name, as_of_ms, &rows),
        Form::Csv => output::feed::csv(ship_name, as_of_ms, &rows)?,
        Form::Ics => output::feed::ics(ship_name, &events(ship_name, &asked.store, &rows, as_of_ms)?),
    };
    match &args.out {
        None => output::print_exactly(&text)?,
        Some(path) => {
            std::fs::write(path, &text).map_err(|error| Error::file("write", path, &error))?;
            output::print(&format!("{} written.", path.display()))?;
        }
    }
    Ok(Outcome::Fine)
}

/// A row for each part. The meters' figures are remembered as given out.
///
/// # Errors
/// The ship's database cannot be used.
pub(super) fn rows(ship: &Path, asked: &Asked) -> Result<Vec<Row>> {
    let foreseen = asked.foreseen()?;
    let plan = plan::plan(&cmd_plan::problem(asked, &foreseen)?);
    let Foreseen { told, accounts, questions, answers } = foreseen;
    let reported = cmd_reconcile::report(ship, asked, accounts, &told).radars;
    let (store, given_ms) = (&asked.store, instant(asked.as_of_ms));
    let mut rows = Vec::new();
    for (at, ((part, question), answer)) in questions.iter().zip(&answers).enumerate() {
        let log = told.facts.radars.iter().find(|radar| radar.name == part.radar).map(|radar| &radar.log);
        let findings = reported.iter().find(|radar| radar.name == part.radar);
        let mut row = row(part, question, answer);
        row.findings_open =
            findings.map_or(0, |radar| radar.items.iter().filter(|item| item.is_open()).count());
        if let Some(planned) = plan.works.iter().find(|planned| planned.work == at) {
            row.planned = stay(planned);
            row.order_by_ms = planned.order_by_ms;
        }
        let last = log.and_then(|log| log.points.last());
        row.counted_to_ms = last.map(|point| point.at.best_ms());
        let total_h = last.zip(place(part.ages_by)).map(|(point, line)| point.on_h[line]);
        row.cumulative = give(store, &mut row, Meter::Cumulative, total_h, given_ms)?;
        let serial = row.serial.clone().unwrap_or_default();
        let best_h = answer.hours.map(|hours| hours.best);
        row.since_renewal = give(store, &mut row, Meter::SinceRenewal(&serial), best_h, given_ms)?;
        rows.push(row);
    }
    Ok(rows)
}

/// The figure that a meter is given out with.
fn give(
    store: &Store,
    row: &mut Row,
    meter: Meter<'_>,
    best_h: Option<f64>,
    at_ms: i64,
) -> Result<Option<Tenths>> {
    let Some(best_h) = best_h else { return Ok(None) };
    let (figure, held) = steady(best_h, at_ms, &store.given(&row.radar, &row.part, meter)?);
    store.give(&row.radar, &row.part, meter, Given { at_ms, meter: figure })?;
    row.notes.extend(held.map(|held| held_back(meter, figure, held)));
    Ok(Some(figure))
}

fn row(part: &Part, question: &Question, answer: &due::Answer) -> Row {
    let mut notes = answer.notes.clone();
    if part.planner_id.is_none() {
        notes.push("No planner_id is entered in ship.toml.".to_owned());
    }
    Row {
        planner_id: part.planner_id.clone(),
        radar: part.radar.clone(),
        part: part.name.clone(),
        serial: answer.serial.clone(),
        fitted_at_ms: question.fitting.as_ref().map(|fitted| fitted.at.best_ms()),
        low_high_h: answer.hours.map(|hours| (hours.low, hours.high)),
        limit_h: answer.limit_h,
        due_ms: [answer.forecast.p10_ms, answer.forecast.p50_ms, answer.forecast.p90_ms],
        limited_by: answer.forecast.limited_by.map(LimitedBy::name),
        state: answer.state.name(),
        notes,
        ..Row::default()
    }
}

fn stay(planned: &Planned) -> Option<Stay> {
    let stay = planned.window.as_ref()?;
    Some(Stay { from_ms: stay.from_ms, to_ms: stay.to_ms, place: stay.place.clone() })
}

/// Why a meter says something else than what is held true.
fn held_back(meter: Meter<'_>, figure: Tenths, held: Held) -> String {
    let what = match meter {
        Meter::Cumulative => "the line's total",
        Meter::SinceRenewal(_) => "the hours since renewal",
    };
    match held {
        Held::Lower(by) => format!(
            "{:.1} h were given out before as {what}, {:.1} h more than is held true now: that figure stands until it is \
             caught up with.",
            figure.hours(),
            by.hours()
        ),
        Held::Higher(by) => format!(
            "As {what} {:.1} h are given out, {:.1} h less than is held true now: a meter moves by no more than the time \
             that passed since it was given out last.",
            figure.hours(),
            by.hours()
        ),
    }
}

/// The calendar's events. They are remembered as given out.
fn events(ship: &str, store: &Store, rows: &[Row], as_of_ms: i64) -> Result<Vec<Event>> {
    let given = store.events_given()?;
    let events = calendar::events(ship, rows, as_of_ms, &given);
    // A calendar of an earlier date tells nobody's calendar anything.
    let earlier = given.iter().any(|event| event.changed_ms > as_of_ms);
    if !earlier {
        events.iter().try_for_each(|event| store.give_event(event))?;
    }
    Ok(events)
}
