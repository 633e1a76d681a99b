//! A renewal put off beyond its limit, with leave.
//!
//! | the deferral's end              | state                                                              |
//! |---------------------------------|--------------------------------------------------------------------|
//! | surely not reached              | `deferred`, however far the maker's limit is passed                |
//! | may be reached (by high hours)  | `due`, if the maker's limit may be passed                          |
//! | reached                         | as without it: `overdue` if the maker's limit is passed            |
//! | in hours, and those not known   | as without it                                                      |
//!
//! The maker's limit and how far it is passed stay in the answer as they are; the deferral stands beside them. It puts
//! the limit off to its hours or its date, whichever comes first, and never brings it forward.

use super::{Answer, State};
use crate::time;

/// A renewal put off.
#[derive(Clone, Debug, PartialEq)]
pub struct Deferral {
    /// When it was decided.
    pub at_ms: i64,
    /// Until the part has run so many hours.
    pub until_h: Option<f64>,
    /// Until then.
    pub until_ms: Option<i64>,
    /// Why.
    pub reason: String,
    /// Who gave leave.
    pub approved_by: String,
}

/// Whether a deferral stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Its end is surely not reached.
    Yes,
    /// Its end may be reached.
    Perhaps,
    /// It has ended.
    Ended,
    /// It ends at hours that are not known.
    Unknown,
}

/// A deferral beside an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct PutOff {
    /// The deferral.
    pub deferral: Deferral,
    /// Whether it stands.
    pub stands: Stands,
    /// By each instant one more of a hundred futures has reached the limit as it is put off; those that do not are missing.
    /// The maker's limit, if it has ended.
    pub percentiles_ms: Vec<i64>,
}

impl PutOff {
    /// By when this share of a hundred futures has reached the limit as put off.
    #[must_use]
    pub fn by_ms(&self, percent: usize) -> Option<i64> {
        self.percentiles_ms.get(percent.checked_sub(1)?).copied()
    }

    /// As a sentence.
    #[must_use]
    pub fn note(&self) -> String {
        let PutOff { deferral, stands, .. } = self;
        let until = [
            deferral.until_h.map(|hours| format!("{hours} h")),
            deferral.until_ms.map(|until_ms| format!("{} UTC", time::minute(until_ms))),
        ];
        let until = until.into_iter().flatten().collect::<Vec<_>>().join(" or ");
        let Deferral { reason, approved_by, .. } = deferral;
        match stands {
            Stands::Yes => format!("Deferred until {until}: {reason} (approved by {approved_by})."),
            Stands::Perhaps => format!(
                "The deferral until {until} may have ended: the hours are not known well enough to tell ({reason}; \
             approved by {approved_by})."
            ),
            Stands::Ended => {
                format!("The deferral until {until} has ended: {reason} (approved by {approved_by}).")
            }
            Stands::Unknown => format!(
                "A deferral until {until} cannot be checked, since the hours are not known: {reason} (approved by \
             {approved_by})."
            ),
        }
    }
}

/// Puts a deferral beside an answer and sets its state. `at_new_hours`: the dates on which the deferral's own hours are
/// reached, in the form of [`PutOff::percentiles_ms`].
pub fn put_off(answer: &mut Answer, deferral: Deferral, at_new_hours: Option<&[i64]>, as_of_ms: i64) {
    let stands = stands(answer, &deferral, as_of_ms);
    let limit_ms = &answer.forecast.percentiles_ms;
    let percentiles_ms = match stands {
        Stands::Ended | Stands::Unknown => limit_ms.clone(),
        Stands::Yes | Stands::Perhaps => put_off_to(limit_ms, at_new_hours, deferral.until_ms),
    };
    match (stands, answer.state) {
        (Stands::Yes, _) => answer.state = State::Deferred,
        (Stands::Perhaps, State::Overdue) => answer.state = State::Due,
        _ => {}
    }
    let put_off = PutOff { deferral, stands, percentiles_ms };
    answer.notes.insert(0, put_off.note());
    answer.deferral = Some(put_off);
}

fn stands(answer: &Answer, deferral: &Deferral, as_of_ms: i64) -> Stands {
    if deferral.until_ms.is_some_and(|until_ms| until_ms <= as_of_ms) {
        return Stands::Ended;
    }
    match (deferral.until_h, answer.hours) {
        (None, _) => Stands::Yes,
        (Some(_), None) => Stands::Unknown,
        (Some(until_h), Some(hours)) if hours.low >= until_h => Stands::Ended,
        (Some(until_h), Some(hours)) if hours.high >= until_h => Stands::Perhaps,
        _ => Stands::Yes,
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

#[cfg(test)]
mod tests {
    use super::super::{Interval, forecast::Forecast};
    use super::*;

    fn answer(hours: Option<[f64; 3]>, state: State) -> Answer {
        Answer {
            radar: "S".to_owned(),
            part: "magnetron".to_owned(),
            serial: None,
            hours: hours.map(|[low, best, high]| Interval { low, best, high }),
            starts: None,
            limit_h: Some(3_600.0),
            remaining_h: Some(-40.0),
            forecast: Forecast { percentiles_ms: vec![10; 100], ..Forecast::default() },
            state,
            deferral: None,
            notes: Vec::new(),
        }
    }

    fn deferral(until_h: Option<f64>, until_ms: Option<i64>) -> Deferral {
        let (reason, approved_by) = ("customs".to_owned(), "the office".to_owned());
        Deferral { at_ms: 0, until_h, until_ms, reason, approved_by }
    }

    fn told(hours: Option<[f64; 3]>, until_h: Option<f64>, until_ms: Option<i64>) -> Answer {
        let mut told = answer(hours, State::Overdue);
        let at_new = until_h.map(|_| vec![700; 100]);
        put_off(&mut told, deferral(until_h, until_ms), at_new.as_deref(), 500);
        told
    }

    #[test]
    fn it_stands_until_its_hours_or_its_date_whichever_is_first() {
        let hours = Some([3_630.0, 3_640.0, 3_650.0]);
        for (until_h, until_ms, state, by_ms) in [
            (None, Some(501), State::Deferred, 501),
            (None, Some(500), State::Overdue, 10),
            (Some(3_651.0), None, State::Deferred, 700),
            (Some(3_650.0), None, State::Due, 700),
            (Some(3_630.0), None, State::Overdue, 10),
            (Some(3_700.0), Some(600), State::Deferred, 600),
            (Some(3_700.0), Some(800), State::Deferred, 700),
            (Some(3_700.0), Some(400), State::Overdue, 10),
            (Some(3_630.0), Some(600), State::Overdue, 10),
        ] {
            let told = told(hours, until_h, until_ms);
            let off = told.deferral.unwrap();
            assert_eq!((told.state, off.by_ms(50)), (state, Some(by_ms)), "{until_h:?} {until_ms:?}");
            assert_eq!(
                (told.limit_h, told.remaining_h),
                (Some(3_600.0), Some(-40.0)),
                "they stay to be seen"
            );
            assert!(told.notes[0].contains("customs") && told.notes[0].contains("the office"));
        }
    }

    #[test]
    fn hours_that_are_not_known_prove_no_deferral() {
        assert_eq!(told(None, Some(3_700.0), Some(600)).state, State::Overdue);
        assert_eq!(told(None, None, Some(600)).state, State::Deferred, "a date stands by itself");
        assert_eq!(told(None, None, Some(600)).deferral.unwrap().by_ms(0), None);
    }

    #[test]
    fn what_may_be_over_is_never_better_than_it_was() {
        for state in [State::Ok, State::Soon, State::Unknown, State::Due] {
            let mut told = answer(Some([3_630.0, 3_640.0, 3_650.0]), state);
            put_off(&mut told, deferral(Some(3_640.0), None), Some(&[700; 100]), 500);
            assert_eq!(told.state, state);
        }
    }

    #[test]
    fn a_limit_is_put_off_to_hours_or_a_date_and_never_brought_forward() {
        let limit = [10, 20, 30];
        assert_eq!(put_off_to(&limit, None, Some(25)), [25, 25, 30]);
        assert_eq!(put_off_to(&limit, Some(&[40, 50]), None), [40, 50], "the third never comes");
        assert_eq!(put_off_to(&limit, Some(&[40, 50]), Some(45)), [40, 45, 45]);
        assert_eq!(put_off_to(&limit, Some(&[1, 2, 3]), None), limit);
    }
}
