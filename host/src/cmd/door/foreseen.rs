//! What the room that foresees is asked about each part: hours as all sources together leave them, and the course of the
//! line that ages it.

use super::{Beside, Told};
use crate::due::course::{Course, Mark};
use crate::due::usage::{self, Leg, Mode};
use crate::due::{Fitted, Question, sailed};
use crate::reconcile::{self, Account, PartHours, place};
use crate::ship::facts;
use crate::ship::settings::{Part, Settings};
use crate::store::Kept;
use crate::timeline::dating::When;
use halfglass_protocol::config::Role;

/// A question for each part, in the order of ship.toml.
pub(in super::super) fn questions<'a>(
    settings: &'a Settings,
    told: &Told,
    accounts: &[Account],
) -> Vec<(&'a Part, Question)> {
    let (legs, said) = sailed(told);
    let mut questions = Vec::new();
    for part in &settings.parts {
        // A part whose radar is not there is refused when ship.toml is read.
        let Some(at) = told.facts.radars.iter().position(|radar| radar.name == part.radar) else { continue };
        let Some(hours) = accounts[at].parts.iter().find(|hours| hours.part == part.name) else { continue };
        let mut question = question(part, hours, &told.facts.radars[at], &told.beside[at], &legs);
        question.said.extend(said.clone());
        questions.push((part, question));
    }
    questions
}

fn question(
    part: &Part,
    hours: &PartHours,
    radar: &reconcile::Radar,
    beside: &Beside,
    legs: &[Leg],
) -> Question {
    let fitting = radar.fittings.iter().filter(|fit| fit.part == part.name);
    let fitting = fitting.max_by_key(|fit| (fit.at.best_ms(), fit.id));
    let course = course(part.ages_by, radar, beside);
    let days = usage::days(&course);
    let mut said = Vec::new();
    let mut line_doubted = false;
    for disagreement in &beside.wiring {
        let own = disagreement.role == part.ages_by;
        line_doubted |= own;
        let consequence = if own {
            "So it is not known which line ages this part, and no date is given"
        } else {
            "This part is not aged by that line"
        };
        said.push(format!(
            "WIRING: {}. {consequence}. Look at the terminals, then put right whichever of the two is wrong.",
            disagreement.sentence
        ));
    }
    let why_not = hours.why_not.as_ref().filter(|_| fitting.is_some());
    said.extend(why_not.map(|why| format!("Missing: its hours, for {why}.")));
    said.extend(beside.notes.iter().cloned());
    Question {
        radar: part.radar.clone(),
        part: part.name.clone(),
        role: part.ages_by,
        fitting: fitting.map(|fit| Fitted {
            at: fit.at,
            within: hours.fitted_within.unwrap_or(fit.at),
            serial: fit.serial.clone(),
            hours_at_fit: fit.hours_at_fit_h,
        }),
        hours: hours.hours,
        line_doubted,
        course,
        days,
        legs: legs.to_vec(),
        said,
        limit_h: part.limit_h,
        limit_months: part.limit_months,
        limit_starts: part.limit_starts,
        warn_h: part.warn_h,
        lead_time_days: part.lead_time_days,
    }
}

fn course(role: Role, radar: &reconcile::Radar, beside: &Beside) -> Course {
    let Some(at) = place(role) else { return Course::default() };
    let points = radar.log.points.iter().zip(&beside.starts);
    let marks = points.map(|(point, starts)| Mark {
        at: point.at,
        on_h: point.on_h[at],
        starts: starts.all[at],
        found_on: starts.found_on[at],
        dark_h: point.dark_h,
        lost_h: point.lost_h,
    });
    Course { marks: marks.collect(), fed_from_radar: radar.fed_from_radar }
}

/// A stretch whose ends are less well dated than this tells too little of single days, in milliseconds.
const DATED_MAX_MS: i64 = 6 * 3_600_000;

/// What she did and is to do: by the legs, and where none is by her speed. And what is to be said about the two.
fn sailed(told: &Told) -> (Vec<Leg>, Option<String>) {
    let as_of_ms = told.facts.as_of_ms;
    let legs = legs(&told.kept.legs);
    let is_dated = |when: When| when.hi_ms - when.lo_ms <= DATED_MAX_MS;
    let by_speed = told.way.iter().filter(|way| is_dated(way.from) && is_dated(way.to)).map(|way| Leg {
        from_ms: way.from.best_ms(),
        to_ms: way.to.best_ms(),
        mode: if way.making_way { Mode::Sea } else { Mode::Port },
    });
    let by_speed = sailed::row(by_speed.collect(), as_of_ms);
    (sailed::with_speed(&legs, &by_speed), sailed::disagreement(&legs, &by_speed, as_of_ms))
}

fn legs(kept: &[Kept<facts::Leg>]) -> Vec<Leg> {
    let leg = |kept: &Kept<facts::Leg>| Leg {
        from_ms: kept.fact.from.best_ms(),
        to_ms: kept.fact.to.best_ms(),
        mode: match kept.fact.mode {
            facts::Mode::Sea => Mode::Sea,
            facts::Mode::Port => Mode::Port,
            facts::Mode::Anchor => Mode::Anchor,
        },
    };
    kept.iter().map(leg).collect()
}
