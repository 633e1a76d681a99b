//! Which part is due when. Pure: a timeline, a fitting, limits and a date in; hours, dates and reasons out.

pub mod forecast;
pub mod hours;
mod notes;
mod state;
pub mod usage;
pub mod wiring;

use crate::time;
use crate::timeline::Timeline;
use crate::timeline::curve::Curve;
use crate::timeline::dating::Dating;
use forecast::{Ask, Forecast, Limit};
use halfglass_protocol::config::Role;
use hours::{Growth, Since};
pub use state::State;

/// A figure between bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Not below.
    pub low: f64,
    /// Most likely.
    pub best: f64,
    /// Not above.
    pub high: f64,
}

/// Which limit comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitedBy {
    /// Hours run.
    Hours,
    /// Months since fitting.
    Months,
    /// Starts.
    Starts,
}

impl LimitedBy {
    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            LimitedBy::Hours => "hours",
            LimitedBy::Months => "months",
            LimitedBy::Starts => "starts",
        }
    }
}

/// A part put in.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// When.
    pub at_ms: i64,
    /// Its serial.
    pub serial: String,
    /// Hours that it had run before; `None`: taken as new.
    pub hours_at_fit: Option<f64>,
}

/// What is asked about a part.
#[derive(Clone, Debug)]
pub struct Question {
    /// Its radar.
    pub radar: String,
    /// Its name.
    pub part: String,
    /// Whose hours age it.
    pub role: Role,
    /// The input that watches them.
    pub input: usize,
    /// All inputs of the radar.
    pub lines: Vec<(Role, u8)>,
    /// The logger's id, for sentences.
    pub logger: u64,
    /// The logger is fed from the radar.
    pub fed_from_radar: bool,
    /// Renew at so many hours.
    pub limit_h: Option<f64>,
    /// Renew at so many months.
    pub limit_months: Option<u32>,
    /// Renew at so many starts.
    pub limit_starts: Option<u32>,
    /// Say `soon` so many hours before.
    pub warn_h: Option<f64>,
    /// How long a new one takes to come, in days.
    pub lead_time_days: Option<u32>,
    /// The fitting that stands, dated at or before the date asked for.
    pub fitting: Option<Fitted>,
}

/// The answer about a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Its radar.
    pub radar: String,
    /// Its name.
    pub part: String,
    /// The serial fitted.
    pub serial: Option<String>,
    /// Hours run, those before fitting included.
    pub hours: Option<Interval>,
    /// Starts since fitting, if a limit asks for them.
    pub starts: Option<Interval>,
    /// The limit in hours.
    pub limit_h: Option<f64>,
    /// The limit less the likeliest hours.
    pub remaining_h: Option<f64>,
    /// When the first limit is reached.
    pub forecast: Forecast,
    /// How urgent it is.
    pub state: State,
    /// What widened the figures and what is missing, in sentences.
    pub notes: Vec<String>,
}

/// One logger's log.
#[derive(Clone, Debug)]
pub struct Logger {
    /// Its records joined.
    pub timeline: Timeline,
    /// Its clock.
    pub dating: Dating,
}

/// Answers for one part as of an instant. `logger`: `None` if nothing was pulled yet. `seed`: for the draws.
#[must_use]
pub fn answer(asked: &Question, logger: Option<&Logger>, as_of_ms: i64, seed: u64) -> Answer {
    let mut notes = Vec::new();
    let fitting = asked.fitting.as_ref();
    let expiry_ms =
        fitting.zip(asked.limit_months).and_then(|(fit, months)| time::months_later(fit.at_ms, months));
    let run = match fitting {
        None => {
            notes.push(notes::no_fitting(asked));
            None
        }
        Some(fit) => run_since(asked, fit, logger, as_of_ms, &mut notes),
    };
    let mut answer = Answer {
        radar: asked.radar.clone(),
        part: asked.part.clone(),
        serial: fitting.map(|fit| fit.serial.clone()),
        hours: run.as_ref().map(|run| run.hours),
        starts: run.as_ref().and_then(|run| run.starts),
        limit_h: asked.limit_h,
        remaining_h: run.as_ref().zip(asked.limit_h).map(|(run, limit_h)| limit_h - run.hours.best),
        forecast: Forecast::default(),
        state: State::Unknown,
        notes,
    };
    let has_limit = asked.limit_h.is_some() || asked.limit_months.is_some() || asked.limit_starts.is_some();
    if !has_limit {
        answer.notes.push(notes::no_limit());
        return answer;
    }
    if fitting.is_none() {
        return answer;
    }
    let needs_log = asked.limit_h.is_some() || asked.limit_starts.is_some();
    let passed_ms = |now_h: f64| match (&run, asked.limit_h) {
        (Some(run), Some(limit_h)) => run.passed_ms(now_h, limit_h, as_of_ms),
        _ => as_of_ms,
    };
    if run.is_some() || !needs_log {
        answer.forecast = forecast::forecast(&Ask {
            days: run.as_ref().map_or(&[], |run| &run.days),
            hours: answer.hours.zip(asked.limit_h).map(|(now, limit)| Limit {
                now,
                limit,
                passed_ms: Some(&passed_ms),
            }),
            starts: answer.starts.zip(asked.limit_starts).map(|(now, limit)| Limit {
                now,
                limit: f64::from(limit),
                passed_ms: None,
            }),
            expiry_ms,
            as_of_ms,
            seed,
        });
        answer.notes.extend(answer.forecast.why_not.as_ref().map(|why| format!("No date: {why}.")));
    }
    if let Some(expiry_ms) = expiry_ms {
        answer.notes.extend(notes::expiry(expiry_ms, as_of_ms, answer.forecast.limited_by));
    }
    answer.state = state::state(asked, &answer, expiry_ms, as_of_ms, run.is_some() || !needs_log);
    answer
}

/// Hours and usage of a part since it was put in.
struct Run {
    hours: Interval,
    starts: Option<Interval>,
    days: Vec<usage::Day>,
    curve: Curve,
    fitted_ms: i64,
    /// Hours since the last record, and the likeliest hours at that time.
    tail_h: f64,
    logged_h: f64,
}

impl Run {
    /// When the hours passed a limit, if they stand at `now_h` now: what is above the logged figure grew evenly
    /// since the last record, the rest as logged.
    fn passed_ms(&self, now_h: f64, limit_h: f64, as_of_ms: i64) -> i64 {
        let over_h = (now_h - limit_h).max(0.0);
        let unlogged_h = (now_h - self.logged_h).max(0.0);
        if over_h <= unlogged_h && self.tail_h > 0.0 {
            let share = if unlogged_h > 0.0 { over_h / unlogged_h } else { 0.0 };
            return as_of_ms - (self.tail_h * share * crate::timeline::MS_PER_HOUR) as i64;
        }
        let logged_over = (over_h - unlogged_h).max(0.0) * crate::timeline::TENTHS_PER_HOUR;
        let at_ms = self.curve.last().and_then(|last| self.curve.instant_of(last.value - logged_over));
        at_ms.map_or(as_of_ms, |at_ms| at_ms.max(self.fitted_ms))
    }
}

/// `None`: the hours cannot be known; the notes say why.
fn run_since(
    asked: &Question,
    fit: &Fitted,
    logger: Option<&Logger>,
    as_of_ms: i64,
    notes: &mut Vec<String>,
) -> Option<Run> {
    let Some(Logger { timeline, dating }) = logger else {
        notes.push(notes::no_log(asked));
        return None;
    };
    if !dating.is_anchored() {
        notes.push(notes::no_anchor(asked));
        return None;
    }
    let curve = Curve::of(timeline, dating, as_of_ms, |totals| {
        totals.on_tenths.get(asked.input).copied().unwrap_or(0) as f64
    });
    let Some(first) = curve.first().copied() else {
        notes.push(notes::no_log_by_then(asked, as_of_ms));
        return None;
    };
    if !wiring_agrees(asked, fit, timeline, &curve, notes) {
        return None;
    }
    // Some drift of the logger's clock is allowed for a part that was put in together with the logger.
    if fit.hours_at_fit.is_none() && fit.at_ms < first.when.lo_ms.min(first.when.best_ms()) - 3_600_000 {
        notes.push(notes::fitted_before_log(fit, &first.when));
        return None;
    }
    let days = usage::days(timeline, dating, asked.input, as_of_ms, asked.fed_from_radar);
    let rate = usage::rate(&days, timeline, dating, asked.input, as_of_ms);
    let since = Since {
        input: asked.input,
        from_ms: fit.at_ms,
        as_of_ms,
        fed_from_radar: asked.fed_from_radar,
        rate,
    };
    let growth: Growth = hours::since(timeline, dating, &since)?;
    let before_h = fit.hours_at_fit.unwrap_or(0.0);
    let hours = Interval {
        low: before_h + growth.hours.low,
        best: before_h + growth.hours.best,
        high: before_h + growth.hours.high,
    };
    let starts = asked.limit_starts.and_then(|_| {
        let busiest = days.iter().map(|day| day.starts).fold(0.0, f64::max);
        let per_day = days.iter().map(|day| day.starts).sum::<f64>() / days.len().max(1) as f64;
        hours::starts_since(timeline, dating, &since, per_day, busiest)
    });
    notes.extend(notes::widening(asked, fit, &growth, timeline, dating, as_of_ms));
    let logged_h = hours.best - rate * growth.tail_h;
    Some(Run { hours, starts, days, curve, fitted_ms: fit.at_ms, tail_h: growth.tail_h, logged_h })
}

/// Whether the line that ages the part is beyond doubt. Every disagreement becomes a note.
fn wiring_agrees(
    asked: &Question,
    fit: &Fitted,
    timeline: &Timeline,
    curve: &Curve,
    notes: &mut Vec<String>,
) -> bool {
    let from = curve.known.iter().rposition(|known| known.when.hi_ms <= fit.at_ms);
    let from_index = from.and_then(|at| curve.known.get(at)).map_or(0, |known| known.index);
    let to_index = timeline.points.get(curve.known.len()).map_or(u32::MAX, |point| point.index);
    match wiring::disagreements(timeline, &asked.lines, from_index, to_index) {
        Err(sentence) => {
            notes.push(format!("Wiring: {sentence}."));
            true
        }
        Ok(found) => {
            let own = found.iter().any(|disagreement| disagreement.role == asked.role);
            for disagreement in &found {
                notes.push(notes::wiring(disagreement, disagreement.role == asked.role));
            }
            !own
        }
    }
}

#[cfg(test)]
#[path = "due_tests.rs"]
mod tests;
