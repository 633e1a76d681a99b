//! Boards that stand still while a page erases: 22 ms for a page of the nRF51 (its product specification, t_ERASEPAGE), 45 to 400 ms for
//! a sector of 4 KiB of external NOR flash (common data sheets: typical and largest). Edges that come meanwhile are seen
//! afterwards; totals stay below the truth, and each such edge costs at most the standstill.

use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::state::Watch;
use halfglass_firmware::ports::{Layout, Region, Sample};
use halfglass_firmware::provision;
use halfglass_protocol::config::{Config, Kind};
use halfglass_protocol::record::Totals;
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, board};
use halfglass_sim::flash::Flash;
use halfglass_sim::slow::{Slow, Stall, Standing};

/// A chip with its erase time.
type Life = fn(&Script) -> Lived;

const NRF51: Life = |script| live::<4, 1_024>(script, LAYOUT, LAYOUT_PAGES, (22, 22));
const SECTOR: Layout = Layout {
    journal: Region { start: 0, page_len: 4_096, pages: 16 },
    history: Region { start: 16 * 4_096, page_len: 4_096, pages: 32 },
    config: Region { start: 48 * 4_096, page_len: 4_096, pages: 2 },
};
const NOR: Life = |script| live::<4, 4_096>(script, SECTOR, 50, (45, 400));

const LINES: usize = 5;
const DAY_MS: u64 = 86_400_000;

/// What happens at the inputs: instants and the levels from then on.
struct Script {
    heartbeat_s: u16,
    edges: Vec<(u64, u8)>,
    end_ms: u64,
}

struct Lived {
    totals: Totals,
    stalls: Vec<Stall>,
}

fn live<const G: usize, const P: usize>(
    script: &Script,
    layout: Layout,
    pages: usize,
    erase_ms: (u64, u64),
) -> Lived {
    let mut flash = Flash::<G, P>::new(pages, 1);
    let mut config = Config { heartbeat_s: script.heartbeat_s, ..Config::as_in_guide() };
    for line in &mut config.lines {
        line.kind = Kind::Contact { debounce_ms: 50 };
    }
    provision(&mut flash, &layout, &config).expect("a good flash");
    let mut board = Standing::<G, P, 8>::on(Slow::new(flash, erase_ms, 1), layout, board(1), 0);
    board.run_until(script.end_ms, &mut script.edges.iter().copied().peekable());
    let lived = Lived { totals: board.logger.totals(), stalls: board.stalls };
    assert_eq!(board.logger.into_flash().flash.violations, []);
    lived
}

/// On-time and runs of each line, by interval arithmetic; the last levels must be 0.
fn truth(script: &Script) -> ([u64; LINES], [u32; LINES]) {
    let (mut on_ms, mut runs, mut levels, mut since_ms) = ([0; LINES], [0; LINES], 0u8, 0);
    for (at_ms, now) in &script.edges {
        for line in 0..LINES {
            on_ms[line] += u64::from(levels >> line & 1) * (at_ms - since_ms);
            runs[line] += u32::from((now & !levels) >> line & 1);
        }
        (levels, since_ms) = (*now, *at_ms);
    }
    assert_eq!(levels, 0, "the script ends with everything off");
    (on_ms, runs)
}

/// One line changes at a time; each rests for at least `rest_ms` after its own last change, longer than any standstill.
fn random_edges(seed: u64, mean_ms: u64, rest_ms: u64, end_ms: u64) -> Vec<(u64, u8)> {
    let mut random = fastrand::Rng::with_seed(seed);
    let (mut at_ms, mut levels, mut moved_ms, mut edges) = (3_000, 0u8, [0; LINES], Vec::new());
    while at_ms < end_ms - 60_000 {
        at_ms += random.u64(1..2 * mean_ms);
        let line = random.usize(0..LINES);
        if at_ms - moved_ms[line] >= rest_ms && at_ms < end_ms - 60_000 {
            moved_ms[line] = at_ms;
            levels ^= 1 << line;
            edges.push((at_ms, levels));
        }
    }
    edges.push((end_ms - 30_000, 0));
    edges
}

/// Totals against the truth: never above, and below by rounding (under 0.2 s a run) and the standstills that edges fell into.
fn check(name: &str, script: &Script, lived: &Lived) -> (usize, usize) {
    let (on_ms, runs) = truth(script);
    let hit: Vec<&Stall> = lived.stalls.iter().filter(|stall| stall.edges > 0).collect();
    let stalled_ms: u64 =
        hit.iter().map(|stall| (stall.to_ms - stall.from_ms) * u64::from(stall.edges)).sum();
    for line in 0..LINES {
        let logged_ms = lived.totals.on_tenths[line] * 100;
        assert!(logged_ms <= on_ms[line], "{name}, line {line}: {logged_ms} ms logged of {}", on_ms[line]);
        let lost_ms = on_ms[line] - logged_ms;
        let most_ms = u64::from(runs[line]) * 200 + stalled_ms;
        assert!(lost_ms <= most_ms, "{name}, line {line}: {lost_ms} ms lost of at most {most_ms}");
        assert_eq!(lived.totals.starts[line], runs[line], "{name}, line {line}: starts");
    }
    (lived.stalls.len(), hit.len())
}

/// Edges so often that many fall into a standstill, once with words for each and once merged.
#[test]
fn edges_within_a_standstill() {
    for (name, life) in [("nRF51", NRF51), ("NOR", NOR)] {
        let (mut stalls, mut hits) = (0, 0);
        for seed in 0..6 {
            let end_ms = 2 * DAY_MS;
            let script = Script { heartbeat_s: 1, edges: random_edges(seed, 700, 600, end_ms), end_ms };
            let (stalled, hit) = check(name, &script, &life(&script));
            stalls += stalled;
            hits += hit;
        }
        println!("{name}: {hits} of {stalls} standstills had an edge within");
        assert!(hits > 50, "{name}: only {hits} of {stalls} standstills were hit");
    }
}

/// Each edge put at a chosen place of a standstill: at its first and last moment and in between.
#[test]
fn edges_aimed_at_a_standstill() {
    for (name, life) in [("nRF51", NRF51), ("NOR", NOR)] {
        let end_ms = DAY_MS / 8;
        // Line 0 runs throughout, so that heartbeats turn pages.
        let base = Script { heartbeat_s: 1, edges: vec![(3_000, 0b1), (end_ms - 30_000, 0)], end_ms };
        let stalls = life(&base).stalls;
        assert!(stalls.len() > 3, "{name}: {} standstills", stalls.len());
        let mut aimed = 0;
        for stall in
            stalls.iter().filter(|stall| stall.from_ms > 10_000 && stall.to_ms + 5_000 < end_ms - 30_000)
        {
            let len_ms = stall.to_ms - stall.from_ms;
            for place_ms in [1, len_ms / 2, len_ms - 1, len_ms] {
                let at_ms = stall.from_ms + place_ms;
                // Line 1 goes on within, or went on before and goes off within; line 0 does not care.
                let on = vec![(3_000, 0b01), (at_ms, 0b11), (at_ms + 2_000, 0b01), (end_ms - 30_000, 0)];
                let off = vec![(3_000, 0b01), (at_ms - 5_000, 0b11), (at_ms, 0b01), (end_ms - 30_000, 0)];
                for edges in [on, off] {
                    let script = Script { heartbeat_s: 1, edges, end_ms };
                    let lived = life(&script);
                    let (_, hit) = check(name, &script, &lived);
                    aimed += hit;
                }
            }
        }
        println!("{name}: {aimed} standstills hit on purpose");
        assert!(aimed > 10, "{name}: {aimed}");
    }
}

/// A year of 200 edges a day at a 10 s heartbeat: how often an edge meets a standstill at all.
#[test]
fn a_usual_year() {
    for (name, life) in [("nRF51", NRF51), ("NOR", NOR)] {
        let end_ms = 365 * DAY_MS;
        let script = Script { heartbeat_s: 10, edges: random_edges(7, DAY_MS / 200, 600, end_ms), end_ms };
        let lived = life(&script);
        let (stalls, hits) = check(name, &script, &lived);
        let stalled_ms: u64 = lived.stalls.iter().map(|stall| stall.to_ms - stall.from_ms).sum();
        let expected = script.edges.len() as f64 * stalled_ms as f64 / end_ms as f64;
        println!(
            "{name}: {stalls} standstills a year, {stalled_ms} ms in all; {hits} met an edge, {expected:.1} by chance"
        );
        // Chance, and no more: nothing makes erases coincide with edges.
        assert!(
            (hits as f64) < expected + 3.0 * expected.sqrt() + 3.0,
            "{name}: {hits} instead of {expected:.1}"
        );
    }
}

/// What a line does within a standstill, seen only by the edge latch. It counts as off for all of the standstill unless the latch is
/// silent; a gap shorter than the debounce time is bridged as any bounce is.
#[test]
fn a_gap_that_a_standstill_hides() {
    let end_ms = DAY_MS / 8;
    let base = Script { heartbeat_s: 1, edges: vec![(3_000, 0b1), (end_ms - 30_000, 0)], end_ms };
    let fit = |stall: &&Stall| {
        stall.from_ms > 10_000 && stall.to_ms + 40_000 < end_ms && stall.to_ms - stall.from_ms > 200
    };
    let stalls = NOR(&base).stalls;
    let long: Vec<&Stall> = stalls.iter().filter(fit).collect();
    assert!(long.len() > 3, "{} standstills", long.len());
    for stall in long {
        let (from_ms, len_ms) = (stall.from_ms, stall.to_ms - stall.from_ms);
        // Edges within: one gap, two, one that ends early, and a line that was off and closes twice or once.
        let one = vec![1, len_ms - 1];
        let two = vec![1, len_ms / 2, len_ms / 2 + 60, len_ms - 1];
        let early = vec![1, 80];
        for (was_on, within) in
            [(true, one), (true, two), (true, early), (false, vec![1, 80]), (false, vec![1, 60, 120])]
        {
            let mut levels = u8::from(was_on);
            let mut edges = vec![(3_000, levels)];
            for after_ms in &within {
                levels ^= 1;
                edges.push((from_ms + after_ms, levels));
            }
            edges.push((end_ms - 30_000, 0));
            if !was_on {
                // Line 1 turns the pages.
                edges.iter_mut().for_each(|(_, levels)| *levels |= 0b10);
                edges.push((end_ms - 29_000, 0));
            }
            let script = Script { heartbeat_s: 1, edges, end_ms };
            let (on_ms, runs) = truth(&script);
            let lived = NOR(&script);
            let met = lived.stalls.iter().any(|met| met.edges == within.len() as u32);
            assert!(met, "{stall:?}, {within:?}: the edges met no standstill");
            let totals = lived.totals;
            let logged_ms = totals.on_tenths[0] * 100;
            assert!(logged_ms <= on_ms[0], "{stall:?}, {within:?}: {logged_ms} ms logged of {}", on_ms[0]);
            // At most the standstill is lost, and two tenths a run by rounding.
            let most_ms = len_ms + 200 * u64::from(runs[0]);
            assert!(
                logged_ms + most_ms >= on_ms[0],
                "{stall:?}, {within:?}: {logged_ms} ms logged of {}",
                on_ms[0]
            );
        }
    }
}

/// A warning that power fails is answered at once at every place of a page: no erase, and all that was known is in flash.
#[test]
fn a_failing_supply_waits_for_no_erase() {
    for seconds in 3..300u64 {
        let end_ms = seconds * 1_000 + 357;
        let mut flash = Flash::<4, 1_024>::new(LAYOUT_PAGES, 1);
        let config = Config { heartbeat_s: 1, ..Config::as_in_guide() };
        provision(&mut flash, &LAYOUT, &config).expect("a good flash");
        let mut board = Standing::<4, 1_024, 8>::on(Slow::new(flash, (22, 22), 1), LAYOUT, board(1), 0b11);
        board.run_until(end_ms, &mut std::iter::empty().peekable());
        let erases = board.logger.flash().flash.counts.erases.clone();
        let now_ms = board.now_ms();
        board.logger.power_fail(Sample { now_ms, held_until_ms: now_ms, levels: 0b11, pulses: 0 });
        let totals = board.logger.totals();
        let mut flash = board.logger.into_flash().flash;
        assert_eq!(flash.counts.erases, erases, "{seconds} s: a page was erased");
        let mounted = Journal::<8>::mount(&mut flash, LAYOUT.journal, Watch::from_config(&config));
        assert_eq!(mounted.state().totals, totals, "{seconds} s");
        assert_eq!(totals.on_tenths[0], now_ms / 100, "{seconds} s");
    }
}
