//! From the parts that were taken out to lives, failures and hours: what counts as what.
//!
//! | taken out because | is                                                                                 |
//! |-------------------|------------------------------------------------------------------------------------|
//! | failed            | a failure                                                                          |
//! | weak              | alive when taken out, or a failure if that is chosen                               |
//! | limit             | alive when taken out                                                               |
//! | damaged           | alive: what ended it did not come from its age                                     |
//! | moved             | alive: it goes on elsewhere, with the hours that it had                            |
//! | unknown           | left out, and counted                                                              |
//!
//! A part that is still in is alive. One that had run before it was put in entered late, at those hours: that it lived so
//! long is why it was there to be put in.

use super::power_law::History;
use super::{Life, Why};

/// Why a part was taken out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Because {
    /// Its limit had come.
    Limit,
    /// It failed.
    Failed,
    /// It had become weak.
    Weak,
    /// Something else broke it.
    Damaged,
    /// It went to another place.
    Moved,
    /// Nobody said.
    Unknown,
}

impl Because {
    /// All of them, in the order in which they are counted.
    pub const ALL: [Because; 6] =
        [Because::Limit, Because::Failed, Because::Weak, Because::Damaged, Because::Moved, Because::Unknown];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Because::Limit => "limit",
            Because::Failed => "failed",
            Because::Weak => "weak",
            Because::Damaged => "damaged",
            Because::Moved => "moved",
            Because::Unknown => "unknown",
        }
    }

    /// By its word; what is no such word is unknown.
    #[must_use]
    pub fn from_name(word: &str) -> Because {
        Because::ALL.into_iter().find(|because| because.name() == word).unwrap_or(Because::Unknown)
    }
}

/// A part in one place, from being put in to being taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Service {
    /// In which of several places of the same kind, by number: two radars may have the same part.
    pub place: usize,
    /// Hours that it had run before it was put in.
    pub entered_h: f64,
    /// Its hours when it was taken out, or now; `None`: not known.
    pub left_h: Option<f64>,
    /// Why it was taken out; `None`: it still is in.
    pub because: Option<Because>,
}

/// What the services of one kind of part come to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Removals {
    /// Lives that can be reckoned with.
    pub lives: Vec<Life>,
    /// How many of them failed.
    pub failures: usize,
    /// How many were taken out for each reason, in the order of [`Because::ALL`].
    pub counted: [u32; 6],
    /// How many are still in, with hours that are known.
    pub running: u32,
    /// How many are left out because their hours are not known, whyever they were taken out, or because they are in.
    pub without_hours: u32,
    /// The hours of all lives together, as far as they were watched.
    pub watched_h: f64,
    /// The failures of each place in the hours that it ran, with the hours at the end of the watch.
    pub places: Vec<(usize, Vec<f64>, f64)>,
}

impl Removals {
    /// Sorts services, each place's in the order in which they were.
    #[must_use]
    pub fn of(services: &[Service], weak_is_failed: bool) -> Removals {
        let mut all = Removals::default();
        let mut gaps: Vec<usize> = Vec::new();
        for service in services {
            let Service { place, entered_h, left_h, because } = *service;
            if let Some(because) = because {
                let at = Because::ALL.iter().position(|known| *known == because);
                if let Some(count) = at.and_then(|at| all.counted.get_mut(at)) {
                    *count += 1;
                }
            }
            let left_h = left_h.filter(|left_h| *left_h > entered_h && entered_h >= 0.0);
            let unknown = because == Some(Because::Unknown);
            let Some(left_h) = left_h.filter(|_| !unknown) else {
                all.without_hours += u32::from(!unknown);
                gaps.push(place);
                continue;
            };
            let failed = because == Some(Because::Failed) || weak_is_failed && because == Some(Because::Weak);
            all.lives.push(Life { entered_h, left_h, failed });
            all.failures += usize::from(failed);
            all.running += u32::from(because.is_none());
            all.watched_h += left_h - entered_h;
            // What is not known in between moves all that comes behind: the place is watched anew from there.
            if gaps.contains(&place) {
                gaps.retain(|gap| *gap != place);
                all.places.retain(|(known, ..)| *known != place);
            }
            all.run_on(place, left_h - entered_h, failed);
        }
        all
    }

    fn run_on(&mut self, place: usize, more_h: f64, failed: bool) {
        let at = self.places.iter().position(|(known, ..)| *known == place).unwrap_or_else(|| {
            self.places.push((place, Vec::new(), 0.0));
            self.places.len() - 1
        });
        if let Some((_, failures_h, end_h)) = self.places.get_mut(at) {
            *end_h += more_h;
            if failed {
                failures_h.push(*end_h);
            }
        }
    }

    /// How many were taken out for this reason.
    #[must_use]
    pub fn count(&self, because: Because) -> u32 {
        let at = Because::ALL.iter().position(|known| *known == because);
        at.and_then(|at| self.counted.get(at)).copied().unwrap_or(0)
    }

    /// How many were taken out.
    #[must_use]
    pub fn taken_out(&self) -> u32 {
        self.counted.iter().sum()
    }

    /// A place's failures as a history, to be looked at for a trend. Where a failure itself ended the watch, it is its end and
    /// no event in it: a watch that waits for a failure always has one there.
    ///
    /// # Errors
    /// Fewer than three failures within the watch.
    pub fn history(failures_h: &[f64], end_h: f64) -> Result<History, Why> {
        let within: Vec<f64> = failures_h.iter().copied().filter(|at_h| *at_h < end_h).collect();
        History::new(&within, end_h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn service(place: usize, entered_h: f64, left_h: f64, because: Option<Because>) -> Service {
        Service { place, entered_h, left_h: Some(left_h), because }
    }

    #[test]
    fn every_reason_counts_as_the_table_says() {
        let each: Vec<Service> = Because::ALL
            .into_iter()
            .zip(1..)
            .map(|(because, n)| service(0, 0.0, 1_000.0 * f64::from(n), Some(because)))
            .chain([service(0, 500.0, 700.0, None)])
            .collect();
        let told = Removals::of(&each, false);
        assert_eq!((told.failures, told.taken_out(), told.running, told.without_hours), (1, 6, 1, 0));
        assert_eq!(told.counted, [1; 6]);
        let failed: Vec<f64> = told.lives.iter().filter(|life| life.failed).map(|life| life.left_h).collect();
        assert_eq!(failed, [2_000.0]);
        // By hand: 1 + 2 + 3 + 4 + 5 thousand, the sixth is unknown, and 200 h of one that entered at 500.
        assert_eq!((told.lives.len(), told.watched_h), (6, 15_200.0));
        assert_eq!(told.lives.last(), Some(&Life::alive_at(700.0).entered_at(500.0)));
        assert_eq!(Removals::of(&each, true).failures, 2, "weak by choice");
        assert_eq!(Because::from_name("worn"), Because::Unknown);
    }

    #[test]
    fn each_place_has_failures_in_its_own_hours_and_begins_anew_behind_a_gap() {
        let failed = Some(Because::Failed);
        let no_hours = Service { left_h: None, ..service(0, 0.0, 0.0, failed) };
        let all = [
            service(0, 0.0, 100.0, failed),
            no_hours,
            service(0, 0.0, 30.0, failed),
            service(1, 400.0, 450.0, failed),
            service(0, 0.0, 20.0, Some(Because::Limit)),
            Service { because: None, ..no_hours },
        ];
        let told = Removals::of(&all, false);
        assert_eq!(told.places, [(0, vec![30.0], 50.0), (1, vec![50.0], 50.0)]);
        assert_eq!((told.failures, told.without_hours, told.counted[1]), (3, 2, 4));
    }

    #[test]
    fn hours_that_no_part_can_have_run_are_not_known() {
        let told = Removals::of(&[service(0, 500.0, 400.0, None), service(0, 0.0, 0.0, None)], false);
        assert_eq!((told.lives.len(), told.without_hours), (0, 2));
    }

    #[test]
    fn a_failure_that_ends_the_watch_is_no_event_in_it() {
        let failures_h = [10.0, 30.0, 60.0, 100.0];
        let waited = Removals::history(&failures_h, 100.0).unwrap();
        assert_eq!(waited, History::new(&failures_h[..3], 100.0).unwrap());
        assert!(Removals::history(&failures_h[1..], 100.0).is_err());
    }
}
