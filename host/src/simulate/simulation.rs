//! A timeline run through a logger.

use super::geometry::Geometry;
use super::lines::{Lines, Row, What};
use super::wire::{self, Pulled};
use crate::{Error, Result};
use halfglass_firmware::ports::Board;
use halfglass_protocol::config::Config;
use halfglass_sim::bench::board;
use halfglass_sim::flash::{Cut, ERASE_TEARS, WORD_TEARS};
use halfglass_sim::rig::Rig;

/// How long after its power came a logger can be pulled: it writes nothing before its supply has been good for 2 s.
const READY_MS: i64 = 3_000;

/// What is simulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// The logger's id.
    pub device_id: u64,
    /// Its flash.
    pub geometry: Geometry,
    /// For what chance decides: how a power cut leaves the flash word that was being written, or the page that was
    /// being erased, at that very instant. Nothing else is random.
    pub seed: u64,
    /// The set's stated warm-up, in seconds; 0: not known.
    pub warm_up_s: u16,
}

/// A logger, its lines, its power and the instant that it has reached.
///
/// A pull plugs in a USB lead, which feeds the logger too: a pull while its own feed is off is a session of a few
/// seconds, marked as on USB power alone.
pub struct Simulation {
    rig: Box<dyn Rig>,
    device_id: u64,
    random: fastrand::Rng,
    now_ms: i64,
    /// When power came, while there is any.
    powered_ms: Option<i64>,
    feed: bool,
    usb: bool,
    levels: u8,
    /// What the talker at the logger's listener says, in tenths of a knot.
    speed: Option<u16>,
    /// A host waits with its question until then.
    pull_due_ms: Option<i64>,
    /// The first record index that the host lacks.
    have: u32,
    power_cuts: u32,
    /// What the pulls so far brought, each from where the one before ended.
    pub pulls: Vec<Pulled>,
}

impl Simulation {
    /// A new logger whose power comes now, all lines off.
    ///
    /// # Errors
    /// The configuration cannot be written.
    pub fn new(start_ms: i64, options: &Options) -> Result<Simulation> {
        let mut config = Config::as_in_guide();
        config.heartbeat_s = options.geometry.heartbeat_s;
        config.warm_up_s = [options.warm_up_s, 0];
        let mut simulation = Simulation {
            rig: options.geometry.rig(&config, options.seed)?,
            device_id: options.device_id,
            random: fastrand::Rng::with_seed(options.seed),
            now_ms: start_ms,
            powered_ms: None,
            feed: true,
            usb: false,
            levels: 0,
            speed: None,
            pull_due_ms: None,
            have: 0,
            power_cuts: 0,
            pulls: Vec::new(),
        };
        simulation.power();
        Ok(simulation)
    }

    /// Runs a whole timeline, its last pull excepted: the caller pulls, by [`Simulation::pull`] or over a cable of its
    /// own. `watch` is told how far it has come.
    ///
    /// # Errors
    /// A fault in the firmware.
    pub fn run(lines: &Lines, options: &Options, watch: &mut dyn FnMut(i64)) -> Result<Simulation> {
        let mut simulation = Simulation::new(lines.start_ms(), options)?;
        let mut rows = lines.rows.as_slice();
        // A pull at the end is the final one.
        if let Some((Row { what: What::Pull, .. }, before)) = rows.split_last() {
            rows = before;
        }
        while let Some((row, mut after)) = rows.split_first() {
            watch(row.at_ms);
            simulation.advance(row.at_ms)?;
            match row.what {
                What::Power(on) => simulation.feed(on),
                What::Pull => simulation.plug_in(),
                What::Speed(speed) => simulation.set_speed(speed),
                What::Line { input, on } => {
                    let mut levels = with_level(simulation.levels, input, on);
                    // Lines that move at one instant are seen together.
                    while let Some((Row { at_ms, what: What::Line { input, on } }, more)) =
                        after.split_first()
                        && *at_ms == row.at_ms
                    {
                        levels = with_level(levels, *input, *on);
                        after = more;
                    }
                    simulation.set_levels(levels);
                }
            }
            rows = after;
        }
        simulation.advance(lines.end_ms())?;
        simulation.plug_in();
        if let Some(due_ms) = simulation.pull_due_ms.take() {
            simulation.go_to(due_ms);
        }
        watch(lines.end_ms());
        Ok(simulation)
    }

    /// The logger's own feed comes or goes.
    pub fn feed(&mut self, on: bool) {
        self.power_cuts += u32::from(self.feed && !on);
        self.feed = on;
        self.power();
    }

    /// The lines' levels, one bit an input.
    pub fn set_levels(&mut self, levels: u8) {
        self.reach();
        self.levels = levels;
        self.rig.set_levels(levels);
    }

    /// The talker at the logger's listener says this speed over ground from now on, in tenths of a knot; `None`: it falls silent.
    pub fn set_speed(&mut self, tenth_knots: Option<u16>) {
        self.reach();
        self.speed = tenth_knots;
        self.rig.set_speed(tenth_knots);
    }

    /// A host plugs in and asks as soon as the logger can answer.
    pub fn plug_in(&mut self) {
        self.usb = true;
        self.power();
        let powered_ms = self.powered_ms.unwrap_or(self.now_ms);
        self.pull_due_ms.get_or_insert(self.now_ms.max(powered_ms + READY_MS));
    }

    /// Time passes; a host that waits asks when it is its turn.
    ///
    /// # Errors
    /// A fault in the firmware.
    pub fn advance(&mut self, until_ms: i64) -> Result<()> {
        if let Some(due_ms) = self.pull_due_ms.filter(|due_ms| *due_ms <= until_ms) {
            self.pull_due_ms = None;
            self.go_to(due_ms);
            let pulled = self.pull(self.have)?;
            self.have = pulled.header.to;
            self.pulls.push(pulled);
            self.usb = false;
            self.power();
        }
        self.go_to(until_ms);
        Ok(())
    }

    /// Pulls now what a host lacks that has the records below `have`; 0 asks for everything.
    ///
    /// # Errors
    /// A fault in the firmware: it did not answer, or broke a rule of its flash.
    pub fn pull(&mut self, have: u32) -> Result<Pulled> {
        if let Some(violation) = self.rig.violation() {
            return Err(Error::input(
                format!("the firmware broke a rule of its flash: {violation}; no dump was written"),
                "This is a fault in Halfglass: please report it, with the lines.csv.",
            ));
        }
        self.reach();
        wire::pull(&mut *self.rig, self.now_ms, have)
    }

    /// Bytes come over a cable; answers are added to `answer`. The simulated clock stands still.
    pub fn receive(&mut self, bytes: &[u8], answer: &mut Vec<u8>) {
        self.reach();
        self.rig.receive(bytes, answer);
    }

    /// The instant that it has reached, in milliseconds since 1970, UTC.
    #[must_use]
    pub fn now_ms(&self) -> i64 {
        self.now_ms
    }

    /// How often the logger's own feed was cut.
    #[must_use]
    pub fn power_cuts(&self) -> u32 {
        self.power_cuts
    }

    /// The first record index that the pulls so far have not brought.
    #[must_use]
    pub fn have(&self) -> u32 {
        self.have
    }

    /// Erases of the flash page that was erased most often.
    #[must_use]
    pub fn erases_max(&mut self) -> u32 {
        self.rig.erases_max()
    }

    fn go_to(&mut self, until_ms: i64) {
        self.now_ms = self.now_ms.max(until_ms);
        // The instant itself is left to whatever happens in it: a power cut then cuts what the logger does.
        self.rig.run_until(self.own_ms().saturating_sub(1));
    }

    pub(super) fn rig(&mut self) -> &mut dyn Rig {
        &mut *self.rig
    }

    /// Lets the logger do what it does at this instant.
    pub(super) fn reach(&mut self) {
        self.rig.run_until(self.own_ms());
    }

    /// The logger's clock at this instant.
    fn own_ms(&self) -> u64 {
        self.powered_ms.and_then(|powered_ms| u64::try_from(self.now_ms - powered_ms).ok()).unwrap_or(0)
    }

    /// Brings the logger's power in line with what feeds it.
    fn power(&mut self) {
        match (self.feed || self.usb, self.powered_ms) {
            (true, None) => {
                self.powered_ms = Some(self.now_ms);
                let board = Board { usb_only: !self.feed, ..board(self.device_id) };
                self.rig.power_on(board, self.levels);
                self.rig.set_speed(self.speed);
            }
            (false, Some(_)) => {
                let cut = self.tear();
                self.rig.power_off(self.own_ms(), cut);
                self.powered_ms = None;
            }
            _ => {}
        }
    }

    fn tear(&mut self) -> Cut {
        let random = &mut self.random;
        Cut {
            at: 0,
            among_erases: false,
            word: random.choice(WORD_TEARS).unwrap_or(WORD_TEARS[0]),
            erase: random.choice(ERASE_TEARS).unwrap_or(ERASE_TEARS[0]),
            flicker: random.bool(),
        }
    }
}

fn with_level(levels: u8, input: u8, on: bool) -> u8 {
    let bit = 1u8.checked_shl(u32::from(input)).unwrap_or(0);
    if on { levels | bit } else { levels & !bit }
}
