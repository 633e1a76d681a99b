//! A board between the wire and the firmware. One latches by interrupt and then looks: at once when a contact moves, 50 ms after
//! the last look at the latest when a pulse begins, as the boards do. The other only samples.

use super::signal::Move;
use halfglass_firmware::Logger;
use halfglass_firmware::ports::Sample;
use halfglass_protocol::config::{Config, Kind, Line, Role};
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use std::iter::Peekable;

/// The flash of the first board.
pub type Chip = Flash<4, 1_024>;

/// Pulses wait at most so long for a look: `PULSE_LATE_MS` of the boards.
pub const PULSE_LATE_US: u64 = 50_000;

/// How a board sees its inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Every move of a contact is latched, and every beginning of a pulse.
    Latched,
    /// The level is read at these intervals, and nothing is known of what it did in between.
    Sampled {
        /// In microseconds.
        every_us: u64,
    },
}

/// A board under power, with one line.
pub struct Watching {
    logger: Logger<Chip, 8>,
    way: Way,
    pulsed: bool,
    now_us: u64,
    looked_us: u64,
    high: bool,
    /// The level at the last look.
    seen: bool,
    /// The first move since the last look.
    moved_us: Option<u64>,
}

/// One line in the role whose runs are kept one by one, nothing else.
fn config(kind: Kind) -> Config {
    let mut config = Config::as_in_guide();
    config.lines = [Line::UNUSED; 8];
    config.lines[0] = Line { kind, ..Line::contact(Role::Supply) };
    config
}

impl Watching {
    /// Power comes to a new logger, with its line at rest.
    ///
    /// # Panics
    /// The configuration is at fault.
    #[must_use]
    pub fn new(kind: Kind, way: Way) -> Self {
        let mut flash = Chip::new(LAYOUT_PAGES, 1);
        halfglass_firmware::provision(&mut flash, &LAYOUT, &config(kind)).expect("a good configuration");
        let mut watching = Self {
            logger: Logger::start(flash, LAYOUT, board(1), 0),
            way,
            pulsed: matches!(kind, Kind::Pulsed { .. }),
            now_us: 0,
            looked_us: 0,
            high: false,
            seen: false,
            moved_us: None,
        };
        watching.look();
        watching
    }

    /// Time passes until `until_us`. Moves up to then are taken off `moves`; they are in order, and none is before now.
    pub fn run_until(&mut self, until_us: u64, moves: &mut Peekable<impl Iterator<Item = Move>>) {
        loop {
            let wake_us = self.wake_us();
            if let Some(next) = moves.next_if(|next| next.at_us <= wake_us.min(until_us)) {
                self.now_us = next.at_us.max(self.now_us);
                self.high = next.high;
                // A pulse's end is no pulse: a lone one must not pass for two.
                if next.high || !self.pulsed {
                    self.moved_us.get_or_insert(self.now_us);
                }
            } else if wake_us <= until_us {
                self.now_us = wake_us.max(self.now_us);
                self.look();
            } else {
                break;
            }
        }
        self.now_us = until_us.max(self.now_us);
    }

    fn wake_us(&self) -> u64 {
        let asked_us = self.logger.next_wake_ms() * 1_000;
        match (self.way, self.moved_us) {
            (Way::Sampled { every_us }, _) => self.looked_us + every_us,
            (Way::Latched, None) => asked_us,
            (Way::Latched, Some(_)) if self.pulsed => asked_us.min(self.looked_us + PULSE_LATE_US),
            (Way::Latched, Some(moved_us)) => moved_us,
        }
    }

    fn look(&mut self) {
        let sampled = matches!(self.way, Way::Sampled { .. });
        let moved = if sampled { self.high != self.seen } else { self.moved_us.is_some() };
        let held_until_us = if sampled { self.looked_us } else { self.moved_us.unwrap_or(self.now_us) };
        self.logger.sample(Sample {
            now_ms: self.now_us / 1_000,
            held_until_ms: held_until_us / 1_000,
            levels: u8::from(self.high),
            // The board's latch does not tell contacts apart.
            pulses: u8::from(moved && self.pulsed),
        });
        self.looked_us = self.now_us;
        self.seen = self.high;
        self.moved_us = None;
    }

    /// The line's total as it would be shown now, in microseconds.
    #[must_use]
    pub fn total_us(&self) -> u64 {
        self.logger.totals().on_tenths[0] * 100_000
    }

    /// The line's starts.
    #[must_use]
    pub fn starts(&self) -> u32 {
        self.logger.totals().starts[0]
    }

    /// The line's total if power went now and came back, in microseconds.
    #[must_use]
    pub fn recovered_us(&mut self) -> u64 {
        let flash = Chip::from_image(self.logger.flash().image(), 1);
        again(flash).logger.totals().on_tenths[0] * 100_000
    }

    /// Power goes and comes back: the board as a host may ask it.
    ///
    /// # Panics
    /// The firmware broke a rule of its flash.
    #[must_use]
    pub fn into_next_session(self) -> Powered<Chip, 8> {
        let flash = self.logger.into_flash();
        assert_eq!(flash.violations, []);
        again(flash)
    }
}

fn again(flash: Chip) -> Powered<Chip, 8> {
    let mut powered = Powered::on(flash, LAYOUT, board(1), 0);
    // Nothing is recovered before the supply has been good for 2 s.
    powered.run_until(3_000);
    powered.look();
    powered
}
