//! How the spares of a stretch of time look: what it takes, what is there, by when to order.

use super::screen::Screen;
use super::table::{Sheet, hours};
use crate::life::stock::{Missing, Stock};
use crate::time;
use schemars::JsonSchema;
use serde::Serialize;

/// The spares of one kind of part.
#[derive(Clone, Debug)]
pub struct Kind {
    /// The radars whose parts it fits.
    pub radars: Vec<String>,
    /// The part.
    pub part: String,
    /// Serials aboard.
    pub aboard: Vec<String>,
    /// Failures counted, and the hours watched.
    pub counted: Option<(usize, f64)>,
    /// The answer.
    pub stock: Stock,
    /// What is to be known of single spares.
    pub notes: Vec<String>,
}

/// For how long, and how surely.
#[derive(Clone, Copy, Debug)]
pub struct Stretch {
    /// Now.
    pub as_of_ms: i64,
    /// So many days.
    pub days: f64,
    /// The stock is to last with this probability.
    pub confidence: f64,
}

impl Stretch {
    fn at_ms(&self, in_days: f64) -> i64 {
        self.as_of_ms.saturating_add((in_days * 86_400_000.0) as i64)
    }
}

/// What the stretch takes of one kind of part.
#[derive(Debug, Serialize, JsonSchema)]
pub struct JsonStock<'a> {
    /// The radars whose parts of this name and type it is about.
    radars: &'a [String],
    /// The part, as in ship.toml.
    part: &'a str,
    /// Up to when: RFC 3339 in UTC.
    until: String,
    /// The stock is to last with this probability; also of the limits of the rate.
    confidence: f64,
    /// Serials of the spares that are there.
    aboard: &'a [String],
    /// Planned renewals.
    renewals: u64,
    /// Early failures to be ready for; null if no rate is known.
    early_failures: Option<u64>,
    /// The same, if the rate is as high as its upper limit.
    early_failures_at_most: Option<u64>,
    /// Failures per 1,000 hours, as counted; null if no part was ever taken out.
    failures_per_1000_h: Option<f64>,
    /// Not below.
    failures_low: Option<f64>,
    /// Not above.
    failures_high: Option<f64>,
    /// How likely what is there covers the early failures behind the planned renewals.
    covered: Option<f64>,
    /// How many to order.
    order: u64,
    /// When the stock runs short if nothing is ordered: RFC 3339 in UTC; null: it does not.
    short_from: Option<String>,
    /// By when to order the first, for renewals and early failures together: RFC 3339 in UTC; null if nothing is to be ordered or
    /// the lead time is not known.
    order_by: Option<String>,
    /// What is missing: removals, use, lead-time.
    missing: Vec<&'static str>,
    /// What is to be known of single spares, in sentences.
    notes: &'a [String],
}

/// As JSON.
#[must_use]
pub fn json<'a>(kind: &'a Kind, stretch: &Stretch) -> JsonStock<'a> {
    let Stock { need, rate, .. } = &kind.stock;
    let known = rate.as_ref().filter(|_| kind.stock.early_at_most.is_some());
    JsonStock {
        radars: &kind.radars,
        part: &kind.part,
        until: time::rfc3339(stretch.at_ms(stretch.days)),
        confidence: stretch.confidence,
        aboard: &kind.aboard,
        renewals: need.renewals,
        early_failures: known.map(|_| need.early),
        early_failures_at_most: kind.stock.early_at_most,
        failures_per_1000_h: rate.map(|rate| rate.per_h * 1_000.0),
        failures_low: rate.map(|rate| rate.limits.low * 1_000.0),
        failures_high: rate.map(|rate| rate.limits.high * 1_000.0),
        covered: kind.stock.covered,
        order: kind.stock.order,
        short_from: kind
            .stock
            .shortage
            .map(|short| time::rfc3339(stretch.at_ms(short.short_in_days.max(0.0)))),
        order_by: order_by_ms(kind, stretch).map(time::rfc3339),
        missing: kind.stock.missing.iter().map(|missing| word(*missing)).collect(),
        notes: &kind.notes,
    }
}

fn word(missing: Missing) -> &'static str {
    match missing {
        Missing::Removals => "removals",
        Missing::Use => "use",
        Missing::LeadTime => "lead-time",
    }
}

fn order_by_ms(kind: &Kind, stretch: &Stretch) -> Option<i64> {
    let lead_known = !kind.stock.missing.contains(&Missing::LeadTime);
    kind.stock.shortage.filter(|_| lead_known).map(|short| stretch.at_ms(short.order_in_days))
}

/// A table, and what is missing or doubtful.
#[must_use]
pub fn text(kinds: &[Kind], stretch: &Stretch, screen: Screen) -> String {
    if kinds.is_empty() {
        return String::new();
    }
    let heading = ["Radar", "Part", "Aboard", "Renewals", "Early failures", "To order", "First by"];
    let rows = kinds.iter().map(|kind| row(kind, stretch)).collect();
    let sheet = Sheet::new(&heading, &["Renewals", "Early failures", "To order"], rows);
    let mut text = format!(
        "\nSpares for the next {:.0} days, to last with {:.0} %:\n\n{}\n",
        stretch.days,
        stretch.confidence * 100.0,
        sheet.on(screen)
    );
    text.push('\n');
    text.push_str(&screen.paragraph(
        "First by: when the first of them must be ordered, for renewals and early failures together. `Order by` above is for \
         the renewal alone.",
    ));
    let notes: Vec<String> = kinds.iter().flat_map(|kind| notes(kind, stretch)).collect();
    if !notes.is_empty() {
        text.push('\n');
        text.push_str(&screen.notes(&notes));
    }
    text
}

fn row(kind: &Kind, stretch: &Stretch) -> Vec<String> {
    let Stock { need, early_at_most, order, .. } = &kind.stock;
    let aboard = if kind.aboard.is_empty() { "none".to_owned() } else { kind.aboard.join(", ") };
    let early = early_at_most.map_or_else(
        || "not known".to_owned(),
        |most| {
            if most > need.early { format!("{} (up to {most})", need.early) } else { need.early.to_string() }
        },
    );
    let order_by = match (kind.stock.shortage, order_by_ms(kind, stretch)) {
        (None, _) => "-".to_owned(),
        (Some(_), Some(by_ms)) if by_ms <= stretch.as_of_ms => "at once".to_owned(),
        (Some(_), Some(by_ms)) => time::date(by_ms),
        (Some(short), None) => {
            format!("needed {}", time::date(stretch.at_ms(short.short_in_days.max(0.0))))
        }
    };
    vec![
        kind.radars.join(", "),
        kind.part.clone(),
        aboard,
        need.renewals.to_string(),
        early,
        order.to_string(),
        order_by,
    ]
}

fn notes(kind: &Kind, stretch: &Stretch) -> Vec<String> {
    let name = format!("{} {}", kind.radars.join(" and "), kind.part);
    let mut notes = Vec::new();
    for missing in &kind.stock.missing {
        notes.push(match missing {
            Missing::Removals => format!(
                "{name}: none was ever recorded as taken out, so no rate of early failures is known and none is reckoned \
                 with."
            ),
            Missing::Use => {
                format!("{name}: how many hours a day it runs is not known, so early failures are not reckoned with.")
            }
            Missing::LeadTime => {
                format!("{name}: lead_time_days is missing in ship.toml, so no date to order by can be given.")
            }
        });
    }
    if let (Some(rate), Some((failures, watched_h))) = (kind.stock.rate, kind.counted) {
        notes.push(format!(
            "{name}: {failures} failed in {} h; {:.2} per 1000 h, {:.2} to {:.2} with {:.0} % (in brackets above: as high as that).",
            hours(watched_h),
            rate.per_h * 1_000.0,
            rate.limits.low * 1_000.0,
            rate.limits.high * 1_000.0,
            stretch.confidence * 100.0
        ));
    }
    notes.extend(kind.notes.iter().cloned());
    notes
}
