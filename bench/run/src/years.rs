//! Halfglass's journal with eight lines, edges and reboots: what a ship's year costs.

use crate::flash::Faulty;
use crate::life::SEED;
use halfglass_bench_stores::{PAGE_LEN, PAGES};
use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::word::Word;
use halfglass_firmware::ports::Region;
use serde::Serialize;

const LINES: usize = 8;
const EDGES_PER_DAY: u32 = 200;
const BOOTS_PER_DAY: u32 = 2;
const DAY_TENTHS: u32 = 864_000;

/// What so many days cost.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Years {
    pub(crate) lines: usize,
    pub(crate) heartbeat_s: u32,
    pub(crate) edges_per_day: u32,
    pub(crate) boots_per_day: u32,
    pub(crate) days: u32,
    pub(crate) commits: u64,
    pub(crate) programmed_bytes: u64,
    pub(crate) worst_page_erases: u64,
}

/// Lives so many days: a heartbeat after so many seconds without an edge, edges and reboots at random.
pub(crate) fn live(heartbeat_s: u32, days: u32) -> Result<Years, String> {
    let region = Region { start: 0, page_len: PAGE_LEN as u32, pages: PAGES as u16 };
    let mut flash = Faulty::new(PAGES, u64::from(SEED));
    let mut random = fastrand::Rng::with_seed(u64::from(SEED));
    let mut commits = 0;
    let mut uptime_tenths = 0;
    let mut mask = 0b0111_u8;
    for _ in 0..days * BOOTS_PER_DAY {
        flash.power_on(None);
        let mut journal = Journal::<LINES>::mount(&mut flash, region, Default::default());
        journal.recover(&mut flash).map_err(|dead| format!("{dead:?}"))?;
        if journal.state().totals.uptime_tenths != uptime_tenths {
            return Err(format!("{} instead of {uptime_tenths}", journal.state().totals.uptime_tenths));
        }
        let session_tenths = DAY_TENTHS / BOOTS_PER_DAY;
        let edges = EDGES_PER_DAY / BOOTS_PER_DAY;
        let mut edges_at: Vec<u32> = (0..edges).map(|_| random.u32(1..session_tenths)).collect();
        edges_at.push(session_tenths);
        edges_at.sort_unstable();
        let mut now_tenths = 0;
        for edge_tenths in edges_at {
            while now_tenths < edge_tenths {
                let tenths = (edge_tenths - now_tenths).min(heartbeat_s * 10);
                let word = Word::hold(mask, tenths as u16);
                journal.commit(&mut flash, word).map_err(|dead| format!("{dead:?}"))?;
                journal.prepare(&mut flash);
                now_tenths += tenths;
                uptime_tenths += u64::from(tenths);
                commits += 1;
            }
            mask ^= 1 << random.usize(0..LINES);
        }
    }
    Ok(Years {
        lines: LINES,
        heartbeat_s,
        edges_per_day: EDGES_PER_DAY,
        boots_per_day: BOOTS_PER_DAY,
        days,
        commits,
        programmed_bytes: flash.counts.programmed_bytes,
        worst_page_erases: flash.counts.erases.iter().copied().max().unwrap_or(0).into(),
    })
}
