//! How what removals tell looks: notes under a part, and a key of its JSON.

use super::table::hours;
use crate::life::age_replacement::{Advice, FAILURES_MIN};
use crate::life::removals::{Because, Removals};
use crate::life::told::{Known, Lives, PlaceTrend, Told};
use crate::life::{Limits, Why};
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// What removals tell of one part.
#[derive(Clone, Debug)]
pub struct Life {
    /// The answer.
    pub told: Told,
    /// The radars whose parts are taken together, by their number in the answer.
    pub radars: Vec<String>,
    /// Of all limits, two-sided.
    pub confidence: f64,
    /// Parts taken out as weak count as failed.
    pub weak_is_failed: bool,
    /// What a failure costs, a planned renewal being 1.
    pub cost_ratio: Option<f64>,
    /// The maker's limit.
    pub limit_h: Option<f64>,
    /// Up to when it is asked whether the part lives on: the stay there, and its beginning.
    pub until: Option<(String, i64)>,
}

/// What removals tell: shown beside the maker's limit, never in its place.
#[derive(Debug, Serialize, JsonSchema)]
pub struct JsonLife<'a> {
    /// The radars whose parts of this name and type are taken together.
    radars: &'a [String],
    /// How many were taken out, by reason.
    taken_out: JsonTakenOut,
    /// Those taken out as weak count as failed: `--weak-failed`.
    weak_counts_as_failed: bool,
    /// How many are in, with known hours.
    running: u32,
    /// How many are left out because their hours are not known.
    without_hours: u32,
    /// Hours of all of them together, as far as they were watched.
    watched_h: f64,
    /// How many failed, of those with known hours.
    failures: usize,
    /// With fewer nothing is told of lives.
    failures_needed: usize,
    /// Of all limits, two-sided.
    confidence: f64,
    /// Why nothing is told of lives; null if something is.
    why_not: Option<String>,
    /// The age by which 63 % have failed: the scale of a Weibull distribution.
    scale_h: Option<JsonKnown>,
    /// Its shape: above 1 parts wear out.
    shape: Option<JsonKnown>,
    /// The age by which one in ten has failed.
    b10_h: Option<JsonKnown>,
    /// The age by which half have failed.
    median_h: Option<JsonKnown>,
    /// The share that reaches the maker's limit.
    reaches_limit: Option<JsonKnown>,
    /// The chance that the part that is in lives on until the next stay.
    lives_on: Option<JsonLivesOn<'a>>,
    /// What a failure costs, a planned renewal being 1, as in ship.toml.
    cost_ratio: Option<f64>,
    /// The cheapest age; null without a cost ratio.
    cheapest: Option<JsonCheapest>,
    /// Of each radar with enough failures, whether they come at a constant rate.
    trends: Vec<JsonTrend<'a>>,
}

/// Parts taken out, by reason.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonTakenOut {
    limit: u32,
    failed: u32,
    weak: u32,
    damaged: u32,
    moved: u32,
    unknown: u32,
}

/// A figure between its limits.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonKnown {
    /// Not below.
    low: f64,
    /// Likeliest.
    best: f64,
    /// Not above.
    high: f64,
}

/// The chance that a part lives on.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonLivesOn<'a> {
    /// Where the next stay is.
    place: &'a str,
    /// When it likely begins: RFC 3339 in UTC.
    until: String,
    /// The chance.
    #[schemars(range(min = 0.0, max = 1.0))]
    chance: f64,
}

/// The age at which renewing costs least in the long run.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonCheapest {
    /// The age; null: never before it fails.
    age_h: Option<f64>,
    /// Its lower limit.
    age_low_h: Option<f64>,
    /// Its upper limit; null: none, since wear is not shown.
    age_high_h: Option<f64>,
    /// The limits of the shape lie above 1.
    wear_shown: bool,
    /// What it costs per 1,000 hours, in planned renewals.
    cost_per_1000_h: f64,
    /// What renewing at the maker's limit costs.
    limit_cost_per_1000_h: Option<f64>,
}

/// Whether a radar's failures come at a constant rate.
#[derive(Debug, Serialize, JsonSchema)]
struct JsonTrend<'a> {
    /// The radar.
    radar: &'a str,
    /// Failures that it rests on.
    failures: usize,
    /// Laplace's figure: standard normal under a constant rate.
    laplace: f64,
    /// MIL-HDBK-189's figure: a chi-square under a constant rate, with twice as many degrees of freedom as failures.
    mil_hdbk_189: f64,
    /// How often a constant rate gives a figure of MIL-HDBK-189 at least as far out.
    #[schemars(range(min = 0.0, max = 1.0))]
    probability: f64,
    /// The power of the hours that failures grow with: 1 at a constant rate.
    power: f64,
    /// To take the rate as constant is wrong.
    constant_rate_is_wrong: bool,
}

impl Life {
    /// As JSON.
    #[must_use]
    pub fn json(&self) -> JsonLife<'_> {
        let Removals { running, without_hours, watched_h, failures, .. } = self.told.removals;
        let count = |because| self.told.removals.count(because);
        let lives = self.told.lives.as_ref().ok();
        let cheapest = |lives: &Lives, advice: &Advice| JsonCheapest {
            age_h: advice.optimum.age_h,
            age_low_h: advice.age_limits_h.map(|limits| limits.low),
            age_high_h: advice.age_limits_h.map(|limits| limits.high).filter(|high| high.is_finite()),
            wear_shown: advice.wear_shown,
            cost_per_1000_h: advice.optimum.cost_per_h * 1_000.0,
            limit_cost_per_1000_h: lives.limit_cost_per_h.map(|cost| cost * 1_000.0),
        };
        JsonLife {
            radars: &self.radars,
            taken_out: JsonTakenOut {
                limit: count(Because::Limit),
                failed: count(Because::Failed),
                weak: count(Because::Weak),
                damaged: count(Because::Damaged),
                moved: count(Because::Moved),
                unknown: count(Because::Unknown),
            },
            weak_counts_as_failed: self.weak_is_failed,
            running,
            without_hours,
            watched_h,
            failures,
            failures_needed: FAILURES_MIN,
            confidence: self.confidence,
            why_not: self.told.lives.as_ref().err().map(ToString::to_string),
            scale_h: lives.map(|lives| known(lives.scale_h)),
            shape: lives.map(|lives| known(lives.shape)),
            b10_h: lives.map(|lives| known(lives.b10_h)),
            median_h: lives.map(|lives| known(lives.median_h)),
            reaches_limit: lives.and_then(|lives| lives.reach_limit).map(known),
            lives_on: lives
                .and_then(|lives| lives.lives_on)
                .zip(self.until.as_ref())
                .map(|(chance, (place, at_ms))| JsonLivesOn { place, until: time::rfc3339(*at_ms), chance }),
            cost_ratio: self.cost_ratio,
            cheapest: lives.and_then(|lives| lives.advice.as_ref().map(|advice| cheapest(lives, advice))),
            trends: self.told.trends.iter().map(|trend| self.trend(trend)).collect(),
        }
    }

    fn trend(&self, trend: &PlaceTrend) -> JsonTrend<'_> {
        JsonTrend {
            radar: self.radar(trend),
            failures: trend.failures,
            laplace: trend.laplace.statistic,
            mil_hdbk_189: trend.mil_hdbk_189.statistic,
            probability: trend.mil_hdbk_189.probability,
            power: trend.power,
            constant_rate_is_wrong: trend.is_shown(TREND_CONFIDENCE),
        }
    }

    fn radar(&self, trend: &PlaceTrend) -> &str {
        self.radars.get(trend.place).map_or("", String::as_str)
    }

    /// As sentences; none if nothing was ever taken out.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let removals = &self.told.removals;
        let mut notes = Vec::new();
        if removals.taken_out() == 0 {
            return notes;
        }
        match &self.told.lives {
            Err(Why::TooFewFailures { have, need }) => notes.push(format!(
                "Of {}, {} failed: nothing is told of how long they live from fewer than {need} failures.",
                self.taken_out(),
                if *have == 0 { "none".to_owned() } else { format!("{have} (with known hours)") }
            )),
            Err(why) => {
                notes.push(format!("Of {}, {} failed: {why}.", self.taken_out(), removals.failures));
            }
            Ok(lives) => notes.extend(self.lives(lives)),
        }
        notes.extend(self.left_out());
        for trend in self.told.trends.iter().filter(|trend| trend.is_shown(TREND_CONFIDENCE)) {
            let way = if trend.mil_hdbk_189.growing { "more" } else { "less" };
            notes.push(format!(
                "Failures of {} have become {way} frequent: it would be wrong to reckon with an even rate of failures.",
                self.radar(trend)
            ));
        }
        notes
    }

    /// For instance: 11 taken out of both X-band and S-band (same name and type).
    fn taken_out(&self) -> String {
        let from = match self.radars.as_slice() {
            [_] | [] => String::new(),
            radars => format!(" of {} (same name and type)", radars.join(" and ")),
        };
        format!("{} taken out so far{from}", self.told.removals.taken_out())
    }

    fn lives(&self, lives: &Lives) -> Vec<String> {
        let removals = &self.told.removals;
        let sure = format!("{:.0} %", self.confidence * 100.0);
        let mut notes = vec![format!(
            "Of {}, {} failed{}. By that one in ten fails by {} h ({}), half by {} h ({}); in brackets limits, {sure} sure.",
            self.taken_out(),
            removals.failures,
            if self.weak_is_failed { " (weak ones counted as failed)" } else { "" },
            hours(lives.b10_h.best),
            range(lives.b10_h.limits),
            hours(lives.median_h.best),
            range(lives.median_h.limits),
        )];
        if let (Some(reach), Some(limit_h)) = (lives.reach_limit, self.limit_h) {
            notes.push(format!(
                "{:.0} in a hundred ({:.0} to {:.0}) reach the maker's limit of {limit_h} h, which is what counts.",
                reach.best * 100.0,
                reach.limits.low * 100.0,
                reach.limits.high * 100.0
            ));
        }
        if let (Some(chance), Some((place, at_ms))) = (lives.lives_on, &self.until) {
            notes.push(format!(
                "This one lives until the next stay ({place}, {}) with {}.",
                time::date(*at_ms),
                crate::plan::percent(chance)
            ));
        }
        notes.push(match (lives.advice, self.cost_ratio) {
            (Some(advice), Some(ratio)) => cheapest(&advice, ratio),
            _ => "At which age renewing costs least is not told without failure_cost_ratio in ship.toml."
                .to_owned(),
        });
        notes
    }

    fn left_out(&self) -> Option<String> {
        let removals = &self.told.removals;
        let unknown = removals.count(Because::Unknown);
        let mut parts = Vec::new();
        if unknown > 0 {
            parts.push(format!("{unknown} taken out for a reason that nobody wrote"));
        }
        if removals.without_hours > 0 {
            parts.push(format!("{} without known hours", removals.without_hours));
        }
        (!parts.is_empty()).then(|| format!("Left out of this: {}.", parts.join(", ")))
    }
}

/// A trend is shown when an even rate would look like it in fewer than one case of twenty. Common practice, no source.
const TREND_CONFIDENCE: f64 = 0.95;

fn cheapest(advice: &Advice, ratio: f64) -> String {
    let costs = format!("With a failure that costs {ratio} planned renewals");
    match (advice.optimum.age_h, advice.age_limits_h) {
        (Some(age_h), Some(limits)) if advice.wear_shown => format!(
            "{costs}, renewing at {} h ({}) would cost least. The maker's limit is what counts.",
            hours(age_h),
            range(limits)
        ),
        (Some(age_h), Some(limits)) => format!(
            "{costs}, renewing at {} h (at least {}) would cost least; but it is not shown that they wear out at all. The \
             maker's limit is what counts.",
            hours(age_h),
            hours(limits.low)
        ),
        _ => format!(
            "They do not fail more often with age, so to renew early saves nothing{}. The maker's limit is what counts.",
            if advice.wear_shown { "" } else { ", as far as so few can tell" }
        ),
    }
}

fn range(limits: Limits) -> String {
    format!("{} to {}", hours(limits.low), hours(limits.high))
}

fn known(known: Known) -> JsonKnown {
    JsonKnown { low: known.limits.low, best: known.best, high: known.limits.high }
}
