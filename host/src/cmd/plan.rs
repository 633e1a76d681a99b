//! `halfglass plan`: in which stay each part is renewed.

use super::Outcome;
use super::door::{self, AsOf, Asked, Foreseen};
use crate::Result;
use crate::due::{self};
use crate::output;
use crate::output::plan::Beside;
use crate::output::screen::Screen;
use crate::output::stock::Stretch;
use crate::plan::{self, Chance, Problem, Spare, Window, Work};
use crate::ship::facts::{Fitting, Window as WindowFact};
use crate::ship::settings::{Part, Settings};
use crate::store::Kept;
use crate::time::{self, Clock};
use std::path::Path;

/// Arguments of `plan`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass plan
  halfglass plan --as-of 2026-03-01T00:00+00:00    as it stood then: later facts are not seen
  halfglass plan --json                            for programs

It needs the stays ahead (`halfglass import windows FILE`) and, in ship.toml, each part's work_hours, needs_aloft and
lead_time_days. What is best, in this order: the least chance that a limit passes with no usable stay left; never both
radars opened in one stay; what is overdue first; few isolations; little life given up.")]
pub struct Args {
    /// The date to answer for
    #[command(flatten)]
    pub as_of: AsOf,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// For so many days ahead spares are reckoned
    #[arg(long, value_name = "DAYS", default_value_t = SPARES_DAYS, value_parser = clap::value_parser!(u16).range(1..))]
    pub spares_days: u16,
    /// How surely they are to last, between 0 and 1
    #[arg(long, value_name = "SHARE", default_value_t = SPARES_SURE, value_parser = share)]
    pub spares_sure: f64,
}

/// A year.
const SPARES_DAYS: u16 = 365;

/// Common practice, no source.
const SPARES_SURE: f64 = 0.95;

impl Default for Args {
    fn default() -> Args {
        Args { as_of: AsOf::default(), json: false, spares_days: SPARES_DAYS, spares_sure: SPARES_SURE }
    }
}

/// A share of all cases.
fn share(text: &str) -> std::result::Result<f64, String> {
    let share = text.parse().ok().filter(|share| (0.01..=0.9999).contains(share));
    share.ok_or_else(|| "it lies between 0.01 and 0.9999, for instance 0.95".to_owned())
}

/// Runs it.
///
/// # Errors
/// The ship folder cannot be read, or the date is no date.
pub fn run(ship: &Path, args: &Args) -> Result<Outcome> {
    let asked = Asked::open(ship, &args.as_of)?;
    let foreseen = asked.foreseen()?;
    let (settings, as_of_ms) = (&asked.settings, asked.as_of_ms);
    let problem = problem(&asked, &foreseen)?;
    let put_off: Vec<_> = foreseen.answers.iter().map(|answer| answer.deferral.clone()).collect();
    let answer = plan::plan(&problem);
    let planned = door::stock::Planned { problem: &problem, answer: &answer };
    let stretch = Stretch { as_of_ms, days: f64::from(args.spares_days), confidence: args.spares_sure };
    let stock = door::stock::stock(settings, &foreseen, &planned, &stretch);
    let beside = Beside { put_off: &put_off, stock: &stock, stretch };
    if args.json {
        output::print(&output::plan::json(&problem, &answer, &beside))?;
        return Ok(Outcome::Fine);
    }
    output::print_text(&if settings.parts.is_empty() {
        let path = asked.folder.settings_path();
        format!("{} names no part yet: write [[radar]] and [[part]] blocks into it.\n", path.display())
    } else {
        output::plan::text(&settings.ship, &problem, &answer, &beside, Screen::of_stdout())
    })?;
    Ok(Outcome::Fine)
}

/// What is to be planned: stays and works, these in the order of the questions.
///
/// # Errors
/// The ship's database cannot be read.
pub(super) fn problem(asked: &Asked, foreseen: &Foreseen<'_>) -> Result<Problem> {
    let (clock, as_of_ms) = (asked.store.clock()?, asked.as_of_ms);
    let kept = &foreseen.told.kept;
    let windows = kept.windows.iter().map(|kept| window(&kept.fact, &clock)).collect();
    let works = foreseen.questions.iter().zip(&foreseen.answers);
    let works =
        works.map(|((part, _), answer)| work(&asked.settings, &kept.fittings, part, answer, as_of_ms));
    Ok(Problem { as_of_ms, windows, works: works.collect() })
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

fn work(
    settings: &Settings,
    fittings: &[Kept<Fitting>],
    part: &Part,
    answer: &due::Answer,
    as_of_ms: i64,
) -> Work {
    let put_off = answer.deferral.as_ref().map(|put_off| &put_off.percentiles_ms);
    let percentiles_ms = put_off.unwrap_or(&answer.forecast.percentiles_ms);
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
        spare: spare(settings, fittings, part, as_of_ms),
        no_date: percentiles_ms.is_empty().then(|| {
            let why = answer.notes.iter().filter(|note| !note.starts_with("Taken as new"));
            why.cloned().collect::<Vec<_>>().join(" ")
        }),
        due: Chance::of_equally_likely(percentiles_ms, 100),
        use_h_per_day: use_h_per_day.map(|(left_h, days)| left_h / days),
    }
}

/// The spare that is there first and was never put in.
fn spare(settings: &Settings, fittings: &[Kept<Fitting>], part: &Part, as_of_ms: i64) -> Option<Spare> {
    let left = door::spares::left(settings, fittings, part).into_iter();
    let spares = left
        .map(|spare| Spare { serial: spare.serial.clone(), from_ms: door::spares::from_ms(spare, as_of_ms) });
    spares.min_by_key(|spare| spare.from_ms)
}
