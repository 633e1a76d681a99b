//! Conditions: what was measured of a part's state, such as tube current or the performance monitor's figure.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// A measurement. Only those at like settings are compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    /// When it was measured.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// On which radar.
    pub radar: String,
    /// What: tube current, performance monitor, tuning.
    pub quantity: String,
    /// How much.
    pub value: f64,
    /// In which unit.
    pub unit: String,
    /// At which pulse, as the set calls it.
    pub pulse: Option<String>,
    /// At which range, in nautical miles.
    pub range_nm: Option<f64>,
    /// Who measured it.
    pub by: Option<String>,
}

impl Fact for Condition {
    const NAME: &'static str = "condition";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was measured"),
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed("quantity", "WORDS", "What was measured: tube current, performance monitor, tuning"),
        needed("value", "NUMBER", "How much").signed(),
        needed("unit", "UNIT", "In which unit, for instance mA, dB or %"),
        optional("pulse", "WORDS", "At which pulse, as the set calls it: only like settings are compared"),
        optional("range_nm", "MILES", "At which range, in nautical miles"),
        optional("by", "NAME", "Who measured it"),
    ];
    const EXAMPLE: &'static str = "add condition --at 2026-03-01T08:00+00:00 --radar S-band \
                                   --quantity 'tube current' --value 7.5 --unit mA --pulse long --range-nm 24";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Condition> {
        let missing = "there is no word here: write what was measured, for instance tube current";
        let value = checks::number(fields, "value", "a number, without its unit", |_| true)?;
        Ok(Condition {
            at: checks::moment(fields, "at", known)?,
            radar: checks::radar(fields, known)?,
            quantity: checks::words(fields, "quantity", missing)?,
            value: value
                .ok_or_else(|| fields.error("value", "there is no figure here: write what was shown"))?,
            unit: checks::words(fields, "unit", "there is no unit: write it, for instance mA, dB or %")?,
            pulse: checks::optional(fields, "pulse"),
            range_nm: checks::number(fields, "range_nm", "nautical miles above 0, without a unit", |nm| {
                nm > 0.0
            })?,
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
            self.quantity.clone(),
            self.value.to_string(),
            self.unit.clone(),
            checks::text(self.pulse.as_ref()),
            checks::number_text(self.range_nm),
            checks::text(self.by.as_ref()),
        ]
    }
}
