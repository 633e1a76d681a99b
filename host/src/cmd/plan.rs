//! `halfglass plan`: in which stay each part is renewed.

use super::{Outcome, door, due as cmd_due};
use crate::Result;
use crate::due::{self, Question};
use crate::output;
use crate::plan::{self, Chance, Problem, Spare, Window, Work};
use crate::ship::facts::{Deferral, Fitting, Window as WindowFact};
use crate::ship::settings::{Part, Settings};
use crate::ship::{Folder, settings};
use crate::store::{Facts, Kept, Store};
use crate::time::{self, Clock};
use std::path::Path;

/// Arguments of `plan`.
#[derive(Debug, Default, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass plan
  halfglass plan --as-of 2026-03-01T00:00+00:00    as it stood then: later facts are not seen
  halfglass plan --json                            for programs

It needs the stays ahead (`halfglass import windows FILE`) and, in ship.toml, each part's work_hours, needs_aloft and
lead_time_days. What is best, in this order: the least chance that a limit passes with no usable stay left; never both
radars opened in one stay; what is overdue first; few isolations; little life given up.")]
pub struct Args {
    /// The date to answer for, with the offset from UTC; without it, now
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// Runs it.
///
/// # Errors
/// The ship folder cannot be read, or the date is no date.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let folder = Folder::open(ship)?;
    let settings = folder.settings()?;
    let now_ms = time::now_ms();
    let as_of_ms = door::as_of_ms(args.as_of.as_ref(), now_ms)?;
    let store = Store::open(&folder.store_path())?;
    let told = door::told(&settings, &store, as_of_ms, now_ms)?;
    let questions = door::foreseen::questions(&settings, &told);
    let facts = &told.kept;
    let clock = store.clock()?;
    let windows = facts.windows.iter().map(|kept| window(&kept.fact, &clock)).collect();
    let mut problem = Problem { as_of_ms, windows, works: Vec::new() };
    let mut deferred = Vec::new();
    for (part, question) in &questions {
        let deferral = deferral(facts, part, question, as_of_ms);
        problem.works.push(work(&settings, facts, part, question, deferral, as_of_ms));
        deferred.push(deferral.map(deferral_note));
    }
    let answer = plan::plan(&problem);
    output::print(&if args.json {
        output::plan::json(&problem, &answer)
    } else if settings.parts.is_empty() {
        let path = folder.settings_path();
        format!("{} names no part yet: write [[radar]] and [[part]] blocks into it.\n", path.display())
    } else {
        output::plan::text(&settings.ship, &problem, &answer, &deferred)
    })?;
    Ok(Outcome::Fine)
}

fn window(fact: &WindowFact, clock: &Clock) -> Window {
    Window {
        from_ms: fact.from.best_ms(),
        to_ms: fact.to.best_ms(),
        sure_from_ms: fact.from.hi_ms(),
        sure_to_ms: fact.to.lo_ms(),
        place: fact.place.clone(),
        aloft: fact.aloft,
        transmit: fact.transmit,
        deliver: fact.deliver,
        daylight_h: fact.daylight_h,
        noons_ms: noons(fact, clock),
        chance: fact.chance,
    }
}

/// Longer stays than this, in days, are looked at no further.
const NOONS_MAX: i64 = 400;

/// The noons of a stay by the ship's clock, from the day before to the day behind. A noon that the clock does not
/// say clearly (a day that was lived twice, or skipped, at the date line) is left out. `None`: no clock is known.
fn noons(fact: &WindowFact, clock: &Clock) -> Option<Vec<i64>> {
    const DAY_MS: i64 = 86_400_000;
    let (from_ms, to_ms) = (fact.from.hi_ms(), fact.to.lo_ms());
    let days = (to_ms.saturating_sub(from_ms) / DAY_MS).clamp(0, NOONS_MAX);
    let noon =
        |day: i64| clock.moment(&format!("{}T12:00", time::date(from_ms.saturating_add(day * DAY_MS))));
    let found: Vec<_> = (-1..=days + 2).map(noon).collect();
    let known = found.iter().any(std::result::Result::is_ok);
    let exact = found.into_iter().flatten().filter(|noon| noon.is_exact()).map(time::Moment::best_ms);
    known.then(|| exact.collect())
}

/// The deferral that stands for a part as it is fitted now: the last one, unless its end is over.
fn deferral<'a>(facts: &'a Facts, part: &Part, question: &Question, as_of_ms: i64) -> Option<&'a Deferral> {
    let fitted_ms = question.fitting.as_ref().map_or(i64::MIN, |fitted| fitted.at.best_ms());
    let own = facts.deferrals.iter().map(|kept| &kept.fact).filter(|deferral| {
        deferral.radar == part.radar && deferral.part == part.name && deferral.at.hi_ms() >= fitted_ms
    });
    let last = own.max_by_key(|deferral| deferral.at.best_ms())?;
    // A time of which it is not known whether it has come is taken as come.
    last.until.is_none_or(|until| until.lo_ms() > as_of_ms).then_some(last)
}

fn deferral_note(deferral: &Deferral) -> String {
    let until = [
        deferral.until_h.map(|hours| format!("{hours} h")),
        deferral.until.map(|until| format!("{} UTC", time::minute(until.lo_ms()))),
    ];
    format!(
        "Deferred until {}: {} (approved by {}).",
        until.into_iter().flatten().collect::<Vec<_>>().join(" or "),
        deferral.reason,
        deferral.approved_by
    )
}

fn work(
    settings: &Settings,
    facts: &Facts,
    part: &Part,
    question: &Question,
    deferral: Option<&Deferral>,
    as_of_ms: i64,
) -> Work {
    let answer = due::answer(question, as_of_ms, cmd_due::SEED);
    let mut percentiles_ms = answer.forecast.percentiles_ms.clone();
    if let Some(deferral) = deferral {
        let until_ms = deferral.until.map(time::Moment::lo_ms);
        // The limit that the deferral puts in the place of the old one.
        let put_off = deferral.until_h.map(|until_h| {
            let question = Question { limit_h: Some(until_h), ..question.clone() };
            due::answer(&question, as_of_ms, cmd_due::SEED).forecast.percentiles_ms
        });
        percentiles_ms = put_off_to(&percentiles_ms, put_off.as_deref(), until_ms);
    }
    let days = answer.forecast.p50_ms.map(|at_ms| (at_ms - as_of_ms) as f64 / 86_400_000.0);
    // What is left over the likeliest time that is left. A limit that has passed leaves nothing to give up.
    let by_hours = answer.forecast.limited_by == Some(due::LimitedBy::Hours);
    let use_h_per_day =
        answer.remaining_h.zip(days).filter(|(left_h, days)| by_hours && *left_h > 0.0 && *days > 0.0);
    Work {
        radar: part.radar.clone(),
        part: part.name.clone(),
        serial: answer.serial.clone(),
        planner_id: part.planner_id.clone(),
        work_h: part.work_hours,
        needs_aloft: part.needs_aloft,
        lead_time_days: part.lead_time_days,
        spare: spare(settings, &facts.fittings, part, as_of_ms),
        no_date: percentiles_ms.is_empty().then(|| {
            let why = answer.notes.iter().filter(|note| !note.starts_with("Taken as new"));
            why.cloned().collect::<Vec<_>>().join(" ")
        }),
        due: Chance::of_equally_likely(&percentiles_ms, 100),
        use_h_per_day: use_h_per_day.map(|(left_h, days)| left_h / days),
    }
}

/// A limit put off: to when other hours are reached, to a date, or to whichever comes first; never to before itself.
fn put_off_to(limit_ms: &[i64], hours_ms: Option<&[i64]>, until_ms: Option<i64>) -> Vec<i64> {
    let end = |at: usize| match hours_ms {
        None => until_ms,
        // Hours that are never reached leave the date.
        Some(hours_ms) => hours_ms.get(at).copied().into_iter().chain(until_ms).min(),
    };
    (0..limit_ms.len()).map_while(|at| Some((*limit_ms.get(at)?).max(end(at)?))).collect()
}

/// The spare that is there first and was never put in.
fn spare(settings: &Settings, fittings: &[Kept<Fitting>], part: &Part, as_of_ms: i64) -> Option<Spare> {
    let put_in = |spare: &&settings::Spare| {
        fittings.iter().any(|kept| kept.fact.part == part.name && kept.fact.serial == spare.serial)
    };
    let own = settings.spares.iter().filter(|spare| spare.radar == part.radar && spare.part == part.name);
    let from_ms = |spare: &settings::Spare| {
        // Of a date that is known to a month only, its last day; and of a day, its end.
        let end = spare.received.and_then(|days| days.last.tomorrow().ok());
        end.and_then(|day| time::parse_ms(&format!("{day}T00:00Z")).ok())
            .map_or(as_of_ms, |at| at.max(as_of_ms))
    };
    let spares = own.filter(|spare| !put_in(spare));
    let spares = spares.map(|spare| Spare { serial: spare.serial.clone(), from_ms: from_ms(spare) });
    spares.min_by_key(|spare| spare.from_ms)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_put_off_to_hours_or_a_date_and_never_brought_forward() {
        let limit = [10, 20, 30];
        assert_eq!(put_off_to(&limit, None, Some(25)), [25, 25, 30]);
        assert_eq!(put_off_to(&limit, Some(&[40, 50]), None), [40, 50], "the third never comes");
        assert_eq!(put_off_to(&limit, Some(&[40, 50]), Some(45)), [40, 45, 45]);
        assert_eq!(put_off_to(&limit, Some(&[1, 2, 3]), None), limit);
    }
}
