//! Thousands of hours on the emulated board, killed over and over, its flash carried from each life to the next.
//!
//! Shortly before each kill and at the next power-up, with all lines off, the board is asked for its totals. What they lack of
//! the truth then, beyond what they lacked before the kill, is what the kill has cost; the rest is rounding of runs.

use super::desk::{Desk, Operation, TICKS_PER_S, Watched};
use super::image::{ERASE_TEARS, FROM, PAGE, TO};
use super::life::Life;
use super::machine::Cable;
use fastrand::Rng;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::record::Totals;
use std::path::Path;

/// The line whose hours are counted: transmit, in the guide's wiring.
const TRANSMIT: usize = 2;

/// Supply, heater, transmit, motor, isolated: the lines of the guide's wiring.
const LINES: usize = 5;

/// What one kill may cost a line: a heartbeat of 10 s, the second for which a contact may chatter before it is believed, and a tenth of
/// rounding at either end. The board itself says so in its session record.
pub const LOST_PER_KILL_TENTHS: u64 = 100 + 10 + 2;

/// What rounding may cost a run that ended by itself: on-edges round up to a tenth, off-edges down.
const LOST_PER_RUN_TENTHS: u64 = 2;

/// How far an answer may lag: it is of the last look before it, and an edge in doubt holds it back by up to a second.
const ANSWER_TENTHS: u64 = 13;

/// How the supply went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kill {
    /// Between two instructions, at any instant.
    AnyInstant,
    /// While a word was being programmed.
    InAWord,
    /// While a page was being erased.
    InAnErase,
    /// While a session was being begun.
    InARecovery,
}

impl Kill {
    /// All of them.
    pub const ALL: [Kill; 4] = [Kill::AnyInstant, Kill::InAWord, Kill::InAnErase, Kill::InARecovery];

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Kill::AnyInstant => "at any instant",
            Kill::InAWord => "while a word was programmed",
            Kill::InAnErase => "while a page was erased",
            Kill::InARecovery => "while a session was begun",
        }
    }
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Hours with transmit on.
    pub transmit_h: f64,
    /// Kills.
    pub kills: u32,
    /// Decides everything that is left to chance.
    pub seed: u64,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Flash and truth at the end.
    pub life: Life,
    /// Kills of each kind.
    pub kills: [u32; Kill::ALL.len()],
    /// What each line lacks of the truth at the end, in tenths.
    pub lost_tenths: [u64; LINES_MAX],
    /// The most that one kill cost a line, in tenths.
    pub worst_tenths: u64,
    /// What kills cost all lines together, in tenths.
    pub by_kills_tenths: u64,
    /// Everything that must not be: gains, losses beyond the bound.
    pub wrong: Vec<String>,
}

impl Outcome {
    /// Hours under power.
    #[must_use]
    pub fn powered_h(&self) -> f64 {
        hours(self.life.powered_ticks)
    }

    /// Hours with transmit on.
    #[must_use]
    pub fn transmit_h(&self) -> f64 {
        hours(self.life.on_ticks[TRANSMIT])
    }
}

fn hours(ticks: u64) -> f64 {
    ticks as f64 / TICKS_PER_S as f64 / 3_600.0
}

/// Lives so many hours with so many kills. `progress` is told after each.
#[must_use]
pub fn run(firmware: &Path, device_id: u64, wanted: Wanted, progress: &dyn Fn(&Outcome)) -> Outcome {
    let life = Life::new(device_id);
    let mut outcome = Outcome {
        life,
        kills: [0; 4],
        lost_tenths: [0; LINES_MAX],
        worst_tenths: 0,
        by_kills_tenths: 0,
        wrong: Vec::new(),
    };
    let mut before = outcome.life.clone();
    let mut recoveries_cut = 0;
    loop {
        let kills: u32 = outcome.kills.iter().sum();
        let left_h = wanted.transmit_h - outcome.transmit_h();
        let mut desk = Desk::power_on(firmware, &outcome.life, 0, Cable::Test);
        let mut rng = Rng::with_seed(wanted.seed ^ u64::from(kills) << 20);
        let done = kills >= wanted.kills && left_h <= 0.0;
        if !done && rng.u8(..) < 26 && recoveries_cut < 3 {
            // Nothing is on: this one may cost nothing.
            recoveries_cut += 1;
            outcome.life = cut_recovery(desk, &mut rng);
            outcome.kills[Kill::InARecovery as usize] += 1;
            continue;
        }
        recoveries_cut = 0;
        desk.run_s(2.5);
        let totals = desk.status().totals;
        outcome.hold(&before, &totals, true, wanted.seed);
        progress(&outcome);
        before = outcome.life.clone();
        if done {
            return outcome;
        }
        // The hours that are left, over the kills that are left, give or take a half; with the last kill, all of them.
        let kills_left = wanted.kills.saturating_sub(kills).max(1);
        let chance = if kills_left == 1 { 1.0 } else { 0.5 + rng.f64() };
        sail(&mut desk, left_h.max(0.01) / f64::from(kills_left) * chance, &mut rng);
        let totals = desk.status().totals;
        outcome.life = desk.life().clone();
        outcome.hold(&before, &totals, false, wanted.seed);
        before = outcome.life.clone();
        let kill;
        (outcome.life, kill) = end(desk, &mut rng);
        outcome.kills[kill as usize] += 1;
    }
}

impl Outcome {
    /// Holds what the board shows against the truth, either at the end of a session or after the kill that ended it. `before`:
    /// the life when it was held last.
    fn hold(&mut self, before: &Life, totals: &Totals, killed: bool, seed: u64) {
        let kills: u32 = self.kills.iter().sum();
        for line in 0..LINES {
            let (truth, logged) = (self.life.on_tenths(line), totals.on_tenths[line]);
            let mut wrong = |what: String| {
                self.wrong.push(format!("seed {seed}, after kill {kills}, line {line}: {what}"));
            };
            if logged > truth {
                wrong(format!("gained {} tenths", logged - truth));
            }
            let lost = truth.saturating_sub(logged);
            // What was lost before stays lost; rounding of the truth to tenths may take one of it.
            let now = lost.saturating_sub(self.lost_tenths[line]);
            let runs = u64::from(self.life.starts[line] - before.starts[line]);
            // The board answers of a moment ago, and of a line that has just moved it may not be sure yet.
            let may = if killed { LOST_PER_KILL_TENTHS } else { ANSWER_TENTHS + runs * LOST_PER_RUN_TENTHS };
            if now > may {
                let when = if killed { "by the kill" } else { "before it was killed" };
                wrong(format!("lost {now} tenths of at most {may} {when}"));
            }
            if killed {
                self.worst_tenths = self.worst_tenths.max(now);
                self.by_kills_tenths += now;
            }
            self.lost_tenths[line] = lost;
        }
    }
}

/// Lines come and go as on a ship, mostly long stretches of transmitting, until it has transmitted so long.
fn sail(desk: &mut Desk, transmit_h: f64, rng: &mut Rng) {
    const STANDBY: u8 = 0b0_0011;
    const AT_SEA: u8 = 0b0_1111;
    let ticks = |seconds: f64| (seconds * TICKS_PER_S as f64) as u64 + 1;
    let until = desk.life().on_ticks[TRANSMIT] + ticks(transmit_h * 3_600.0);
    while desk.life().on_ticks[TRANSMIT] < until {
        let wait = |desk: &mut Desk, seconds: f64| {
            let at = desk.now() + ticks(seconds);
            desk.run_until(at);
        };
        // Now and then the scanner's switch is opened aloft, with everything else but the supply off.
        if rng.u8(..) < 40 {
            desk.drive(0b1_0001);
            wait(desk, 60.0 + 7_200.0 * rng.f64());
        }
        desk.drive(0b0_0001);
        wait(desk, 0.2 + 5.0 * rng.f64());
        desk.drive(STANDBY);
        wait(desk, 1.0 + 300.0 * rng.f64());
        desk.drive(AT_SEA);
        let left_s = (until - desk.life().on_ticks[TRANSMIT]) as f64 / TICKS_PER_S as f64;
        // Minutes to half a day; now and then an arc trips the transmitter for a second or two.
        let stretch_s = 60.0 * 720.0_f64.powf(rng.f64());
        wait(desk, stretch_s.min(left_s));
        if rng.bool() {
            desk.drive(0b0_1011);
            wait(desk, 0.1 + 3.0 * rng.f64());
            desk.drive(AT_SEA);
            wait(desk, 0.2 + 20.0 * rng.f64());
        }
    }
}

/// Ends a session by a kill.
fn end(mut desk: Desk, rng: &mut Rng) -> (Life, Kill) {
    const HEARTBEAT_TICKS: u64 = 10 * TICKS_PER_S;
    let words = Watched { from: FROM, to: TO, erases: false };
    let erases = Watched { from: FROM, to: FROM, erases: true };
    let wanted = [Kill::AnyInstant, Kill::AnyInstant, Kill::InAWord, Kill::InAnErase][rng.usize(..4)];
    let mut latest = desk.now() + 3 * HEARTBEAT_TICKS;
    let operation = match wanted {
        Kill::InAWord => desk.run_to_operation(words, latest),
        Kill::InAnErase => {
            // A page is erased when the one in use is all but full. Until shortly before, the emulator may go at full speed.
            if let Some(Operation::Program(address)) = desk.run_to_operation(words, latest) {
                desk.let_happen();
                let left = u64::from((PAGE - address % PAGE) / 4);
                let at = desk.now() + left.saturating_sub(18) * HEARTBEAT_TICKS;
                desk.run_until(at);
                latest = at + 18 * HEARTBEAT_TICKS;
            }
            desk.run_to_operation(erases, latest)
        }
        Kill::AnyInstant | Kill::InARecovery => {
            let at = desk.now() + (rng.f64() * 2.0 * HEARTBEAT_TICKS as f64) as u64 + 1;
            desk.run_until(at);
            None
        }
    };
    match operation {
        Some(operation) => {
            let kill = if operation == Operation::Erase { Kill::InAnErase } else { Kill::InAWord };
            (desk.cut_torn(operation, ERASE_TEARS[rng.usize(..ERASE_TEARS.len())], rng), kill)
        }
        None => (desk.cut(), Kill::AnyInstant),
    }
}

/// Cuts one of the operations by which a session begins.
fn cut_recovery(mut desk: Desk, rng: &mut Rng) -> Life {
    let latest = 3 * TICKS_PER_S;
    let watched = Watched { from: FROM, to: TO, erases: true };
    let mut skipped = rng.u32(0..40);
    loop {
        let Some(operation) = desk.run_to_operation(watched, latest) else { return desk.cut() };
        if skipped == 0 {
            return desk.cut_torn(operation, ERASE_TEARS[rng.usize(..ERASE_TEARS.len())], rng);
        }
        skipped -= 1;
        desk.let_happen();
    }
}
