//! What is handed to an office's planner: meters that only ever go forward, and dates. Pure: answers and what was given
//! out before in; rows and events out.
//!
//! ```text
//!  steady    a meter's figure, held to what was given out before
//!  calendar  planned work, days to order by and latest days, held to what was given out before
//! ```

pub mod calendar;
pub mod steady;

pub use steady::{Given, Held, Tenths};

/// What a planner is told of one part. Instants are milliseconds since 1970 in UTC.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// The office planner's own number.
    pub planner_id: Option<String>,
    /// Its radar.
    pub radar: String,
    /// Its name.
    pub part: String,
    /// The serial fitted.
    pub serial: Option<String>,
    /// When it was put in, likeliest.
    pub fitted_at_ms: Option<i64>,
    /// Up to when the loggers have counted.
    pub counted_to_ms: Option<i64>,
    /// What the line that ages it has run since it was first watched, whichever part was in.
    pub cumulative: Option<Tenths>,
    /// What the part has run.
    pub since_renewal: Option<Tenths>,
    /// What it has run at least and at most, in hours.
    pub low_high_h: Option<(f64, f64)>,
    /// Its limit in hours.
    pub limit_h: Option<f64>,
    /// When its first limit falls: one time in ten before, as likely before as after, nine times in ten before.
    pub due_ms: [Option<i64>; 3],
    /// Which limit that is.
    pub limited_by: Option<&'static str>,
    /// How urgent it is.
    pub state: &'static str,
    /// The stay in which it is to be renewed.
    pub planned: Option<Stay>,
    /// By when a spare must be ordered.
    pub order_by_ms: Option<i64>,
    /// Findings about its radar that are open.
    pub findings_open: usize,
    /// What is to be known beside the figures, in sentences.
    pub notes: Vec<String>,
}

/// A stay in port.
#[derive(Clone, Debug, PartialEq)]
pub struct Stay {
    /// When it begins.
    pub from_ms: i64,
    /// When it ends.
    pub to_ms: i64,
    /// Where.
    pub place: String,
}

impl Row {
    /// The limit less what was given out as run, in hours.
    #[must_use]
    pub fn remaining_h(&self) -> Option<f64> {
        // In tenths, so that limit, run and remaining add up in the file.
        let limit = Tenths::nearest(self.limit_h?);
        Some(Tenths(limit.0 - self.since_renewal?.0).hours())
    }
}
