//! What stands beside each part's dates: its spares, what removals tell, what was measured, how often it dropped out.

use super::conditions;
use super::lives::{self, Hours};
use super::{Foreseen, Told, spares};
use crate::due::{Answer, Question, usage};
use crate::life::removals::Removals;
use crate::life::told;
use crate::output::due::{Around, RadarRates, Spares};
use crate::output::{condition, life};
use crate::plan;
use crate::reconcile::Account;
use crate::ship::Settings;
use crate::ship::facts::Fitting;

const DAY_MS: i64 = 86_400_000;

/// Of all limits that removals give, two-sided. Common practice, no source.
const CONFIDENCE: f64 = 0.95;

/// What logs and fittings say of hours.
impl Hours for Foreseen<'_> {
    fn at_removal(&self, part: usize, fitted: &Fitting, removed_ms: i64) -> Option<f64> {
        let (_, question) = self.questions.get(part)?;
        let run_h = question.course.run_h(fitted.at_ms(), removed_ms).filter(|_| !question.line_doubted)?;
        Some(fitted.hours_at_fit.unwrap_or(0.0) + run_h)
    }

    fn now(&self, part: usize) -> Option<f64> {
        self.answers.get(part)?.hours.map(|hours| hours.best)
    }
}

/// Hours a day of a part's line; `None`: no log tells.
pub(in super::super) fn use_h_per_day(question: &Question) -> Option<f64> {
    question.course.ends().map(|_| usage::rate(&question.days, &question.course) * 24.0)
}

/// Everything beside the dates, in the order of the parts.
pub(in super::super) fn around(
    settings: &Settings,
    foreseen: &Foreseen<'_>,
    plan: &plan::Answer,
    weak_is_failed: bool,
) -> Around {
    let (told, accounts) = (&foreseen.told, &foreseen.accounts);
    let as_of_ms = told.facts.as_of_ms;
    let spares = foreseen.questions.iter().enumerate().map(|(at, (part, _))| {
        let left = spares::left(settings, &told.kept.fittings, part);
        let here: Vec<String> = left
            .iter()
            .filter(|spare| spares::from_ms(spare, as_of_ms) <= as_of_ms)
            .map(|spare| spare.serial.clone())
            .collect();
        let planned = plan.works.iter().find(|planned| planned.work == at);
        let stay = planned.and_then(|planned| planned.window.as_ref());
        Spares {
            order_by_ms: planned.and_then(|planned| planned.order_by_ms),
            order_for: stay.map(|stay| stay.place.clone()),
            on_its_way: left.len() > here.len(),
            aboard: here,
            lead_time_days: part.lead_time_days,
        }
    });
    Around {
        spares: spares.collect(),
        lives: lives(settings, told, foreseen, weak_is_failed),
        conditions: conditions(settings, told, &limits_ms(&foreseen.answers)),
        rates: accounts.iter().map(rates).collect(),
    }
}

/// When each part's limit falls, likeliest, as it is put off.
pub(in super::super) fn limits_ms(answers: &[Answer]) -> Vec<Option<i64>> {
    let limit_ms = |answer: &Answer| {
        answer.deferral.as_ref().map_or(answer.forecast.p50_ms, |put_off| put_off.by_ms(50))
    };
    answers.iter().map(limit_ms).collect()
}

/// What was measured of each radar, those that warn first.
pub(in super::super) fn conditions(
    settings: &Settings,
    told: &Told,
    limits_ms: &[Option<i64>],
) -> Vec<condition::Series> {
    let series = conditions::series(settings, &told.kept, limits_ms, told.facts.as_of_ms).into_iter();
    series.map(shown).collect()
}

fn rates(account: &Account) -> RadarRates {
    RadarRates {
        radar: account.radar.clone(),
        drop_outs: account.drop_outs,
        short_warm_ups: account.short_warm_ups,
    }
}

fn shown(series: conditions::Series) -> condition::Series {
    condition::Series {
        radar: series.radar,
        quantity: series.quantity,
        unit: series.unit,
        pulse: series.pulse,
        range_nm: series.range_nm,
        since_ms: series.since_ms,
        newest_ms: series.newest_ms,
        down_ms: series.down_ms,
        trend: series.trend,
        confidence: conditions::CONFIDENCE,
    }
}

/// What removals tell of each part.
fn lives(
    settings: &Settings,
    told: &Told,
    foreseen: &Foreseen<'_>,
    weak_is_failed: bool,
) -> Vec<Option<life::Life>> {
    let as_of_ms = told.facts.as_of_ms;
    let windows = told.kept.windows.iter().map(|kept| &kept.fact);
    let ahead = windows.filter(|window| window.from.best_ms() > as_of_ms && window.chance != Some(0.0));
    let next = ahead.min_by_key(|window| window.from.best_ms());
    let next = next.map(|window| (window.place.clone(), window.from.best_ms()));
    let mut lives: Vec<Option<life::Life>> = settings.parts.iter().map(|_| None).collect();
    for kind in lives::kinds(settings) {
        let services = lives::services(&kind, settings, &told.kept.fittings, foreseen);
        let removals = Removals::of(&services, weak_is_failed);
        let radars: Vec<String> = kind
            .members
            .iter()
            .filter_map(|at| settings.parts.get(*at))
            .map(|part| part.radar.clone())
            .collect();
        for at in &kind.members {
            let (Some(part), Some(slot)) = (settings.parts.get(*at), lives.get_mut(*at)) else { continue };
            let question = foreseen.questions.get(*at).map(|(_, question)| question);
            let until_days = next.as_ref().map(|(_, at_ms)| (at_ms - as_of_ms) as f64 / DAY_MS as f64);
            let ask = told::Ask {
                confidence: CONFIDENCE,
                cost_ratio: part.failure_cost_ratio,
                limit_h: part.limit_h,
                age_h: foreseen.now(*at),
                more_h: question.and_then(use_h_per_day).zip(until_days).map(|(h, days)| h * days),
            };
            *slot = told::told(removals.clone(), &ask).ok().map(|told| life::Life {
                told,
                radars: radars.clone(),
                confidence: CONFIDENCE,
                weak_is_failed,
                cost_ratio: part.failure_cost_ratio,
                limit_h: part.limit_h,
                until: next.clone(),
            });
        }
    }
    lives
}
