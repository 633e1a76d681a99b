//! Fittings: parts put in.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// A part put in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fitting {
    /// When.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// Into which radar.
    pub radar: String,
    /// Which part.
    pub part: String,
    /// Its serial.
    pub serial: String,
    /// The radar's counter was set back to zero for it.
    pub counter_zeroed: bool,
    /// When it was set back, if not at once.
    #[serde(rename = "zeroed_at_ms")]
    pub zeroed_at: Option<Moment>,
    /// What the counter showed before, in hours.
    pub counter_before: Option<f64>,
    /// What it showed after, in hours.
    pub counter_after: Option<f64>,
    /// Hours that the part had run before it was put in.
    pub hours_at_fit: Option<f64>,
    /// The serial of the part taken out.
    pub removed_serial: Option<String>,
    /// Why that one was taken out: one of [`REMOVED_BECAUSE`].
    pub removed_because: Option<String>,
    /// Who did it.
    pub by: Option<String>,
}

/// Why a part was taken out.
pub const REMOVED_BECAUSE: [&str; 6] = ["limit", "failed", "weak", "damaged", "moved", "unknown"];

impl Fitting {
    /// The middle of the time at which it can have been put in (UTC, milliseconds since 1970).
    #[must_use]
    pub fn at_ms(&self) -> i64 {
        self.at.best_ms()
    }

    /// One of which a test needs no more: its counter was zeroed.
    #[cfg(test)]
    pub(crate) fn put_in(at: Moment, radar: &str, part: &str, serial: &str) -> Fitting {
        Fitting {
            at,
            radar: radar.to_owned(),
            part: part.to_owned(),
            serial: serial.to_owned(),
            counter_zeroed: true,
            zeroed_at: None,
            counter_before: None,
            counter_after: None,
            hours_at_fit: None,
            removed_serial: None,
            removed_because: None,
            by: None,
        }
    }
}

impl Fact for Fitting {
    const NAME: &'static str = "fitting";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was put in"),
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed("part", "NAME", "The part, as in ship.toml"),
        needed("serial", "SERIAL", "Its serial"),
        needed("counter_zeroed", "YES/NO", "Was the radar's own counter set back to zero: yes or no"),
        optional("zeroed_at", "TIME", "When it was set back, if not at once"),
        optional("counter_before", "HOURS", "What the counter showed before").signed(),
        optional("counter_after", "HOURS", "What it showed after").signed(),
        optional(
            "hours_at_fit",
            "HOURS",
            "Hours that the part had run before; needed for one that was in before the logger was",
        )
        .signed(),
        optional("removed_serial", "SERIAL", "The serial of the part taken out"),
        optional(
            "removed_because",
            "REASON",
            "Why it was taken out: limit, failed, weak, damaged, moved or unknown",
        ),
        optional("by", "NAME", "Who did it"),
    ];
    const EXAMPLE: &'static str = "add fitting --at 2026-03-01T08:00+00:00 --radar S-band --part magnetron \
                                   --serial B-2207 --counter-zeroed yes --removed-serial B-1950 --removed-because limit";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Fitting> {
        let radar = checks::radar(fields, known)?;
        let part = checks::part(fields, &radar, known)?;
        let serial = checks::words(fields, "serial", "there is no serial: write what the part's label says")?;
        let counter_zeroed = checks::yes_no(fields, "counter_zeroed")?;
        let removed_because = checks::optional(fields, "removed_because");
        if let Some(word) = &removed_because
            && !REMOVED_BECAUSE.contains(&word.as_str())
        {
            let what = format!("`{word}` is no reason: it is one of {}", REMOVED_BECAUSE.join(", "));
            return Err(fields.error("removed_because", &what));
        }
        if !counter_zeroed && !fields.text("zeroed_at").is_empty() {
            let what = "there is a time of zeroing, but counter_zeroed says `no`";
            return Err(fields.error("zeroed_at", what));
        }
        Ok(Fitting {
            at: checks::moment(fields, "at", known)?,
            radar,
            part,
            serial,
            counter_zeroed,
            zeroed_at: checks::moment_if(fields, "zeroed_at", known)?,
            counter_before: checks::hours(fields, "counter_before")?,
            counter_after: checks::hours(fields, "counter_after")?,
            hours_at_fit: checks::hours(fields, "hours_at_fit")?,
            removed_serial: checks::optional(fields, "removed_serial"),
            removed_because,
            by: checks::optional(fields, "by"),
        })
    }

    fn at(&self) -> Moment {
        self.at
    }

    fn row(&self) -> Vec<String> {
        vec![
            self.at.written(),
            self.radar.clone(),
            self.part.clone(),
            self.serial.clone(),
            checks::yes_no_word(self.counter_zeroed),
            checks::moment_text(self.zeroed_at),
            checks::number_text(self.counter_before),
            checks::number_text(self.counter_after),
            checks::number_text(self.hours_at_fit),
            checks::text(self.removed_serial.as_ref()),
            checks::text(self.removed_because.as_ref()),
            checks::text(self.by.as_ref()),
        ]
    }
}
