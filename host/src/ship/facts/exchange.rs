//! Logger exchanges: from then on another logger watches the radar, over the same inputs.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::ship::settings::parse_device;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// From then on another logger watches a radar. Until the first exchange it is the one that ship.toml names.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoggerExchange {
    /// When.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// Which radar.
    pub radar: String,
    /// The device id of the logger that watches it from then on.
    #[serde(with = "device_hex")]
    pub logger: u64,
    /// Its serial, if its label has one.
    pub serial: Option<String>,
    /// Why.
    pub reason: String,
    /// Who did it.
    pub by: Option<String>,
}

impl Fact for LoggerExchange {
    const NAME: &'static str = "logger exchange";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was exchanged"),
        needed("radar", "NAME", "The radar, as in ship.toml"),
        needed(
            "logger",
            "DEVICE",
            "The new logger's device id, as `halfglass pull` shows it; ship.toml keeps the first",
        ),
        optional("serial", "SERIAL", "The new logger's serial, if its label has one"),
        needed("reason", "WORDS", "Why it was exchanged"),
        optional("by", "NAME", "Who did it"),
    ];
    const EXAMPLE: &'static str = "add logger --at 2026-03-02T10:00+00:00 --radar S-band \
                                   --logger 51d07a2c9be8f346 --reason 'USB socket torn off'";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<LoggerExchange> {
        Ok(LoggerExchange {
            at: checks::moment(fields, "at", known)?,
            radar: checks::radar(fields, known)?,
            logger: parse_device(fields.text("logger")).map_err(|what| fields.error("logger", &what))?,
            serial: checks::optional(fields, "serial"),
            reason: checks::words(fields, "reason", "there is no reason: write why it was exchanged")?,
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
            format!("{:016x}", self.logger),
            checks::text(self.serial.as_ref()),
            self.reason.clone(),
            checks::text(self.by.as_ref()),
        ]
    }
}

/// A device id as its 16 digits: half of all JSON readers would round the number.
mod device_hex {
    use crate::ship::settings::parse_device;
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(logger: &u64, serializer: S) -> Result<S::Ok, S::Error> {
        format!("{logger:016x}").serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u64, D::Error> {
        parse_device(&String::deserialize(deserializer)?).map_err(D::Error::custom)
    }
}
