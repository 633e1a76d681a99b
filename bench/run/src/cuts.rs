//! Power cuts: after each the store must know the last acknowledged totals or those in flight, and go on.

use crate::flash::{Faulty, Patient};
use crate::life::{SEED, WARM_COMMITS, commit};
use halfglass_bench_stores::{Change, Failed, PAGES, Session, Store, Totals, Workload};
use halfglass_sim::flash::{Cut, ERASE_TEARS, Operation, WORD_TEARS};
use serde::Serialize;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// A word is cut so many operations after power-up at the latest, an erase so many erases.
const WORD_WITHIN: u64 = 300;
const ERASE_WITHIN: u64 = 2;

/// Commits between two copies, at most.
const STEP_COMMITS_MAX: u64 = 60;

/// Power-ups that a store gets to mend itself after a cut; at each it is asked twice to take a change.
const ATTEMPTS: u32 = 3;

/// A session whose cut never comes ends after so many commits.
const SESSION_COMMITS_MAX: u32 = 5_000;

/// How a store fared, by what went wrong.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub(crate) struct Verdict {
    pub(crate) cuts: u64,
    pub(crate) wrong: u64,
    /// Less than the last acknowledged totals.
    pub(crate) lost: u64,
    /// Totals that never were.
    pub(crate) invented: u64,
    /// The store could not be mounted.
    pub(crate) no_mount: u64,
    /// Mounted, but it does not take the next commit.
    pub(crate) no_commit: u64,
    /// The next commit was acknowledged and is gone after one more reboot.
    pub(crate) not_kept: u64,
    /// The store panicked or never came back.
    pub(crate) crashed: u64,
    /// Rules of the chip that were broken.
    pub(crate) rules_broken: u64,
}

/// A life that is never cut. Each cut is made on a copy of it, so that none pays for another.
pub(crate) struct Life {
    flash: Faulty,
    truth: Totals,
    workload: Workload,
    random: fastrand::Rng,
    boot: u32,
}

/// A copy of a life, in which power is cut once.
struct Trial {
    flash: Faulty,
    truth: Totals,
    workload: Workload,
    boot: u32,
}

enum Wrong {
    Lost,
    Invented,
    NoMount,
    NoCommit,
    NotKept,
    Crashed,
}

impl Life {
    /// A flash whose every page has been used.
    pub(crate) fn begin<S: Store>(seed: u64) -> Result<Self, String> {
        let mut life = Self {
            flash: Faulty::new(PAGES, seed),
            truth: Totals::default(),
            workload: Workload::new(SEED),
            random: fastrand::Rng::with_seed(seed),
            boot: 0,
        };
        life.flash.power_on(None);
        life.go_on::<S>(WARM_COMMITS)?;
        Ok(life)
    }

    fn go_on<S: Store>(&mut self, commits: u64) -> Result<(), String> {
        self.boot += 1;
        let (truth, workload) = (&mut self.truth, &mut self.workload);
        S::session(&mut self.flash, self.boot, |session| commit(session, workload, commits, truth))
            .and_then(|done| done)
            .map_err(|Failed| "does not even live without cuts".to_owned())
    }

    /// Makes `cuts` cuts; every `erases_one_in`-th of them is of an erase (0: none, 1: all).
    pub(crate) fn suffer<S: Store>(
        &mut self,
        cuts: u64,
        erases_one_in: u64,
        flicker: bool,
    ) -> Result<Verdict, String> {
        let mut verdict = Verdict::default();
        while verdict.cuts < cuts {
            let step = self.random.u64(1..STEP_COMMITS_MAX);
            self.go_on::<S>(step)?;
            let erase = erases_one_in != 0 && verdict.cuts % erases_one_in == erases_one_in - 1;
            let cut = Cut {
                at: self.random.u64(0..if erase { ERASE_WITHIN } else { WORD_WITHIN }),
                among_erases: erase,
                word: WORD_TEARS[self.random.usize(0..WORD_TEARS.len())],
                erase: ERASE_TEARS[self.random.usize(0..ERASE_TEARS.len())],
                flicker,
            };
            let mut trial = Trial {
                flash: Faulty::from_image(self.flash.image(), self.random.u64(..)),
                truth: self.truth,
                workload: self.workload.clone(),
                boot: self.boot,
            };
            let Some(fared) = trial.run::<S>(cut) else { continue };
            verdict.cuts += 1;
            verdict.rules_broken += trial.flash.violations.len() as u64;
            if let Err(wrong) = fared {
                verdict.wrong += 1;
                *match wrong {
                    Wrong::Lost => &mut verdict.lost,
                    Wrong::Invented => &mut verdict.invented,
                    Wrong::NoMount => &mut verdict.no_mount,
                    Wrong::NoCommit => &mut verdict.no_commit,
                    Wrong::NotKept => &mut verdict.not_kept,
                    Wrong::Crashed => &mut verdict.crashed,
                } += 1;
            }
        }
        Ok(verdict)
    }
}

impl Trial {
    /// One session that ends in the cut, and the reboots after it; `None` if the cut was to hit a word and hit an erase.
    fn run<S: Store>(&mut self, cut: Cut) -> Option<Result<(), Wrong>> {
        self.flash.power_on(Some(cut));
        let mut acknowledged = self.truth;
        let mut in_flight = self.truth;
        let workload = &mut self.workload;
        self.boot += 1;
        // Whatever this session answers: the cut may come at any moment of it.
        let _ = session::<S, _>(&mut self.flash, self.boot, |session| {
            for _ in 0..SESSION_COMMITS_MAX {
                let change = workload.next_change();
                in_flight = acknowledged.with(change);
                if session.commit(change).is_err() {
                    break;
                }
                acknowledged = in_flight;
            }
        });
        match (self.flash.hit?, cut.among_erases) {
            (Operation::Program(..), false) | (Operation::Erase(_), true) => {}
            _ => return None,
        }
        Some(self.mend::<S>(acknowledged, in_flight))
    }

    /// After the cut: one more change must be taken and must last. A store may need more than one attempt to mend itself.
    fn mend<S: Store>(&mut self, acknowledged: Totals, in_flight: Totals) -> Result<(), Wrong> {
        let next = self.workload.next_change();
        let mut allowed = [acknowledged, in_flight];
        for attempt in 1..=ATTEMPTS {
            match self.reboot::<S>(next) {
                Err(wrong) if attempt == ATTEMPTS => return Err(wrong),
                Err(_) => {}
                Ok((shown, _)) if !allowed.contains(&shown) => {
                    let less = shown.uptime_tenths < acknowledged.uptime_tenths;
                    return Err(if less { Wrong::Lost } else { Wrong::Invented });
                }
                Ok((_, false)) if attempt == ATTEMPTS => return Err(Wrong::NoCommit),
                Ok((shown, false)) => allowed = [shown, shown.with(next)],
                Ok((shown, true)) => {
                    self.truth = shown.with(next);
                    break;
                }
            }
        }
        self.flash.power_on(None);
        self.boot += 1;
        match session::<S, _>(&mut self.flash, self.boot, |session| session.totals())? {
            kept if kept == self.truth => Ok(()),
            _ => Err(Wrong::NotKept),
        }
    }

    /// Power comes back: what the store shows, and whether it then took one more change.
    fn reboot<S: Store>(&mut self, change: Change) -> Result<(Totals, bool), Wrong> {
        self.flash.power_on(None);
        self.boot += 1;
        session::<S, _>(&mut self.flash, self.boot, |session| {
            (session.totals(), session.commit(change).is_ok() || session.commit(change).is_ok())
        })
    }
}

/// A session that may panic or never end.
fn session<S: Store, R>(
    flash: &mut Faulty,
    boot: u32,
    work: impl FnOnce(&mut dyn Session) -> R,
) -> Result<R, Wrong> {
    let mut patient = Patient::new(flash);
    let ended = catch_unwind(AssertUnwindSafe(|| S::session(&mut patient, boot, work)));
    match ended {
        Ok(Ok(done)) => Ok(done),
        Ok(Err(Failed)) if !patient.looped() => Err(Wrong::NoMount),
        Ok(Err(Failed)) | Err(_) => Err(Wrong::Crashed),
    }
}
