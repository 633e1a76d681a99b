//! Zones: what offset from UTC the ship's clock had from when on.

use super::{Column, Fact, Fields, Known, needed};
use crate::Result;
use crate::time::{self, Moment};
use serde::{Deserialize, Serialize};

/// From this instant until the next zone's, the ship's clock had this offset.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Zone {
    /// From when (UTC, milliseconds since 1970).
    pub from_ms: i64,
    /// Local time less UTC, in seconds.
    pub offset_s: i32,
}

impl Fact for Zone {
    const NAME: &'static str = "zone";
    const MAY_LIE_AHEAD: bool = true;
    const COLUMNS: &'static [Column] = &[
        needed(
            "from",
            "TIME",
            "The instant at which the clock was set, with an offset from UTC (any will do)",
        ),
        needed("offset", "OFFSET", "The offset that it had from then on, for instance +02:00").signed(),
    ];
    const EXAMPLE: &'static str = "add zone --from 2026-03-01T00:00Z --offset +02:00";
    const ONE_AT_A_TIME: bool = true;

    fn check(fields: &impl Fields, _: &Known<'_>) -> Result<Zone> {
        let from_ms = time::parse_ms(fields.text("from")).map_err(|what| fields.error("from", &what))?;
        let offset = time::parse_offset(fields.text("offset"));
        Ok(Zone { from_ms, offset_s: offset.map_err(|what| fields.error("offset", &what))? })
    }

    fn at(&self) -> Moment {
        Moment::exact(self.from_ms)
    }

    fn row(&self) -> Vec<String> {
        vec![self.at().written(), time::written_offset(self.offset_s)]
    }
}
