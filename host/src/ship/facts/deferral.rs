//! Deferrals: a renewal put off beyond its limit, with leave.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// A renewal put off. If both ends are given, whichever comes first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Deferral {
    /// When it was decided.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// The radar.
    pub radar: String,
    /// The part.
    pub part: String,
    /// Why.
    pub reason: String,
    /// Until the part has run so many hours.
    pub until_h: Option<f64>,
    /// Until then.
    #[serde(rename = "until_ms")]
    pub until: Option<Moment>,
    /// Who gave leave.
    pub approved_by: String,
}

impl Fact for Deferral {
    const NAME: &'static str = "deferral";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was decided"),
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed("part", "NAME", "The part, as in ship.toml"),
        needed("reason", "WORDS", "Why the renewal is put off"),
        optional("until_h", "HOURS", "Until the part has run so many hours; this, --until, or both").signed(),
        optional("until", "TIME", "Until when"),
        needed("approved_by", "NAME", "Who gave leave"),
    ];
    const EXAMPLE: &'static str = "add deferral --at 2026-03-02T10:00+00:00 --radar S-band --part magnetron \
                                   --reason 'spare held at customs' --until-h 3800 --approved-by 'the superintendent'";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Deferral> {
        let radar = checks::radar(fields, known)?;
        let at = checks::moment(fields, "at", known)?;
        let until_h =
            checks::number(fields, "until_h", "hours above 0, without a unit", |h| h > 0.0 && h < 1e7)?;
        let until = checks::moment_if(fields, "until", known)?;
        if until_h.is_none() && until.is_none() {
            let what = "a deferral has an end: give hours here, or a time in `until`";
            return Err(fields.error("until_h", what));
        }
        if until.is_some_and(|until| until.hi_ms() <= at.lo_ms()) {
            let what = format!("`{}` is not after `{}`", fields.text("until"), fields.text("at"));
            return Err(fields.error("until", &what));
        }
        Ok(Deferral {
            at,
            part: checks::part(fields, &radar, known)?,
            radar,
            reason: checks::words(fields, "reason", "there is no reason: write why")?,
            until_h,
            until,
            approved_by: checks::words(fields, "approved_by", "there is no name: write who gave leave")?,
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
            self.reason.clone(),
            checks::number_text(self.until_h),
            checks::moment_text(self.until),
            self.approved_by.clone(),
        ]
    }
}
