//! The door to what was measured of a part's state: figures at like settings become one series.

use crate::life::condition::{self, Trend, Wears};
use crate::ship::Settings;
use crate::ship::facts::Condition;
use crate::store::Facts;
use halfglass_protocol::config::Role;

const DAY_MS: f64 = 86_400_000.0;

/// The confidence of a trend's limits, two-sided. Common practice, no source.
pub(crate) const CONFIDENCE: f64 = 0.95;

/// Warn when half of the first figure is left. Source: a marine engineers' forum, where a tube counts as consumed when its current
/// at the longest pulse is about half of new: an opinion, and the answer says so.
pub(crate) const LEFT_SHARE: f64 = 0.5;

/// A series of figures at like settings, and what it shows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Series {
    /// The radar.
    pub(crate) radar: String,
    /// What was measured, as it was written last.
    pub(crate) quantity: String,
    /// In which unit.
    pub(crate) unit: String,
    /// At which pulse.
    pub(crate) pulse: Option<String>,
    /// At which range, in nautical miles.
    pub(crate) range_nm: Option<f64>,
    /// Since when: the newest fitting of a part of the radar that ages by transmit hours; `None`: none is recorded, and all
    /// figures are taken.
    pub(crate) since_ms: Option<i64>,
    /// When the newest figure was taken.
    pub(crate) newest_ms: i64,
    /// When half of the first figure is left, if the trend goes on and that is in sight.
    pub(crate) down_ms: Option<i64>,
    /// What it shows.
    pub(crate) trend: Trend,
}

/// The series of all radars, those that warn first. `limits_ms`: when the limit of each part falls, likeliest, in the order of
/// ship.toml.
pub(crate) fn series(
    settings: &Settings,
    facts: &Facts,
    limits_ms: &[Option<i64>],
    as_of_ms: i64,
) -> Vec<Series> {
    let mut all = Vec::new();
    for radar in &settings.radars {
        let tube = |name: &str| {
            settings
                .parts
                .iter()
                .any(|part| part.radar == radar.name && part.name == name && part.ages_by == Role::Transmit)
        };
        let fitted = facts.fittings.iter().map(|kept| &kept.fact);
        let fitted = fitted.filter(|fit| fit.radar == radar.name && tube(&fit.part));
        let since_ms = fitted.map(|fit| fit.at.best_ms_by(as_of_ms)).max();
        let own = facts.conditions.iter().map(|kept| &kept.fact).filter(|fact| {
            fact.radar == radar.name
                && since_ms.is_none_or(|since_ms| fact.at.best_ms_by(as_of_ms) >= since_ms)
        });
        let mut groups: Vec<Vec<&Condition>> = Vec::new();
        for fact in own {
            match groups.iter_mut().find(|group| group.first().is_some_and(|first| alike(first, fact))) {
                Some(group) => group.push(fact),
                None => groups.push(vec![fact]),
            }
        }
        // Of several parts that age by transmit hours, the last to be renewed: the figures may be that one's.
        let parts = settings.parts.iter().zip(limits_ms);
        let own = parts.filter(|(part, _)| part.radar == radar.name && tube(&part.name));
        let until_ms = own.filter_map(|(_, limit_ms)| *limit_ms).max();
        all.extend(groups.iter().filter_map(|group| one(group, since_ms, until_ms, as_of_ms)));
    }
    all.sort_by_key(|series| !series.trend.warns());
    all
}

/// Only figures at like settings are compared.
fn alike(a: &Condition, b: &Condition) -> bool {
    let word = |text: &str| text.trim().to_lowercase();
    word(&a.quantity) == word(&b.quantity)
        && word(&a.unit) == word(&b.unit)
        && a.pulse.as_deref().map(word) == b.pulse.as_deref().map(word)
        && a.range_nm == b.range_nm
}

fn one(group: &[&Condition], since_ms: Option<i64>, until_ms: Option<i64>, as_of_ms: i64) -> Option<Series> {
    let at_ms = |fact: &Condition| fact.at.best_ms_by(as_of_ms);
    let newest = group.iter().max_by_key(|fact| at_ms(fact))?;
    let from_ms = since_ms.or_else(|| group.iter().map(|fact| at_ms(fact)).min())?;
    let points: Vec<(f64, f64)> =
        group.iter().map(|fact| ((at_ms(fact) - from_ms) as f64 / DAY_MS, fact.value)).collect();
    let ask = condition::Ask {
        points: &points,
        wears: wears(newest),
        confidence: CONFIDENCE,
        left_share: LEFT_SHARE,
        until_day: until_ms.map(|until_ms| (until_ms - from_ms) as f64 / DAY_MS),
    };
    let trend = condition::trend(&ask).ok()??;
    Some(Series {
        radar: newest.radar.clone(),
        quantity: newest.quantity.clone(),
        unit: newest.unit.clone(),
        pulse: newest.pulse.clone(),
        range_nm: newest.range_nm,
        since_ms,
        newest_ms: at_ms(newest),
        down_ms: trend.down_day.map(|day| from_ms.saturating_add((day * DAY_MS) as i64)),
        trend,
    })
}

/// How a figure moves with wear: trade knowledge, no standard. Of what is not known here nobody can say which way is worse.
fn wears(fact: &Condition) -> Wears {
    let quantity = fact.quantity.to_lowercase();
    let is = |words: &[&str]| words.iter().any(|word| quantity.contains(word));
    if is(&["tube current", "magnetron current"]) {
        Wears::Falls
    } else if is(&["performance"]) {
        if fact.unit.to_lowercase().starts_with("db") { Wears::FallsOnScale } else { Wears::Falls }
    } else {
        Wears::Unknown
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::life::condition::Way;
    use crate::ship::facts::Fitting;
    use crate::store::Kept;
    use crate::time::Moment;

    const SHIP: &str = "[ship]\nname = \"Calder\"\n\
        [[radar]]\nname = \"S\"\nlogger = \"0000000000000001\"\nlines = { transmit = 2, motor = 3 }\n\
        [[part]]\nradar = \"S\"\nname = \"magnetron\"\nages_by = \"transmit\"\n\
        [[part]]\nradar = \"S\"\nname = \"scanner motor\"\nages_by = \"motor\"\n";

    fn measured(day: i64, value: f64, pulse: &str) -> Condition {
        Condition {
            at: Moment::exact(day * 86_400_000),
            radar: "S".to_owned(),
            quantity: "Tube current".to_owned(),
            value,
            unit: "mA".to_owned(),
            pulse: Some(pulse.to_owned()),
            range_nm: Some(24.0),
            by: None,
        }
    }

    fn fitted(day: i64, part: &str) -> Kept<Fitting> {
        Kept { id: 1, fact: Fitting::put_in(Moment::exact(day * 86_400_000), "S", part, "A") }
    }

    fn told(fittings: Vec<Kept<Fitting>>, conditions: &[Condition]) -> Vec<Series> {
        let conditions = (1..).zip(conditions).map(|(id, fact)| Kept { id, fact: fact.clone() }).collect();
        let facts = Facts { fittings, conditions, ..Facts::default() };
        let settings = Settings::parse(SHIP, "ship.toml").unwrap();
        series(&settings, &facts, &[Some(45 * 86_400_000), None], 1_000 * 86_400_000)
    }

    #[test]
    fn only_like_settings_are_compared_and_only_since_the_tube_was_put_in() {
        let all = [
            measured(5, 3.0, "long"),
            measured(10, 8.0, "long"),
            measured(20, 7.0, "LONG "),
            measured(30, 6.0, "long"),
            measured(15, 2.0, "short"),
        ];
        let told = told(vec![fitted(8, "magnetron"), fitted(25, "scanner motor")], &all);
        assert_eq!(told.len(), 2);
        let long = &told[0];
        assert_eq!((long.trend.points, long.trend.first, long.trend.way), (3, 8.0, Way::Falling));
        assert_eq!((long.since_ms, long.newest_ms), (Some(8 * 86_400_000), 30 * 86_400_000));
        // By hand: 1 mA in ten days.
        assert!((long.trend.line.unwrap().0.slope + 0.1).abs() < 1e-12);
        // Half of 8 mA is left on day 50; the limit falls on day 45.
        assert_eq!((long.trend.worse, long.trend.warns(), long.down_ms), (true, false, None));
        assert_eq!((told[1].pulse.as_deref(), told[1].trend.warns()), (Some("short"), false));
    }

    #[test]
    fn without_a_fitting_all_figures_are_taken_and_it_is_said() {
        let told = told(Vec::new(), &[measured(5, 8.0, "long"), measured(9, 3.9, "long")]);
        assert_eq!((told[0].since_ms, told[0].trend.low), (None, true));
    }

    #[test]
    fn decibels_have_no_half_and_of_tuning_no_way_is_worse() {
        let as_what = |quantity: &str, unit: &str| {
            wears(&Condition {
                quantity: quantity.to_owned(),
                unit: unit.to_owned(),
                ..measured(0, 1.0, "long")
            })
        };
        assert_eq!(as_what("Performance monitor", "dB"), Wears::FallsOnScale);
        assert_eq!(as_what("performance monitor", "%"), Wears::Falls);
        assert_eq!(as_what("tuning", "%"), Wears::Unknown);
    }
}
