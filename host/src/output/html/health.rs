//! How the loggers do, as rows.

use super::book::{Book, Health};
use super::words::{count, shown};
use crate::output::reconcile::text;
use crate::output::wear;
use crate::time;

/// One logger.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub(super) radar: String,
    pub(super) device: String,
    pub(super) pulled: String,
    pub(super) sessions: String,
    pub(super) flash: String,
    pub(super) wear: String,
    /// Of what its maker answers for.
    pub(super) used: Option<String>,
    pub(super) memory: String,
    /// Something wants a look.
    pub(super) worry: bool,
}

/// Drop-outs and short warm-ups of a radar, in sentences.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Trend {
    pub(super) radar: String,
    pub(super) says: Vec<String>,
}

/// A log that ends longer ago than this, in days, is old: the design's month-end pull, and a week's grace.
const OLD_DAYS: i64 = 38;

pub(super) fn rows(book: &Book) -> Vec<Row> {
    let loggers =
        book.seen.iter().flat_map(|seen| seen.loggers.iter().map(|health| (&seen.told.name, health)));
    loggers.map(|(radar, health)| row(radar, health, book.as_of_ms)).collect()
}

fn row(radar: &str, health: &Health, as_of_ms: i64) -> Row {
    let old = health.pulled_ms.is_none_or(|at_ms| as_of_ms - at_ms > OLD_DAYS * 86_400_000);
    let pulled = health.pulled_ms.map_or_else(
        || "never".to_owned(),
        |at_ms| {
            let days = (as_of_ms - at_ms) / 86_400_000;
            let ago =
                if days == 0 { "today".to_owned() } else { format!("{} ago", count(days as usize, "day")) };
            format!("{}, {ago}", time::date(at_ms))
        },
    );
    let mut sessions = vec![count(health.sessions as usize, "session")];
    for (n, what) in [(health.too_short, "too short to log"), (health.faults, "begun by watchdog or fault")] {
        if n > 0 {
            sessions.push(format!("{n} {what}"));
        }
    }
    Row {
        radar: shown(radar),
        device: format!("{:016x}", health.device_id),
        pulled,
        sessions: sessions.join(", "),
        flash: said(&[
            (health.pages_retired, "page retired", "pages retired"),
            (health.words_lost, "word unreadable", "words unreadable"),
            (health.heads_invalid, "page head invalid", "page heads invalid"),
            (health.configs_lost, "configuration lost", "configurations lost"),
        ]),
        wear: health.wear.map_or_else(|| "not asked yet".to_owned(), |wear| wear::erases(&wear)),
        used: health.wear.zip(health.erases_rated).map(|(wear, rated)| wear::used(&wear, rated)),
        memory: said(&[
            (health.gaps, "stretch of records missing", "stretches of records missing"),
            (health.contradictions, "total fell", "totals fell"),
            (health.coalesced, "time edges were merged", "times edges were merged"),
        ]),
        worry: old
            || remedy(health).is_some()
            || health.faults > 0
            || health.pages_retired + health.words_lost + health.configs_lost + health.contradictions > 0,
    }
}

/// What to do about a logger's flash, if anything.
pub(super) fn remedy(health: &Health) -> Option<String> {
    wear::remedy(&health.wear?, health.erases_rated)
}

fn said(counts: &[(u32, &str, &str)]) -> String {
    let some = counts.iter().filter(|(n, ..)| *n > 0);
    let said: Vec<String> =
        some.map(|(n, one, many)| format!("{n} {}", if *n == 1 { one } else { many })).collect();
    if said.is_empty() { "sound".to_owned() } else { said.join(", ") }
}

/// One entry a radar whose transmit line is watched.
pub(super) fn trends(book: &Book) -> Vec<Trend> {
    let radars = book.reconciled.radars.iter().map(|radar| {
        let rates = [("Drop-outs", &radar.drop_outs), ("Short warm-ups", &radar.short_warm_ups)];
        let known = || rates.iter().filter_map(|(what, rate)| Some((*what, rate.as_ref()?)));
        let says = if known().count() > 0 && known().all(|(_, rate)| rate.per_100_h <= 0.0) {
            vec!["No drop-outs, no short warm-ups.".to_owned()]
        } else {
            known().map(|(what, rate)| text::rate(what, rate)).collect()
        };
        Trend { radar: shown(&radar.name), says }
    });
    radars.filter(|trend| !trend.says.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_logger_that_does_well_says_so_and_one_that_does_not_says_why() {
        let day_ms = 86_400_000;
        let well = Health { device_id: 7, pulled_ms: Some(0), sessions: 3, ..Health::default() };
        let row_well = row("S-band", &well, 2 * day_ms);
        assert!(!row_well.worry && row_well.flash == "sound", "{row_well:?}");
        assert_eq!(row_well.pulled, "1970-01-01, 2 days ago");
        let ill = Health { pages_retired: 1, words_lost: 2, ..well };
        let row_ill = row("S-band", &ill, 60 * day_ms);
        assert!(row_ill.worry && row_ill.flash == "1 page retired, 2 words unreadable", "{row_ill:?}");
        assert!(row("S-band", &Health::default(), 0).worry, "never pulled");
    }
}
