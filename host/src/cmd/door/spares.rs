//! The door to spares: which are aboard, and what is to be said of them.

use crate::ship::Settings;
use crate::ship::facts::Fitting;
use crate::ship::settings::{Days, Part, Spare};
use crate::store::Kept;
use crate::time;

/// A spare lies idle for so many days before that is mentioned: our own choice of when to speak of it, no source.
const IDLE_DAYS: i64 = 365;

const DAY_MS: i64 = 86_400_000;

/// The spares of a part that were never put in, in the order of ship.toml.
pub(crate) fn left<'a>(settings: &'a Settings, fittings: &[Kept<Fitting>], part: &Part) -> Vec<&'a Spare> {
    let put_in = |spare: &Spare| {
        fittings.iter().any(|kept| kept.fact.part == part.name && kept.fact.serial == spare.serial)
    };
    let own = settings.spares.iter().filter(|spare| spare.radar == part.radar && spare.part == part.name);
    own.filter(|spare| !put_in(spare)).collect()
}

/// From when it is aboard: of a date that is known to a month only, from the end of its last day.
pub(crate) fn from_ms(spare: &Spare, as_of_ms: i64) -> i64 {
    spare.received.and_then(end_ms).map_or(as_of_ms, |at_ms| at_ms.max(as_of_ms))
}

/// The end of the last day that it can be.
fn end_ms(days: Days) -> Option<i64> {
    let day = days.last.tomorrow().ok()?;
    time::parse_ms(&format!("{day}T00:00Z")).ok()
}

/// The beginning of the first day that it can be.
fn begin_ms(days: Days) -> Option<i64> {
    time::parse_ms(&format!("{}T00:00Z", days.first)).ok()
}

/// What is to be known of a spare before it is relied on. `used_ms`: when it is to be put in, if that is planned.
pub(crate) fn notes(spare: &Spare, as_of_ms: i64, used_ms: Option<i64>) -> Vec<String> {
    let mut notes = Vec::new();
    let name = format!("Spare {}", spare.serial);
    if let Some(until) = spare.warranty_until
        && let (Some(first_ms), Some(last_ms)) = (begin_ms(until), end_ms(until))
    {
        if last_ms <= as_of_ms {
            notes.push(format!("{name}: its warranty ended {}.", written(until)));
        } else if used_ms.is_some_and(|used_ms| first_ms <= used_ms) {
            notes.push(format!("{name}: its warranty ends {}, before it is to be put in.", written(until)));
        }
    }
    if from_ms(spare, as_of_ms) > as_of_ms {
        let received = spare.received.map(written).unwrap_or_default();
        notes.push(format!("{name}: not aboard yet, to come {received}."));
    }
    // When it last ran; of one that never did, when it was made, or at the latest came aboard.
    let last_run = spare.last_run.map(|days| (days, "last ran"));
    let idle =
        last_run.or(spare.made.map(|days| (days, "was made"))).or(spare.received.map(|days| (days, "came")));
    if let Some((days, what)) = idle
        && let Some(since_ms) = end_ms(days)
        && as_of_ms.saturating_sub(since_ms) >= IDLE_DAYS * DAY_MS
    {
        notes.push(format!(
            "{name} {what} {}: see in the set's manual whether one that lay so long is to be run in first.",
            written(days)
        ));
    }
    notes
}

/// A date as well as it is known.
fn written(days: Days) -> String {
    if days.first == days.last {
        format!("on {}", days.first)
    } else if days.first.month() == days.last.month() {
        format!("in {}", days.first.strftime("%Y-%m"))
    } else {
        format!("in {}", days.first.strftime("%Y"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spare() -> Spare {
        Spare {
            radar: "S".to_owned(),
            part: "magnetron".to_owned(),
            serial: "B-2207".to_owned(),
            received: None,
            made: None,
            last_run: None,
            warranty_until: None,
            place: None,
        }
    }

    fn days(text: &str) -> Option<Days> {
        Some(Days::parse(text).unwrap())
    }

    fn said(spare: &Spare, used: Option<&str>) -> Vec<String> {
        let at = |text: &str| time::parse_ms(text).unwrap();
        notes(spare, at("2026-03-01T08:00Z"), used.map(at))
    }

    #[test]
    fn warranty() {
        assert_eq!(said(&spare(), None), [""; 0]);
        let ended = Spare { warranty_until: days("2026-02"), ..spare() };
        assert_eq!(said(&ended, None), ["Spare B-2207: its warranty ended in 2026-02."]);
        let ends = Spare { warranty_until: days("2026-05-17"), ..spare() };
        assert_eq!(said(&ends, None), [""; 0]);
        assert_eq!(said(&ends, Some("2026-05-16T00:00Z")), [""; 0]);
        let before = "Spare B-2207: its warranty ends on 2026-05-17, before it is to be put in.";
        assert_eq!(said(&ends, Some("2026-05-20T00:00Z")), [before]);
        let this_month = Spare { warranty_until: days("2026-03"), ..spare() };
        assert_eq!(said(&this_month, None), [""; 0], "it may hold until the end of the month");
    }

    #[test]
    fn one_that_lay_long_may_need_running_in_and_one_to_come_is_not_aboard() {
        let said = |spare: &Spare| said(spare, None);
        let lay = said(&Spare { made: days("2019"), last_run: days("2024"), ..spare() });
        assert_eq!(lay.len(), 1);
        assert!(lay[0].starts_with("Spare B-2207 last ran in 2024: see in the set's manual"), "{lay:?}");
        assert!(said(&Spare { made: days("2019-05"), ..spare() })[0].contains("was made in 2019-05"));
        assert_eq!(said(&Spare { made: days("2019"), last_run: days("2025-03"), ..spare() }), [""; 0]);
        let to_come = Spare { received: days("2026-04-02"), ..spare() };
        assert_eq!(said(&to_come), ["Spare B-2207: not aboard yet, to come on 2026-04-02."]);
        assert_eq!(from_ms(&to_come, 0), time::parse_ms("2026-04-03T00:00Z").unwrap());
    }
}
