//! Which count is true, and why they differ. Pure: facts in, hours and findings out.

mod facts;
mod finding;

pub use facts::{Facts, Fitting, Log, Part, Point, ROLES, Radar, Reading, Span, When, Work, place};
pub use finding::{Account, FactId, Finding, Instead, Interval, Kind, PartHours, Rate};

/// Sets a ship's sources against each other: one account a radar, in the order of the facts.
#[must_use]
pub fn reconcile(facts: &Facts) -> Vec<Account> {
    facts.radars.iter().map(|radar| Account { radar: radar.name.clone(), ..Account::default() }).collect()
}
