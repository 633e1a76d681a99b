//! The door to the spares of a stretch of time: planned renewals, failures as they were counted, what is there.

use super::Foreseen;
use super::around::use_h_per_day;
use super::lives::{self, PartKind};
use super::spares;
use crate::life::removals::{Because, Removals};
use crate::life::stock::{self, Ask};
use crate::output::stock::{Kind, Stretch};
use crate::plan::{Answer, Problem};
use crate::ship::Settings;
use crate::ship::settings::Part;

const DAY_MS: f64 = 86_400_000.0;

/// Days of a month, on average over 400 years of the calendar.
const MONTH_DAYS: f64 = 146_097.0 / 4_800.0;

/// More renewals of one part than this within the stretch are a slip of the units.
const RENEWALS_MAX: usize = 1_000;

/// The plan of a ship, with what it rests on.
pub(in super::super) struct Planned<'a> {
    /// What was to be planned; its works are in the order of the parts.
    pub(in super::super) problem: &'a Problem,
    /// How it is planned.
    pub(in super::super) answer: &'a Answer,
}

/// The spares of each kind of part, those to be ordered first at the top.
pub(in super::super) fn stock(
    settings: &Settings,
    foreseen: &Foreseen<'_>,
    planned: &Planned<'_>,
    stretch: &Stretch,
) -> Vec<Kind> {
    let kinds = lives::kinds(settings);
    let mut kinds: Vec<Kind> =
        kinds.iter().filter_map(|kind| one(kind, settings, foreseen, planned, stretch)).collect();
    let order_in = |kind: &Kind| kind.stock.shortage.map_or(f64::INFINITY, |short| short.order_in_days);
    kinds.sort_by(|a, b| order_in(a).total_cmp(&order_in(b)));
    kinds
}

fn one(
    kind: &PartKind,
    settings: &Settings,
    foreseen: &Foreseen<'_>,
    planned: &Planned<'_>,
    stretch: &Stretch,
) -> Option<Kind> {
    let as_of_ms = stretch.as_of_ms;
    let parts: Vec<(usize, &Part)> =
        kind.members.iter().filter_map(|at| Some((*at, settings.parts.get(*at)?))).collect();
    let (_, first) = parts.first()?;
    let fittings = &foreseen.told.kept.fittings;
    let removals = Removals::of(&lives::services(kind, settings, fittings, foreseen), false);
    // A part of which only the running ones are known tells of no failures, but was never seen to its end either.
    let seen = removals.taken_out() > removals.count(Because::Unknown);
    let counted = (seen && removals.watched_h > 0.0).then_some((removals.failures, removals.watched_h));
    let use_of = |at: usize| foreseen.questions.get(at).and_then(|(_, question)| use_h_per_day(question));
    let together = parts.iter().map(|(at, _)| use_of(*at)).sum::<Option<f64>>();
    let mut renewals_in_days = Vec::new();
    let mut notes = Vec::new();
    let mut aboard = Vec::new();
    for (at, part) in &parts {
        let renewal_ms = renewal_ms(*at, part, planned);
        let first_days = renewal_ms.map(|at_ms| (at_ms - as_of_ms) as f64 / DAY_MS);
        renewals_in_days.extend(renewals(first_days, cycle_days(part, use_of(*at)), stretch.days));
        for spare in spares::left(settings, fittings, part) {
            notes.extend(spares::notes(spare, as_of_ms, renewal_ms));
            // What comes within the stretch counts; the note says that it is not there yet.
            if (spares::from_ms(spare, as_of_ms) - as_of_ms) as f64 / DAY_MS <= stretch.days {
                aboard.push(spare.serial.clone());
            }
        }
    }
    let lead_time_days = parts.iter().map(|(_, part)| part.lead_time_days.map(f64::from));
    let ask = Ask {
        renewals_in_days,
        counted,
        use_h_per_day: together,
        // The longest of them; not known if one is not.
        lead_time_days: lead_time_days
            .collect::<Option<Vec<f64>>>()
            .map(|all| all.into_iter().fold(0.0, f64::max)),
        in_stock: u32::try_from(aboard.len()).unwrap_or(u32::MAX),
        horizon_days: stretch.days,
        confidence: stretch.confidence,
    };
    Some(Kind {
        radars: parts.iter().map(|(_, part)| part.radar.clone()).collect(),
        part: first.name.clone(),
        aboard,
        counted,
        stock: stock::stock(&ask).ok()?,
        notes,
    })
}

/// When a part takes its next spare: when the plan wants one there, so that both say the same date to order by; else when its
/// renewal is planned, or its limit has fallen with one chance in ten.
fn renewal_ms(at: usize, part: &Part, planned: &Planned<'_>) -> Option<i64> {
    let work = planned.answer.works.iter().find(|work| work.work == at);
    let lead_ms = part.lead_time_days.map(|days| i64::from(days) * DAY_MS as i64);
    let wanted = work.and_then(|work| work.order_by_ms).zip(lead_ms).map(|(by_ms, lead_ms)| by_ms + lead_ms);
    let stay = work.and_then(|work| work.window.as_ref()).map(|stay| stay.from_ms);
    let due = planned.problem.works.get(at).and_then(|work| work.due.by(0.1));
    wanted.or(stay).or(due)
}

/// From one renewal to the next, by the limit that comes first.
fn cycle_days(part: &Part, use_h_per_day: Option<f64>) -> Option<f64> {
    let hours = part.limit_h.zip(use_h_per_day.filter(|use_h| *use_h > 0.0));
    let by_hours = hours.map(|(limit_h, use_h)| limit_h / use_h);
    let by_months = part.limit_months.map(|months| f64::from(months) * MONTH_DAYS);
    by_hours.into_iter().chain(by_months).reduce(f64::min)
}

fn renewals(first_days: Option<f64>, cycle_days: Option<f64>, until_days: f64) -> Vec<f64> {
    let Some(first_days) = first_days.map(|days| days.max(0.0)) else { return Vec::new() };
    let next = |days: &f64| cycle_days.map(|cycle| days + cycle);
    let all = std::iter::successors(Some(first_days), next);
    all.take_while(|days| *days <= until_days).take(RENEWALS_MAX).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand.
    #[test]
    fn a_short_limit_comes_again_within_the_stretch() {
        assert_eq!(renewals(Some(-5.0), Some(100.0), 250.0), [0.0, 100.0, 200.0], "what is late is now");
        assert_eq!(renewals(Some(30.0), None, 250.0), [30.0]);
        assert_eq!(
            (renewals(Some(300.0), Some(9.0), 250.0), renewals(None, Some(9.0), 250.0)),
            (vec![], vec![])
        );
        assert_eq!(renewals(Some(0.0), Some(0.0), 1.0).len(), RENEWALS_MAX);
    }
}
