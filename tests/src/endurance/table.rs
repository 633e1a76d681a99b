//! One table of what the lives cost.

use super::profile::Profile;
use super::run::Outcome;

/// What a page must bear before its maker stops answering for it: the usual 10,000.
const BEARS: u32 = 10_000;

/// The table's head, in Markdown.
#[must_use]
pub fn head() -> String {
    [
        "| life | days | boots | edges | worst page: totals | history | config | years to 10,000: totals | all | history kept, days |",
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    .join("\n")
}

/// A life's row.
#[must_use]
pub fn row(profile: &Profile, outcome: &Outcome) -> String {
    let Outcome { days, boots, edges, journal, history, config, retention_days, .. } = outcome;
    let years = |worst: u32| {
        if worst == 0 {
            return "no end".to_owned();
        }
        format!("{:.1}", f64::from(*days) / 365.25 * f64::from(BEARS) / f64::from(worst))
    };
    let kept = if *retention_days > 0.0 { format!("{retention_days:.0}") } else { "-".to_owned() };
    let all = journal.worst.max(history.worst).max(config.worst);
    format!(
        "| {}: {} | {days} | {boots} | {edges} | {} | {} | {} | {} | {} | {kept} |",
        profile.name,
        profile.about,
        journal.worst,
        history.worst,
        config.worst,
        years(journal.worst),
        years(all)
    )
}

/// How a life of a year or more stands to its targets, scaled to 25 years: a sentence, and whether they are met.
#[must_use]
pub fn target(profile: &Profile, outcome: &Outcome) -> Option<(String, bool)> {
    // In less than a year the worst page's last turn weighs too much.
    let target = profile.target.filter(|_| outcome.days >= 365)?;
    let worst = f64::from(outcome.journal.worst) * 25.0 * 365.25 / f64::from(outcome.days);
    let mut met = worst <= f64::from(target.totals_erases_max);
    let mut told = format!(
        "{worst:.0} erases of the worst page of totals in 25 years, at most {}",
        target.totals_erases_max
    );
    // A life shorter than the history reaches says nothing about how far that is.
    if let Some(least) = target.history_days_min.filter(|least| f64::from(outcome.days) > least * 1.2) {
        met &= outcome.retention_days >= least;
        told += &format!("; history reaches back {:.0} days, at least {least:.0}", outcome.retention_days);
    }
    Some((format!("- {}: {told}: {}", profile.name, if met { "met" } else { "MISSED" }), met))
}

/// What else is worth knowing of a life.
#[must_use]
pub fn remark(profile: &Profile, outcome: &Outcome) -> String {
    let day = |erases: u64| erases as f64 / f64::from(outcome.days);
    format!(
        "- {}: {:.0} words programmed a day, {:.2} erases of totals pages a day and {:.2} of history pages; {} records pulled, {} overwritten unpulled; merging said {} times; the worst line fell short by {:.1} s a session",
        profile.name,
        day(outcome.programs),
        day(outcome.journal.all),
        day(outcome.history.all),
        outcome.records,
        outcome.gap_records,
        outcome.coalesced,
        outcome.lost_ms_per_cut / 1_000.0
    )
}
