//! How the answer of `due` looks.

mod json;
mod text;

pub use json::{Due as Json, json};
pub(in crate::output) use json::{JsonDeferral, json_deferral};
pub use text::text;

use super::condition;
use super::life::Life;
use crate::reconcile::Rate;

/// What stands beside the dates.
#[derive(Clone, Debug, Default)]
pub struct Around {
    /// The spares of each part.
    pub spares: Vec<Spares>,
    /// What removals tell of each part.
    pub lives: Vec<Option<Life>>,
    /// What was measured, those that warn first.
    pub conditions: Vec<condition::Series>,
    /// How often each radar dropped out.
    pub rates: Vec<RadarRates>,
}

/// The spares of a part.
#[derive(Clone, Debug, Default)]
pub struct Spares {
    /// Serials that are aboard.
    pub aboard: Vec<String>,
    /// One is to come.
    pub on_its_way: bool,
    /// The latest instant to order, if none is aboard or to come and the lead time is known: the plan's.
    pub order_by_ms: Option<i64>,
    /// The stay in which the part is planned to be renewed.
    pub order_for: Option<String>,
    /// How long one takes to come.
    pub lead_time_days: Option<u32>,
}

/// How often a radar dropped out, and transmitted before it was warm.
#[derive(Clone, Debug)]
pub struct RadarRates {
    /// The radar.
    pub radar: String,
    /// Drop-outs per 100 transmit hours.
    pub drop_outs: Option<Rate>,
    /// Short warm-ups per 100 transmit hours.
    pub short_warm_ups: Option<Rate>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::due::forecast::Forecast;
    use crate::due::{Answer, Interval, LimitedBy, State};
    use crate::output::screen::Screen;

    fn answer() -> Answer {
        Answer {
            radar: "S-band".into(),
            part: "magnetron".into(),
            serial: Some("B-1950".into()),
            hours: Some(Interval { low: 3_121.000_4, best: 3_123.5, high: 3_140.000_4 }),
            starts: None,
            limit_h: Some(3_600.0),
            remaining_h: Some(476.5),
            forecast: Forecast {
                p10_ms: Some(1_772_352_000_000),
                p50_ms: Some(1_772_952_000_000),
                p90_ms: None,
                percentiles_ms: vec![1_772_352_000_000],
                limited_by: Some(LimitedBy::Hours),
                ..Forecast::default()
            },
            state: State::Soon,
            deferral: None,
            notes: vec!["Pull\u{1b}[2J again.".into()],
        }
    }

    #[test]
    fn the_json_is_as_promised() {
        let value: serde_json::Value =
            serde_json::from_str(&json(1_772_352_000_000, &[answer()], &Around::default())).unwrap();
        let expected = serde_json::json!({
            "version": 1,
            "as_of": "2026-03-01T08:00:00Z",
            "parts": [{
                "radar": "S-band", "part": "magnetron", "serial": "B-1950",
                "hours": {"low": 3121.0, "best": 3123.5, "high": 3140.001},
                "limit_h": 3600.0, "remaining_h": 476.5,
                "due": {"p10": "2026-03-01T08:00:00Z", "p50": "2026-03-08T06:40:00Z", "p90": null},
                "limited_by": "hours", "state": "soon",
                "notes": ["Pull\u{1b}[2J again."],
                "deferral": null,
                "spares": {"aboard": [], "on_its_way": false, "order_by": null, "missing": "lead_time_days"},
                "life": null
            }],
            "conditions": [],
            "rates": []
        });
        assert_eq!(value, expected);
    }

    #[test]
    fn the_table_reads_plainly_and_shows_no_control_characters() {
        let text = text("Calder", 1_772_352_000_000, &[answer()], &Around::default(), Screen::PIPE);
        let text = anstream::adapter::strip_str(&text).to_string();
        assert!(text.starts_with("Calder, as of 2026-03-01 08:00 UTC\n"), "{text}");
        assert!(text.contains("3124 (3121 to 3140)"), "{text}");
        assert!(text.contains("2026-03-01 and much later"), "{text}");
        assert!(!text.contains('\u{1b}'), "{text}");
    }
}
