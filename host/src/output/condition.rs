//! How what was measured of a part's state looks: beside the hours, never mixed into them.

use super::screen::Screen;
use crate::life::condition::{Trend, Way};
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// A series of figures at like settings.
#[derive(Clone, Debug)]
pub struct Series {
    /// The radar.
    pub radar: String,
    /// What was measured.
    pub quantity: String,
    /// In which unit.
    pub unit: String,
    /// At which pulse.
    pub pulse: Option<String>,
    /// At which range, in nautical miles.
    pub range_nm: Option<f64>,
    /// When the part was put in that it tells of; `None`: no fitting is recorded.
    pub since_ms: Option<i64>,
    /// When the newest figure was taken.
    pub newest_ms: i64,
    /// When half of the first figure is left, if the trend goes on and that is in sight.
    pub down_ms: Option<i64>,
    /// What it shows.
    pub trend: Trend,
    /// Of the limits of its slope.
    pub confidence: f64,
}

/// What was measured of a part's state at like settings, since it was put in.
#[derive(Debug, Serialize, JsonSchema)]
pub struct JsonSeries<'a> {
    /// The radar, as in ship.toml.
    radar: &'a str,
    /// What was measured.
    quantity: &'a str,
    /// In which unit.
    unit: &'a str,
    /// At which pulse.
    pulse: Option<&'a str>,
    /// At which range, in nautical miles.
    range_nm: Option<f64>,
    /// Since when: the newest fitting of a part of the radar that ages by transmit hours; null if none is recorded.
    since: Option<String>,
    /// When the newest figure was taken: RFC 3339 in UTC.
    newest_at: String,
    /// How many figures.
    figures: usize,
    /// The first of them.
    first: f64,
    /// The newest of them.
    newest: f64,
    /// The newest as a share of the first; null where a share means nothing.
    left_share: Option<f64>,
    /// How much it gains a day; null with fewer than three figures.
    slope_per_day: Option<f64>,
    /// Not below.
    slope_low: Option<f64>,
    /// Not above.
    slope_high: Option<f64>,
    /// The line's height on the day of the fitting.
    at_fitting: Option<f64>,
    /// Of the slope's limits, two-sided.
    confidence: f64,
    /// falling, rising, or level: the limits of the slope hold 0 between them.
    trend: &'static str,
    /// When half of the first figure is left by that trend: RFC 3339 in UTC; null if that is not before the part's limit falls, or
    /// further ahead than the figures reach back.
    half_at: Option<String>,
    /// It wants attention: `half_at` is given; or half of the first figure and less is left; or a figure in decibels has come down
    /// further than one figure can be off.
    warning: bool,
}

/// As JSON.
#[must_use]
pub fn json(series: &Series) -> JsonSeries<'_> {
    let line = series.trend.line.as_ref().ok();
    JsonSeries {
        radar: &series.radar,
        quantity: &series.quantity,
        unit: &series.unit,
        pulse: series.pulse.as_deref(),
        range_nm: series.range_nm,
        since: series.since_ms.map(time::rfc3339),
        newest_at: time::rfc3339(series.newest_ms),
        figures: series.trend.points,
        first: series.trend.first,
        newest: series.trend.newest,
        left_share: series.trend.left_share,
        slope_per_day: line.map(|(line, _)| line.slope),
        slope_low: line.map(|(_, limits)| limits.low),
        slope_high: line.map(|(_, limits)| limits.high),
        at_fitting: line.map(|(line, _)| line.intercept),
        confidence: series.confidence,
        trend: match series.trend.way {
            Way::Level => "level",
            Way::Falling => "falling",
            Way::Rising => "rising",
        },
        half_at: series.down_ms.map(time::rfc3339),
        warning: series.trend.warns(),
    }
}

/// Days in which a change is told.
const PER_DAYS: f64 = 30.0;

/// One sentence for each series, worst first, under a heading; nothing if nothing was measured and nothing was counted.
/// `rates`: sentences about drop-outs and short warm-ups.
#[must_use]
pub fn text(all: &[Series], rates: &[String], screen: Screen) -> String {
    if all.is_empty() && rates.is_empty() {
        return String::new();
    }
    let mut text = "\nCondition, beside the hours and not reckoned into them:\n".to_owned();
    text.push_str(&screen.notes(all.iter().map(sentence).chain(rates.iter().cloned())));
    if all.iter().any(|series| series.trend.low || series.down_ms.is_some()) {
        text.push_str(&screen.paragraph(
            "(That a tube is used up at half of the first figure is the opinion of marine engineers, no standard's.)",
        ));
    }
    text
}

/// What one series shows.
pub(in crate::output) fn sentence(series: &Series) -> String {
    let Series { radar, quantity, unit, trend, .. } = series;
    let settings = [
        series.pulse.as_ref().map(|pulse| format!("{pulse} pulse")),
        series.range_nm.map(|range| format!("{range} nm")),
    ];
    let settings: Vec<String> = settings.into_iter().flatten().collect();
    let settings = if settings.is_empty() { String::new() } else { format!(" ({})", settings.join(", ")) };
    let lead = if trend.warns() { "LOOK: " } else { "" };
    let since = match series.since_ms {
        Some(since_ms) => format!("since the fitting of {}", time::date(since_ms)),
        None => "no fitting is recorded, so of all figures".to_owned(),
    };
    let moved = if trend.points == 1 {
        format!("{} {unit} on {}", trend.newest, time::date(series.newest_ms))
    } else {
        format!("{} to {} {unit} by {}", trend.first, trend.newest, time::date(series.newest_ms))
    };
    let left = trend
        .left_share
        .filter(|_| trend.low)
        .map_or_else(String::new, |left| format!(", {:.0} % of the first figure", left * 100.0));
    let way = match (&trend.line, trend.way) {
        (Err(_), _) => format!("{} of the three figures that a trend needs", trend.points.min(2)),
        (Ok(_), Way::Level) => format!("no trend beyond scatter in {} figures", trend.points),
        (Ok((line, _)), way) => {
            let word = if way == Way::Falling { "falling" } else { "rising" };
            let by = (line.slope * PER_DAYS).abs();
            format!(
                "{word} by {by:.2} {unit} in {PER_DAYS:.0} days, beyond scatter in {} figures",
                trend.points
            )
        }
    };
    let half = series.down_ms.filter(|_| !trend.low).map_or_else(String::new, |down_ms| {
        format!("; if it goes on, half of the first figure is left by {}", time::date(down_ms))
    });
    format!("{lead}{radar}, {quantity}{settings}: {moved}{left}; {way} ({since}){half}.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::life::condition::{Ask, Wears, trend};

    fn series(points: &[(f64, f64)]) -> Series {
        let ask = Ask { points, wears: Wears::Falls, confidence: 0.95, left_share: 0.5, until_day: None };
        Series {
            radar: "S-band".to_owned(),
            quantity: "tube current".to_owned(),
            unit: "mA".to_owned(),
            pulse: Some("long".to_owned()),
            range_nm: Some(24.0),
            since_ms: Some(0),
            newest_ms: 86_400_000,
            down_ms: None,
            trend: trend(&ask).unwrap().unwrap(),
            confidence: 0.95,
        }
    }

    #[test]
    fn what_wants_attention_says_so_in_plain_words() {
        let said = text(&[series(&[(0.0, 8.0), (30.0, 6.0), (60.0, 4.0)])], &[], Screen::PIPE);
        let said = anstream::adapter::strip_str(&said).to_string();
        assert!(
            said.contains("LOOK: S-band, tube current (long pulse, 24 nm): 8 to 4 mA by 1970-01-02"),
            "{said}"
        );
        assert!(said.contains("50 % of the first figure; falling by 2.00 mA in 30 days"), "{said}");
        assert!(said.contains("opinion"), "{said}");
    }

    #[test]
    fn what_does_not_is_told_without_alarm() {
        let said = text(&[series(&[(0.0, 8.0)])], &["Drop-outs: none.".to_owned()], Screen::PIPE);
        assert!(said.contains("- S-band, tube current") && said.contains("1 of the three figures"), "{said}");
        assert!(said.contains("Drop-outs: none.") && !said.contains("LOOK"), "{said}");
        assert_eq!(text(&[], &[], Screen::PIPE), "");
    }
}
