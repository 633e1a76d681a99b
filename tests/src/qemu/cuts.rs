//! Cuts of power at chosen flash operations, and what must hold afterwards.
//!
//! Every case starts from a saved life, brings the board to an operation of its class, cuts power in the middle of it
//! (the word or page torn by chance), powers the board again with all lines off and asks for the totals; and
//! once more after a clean cut, because what was shown must stay.

use super::desk::{Desk, Operation, TICKS_PER_S, Watched};
use super::image::{ERASE_TEARS, EraseTear, PAGE};
use super::life::Life;
use super::machine::Cable;
use fastrand::Rng;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::config::Config;
use halfglass_protocol::message::{Reply, Request};
use std::path::Path;

/// The stores' places in flash: the table in `boards/README.md`.
const JOURNAL: (u32, u32) = (0x1_0000, 0x2_0000);
const HISTORY: (u32, u32) = (0x2_0000, 0x3_F000);
const HISTORY_PAGE: u32 = 2_048;
const CONFIG: (u32, u32) = (0x3_F800, 0x4_0000);

/// The supply's warning.
const POWER_CLOCK: u32 = 0;

/// A commit every second instead of every ten: pages fill ten times as fast.
pub const HEARTBEAT_S: u16 = 1;

/// What one cut may cost a line that is on: a heartbeat, the second for which a contact may chatter before it is
/// believed, and a tenth of rounding at either end. The board itself says so in its session record.
pub const LOST_TENTHS_MAX: u64 = 10 * HEARTBEAT_S as u64 + 10 + 2;

/// Which operation is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// A commit somewhere in a page.
    CommitWord,
    /// The first commit of a page.
    FirstWord,
    /// The last commit that fits into a page.
    LastWord,
    /// The words of a page's head.
    HeadWord,
    /// The word that makes a page count, written last.
    SequenceWord,
    /// The erase of the page that comes next.
    JournalErase,
    /// What the warning of a failing supply commits.
    SupplyWarning,
    /// The recovery after a cut: its repeated word, its burnt cells, its fresh page.
    RecoverySnapshot,
    /// A record of the history.
    HistoryRecord,
    /// The head of a history page.
    HistoryHead,
    /// The erase of a history page.
    HistoryErase,
    /// A configuration being written.
    ConfigWord,
    /// The erase before it.
    ConfigErase,
}

impl Class {
    /// All of them.
    pub const ALL: [Class; 13] = [
        Class::CommitWord,
        Class::FirstWord,
        Class::LastWord,
        Class::HeadWord,
        Class::SequenceWord,
        Class::JournalErase,
        Class::SupplyWarning,
        Class::RecoverySnapshot,
        Class::HistoryRecord,
        Class::HistoryHead,
        Class::HistoryErase,
        Class::ConfigWord,
        Class::ConfigErase,
    ];
}

/// Lives from which cases start.
#[derive(Clone, Debug)]
pub struct Bases {
    /// Some minutes old, with a heartbeat of a second.
    ordinary: Life,
    /// The same, and the next session's records do not fit into the history's page.
    history_full: Life,
    /// Shown totals of each.
    shown: [[u64; LINES_MAX]; 2],
    config: Config,
}

/// What came of a case.
#[derive(Clone, Debug)]
pub struct Case {
    /// What was cut.
    pub class: Class,
    /// How it was torn, if it was an erase.
    pub tear: Option<EraseTear>,
    /// The most that any line lost, in tenths.
    pub lost_tenths: u64,
    /// What was wrong.
    pub wrong: Vec<String>,
}

fn config() -> Config {
    Config { heartbeat_s: HEARTBEAT_S, ..Config::as_in_guide() }
}

fn whole(range: (u32, u32), erases: bool) -> Watched {
    Watched { from: range.0, to: range.1, erases }
}

const ERASES: Watched = Watched { from: 0, to: 0, erases: true };

impl Bases {
    /// Makes them.
    #[must_use]
    pub fn make(firmware: &Path) -> Bases {
        let mut desk = Desk::power_on(firmware, &Life::new(0x4861_6C66_676C_6173), 0, Cable::Test);
        desk.run_s(3.0);
        desk.button(true);
        let done = desk.ask(&Request::SetConfig(config()), |reply| reply == Reply::Done);
        assert!(done, "the configuration is taken while the button is held");
        desk.button(false);
        for (seconds, levels) in [(5.0, 0b1), (40.0, 0b1011), (60.0, 0b1111), (30.0, 0b11), (9.0, 0b1_0000)] {
            desk.drive(levels);
            desk.run_s(seconds);
        }
        desk.drive(0);
        desk.run_s(3.0);
        let shown = desk.status().totals.on_tenths;
        let ordinary = desk.cut();

        // Every request for the range closes a span, at most one a minute.
        let mut desk = Desk::power_on(firmware, &ordinary, 0, Cable::Test);
        desk.run_s(3.0);
        let full = loop {
            let page = used_history_page(&mut desk);
            let bytes: Vec<u8> =
                [page, page + PAGE].iter().flat_map(|half| desk.machine.page(*half)).collect();
            let blank = bytes.iter().rev().take_while(|byte| **byte == 0xFF).count();
            if blank < 40 {
                break blank;
            }
            desk.run_s(61.0);
            desk.ask(&Request::Fix { have: 0 }, |reply| assert!(matches!(reply, Reply::Range { .. })));
        };
        assert!(full as u32 <= HISTORY_PAGE);
        desk.run_s(1.0);
        let shown_full = desk.status().totals.on_tenths;
        let history_full = desk.cut();
        Bases { ordinary, history_full, shown: [shown, shown_full], config: config() }
    }

    /// One case of a class. None: the chosen operation did not come.
    #[must_use]
    pub fn case(&self, firmware: &Path, class: Class, rng: &mut Rng) -> Option<Case> {
        let full = matches!(class, Class::HistoryHead | Class::HistoryErase);
        let (life, shown) = if full { (&self.history_full, 1) } else { (&self.ordinary, 0) };
        // Lines as they go together: each one needs those before it.
        let levels = *rng.choice([0b1, 0b11, 0b111, 0b1111, 0b1011].iter()).unwrap_or(&1);
        let mut desk = Desk::power_on(firmware, life, levels, Cable::Test);
        let operation = reach(&mut desk, class, rng)?;
        let tear = ERASE_TEARS[rng.usize(..ERASE_TEARS.len())];
        let after = desk.cut_torn(operation, tear, rng);
        let mut case = Case {
            class,
            tear: (operation == Operation::Erase).then_some(tear),
            lost_tenths: 0,
            wrong: Vec::new(),
        };
        self.check(firmware, life, &after, self.shown[shown], &mut case);
        Some(case)
    }

    fn check(&self, firmware: &Path, before: &Life, after: &Life, floor: [u64; LINES_MAX], case: &mut Case) {
        let mut desk = Desk::power_on(firmware, after, 0, Cable::Test);
        desk.run_s(3.0);
        let first = desk.status().totals;
        for (line, floor) in floor.into_iter().enumerate() {
            let (truth, now) = (after.on_tenths(line), first.on_tenths[line]);
            // What the life had lost before this cut is not this cut's.
            let owed = before.on_tenths(line) - floor;
            let lost = (truth - owed).saturating_sub(now);
            case.lost_tenths = case.lost_tenths.max(lost);
            if now > truth {
                case.wrong.push(format!("line {line}: {now} tenths are above the truth, {truth}"));
            }
            if now < floor {
                case.wrong.push(format!("line {line}: {now} tenths, but {floor} had been shown"));
            }
            if lost > LOST_TENTHS_MAX {
                case.wrong.push(format!("line {line}: {now} tenths, {lost} lost"));
            }
        }
        let config = desk.ask(&Request::Config, |reply| match reply {
            Reply::Config(config) => config,
            other => panic!("asked for the configuration, got {other:?}"),
        });
        if config != self.config && config != other_config() {
            case.wrong.push(format!("neither the old nor the new configuration: {config:?}"));
        }
        let mut desk = Desk::power_on(firmware, &desk.cut(), 0, Cable::Test);
        desk.run_s(3.0);
        let second = desk.status().totals;
        if second.on_tenths != first.on_tenths || second.session <= first.session {
            case.wrong.push(format!("shown {first:?}, and after a clean cut {second:?}"));
        }
    }
}

/// What the configuration classes write.
fn other_config() -> Config {
    Config { idle_s: 500, ..config() }
}

/// The history page in use: the one whose sequence word is highest. The information is in the upper 27 bits; the top one
/// is set in burnt cells only.
fn used_history_page(desk: &mut Desk) -> u32 {
    let pages = (HISTORY.0..HISTORY.1).step_by(HISTORY_PAGE as usize);
    let sequences = pages.map(|page| (desk.machine.qtest.read_word(page), page));
    let used = sequences.filter(|(sequence, _)| *sequence < 1 << 31).max();
    used.expect("the history has begun").1
}

fn until(desk: &mut Desk, seconds: u64) -> u64 {
    desk.now() + seconds * TICKS_PER_S
}

/// Lets operations happen until the n-th that `wanted` accepts.
fn nth(
    desk: &mut Desk,
    watched: Watched,
    n: u32,
    mut wanted: impl FnMut(&mut Desk, Operation) -> bool,
) -> Option<Operation> {
    let at = until(desk, 900);
    let mut left = n;
    loop {
        let operation = desk.run_to_operation(watched, at)?;
        if wanted(desk, operation) {
            if left == 0 {
                return Some(operation);
            }
            left -= 1;
        }
        desk.let_happen();
    }
}

/// Brings the board to an operation of the class.
fn reach(desk: &mut Desk, class: Class, rng: &mut Rng) -> Option<Operation> {
    let program = |_: &mut Desk, operation| matches!(operation, Operation::Program(_));
    let erase = |_: &mut Desk, operation| operation == Operation::Erase;
    match class {
        Class::CommitWord => {
            desk.run_s(3.0 + rng.f64() * 20.0);
            nth(desk, whole(JOURNAL, false), rng.u32(0..4), program)
        }
        Class::LastWord => {
            let page = fill_page(desk)?;
            nth(
                desk,
                Watched { from: page + PAGE - 16, to: page + PAGE, erases: false },
                rng.u32(0..2),
                program,
            )
        }
        Class::FirstWord | Class::HeadWord | Class::SequenceWord => {
            let full = fill_page(desk)?;
            let skipped = if class == Class::HeadWord { rng.u32(0..20) } else { 0 };
            let mut counts = false;
            nth(desk, whole(JOURNAL, false), skipped, |_, operation| {
                let Operation::Program(address) = operation else { return false };
                let elsewhere = address & !(PAGE - 1) != full;
                let sequence = elsewhere && address % PAGE == 0;
                let first = elsewhere && counts && !sequence;
                counts |= sequence;
                match class {
                    Class::FirstWord => first,
                    Class::SequenceWord => sequence,
                    _ => elsewhere && !counts,
                }
            })
        }
        Class::JournalErase => {
            desk.run_s(3.0);
            nth(desk, ERASES, rng.u32(0..2), erase)
        }
        Class::SupplyWarning => {
            desk.run_s(3.0 + rng.f64() * 3.0);
            desk.interrupt(POWER_CLOCK);
            nth(desk, whole(JOURNAL, false), 0, program)
        }
        Class::RecoverySnapshot => nth(desk, whole(JOURNAL, rng.bool()), rng.u32(0..70), |_, _| true),
        Class::HistoryRecord => nth(desk, whole(HISTORY, false), rng.u32(0..20), program),
        Class::HistoryHead => nth(desk, whole(HISTORY, false), rng.u32(0..60), |desk, operation| {
            let Operation::Program(address) = operation else { return false };
            let page = address & !(HISTORY_PAGE - 1);
            desk.machine.qtest.read_word(page) == u32::MAX
        }),
        Class::HistoryErase => {
            let mut history = false;
            // A history page is erased in two halves right before its head is written.
            nth(desk, whole(HISTORY, true), rng.u32(0..2), |_, operation| {
                history |= matches!(operation, Operation::Program(_));
                history && operation == Operation::Erase
            })
        }
        Class::ConfigWord | Class::ConfigErase => {
            desk.run_s(3.0);
            desk.button(true);
            desk.send(&Request::SetConfig(other_config()));
            let skipped = if class == Class::ConfigWord { rng.u32(0..24) } else { 0 };
            let mut near = false;
            nth(desk, whole(CONFIG, true), skipped, |_, operation| {
                near |= matches!(operation, Operation::Program(_));
                if class == Class::ConfigWord { near } else { operation == Operation::Erase }
            })
        }
    }
}

/// Runs until the journal's page in use is about to be full; the page.
fn fill_page(desk: &mut Desk) -> Option<u32> {
    desk.run_s(3.0);
    let Some(Operation::Program(address)) = nth(desk, whole(JOURNAL, false), 0, |_, _| true) else {
        return None;
    };
    desk.let_happen();
    let page = address & !(PAGE - 1);
    let at = until(desk, 900);
    // Far enough from the end that the words of interest are still to come.
    desk.run_to_operation(Watched { from: page + PAGE - 32, to: page + PAGE - 16, erases: false }, at)?;
    desk.let_happen();
    Some(page)
}
