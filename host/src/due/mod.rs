//! Which part is due when. Pure: hours, the course of a line, limits and a date in; dates and reasons out.
//!
//! ```text
//!  reconciled hours ────────────────┐
//!  course of the line ──> days ──> forecast ──> p10, p50, p90 ──> state
//!        └──> when a limit was passed ─┘
//!  legs, sailed and planned ──> sailed ──┘
//!  speed over ground ────────────┘
//! ```
//! The model is written down in `docs/due.md`.

mod ahead;
mod change;
pub mod course;
pub mod deferral;
mod dice;
pub mod forecast;
mod future;
mod history;
mod modes;
mod notes;
pub mod sailed;
mod spells;
mod state;
pub mod usage;

use crate::time;
use crate::timeline::dating::When;
use crate::timeline::{MS_PER_HOUR, hours_between};
use course::Course;
use forecast::{Ask, Forecast, Limit};
use halfglass_protocol::config::Role;
pub use state::State;
use usage::{Day, Leg};

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
    /// When, as recorded.
    pub at: When,
    /// When, as far as all sources confirm the record.
    pub within: When,
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
    /// The fitting that stands, dated at or before the date asked for.
    pub fitting: Option<Fitted>,
    /// Hours run by all sources together, those before fitting included. `None`: they cannot be known; `said` tells why.
    pub hours: Option<Interval>,
    /// Which line ages it is in doubt; `said` tells why. Then no date is given.
    pub line_doubted: bool,
    /// What its loggers saw of the line that ages it.
    pub course: Course,
    /// The usage of that line, oldest day first.
    pub days: Vec<Day>,
    /// What the ship did and what she is to do: see [`sailed::with_speed`].
    pub legs: Vec<Leg>,
    /// What is missing or in doubt, in sentences.
    pub said: Vec<String>,
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
    /// A deferral of the part as fitted now, once one is put beside the answer.
    pub deferral: Option<deferral::PutOff>,
    /// What widened the figures and what is missing, in sentences.
    pub notes: Vec<String>,
}

/// Answers for one part as of an instant. `seed`: for the draws.
#[must_use]
pub fn answer(asked: &Question, as_of_ms: i64, seed: u64) -> Answer {
    let fitting = asked.fitting.as_ref();
    let mut answer = Answer {
        radar: asked.radar.clone(),
        part: asked.part.clone(),
        serial: fitting.map(|fit| fit.serial.clone()),
        hours: fitting.and(asked.hours),
        starts: None,
        limit_h: asked.limit_h,
        remaining_h: fitting.and(asked.hours).zip(asked.limit_h).map(|(now, limit_h)| limit_h - now.best),
        forecast: Forecast::default(),
        state: State::Unknown,
        deferral: None,
        notes: asked.said.clone(),
    };
    let Some(fit) = fitting else {
        answer.notes.insert(0, notes::no_fitting(asked));
        answer.notes.extend(notes::no_limit(asked));
        return answer;
    };
    answer.notes.extend(notes::widening(asked, fit, as_of_ms));
    answer.notes.extend(notes::no_limit(asked));
    let expiry = asked.limit_months.and_then(|months| expiry(fit.at, months));
    answer.starts = asked.limit_starts.and_then(|_| starts(asked, fit, as_of_ms));
    let known = !asked.line_doubted
        && (asked.limit_h.is_none() || answer.hours.is_some())
        && (asked.limit_starts.is_none() || answer.starts.is_some());
    let any = asked.limit_h.is_some() || asked.limit_months.is_some() || asked.limit_starts.is_some();
    if known && any {
        answer.forecast = forecast(asked, fit, &answer, expiry, as_of_ms, seed);
        answer.notes.extend(answer.forecast.notes.iter().cloned());
        answer.notes.extend(answer.forecast.why_not.as_ref().map(|why| format!("No date: {why}.")));
    }
    answer.notes.extend(
        expiry.and_then(|expiry| notes::expiry(expiry.best_ms(), as_of_ms, answer.forecast.limited_by)),
    );
    if any {
        answer.state = state::state(asked, &answer, expiry, as_of_ms, known);
    }
    answer
}

/// When a limit in months comes, the moment of fitting being known so well.
fn expiry(fitted: When, months: u32) -> Option<When> {
    let lo_ms = time::months_later(fitted.lo_ms, months)?;
    Some(When { lo_ms, hi_ms: time::months_later(fitted.hi_ms, months)? })
}

fn starts(asked: &Question, fit: &Fitted, as_of_ms: i64) -> Option<Interval> {
    let busiest = asked.days.iter().map(|day| day.starts).fold(0.0, f64::max);
    let per_day = asked.days.iter().map(|day| day.starts).sum::<f64>() / asked.days.len().max(1) as f64;
    asked.course.starts_since(fit.at, as_of_ms, per_day, busiest)
}

fn forecast(
    asked: &Question,
    fit: &Fitted,
    answer: &Answer,
    expiry: Option<When>,
    as_of_ms: i64,
    seed: u64,
) -> Forecast {
    let passed = asked.hours.map(|hours| Passed::new(asked, fit, hours, as_of_ms));
    let passed_ms = |now_h: f64| match (&passed, asked.limit_h) {
        (Some(passed), Some(limit_h)) => passed.passed_ms(now_h, limit_h),
        _ => as_of_ms,
    };
    let fitted_days = hours_between(fit.at.best_ms(), as_of_ms) / 24.0;
    forecast::forecast(&Ask {
        days: &asked.days,
        legs: &asked.legs,
        hours: answer.hours.zip(asked.limit_h).map(|(now, limit)| Limit {
            now,
            limit,
            since_fitting: Some((now.best - fit.hours_at_fit.unwrap_or(0.0), fitted_days)),
            passed_ms: Some(&passed_ms),
        }),
        starts: answer.starts.zip(asked.limit_starts).map(|(now, limit)| Limit {
            now,
            limit: f64::from(limit),
            since_fitting: Some((now.best, fitted_days)),
            passed_ms: None,
        }),
        expiry,
        as_of_ms,
        seed,
    })
}

/// When hours were passed, by the course of the line.
struct Passed<'a> {
    course: &'a Course,
    hours: Interval,
    as_of_ms: i64,
    fitted_ms: i64,
    /// Hours since the last mark, and how many of them were likeliest run.
    tail_h: f64,
    tail_run_h: f64,
    /// How many hours the sources together hold for one that the log has.
    scale: f64,
}

impl<'a> Passed<'a> {
    fn new(asked: &'a Question, fit: &Fitted, hours: Interval, as_of_ms: i64) -> Passed<'a> {
        let course = &asked.course;
        let fitted_ms = fit.at.best_ms();
        let tail_h = course.tail_h(fitted_ms, as_of_ms);
        let tail_run_h = usage::rate(&asked.days, course) * tail_h;
        let logged_h =
            course.ends().map_or(0.0, |(_, last)| last.on_h) - course.best_at(fitted_ms, |mark| mark.on_h);
        let run_h = hours.best - fit.hours_at_fit.unwrap_or(0.0) - tail_run_h;
        let scale = if logged_h > 1.0 { (run_h / logged_h).clamp(0.1, 10.0) } else { 1.0 };
        Passed { course, hours, as_of_ms, fitted_ms, tail_h, tail_run_h, scale }
    }

    /// When the hours passed a limit, if they stand at `now_h` now: what ran since the last mark came evenly, the rest as
    /// logged. What is more or less than the likeliest is the tail's, as far as that is what leaves it open.
    fn passed_ms(&self, now_h: f64, limit_h: f64) -> i64 {
        let over_h = (now_h - limit_h).max(0.0);
        let width_h = self.hours.high - self.hours.low;
        let share = if width_h > 0.0 { (self.tail_h / width_h).min(1.0) } else { 0.0 };
        let tail_run_h = (self.tail_run_h + (now_h - self.hours.best) * share).clamp(0.0, self.tail_h);
        if over_h <= tail_run_h {
            let share = if tail_run_h > 0.0 { over_h / tail_run_h } else { 0.0 };
            return self.as_of_ms - (self.tail_h * share * MS_PER_HOUR) as i64;
        }
        let logged_over_h = (over_h - tail_run_h) / self.scale;
        let at_ms =
            self.course.ends().and_then(|(_, last)| self.course.instant_of(last.on_h - logged_over_h));
        at_ms.map_or(self.as_of_ms, |at_ms| at_ms.max(self.fitted_ms))
    }
}

#[cfg(test)]
#[path = "due_tests.rs"]
mod tests;
