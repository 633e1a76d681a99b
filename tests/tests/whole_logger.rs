//! The whole logger (lines, tally, journal, history, configuration) with power cut at random programs and erases,
//! in the recoveries too: totals within accounting rule 1, what a pull has shown never changes, the configuration is the
//! old one or the new one and stays.

use halfglass_firmware::ports::{Board, Layout, Region};
use halfglass_firmware::provision;
use halfglass_protocol::config::{Config, Kind};
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{ClockSource, Record};
use halfglass_sim::bench::{Powered, board};
use halfglass_sim::flash::{Cut, ERASE_TEARS, Flash, WORD_TEARS};
use halfglass_tests::asking::{ask, pull_all};
use std::collections::BTreeMap;

type Chip = Flash<4, 1024>;

/// Small rings, so that they turn often.
const LAYOUT: Layout = Layout {
    journal: Region { start: 0, page_len: 1_024, pages: 4 },
    history: Region { start: 4 * 1_024, page_len: 1_024, pages: 4 },
    config: Region { start: 8 * 1_024, page_len: 1_024, pages: 2 },
};
const PAGES: usize = 10;
const LINES: usize = 5;

/// What was really on, in milliseconds, whatever the logger thinks.
#[derive(Clone, Default)]
struct Truth {
    on_ms: [u64; LINES],
    /// Unclean power cuts.
    cuts: u64,
    runs: [u64; LINES],
}

struct World {
    random: fastrand::Rng,
    truth: Truth,
    shown: BTreeMap<u32, Vec<u8>>,
    configs: Vec<Config>,
    erases_cut: u64,
    programs_cut: u64,
    utc_ms: u64,
}

impl World {
    fn cut(&mut self, within: u64) -> Cut {
        let among_erases = self.random.u8(0..4) == 0;
        Cut {
            at: self.random.u64(0..if among_erases { 3 } else { within }),
            among_erases,
            word: WORD_TEARS[self.random.usize(0..WORD_TEARS.len())],
            erase: ERASE_TEARS[self.random.usize(0..ERASE_TEARS.len())],
            flicker: true,
        }
    }

    /// One session that power ends somewhere.
    fn session(&mut self, mut flash: Chip) -> Chip {
        let within = *[3, 10, 60, 400].get(self.random.usize(0..4)).expect("four");
        let cut = self.cut(within);
        flash.power_on(Some(cut));
        let mut levels = 0;
        let mut bench = Powered::<Chip, LINES>::on(flash, LAYOUT, board(1), levels);
        let steps = self.random.u32(1..60);
        for _ in 0..steps {
            let pause_ms = match self.random.u8(0..6) {
                0 => self.random.u64(0..300),
                1 => self.random.u64(0..20_000),
                2 => self.random.u64(0..7_200_000),
                _ => self.random.u64(0..120_000),
            };
            let start_ms = bench.now_ms();
            // Time runs in slices, so that the truth stops where power does.
            let until_ms = start_ms + pause_ms;
            while bench.now_ms() < until_ms && !bench.logger.flash().is_off() {
                let before_ms = bench.now_ms();
                let wake_ms = bench.logger.next_wake_ms().clamp(before_ms + 1, until_ms);
                bench.run_until(wake_ms);
                for (line, on_ms) in self.truth.on_ms.iter_mut().enumerate() {
                    if levels >> line & 1 == 1 {
                        *on_ms += bench.now_ms() - before_ms;
                    }
                }
            }
            if bench.logger.flash().is_off() {
                break;
            }
            match self.random.u8(0..12) {
                0 if bench.now_ms() > 2_100 => self.pull(&mut bench),
                1 if bench.now_ms() > 2_100 => {
                    // The line whose rules change starts afresh.
                    self.truth.runs[0] += u64::from(levels & 1);
                    self.configure(&mut bench);
                }
                _ => {
                    let line = self.random.u8(0..LINES as u8);
                    levels ^= 1 << line;
                    if levels >> line & 1 == 1 {
                        self.truth.runs[usize::from(line)] += 1;
                    }
                    bench.set_levels(levels);
                }
            }
            if bench.logger.flash().is_off() {
                break;
            }
        }
        self.truth.cuts += 1;
        let mut flash = bench.logger.into_flash();
        match flash.hit {
            Some(halfglass_sim::flash::Operation::Erase(_)) => self.erases_cut += 1,
            Some(halfglass_sim::flash::Operation::Program(..)) => self.programs_cut += 1,
            None => {}
        }
        flash.power_off();
        // Lines that are on at power-up begin a run again.
        for (line, runs) in self.truth.runs.iter_mut().enumerate() {
            *runs += u64::from(levels >> line & 1);
        }
        flash
    }

    fn pull(&mut self, bench: &mut Powered<Chip, LINES>) {
        self.utc_ms += 1_000_000;
        let anchor = Request::Anchor { utc_ms: self.utc_ms, uncertainty_ms: 5, source: ClockSource::Host };
        ask(bench, &anchor, false, |_| ());
        if bench.logger.flash().is_off() {
            return;
        }
        // Brings the history up to now; what follows only reads.
        ask(bench, &Request::Fix { have: 0 }, false, |_| ());
        if bench.logger.flash().is_off() {
            return;
        }
        let records = pull_all(bench);
        self.see(&records);
    }

    fn see(&mut self, records: &BTreeMap<u32, Vec<u8>>) {
        for (index, record) in records {
            if let Some(before) = self.shown.get(index) {
                assert_eq!(
                    before,
                    record,
                    "record {index} was {:?} and is now {:?}",
                    Record::decode(before),
                    Record::decode(record)
                );
            }
            assert!(!record.is_empty(), "record {index} is lost");
        }
        let last = records.keys().next_back().copied().unwrap_or(0);
        let was_last = self.shown.keys().next_back().copied().unwrap_or(0);
        assert!(last >= was_last, "the history went back from {was_last} to {last}");
        self.shown.extend(records.iter().map(|(index, record)| (*index, record.clone())));
    }

    fn configure(&mut self, bench: &mut Powered<Chip, LINES>) {
        let mut config = *bench.logger.config();
        config.lines[0].kind = Kind::Contact { debounce_ms: self.random.u16(20..80) };
        let done = ask(bench, &Request::SetConfig(config), true, |reply| reply == Reply::Done);
        if done {
            self.configs = vec![config];
        } else {
            // Not acknowledged: may be in force after the cut, or not.
            self.configs.push(config);
        }
    }

    /// Power comes to stay: everything is looked at.
    fn look(&mut self, mut flash: Chip) -> Chip {
        for _ in 0..self.random.u8(0..3) {
            // Recoveries that are cut in turn.
            let cut = self.cut(30);
            flash.power_on(Some(cut));
            let mut bench = Powered::<Chip, LINES>::on(flash, LAYOUT, board(1), 0);
            bench.run_until(2_500);
            flash = bench.logger.into_flash();
        }
        flash.power_on(None);
        let mut bench = Powered::<Chip, LINES>::on(flash, LAYOUT, board(1), 0);
        bench.run_until(2_100);
        let config = *bench.logger.config();
        assert!(self.configs.contains(&config), "configuration {config:?} was never set");
        self.configs = vec![config];

        let totals = bench.logger.totals();
        for line in 0..LINES {
            let (logged_ms, true_ms) = (totals.on_tenths[line] * 100, self.truth.on_ms[line]);
            assert!(logged_ms <= true_ms, "line {line}: logged {logged_ms} ms of {true_ms}");
            // A heartbeat and the longest filter per cut, two tenths of rounding per run.
            let allowed_ms = self.truth.cuts * 11_000 + self.truth.runs[line] * 300;
            assert!(true_ms - logged_ms <= allowed_ms, "line {line}: {} ms lost", true_ms - logged_ms);
            let starts = u64::from(totals.starts[line]);
            assert!(
                starts <= self.truth.runs[line],
                "line {line}: {starts} starts of {}",
                self.truth.runs[line]
            );
        }

        let records = pull_all(&mut bench);
        self.see(&records);
        let mut flash = bench.logger.into_flash();
        // Once more after a further cut: two pulls of one range are the same bytes.
        flash.power_on(None);
        let mut bench = Powered::<Chip, LINES>::on(flash, LAYOUT, board(1), 0);
        bench.run_until(2_100);
        let again = pull_all(&mut bench);
        self.see(&again);
        let mut flash = bench.logger.into_flash();
        assert_eq!(flash.violations, [], "rules of the chip");
        flash.power_off();
        self.truth.cuts += 2;
        flash
    }
}

#[test]
fn cuts_anywhere() {
    let (mut erases, mut programs) = (0, 0);
    for seed in 0..60 {
        println!("seed {seed}");
        let mut flash = Chip::new(PAGES, seed);
        let config = Config::as_in_guide();
        flash.power_on(None);
        halfglass_firmware::provision(&mut flash, &LAYOUT, &config).expect("a good flash");
        let mut world = World {
            random: fastrand::Rng::with_seed(seed),
            truth: Truth::default(),
            shown: BTreeMap::new(),
            configs: vec![config],
            erases_cut: 0,
            programs_cut: 0,
            utc_ms: 1_700_000_000_000,
        };
        for _ in 0..40 {
            flash = world.session(flash);
            flash = world.look(flash);
        }
        erases += world.erases_cut;
        programs += world.programs_cut;
    }
    println!("{programs} programs and {erases} erases cut");
    assert!(
        programs > 1_000 && erases > 100,
        "the cuts fell elsewhere: {programs} programs, {erases} erases"
    );
}

/// A board that stands still for 85 ms while its flash erases, and that nobody has set up yet, must not take a contact's bounce in
/// that time for a start; one that was set up keeps what it was told.
#[test]
fn a_board_that_nobody_has_set_up_debounces_for_as_long_as_it_needs() {
    let least = Board { debounce_min_ms: 100, ..board(1) };
    let asked = |flash: Chip| {
        let mut bench = Powered::<_, 8>::on(flash, LAYOUT, least, 0);
        bench.run_until(3_000);
        let config = ask(&mut bench, &Request::Config, false, |reply| match reply {
            Reply::Config(config) => Some(config),
            _ => None,
        });
        config.expect("a configuration").lines.map(|line| line.kind)
    };
    let powered = || {
        let mut flash = Chip::new(PAGES, 1);
        flash.power_on(None);
        flash
    };
    assert!(asked(powered())[..5].iter().all(|kind| *kind == Kind::Contact { debounce_ms: 100 }));
    let mut flash = powered();
    let told = Config::as_in_guide();
    provision(&mut flash, &LAYOUT, &told).unwrap();
    assert_eq!(asked(flash), told.lines.map(|line| line.kind));
}
