//! Works: what was done to a radar without renewing a part.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// Work without a renewal: paint, grease, an inspection. It explains an isolation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Work {
    /// When it began.
    #[serde(rename = "from_ms")]
    pub from: Moment,
    /// When it ended; the same as `from` if only one time is known.
    #[serde(rename = "to_ms")]
    pub to: Moment,
    /// On which radar.
    pub radar: String,
    /// On which part, if on one.
    pub part: Option<String>,
    /// What was done.
    pub what: String,
    /// Who did it.
    pub by: Option<String>,
}

impl Fact for Work {
    const NAME: &'static str = "work";
    const COLUMNS: &'static [Column] = &[
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed("what", "WORDS", "What was done: paint, grease, inspection"),
        optional("at", "TIME", "When it was done; or --from and --to instead"),
        optional("from", "TIME", "When it began"),
        optional("to", "TIME", "When it ended"),
        optional("part", "NAME", "The part, as in ship.toml, if it was done to one"),
        optional("by", "NAME", "Who did it"),
    ];
    const EXAMPLE: &'static str =
        "add work --radar S-band --what 'scanner greased' --from 2026-03-09T08:00Z --to 2026-03-09T09:30Z";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Work> {
        let radar = checks::radar(fields, known)?;
        let part = match fields.text("part") {
            "" => None,
            _ => Some(checks::part(fields, &radar, known)?),
        };
        let (from, to) = match ["at", "from", "to"].map(|field| !fields.text(field).is_empty()) {
            [true, false, false] => {
                let at = checks::moment(fields, "at", known)?;
                (at, at)
            }
            [false, true, true] => checks::from_to(fields, known)?,
            [true, ..] => return Err(fields.error("at", "give either this or `from` and `to`, not both")),
            [false, true, false] => {
                let what = "there is a beginning without an end: give this too, or `at` alone";
                return Err(fields.error("to", what));
            }
            [false, false, true] => {
                let what = "there is an end without a beginning: give this too, or `at` alone";
                return Err(fields.error("from", what));
            }
            [false, false, false] => {
                return Err(fields.error("at", "there is no time: give this, or `from` and `to`"));
            }
        };
        Ok(Work {
            from,
            to,
            radar,
            part,
            what: checks::words(fields, "what", "there is no word here: write what was done")?,
            by: checks::optional(fields, "by"),
        })
    }

    fn at(&self) -> Moment {
        self.from
    }

    fn row(&self) -> Vec<String> {
        let at = Some(self.from).filter(|from| *from == self.to);
        let (from, to) = if at.is_some() { (None, None) } else { (Some(self.from), Some(self.to)) };
        vec![
            self.radar.clone(),
            self.what.clone(),
            checks::moment_text(at),
            checks::moment_text(from),
            checks::moment_text(to),
            checks::text(self.part.as_ref()),
            checks::text(self.by.as_ref()),
        ]
    }
}
