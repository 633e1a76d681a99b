//! How far a logger's flash is worn: from what it said of itself at each pull.
//!
//! A logger counts how many pages of its two rings it has begun in its life. The pages take turns, so that number by the pages in
//! use is how often each was erased. A page of the totals is erased ahead of need when the one before is nearly full, and once
//! more if the power goes just then; twice at most, since each start fills cells. So starts are added to the totals' pages, up to
//! twice those pages. What comes out is high rather than low: tests/tests/endurance.rs holds it against counted erases.

use halfglass_protocol::message::{Health, Status};
use halfglass_protocol::record::Totals;

const DAY_MS: i64 = 86_400_000;
const DAY_TENTHS: u64 = 864_000;
const YEAR_DAYS: f64 = 365.25;

/// Sightings must lie this far apart, or the logger have been powered for so long, before a rate is told.
const RATE_DAYS: i64 = 30;
/// A rate looks back so far: a year, and a month-end's grace.
const BACK_DAYS: i64 = 400;
/// So many times the wear a day of before is worth a word. Common practice, no source.
const FASTER: f64 = 2.0;

/// What a logger said of itself at a pull.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sighting {
    /// When (milliseconds since 1970, UTC).
    pub at_ms: i64,
    /// Its lifetime uptime then.
    pub uptime_tenths: u64,
    /// How often it had started.
    pub session: u32,
    /// The figures.
    pub health: Health,
}

impl Sighting {
    /// What a logger answered at an instant.
    #[must_use]
    pub fn of(at_ms: i64, status: &Status) -> Sighting {
        let Totals { uptime_tenths, session, .. } = status.totals;
        Sighting { at_ms, uptime_tenths, session, health: status.health }
    }
}

/// The wear of one ring of pages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// How often each page was erased, rather too many than too few.
    pub erases: u32,
    /// How often it will be in a year, counted likewise; `None`: not known yet.
    pub erases_per_year: Option<f64>,
    /// Pages that failed and are no longer used, of so many.
    pub retired: u16,
    /// All its pages.
    pub pages: u16,
}

/// The wear of a logger's flash.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wear {
    /// When it was asked (milliseconds since 1970, UTC).
    pub at_ms: i64,
    /// The pages that hold the totals.
    pub totals: Ring,
    /// The pages that hold the history.
    pub history: Ring,
    /// How many times as fast as before a day of uptime has worn the totals of late, if that is much.
    pub faster: Option<f64>,
}

/// How much of what the chip's maker answers for is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Used {
    /// The share, 1 being all of it.
    pub share: f64,
    /// How many years remain at the present rate; `None`: no rate is known, or nothing wears.
    pub years_left: Option<f64>,
}

impl Wear {
    /// From all sightings of one logger, by time. `None`: there is none. What lies before a figure that fell is set
    /// aside: it was another memory.
    #[must_use]
    pub fn of(sightings: &[Sighting]) -> Option<Wear> {
        let fell = |pair: &[Sighting]| {
            matches!(pair, [then, now] if now.uptime_tenths < then.uptime_tenths
                || now.health.journal_turns < then.health.journal_turns
                || now.health.history_turns < then.health.history_turns)
        };
        let from = sightings.windows(2).rposition(fell).map_or(0, |at| at + 1);
        let sightings = sightings.get(from..)?;
        let last = sightings.last()?;
        let back_ms = last.at_ms - BACK_DAYS * DAY_MS;
        let first = sightings.iter().find(|sighting| sighting.at_ms >= back_ms)?;
        Some(Wear {
            at_ms: last.at_ms,
            totals: ring(first, last, &|Sighting { session, health, .. }| Told {
                erased: f64::from(health.journal_turns)
                    + f64::from(*session).min(2.0 * f64::from(health.journal_turns)),
                pages: health.journal_pages,
                retired: health.journal_retired,
            }),
            history: ring(first, last, &|Sighting { health, .. }| Told {
                erased: f64::from(health.history_turns),
                pages: health.history_pages,
                retired: health.history_retired,
            }),
            faster: faster(first, last),
        })
    }

    /// Of so many erases that the chip's maker answers for, the worse of the two rings.
    #[must_use]
    pub fn used(&self, erases_rated: u32) -> Used {
        let rated = f64::from(erases_rated.max(1));
        let rings = [self.totals, self.history];
        let years = |ring: Ring| {
            let a_year = ring.erases_per_year.filter(|a_year| *a_year > 0.0)?;
            Some((rated - f64::from(ring.erases)).max(0.0) / a_year)
        };
        Used {
            share: rings.iter().map(|ring| f64::from(ring.erases) / rated).fold(0.0, f64::max),
            years_left: rings.into_iter().filter_map(years).reduce(f64::min),
        }
    }
}

/// Of one ring: erases of all its pages together, pages, and those given up.
struct Told {
    erased: f64,
    pages: u16,
    retired: u16,
}

fn ring(first: &Sighting, last: &Sighting, told: &dyn Fn(&Sighting) -> Told) -> Ring {
    let Told { erased, pages, retired } = told(last);
    let in_use = f64::from(pages.saturating_sub(retired).max(1));
    let passed_ms = last.at_ms - first.at_ms;
    let per_day = if passed_ms >= RATE_DAYS * DAY_MS {
        Some((erased - told(first).erased) / (passed_ms as f64 / DAY_MS as f64))
    } else {
        (last.uptime_tenths >= RATE_DAYS as u64 * DAY_TENTHS)
            .then(|| erased / (last.uptime_tenths as f64 / DAY_TENTHS as f64))
    };
    Ring {
        erases: (erased / in_use).ceil() as u32,
        erases_per_year: per_day.map(|per_day| per_day.max(0.0) * YEAR_DAYS / in_use),
        retired,
        pages,
    }
}

/// By days of uptime, so that a time without power does not look like a better one.
fn faster(first: &Sighting, last: &Sighting) -> Option<f64> {
    let turns = |sighting: &Sighting| f64::from(sighting.health.journal_turns);
    let (before, since) = (first.uptime_tenths, last.uptime_tenths.checked_sub(first.uptime_tenths)?);
    let long = RATE_DAYS as u64 * DAY_TENTHS;
    if before < long || since < long || turns(first) <= 0.0 {
        return None;
    }
    let times = (turns(last) - turns(first)) / since as f64 * before as f64 / turns(first);
    (times >= FASTER).then_some(times)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A logger powered all the time, which wears so many pages a day.
    fn sighting(day: i64, turns: u32) -> Sighting {
        Sighting {
            at_ms: day * DAY_MS,
            uptime_tenths: day as u64 * DAY_TENTHS,
            session: 2,
            health: Health {
                journal_turns: turns,
                journal_pages: 64,
                history_turns: turns / 100,
                history_pages: 62,
                ..Health::default()
            },
        }
    }

    #[test]
    fn one_pull_tells_erases_and_after_a_month_a_rate_too() {
        assert_eq!(Wear::of(&[]), None);
        let young = Wear::of(&[sighting(1, 39)]).unwrap();
        assert_eq!((young.totals.erases, young.totals.erases_per_year), (1, None));
        let old = Wear::of(&[sighting(1_000, 38_820)]).unwrap();
        // 38,820 pages and 2 starts over 64 pages.
        assert_eq!(old.totals.erases, 607);
        let a_year = old.totals.erases_per_year.unwrap();
        assert!((a_year - 38_822.0 / 1_000.0 * 365.25 / 64.0).abs() < 1e-9, "{a_year}");
        let used = old.used(10_000);
        assert!(
            (used.share - 0.0607).abs() < 1e-9 && (used.years_left.unwrap() - 42.4).abs() < 0.1,
            "{used:?}"
        );
    }

    #[test]
    fn the_rate_is_that_of_the_last_year_and_a_faster_one_is_told() {
        let chatter = [sighting(100, 3_900), sighting(700, 27_300), sighting(1_000, 58_000)];
        let wear = Wear::of(&chatter).unwrap();
        let a_year = wear.totals.erases_per_year.unwrap();
        assert!((a_year - (58_000.0 - 27_300.0) / 300.0 * 365.25 / 64.0).abs() < 1e-9, "{a_year}");
        assert!((wear.faster.unwrap() - 30_700.0 / 300.0 / 39.0).abs() < 1e-9, "{wear:?}");
        let even = [sighting(100, 3_900), sighting(700, 27_300), sighting(1_000, 39_000)];
        assert_eq!(Wear::of(&even).unwrap().faster, None);
    }

    #[test]
    fn pages_given_up_leave_more_to_the_rest() {
        let mut worn = sighting(1_000, 38_820);
        worn.health.journal_retired = 32;
        let wear = Wear::of(&[worn]).unwrap();
        assert_eq!((wear.totals.erases, wear.totals.retired, wear.totals.pages), (1_214, 32, 64));
        // Nothing is divided by no page at all.
        worn.health.journal_retired = 64;
        assert_eq!(Wear::of(&[worn]).unwrap().totals.erases, 38_822);
    }

    #[test]
    fn a_memory_that_began_anew_is_told_of_by_itself() {
        let wear = Wear::of(&[sighting(500, 19_500), sighting(40, 1_560), sighting(80, 3_120)]).unwrap();
        assert_eq!(wear.totals.erases, 49);
        let a_year = wear.totals.erases_per_year.unwrap();
        assert!((a_year - 39.0 * 365.25 / 64.0).abs() < 1e-9, "{a_year}");
    }
}
