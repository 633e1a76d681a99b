//! Lives a life: the real firmware on simulated flash, checked at every power cut and every pull.

use super::arithmetic::Sums;
use super::history::Pulled;
use super::life::{DAY_MS, Life, Session};
use super::profile::{Chip, Profile};
use crate::asking::ask;
use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::state::Watch;
use halfglass_firmware::ports::Region;
use halfglass_firmware::provision;
use halfglass_protocol::config::Config;
use halfglass_protocol::message::{Reply, Request, Status};
use halfglass_protocol::record::Totals;
use halfglass_sim::bench::{Powered, board};
use halfglass_sim::flash::Flash;

/// What went wrong.
pub type Fault = String;

/// A day in 2026 on which every life begins, in UTC.
const BEGINS_UTC_MS: u64 = 1_767_225_600_000;

/// Erases of one region.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Erases {
    /// Of the page that was erased most.
    pub worst: u32,
    /// Of all pages together.
    pub all: u64,
}

/// What a life cost.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// Days lived.
    pub days: u32,
    /// Power-ups.
    pub boots: u64,
    /// Edges at the inputs.
    pub edges: u64,
    /// Words and bytes of everything.
    pub programs: u64,
    /// Erases of the three regions.
    pub journal: Erases,
    /// See above.
    pub history: Erases,
    /// See above.
    pub config: Erases,
    /// Days that the history reached back, at the last pull; 0 if there was none.
    pub retention_days: f64,
    /// Records pulled.
    pub records: u64,
    /// Records overwritten before a pull came.
    pub gap_records: u64,
    /// Times at which the firmware said that it merged edges.
    pub coalesced: u64,
    /// The most that a line's total fell short of the truth, in milliseconds for each power cut.
    pub lost_ms_per_cut: f64,
    /// What the logger says of itself at the end.
    pub status: Status,
}

/// Lives `days` days of a profile. `day` is told each day that is over.
///
/// # Errors
/// The first difference from the arithmetic, breach of an accounting rule or of the chip's rules.
pub fn run(profile: &Profile, days: u32, day: &dyn Fn(u32)) -> Result<Outcome, Fault> {
    match profile.chip {
        Chip::Small => live::<4, 1_024>(profile, days, day),
        Chip::Corrected8 => live::<8, 2_048>(profile, days, day),
        Chip::Corrected16 => live::<16, 8_192>(profile, days, day),
    }
}

fn live<const G: usize, const P: usize>(
    profile: &Profile,
    days: u32,
    day: &dyn Fn(u32),
) -> Result<Outcome, Fault> {
    let config = profile.config();
    let end = profile.layout.config;
    let pages = (end.start + end.page_len * u32::from(end.pages)) as usize / P;
    let mut flash = Flash::<G, P>::new(pages, 1);
    provision(&mut flash, &profile.layout, &config).map_err(|fault| format!("{fault:?}"))?;
    let mut life = Life::new(profile.duty, profile.pull_every_days, 1);
    let (mut sums, mut pulled, mut outcome) = (Sums::default(), Pulled::default(), Outcome::default());
    let mut told = 0;
    while life.now_ms() < u64::from(days) * DAY_MS {
        let begins_ms = life.now_ms();
        let session = life.session();
        sums.add(&session, config.heartbeat_s, config.idle_s);
        flash = live_session(profile, flash, &session, begins_ms, &mut pulled)
            .map_err(|fault| format!("day {}: {fault}", begins_ms / DAY_MS))?;
        outcome.boots += 1;
        outcome.edges += session.edges.len() as u64;
        check(profile, &config, &mut flash, &sums, pulled.coalesced > 0)
            .map_err(|fault| format!("after the session of day {}: {fault}", begins_ms / DAY_MS))?;
        let over = (life.now_ms() / DAY_MS) as u32;
        if over > told {
            told = over;
            day(over);
        }
    }
    if let Some(violation) = flash.violations.first() {
        return Err(format!("the chip's rules: {violation:?}"));
    }
    let totals = mount(profile, &config, &mut flash);
    // What asking costs is not the life's.
    let counts = flash.counts.clone();
    let mut bench = Powered::<_, 8>::on(flash, profile.layout, board(1), 0);
    bench.run_until(3_000);
    let status = ask(&mut bench, &Request::Status, false, |reply| match reply {
        Reply::Status(status) => Some(status),
        _ => None,
    });
    let erases = |region: Region| {
        let from = region.start as usize / P;
        let to = from + region.page_len as usize * usize::from(region.pages) / P;
        let pages = &counts.erases[from..to];
        Erases {
            worst: pages.iter().max().copied().unwrap_or(0),
            all: pages.iter().map(|erases| u64::from(*erases)).sum(),
        }
    };
    let lost_ms = (0..8).map(|line| sums.true_ms[line] - totals.on_tenths[line] * 100).max().unwrap_or(0);
    Ok(Outcome {
        days,
        programs: counts.programs,
        journal: erases(profile.layout.journal),
        history: erases(profile.layout.history),
        config: erases(profile.layout.config),
        retention_days: pulled.retention_days,
        records: pulled.records,
        gap_records: pulled.gap_records,
        coalesced: pulled.coalesced,
        lost_ms_per_cut: lost_ms as f64 / outcome.boots as f64,
        status: status.ok_or("no status")?,
        ..outcome
    })
}

/// From power-up to power gone.
fn live_session<const G: usize, const P: usize>(
    profile: &Profile,
    mut flash: Flash<G, P>,
    session: &Session,
    begins_ms: u64,
    pulled: &mut Pulled,
) -> Result<Flash<G, P>, Fault> {
    flash.power_on(None);
    let mut bench = Powered::<_, 8>::on(flash, profile.layout, board(1), session.found_on);
    let mut levels = session.found_on;
    let mut pull_ms = session.pull_ms;
    let mut pull = |bench: &mut Powered<Flash<G, P>, 8>, before_ms: u64| match pull_ms
        .take_if(|at_ms| *at_ms < before_ms)
    {
        Some(at_ms) => {
            bench.run_until(at_ms);
            pulled.pull(bench, BEGINS_UTC_MS + begins_ms + at_ms)
        }
        None => Ok(()),
    };
    for edge in &session.edges {
        pull(&mut bench, edge.at_ms)?;
        bench.run_until(edge.at_ms);
        levels = if edge.on { levels | 1 << edge.line } else { levels & !(1 << edge.line) };
        bench.set_levels(levels);
    }
    pull(&mut bench, u64::MAX)?;
    bench.run_until(session.len_ms);
    let mut flash = bench.logger.into_flash();
    flash.power_off();
    Ok(flash)
}

/// The totals in flash, as the next mount will read them.
fn mount<const G: usize, const P: usize>(
    profile: &Profile,
    config: &Config,
    flash: &mut Flash<G, P>,
) -> Totals {
    flash.power_on(None);
    Journal::<8>::mount(flash, profile.layout.journal, Watch::from_config(config)).state().totals
}

fn check<const G: usize, const P: usize>(
    profile: &Profile,
    config: &Config,
    flash: &mut Flash<G, P>,
    sums: &Sums,
    merged: bool,
) -> Result<(), Fault> {
    let totals = mount(profile, config, flash);
    // Accounting rule 1: never above the truth, below it by a heartbeat and the line's filter for each cut, by less than two
    // tenths of rounding for each run.
    let cut_ms = u64::from(profile.heartbeat_s) * 1_000 + 1_000;
    let cuts = u64::from(sums.sessions);
    for line in 0..8 {
        let (logged_ms, true_ms) = (totals.on_tenths[line] * 100, sums.true_ms[line]);
        let allowed_ms = cuts * cut_ms + u64::from(sums.true_starts[line]) * 200;
        let lost_ms = true_ms.checked_sub(logged_ms);
        // Sessions too short to write anything hide themselves wholly.
        let hidden = sums.sessions == 0;
        if lost_ms.is_none_or(|lost_ms| lost_ms > allowed_ms && !hidden) {
            return Err(format!("line {line}: {logged_ms} ms logged of {true_ms}"));
        }
        if totals.starts[line] > sums.true_starts[line] {
            return Err(format!("line {line}: {} starts of {}", totals.starts[line], sums.true_starts[line]));
        }
    }
    if totals.session != sums.sessions {
        return Err(format!("session {} instead of {}", totals.session, sums.sessions));
    }
    // While no edges are merged, the arithmetic says every tenth.
    let counted = (totals.uptime_tenths, totals.on_tenths, totals.starts);
    let expected = (sums.uptime_tenths, sums.on_tenths, sums.starts);
    let chatters = matches!(profile.duty, super::life::Duty::Chatter { .. });
    if !merged && !chatters && counted != expected {
        return Err(format!("uptime, on-times and starts are {counted:?}, by arithmetic {expected:?}"));
    }
    if merged && !chatters {
        return Err("edges were merged in a life without chatter".into());
    }
    Ok(())
}
