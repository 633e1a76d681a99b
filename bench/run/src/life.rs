//! A long life without cuts: what is programmed, erased and read, and how long it takes.

use crate::flash::{Faulty, Memory};
use halfglass_bench_stores::{Change, Failed, PAGES, Session, Store, Totals, Workload};
use serde::Serialize;
use std::time::Instant;

/// The seed of the stream that every store gets.
pub(crate) const SEED: u32 = 0x1A55_0FF5;

/// What a life cost.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Life {
    pub(crate) commits: u64,
    pub(crate) programmed_bytes: u64,
    pub(crate) erases: u64,
    pub(crate) worst_page_erases: u64,
    /// Rules of the chip that were broken (a granule programmed twice without an erase between).
    pub(crate) rules_broken: u64,
}

/// Commits the stream's next `commits` changes in one session, and adds them up alongside.
pub(crate) fn commit(
    session: &mut dyn Session,
    workload: &mut Workload,
    commits: u64,
    truth: &mut Totals,
) -> Result<(), Failed> {
    for _ in 0..commits {
        let change = workload.next_change();
        session.commit(change)?;
        *truth = truth.with(change);
    }
    Ok(())
}

/// So many commits on a new flash; `Err` if the store fails or miscounts.
pub(crate) fn live<S: Store>(commits: u64) -> Result<Life, String> {
    let mut flash = Faulty::new(PAGES, u64::from(SEED));
    flash.power_on(None);
    let mut workload = Workload::new(SEED);
    let mut truth = Totals::default();
    S::session(&mut flash, 1, |session| commit(session, &mut workload, commits, &mut truth))
        .and_then(|done| done)
        .map_err(|Failed| "does not even live without cuts".to_owned())?;
    let counts = flash.counts.clone();
    let rules_broken = flash.violations.len() as u64;
    flash.power_on(None);
    let kept = S::session(&mut flash, 2, |session| session.totals());
    if kept != Ok(truth) {
        return Err(format!("after {commits} commits without any cut {kept:?} instead of {truth:?}"));
    }
    Ok(Life {
        commits,
        programmed_bytes: counts.programmed_bytes,
        erases: counts.erases.iter().map(|erases| u64::from(*erases)).sum(),
        worst_page_erases: counts.erases.iter().copied().max().unwrap_or(0).into(),
        rules_broken,
    })
}

/// Bytes read from power-up until the totals may be shown and the next commit taken.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ColdReads {
    pub(crate) levels: u64,
    pub(crate) mean_bytes: f64,
    pub(crate) median_bytes: u64,
    pub(crate) worst_bytes: u64,
}

/// Commits before the first measured mount: more than a turn of the ring for every store.
pub(crate) const WARM_COMMITS: u64 = 17_000;

/// Commits between two measured mounts: prime, so that pages are met at every fill level.
const STEP_COMMITS: u64 = 37;

/// Mounts at so many fill levels.
pub(crate) fn cold_reads<S: Store>(levels: u64) -> Result<ColdReads, String> {
    let failed = |Failed| "a mount without any cut fails".to_owned();
    let mut flash = Faulty::new(PAGES, u64::from(SEED));
    flash.power_on(None);
    let mut workload = Workload::new(SEED);
    let mut truth = Totals::default();
    let mut boot = 0;
    let mut read_bytes = Vec::new();
    while (read_bytes.len() as u64) < levels {
        boot += 1;
        let commits = if boot == 1 { WARM_COMMITS } else { STEP_COMMITS };
        S::session(&mut flash, boot, |session| commit(session, &mut workload, commits, &mut truth))
            .and_then(|done| done)
            .map_err(failed)?;
        let mut cold = flash.clone();
        let before = cold.counts.read_bytes;
        let kept = S::session(&mut cold, boot + 1, |session| session.totals()).map_err(failed)?;
        if kept != truth {
            return Err(format!("after {boot} sessions without any cut {kept:?} instead of {truth:?}"));
        }
        read_bytes.push(cold.counts.read_bytes - before);
    }
    read_bytes.sort_unstable();
    Ok(ColdReads {
        levels,
        mean_bytes: read_bytes.iter().sum::<u64>() as f64 / levels as f64,
        median_bytes: read_bytes[read_bytes.len() / 2],
        worst_bytes: read_bytes[read_bytes.len() - 1],
    })
}

/// Batches of which the fastest counts: the machine may be doing other things.
const BATCHES: u64 = 20;

/// Nanoseconds a commit takes on this machine, on memory that acts as flash.
pub(crate) fn ns_per_commit<S: Store>(commits: u64) -> Result<f64, String> {
    let mut flash = Memory::new();
    let mut changes = Workload::new(SEED);
    let per_batch = (commits / BATCHES).max(1);
    let best = S::session(&mut flash, 1, |session| {
        let mut best = f64::INFINITY;
        for _ in 0..BATCHES {
            let batch: Vec<Change> = (0..per_batch).map(|_| changes.next_change()).collect();
            let start = Instant::now();
            for change in batch {
                session.commit(change)?;
            }
            best = best.min(start.elapsed().as_nanos() as f64 / per_batch as f64);
        }
        Ok(best)
    });
    best.and_then(|done| done).map_err(|Failed| "fails in memory".to_owned())
}
