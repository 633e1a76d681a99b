//! Windows: stays in which work on the radars can be done.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// A stay. What nobody said of it is `None`, and nothing is taken for granted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// From when.
    #[serde(rename = "from_ms")]
    pub from: Moment,
    /// Until when.
    #[serde(rename = "to_ms")]
    pub to: Moment,
    /// Where.
    pub place: String,
    /// Someone may go aloft there.
    pub aloft: bool,
    /// The set may transmit there.
    pub transmit: Option<bool>,
    /// A spare can be delivered there.
    pub deliver: Option<bool>,
    /// Hours of daylight in a day there.
    pub daylight_h: Option<f64>,
    /// The chance that the call happens, 0 to 1.
    pub chance: Option<f64>,
}

impl Fact for Window {
    const NAME: &'static str = "window";
    const MAY_LIE_AHEAD: bool = true;
    const COLUMNS: &'static [Column] = &[
        needed("from", "TIME", "From when"),
        needed("to", "TIME", "Until when"),
        needed("place", "NAME", "Where"),
        needed("aloft", "YES/NO", "May someone go aloft there: yes or no"),
        optional("transmit", "YES/NO", "May the set transmit there: yes or no"),
        optional("deliver", "YES/NO", "Can a spare be delivered there: yes or no"),
        optional("daylight", "HOURS", "Hours of daylight in a day there"),
        optional(
            "chance",
            "NUMBER",
            "The chance that the call happens, 0 to 1; 0 for one that was cancelled",
        ),
    ];
    const EXAMPLE: &'static str = "add window --from 2026-03-09T06:00+00:00 --to 2026-03-11T20:00+00:00 \
                                   --place Rotterdam --aloft yes --transmit no --deliver yes --daylight 11 --chance 0.9";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Window> {
        let (from, to) = checks::from_to(fields, known)?;
        Ok(Window {
            from,
            to,
            place: checks::words(fields, "place", "there is no place: write where it is")?,
            aloft: checks::yes_no(fields, "aloft")?,
            transmit: checks::yes_no_if(fields, "transmit")?,
            deliver: checks::yes_no_if(fields, "deliver")?,
            daylight_h: checks::number(fields, "daylight", "hours of daylight in a day, 0 to 24", |h| {
                (0.0..=24.0).contains(&h)
            })?,
            chance: checks::number(fields, "chance", "a number from 0 to 1", |p| (0.0..=1.0).contains(&p))?,
        })
    }

    fn at(&self) -> Moment {
        self.from
    }

    fn row(&self) -> Vec<String> {
        let yes_no = |yes: Option<bool>| yes.map_or_else(String::new, checks::yes_no_word);
        vec![
            self.from.written(),
            self.to.written(),
            self.place.clone(),
            checks::yes_no_word(self.aloft),
            yes_no(self.transmit),
            yes_no(self.deliver),
            checks::number_text(self.daylight_h),
            checks::number_text(self.chance),
        ]
    }
}
