//! Legs: stretches of the voyage, sailed or planned.

use super::checks;
use super::{Column, Fact, Fields, Known, needed};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// A stretch of the voyage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Leg {
    /// From when.
    #[serde(rename = "from_ms")]
    pub from: Moment,
    /// Until when.
    #[serde(rename = "to_ms")]
    pub to: Moment,
    /// How the ship lay or sailed.
    pub mode: Mode,
}

/// How the ship lies or sails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Mode {
    /// Under way.
    Sea,
    /// In port.
    Port,
    /// At anchor.
    Anchor,
}

impl Mode {
    /// All of them.
    pub const ALL: [Mode; 3] = [Mode::Sea, Mode::Port, Mode::Anchor];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Mode::Sea => "sea",
            Mode::Port => "port",
            Mode::Anchor => "anchor",
        }
    }
}

impl Fact for Leg {
    const NAME: &'static str = "leg";
    const MAY_LIE_AHEAD: bool = true;
    const COLUMNS: &'static [Column] = &[
        needed("from", "TIME", "From when"),
        needed("to", "TIME", "Until when"),
        needed("mode", "MODE", "How the ship lies or sails: sea, port or anchor"),
    ];
    const EXAMPLE: &'static str =
        "add leg --from 2026-03-01T18:00+00:00 --to 2026-03-09T06:00+00:00 --mode sea";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Leg> {
        let (from, to) = checks::from_to(fields, known)?;
        let word = fields.text("mode");
        let Some(mode) = Mode::ALL.into_iter().find(|mode| mode.name() == word) else {
            let what = format!("`{word}` is no mode: it is one of {}", Mode::ALL.map(Mode::name).join(", "));
            return Err(fields.error("mode", &what));
        };
        Ok(Leg { from, to, mode })
    }

    fn at(&self) -> Moment {
        self.from
    }

    fn row(&self) -> Vec<String> {
        vec![self.from.written(), self.to.written(), self.mode.name().to_owned()]
    }
}
