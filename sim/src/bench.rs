//! The real firmware on simulated flash, lines and clock. Idle time is skipped: the logger says when it wants to be
//! woken, and nothing happens in between.

use embedded_storage::nor_flash::NorFlash;
use halfglass_firmware::ports::{Board, Layout, Region, Sample};
use halfglass_firmware::sentence::Listener;
use halfglass_firmware::{Link, Logger};
use halfglass_protocol::record::Cause;

/// The flash map of the first board: 64 pages of 1 KiB for totals, 62 of 2 KiB for history, 2 of 1 KiB for
/// the configuration, here from address 0.
pub const LAYOUT: Layout = Layout {
    journal: Region { start: 0, page_len: 1_024, pages: 64 },
    history: Region { start: 64 * 1_024, page_len: 2_048, pages: 62 },
    config: Region { start: 188 * 1_024, page_len: 1_024, pages: 2 },
};

/// Pages of 1 KiB that [`LAYOUT`] takes.
pub const LAYOUT_PAGES: usize = 190;

/// A board under power: the logger, its levels, its clock.
pub struct Powered<F: NorFlash, const L: usize> {
    /// The firmware.
    pub logger: Logger<F, L>,
    link: Link,
    levels: u8,
    /// Milliseconds between the pulses of lines that carry alternating current now, and when it came on.
    pulses: [Option<(f64, u64)>; 8],
    looked_ms: u64,
    now_ms: u64,
    /// The listener, once a talker has been heard; what it says of the speed over ground, and when it says so next.
    listener: Option<Box<Listener>>,
    speed_tenth_knots: Option<u16>,
    say_ms: u64,
}

/// How often the talker says the speed. A real one does each second; the listener asks for no more than one in two minutes.
const SAY_EVERY_MS: u64 = 60_000;

/// What a board says of itself when nothing special is meant.
#[must_use]
pub fn board(device_id: u64) -> Board {
    Board { device_id, cause: Cause::Power, usb_only: false, faults: 0, debounce_min_ms: 0, hold_min_ms: 0 }
}

impl<F: NorFlash, const L: usize> Powered<F, L> {
    /// Power comes, with these levels on the inputs.
    pub fn on(flash: F, layout: Layout, board: Board, levels: u8) -> Self {
        let logger = Logger::start(flash, layout, board, 0);
        let mut powered = Self {
            logger,
            link: Link::new(),
            levels,
            pulses: [None; 8],
            looked_ms: 0,
            now_ms: 0,
            listener: None,
            speed_tenth_knots: None,
            say_ms: 0,
        };
        powered.look();
        powered
    }

    /// Milliseconds since power came.
    pub fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// The board looks at its inputs, as it does at every edge and byte and whenever the logger wants.
    pub fn look(&mut self) {
        let mut pulses = 0;
        for (line, pulsing) in self.pulses.iter().enumerate() {
            if let Some((period_ms, since_ms)) = *pulsing {
                // Pulses stand at whole periods after the current came on.
                let count = |at_ms: u64| (at_ms.saturating_sub(since_ms) as f64 / period_ms) as u64;
                if count(self.now_ms) > count(self.looked_ms) {
                    pulses |= 1 << line;
                }
            }
        }
        self.looked_ms = self.now_ms;
        let sample = Sample { now_ms: self.now_ms, held_until_ms: self.now_ms, levels: self.levels, pulses };
        self.logger.sample(sample);
        if let Some(listener) = &mut self.listener {
            listener.wait(&mut self.logger, self.now_ms);
        }
    }

    /// The talker at the listener says this speed over ground from now on, in tenths of a knot; `None`: it falls silent.
    pub fn set_speed(&mut self, tenth_knots: Option<u16>) {
        self.speed_tenth_knots = tenth_knots;
        self.say_ms = self.now_ms;
    }

    /// The talker says the speed.
    fn say(&mut self, tenth_knots: u16) {
        let said = format!("GPVTG,,T,,M,{}.{},N,,K,A", tenth_knots / 10, tenth_knots % 10);
        let sum = said.bytes().fold(0, |sum, byte| sum ^ byte);
        let listener = self.listener.get_or_insert_default();
        for byte in format!("${said}*{sum:02X}\r\n").bytes() {
            listener.hear(&mut self.logger, byte, self.now_ms, self.now_ms);
        }
    }

    /// Current comes on or goes off on a pulsed line. `period_ms`: between two pulses, for instance 10 ms behind a
    /// full-wave opto at 50 Hz. The first pulse wakes the logger, as an edge interrupt would.
    pub fn set_pulses(&mut self, line: usize, period_ms: Option<f64>) {
        self.pulses[line] = period_ms.map(|period_ms| (period_ms, self.now_ms));
        if let Some(period_ms) = period_ms {
            self.run_until(self.now_ms + period_ms.ceil() as u64);
            self.look();
        }
    }

    /// Lets time pass until `until_ms`, waking the logger when it wants.
    pub fn run_until(&mut self, until_ms: u64) {
        loop {
            let wake_ms = self.logger.next_wake_ms();
            let speed = self.speed_tenth_knots.filter(|_| self.say_ms <= wake_ms);
            let next_ms = speed.map_or(wake_ms, |_| self.say_ms);
            if next_ms > until_ms {
                break;
            }
            self.now_ms = next_ms.max(self.now_ms);
            match speed {
                Some(tenth_knots) => {
                    self.say(tenth_knots);
                    self.say_ms = self.now_ms + SAY_EVERY_MS;
                }
                None => self.look(),
            }
        }
        self.now_ms = until_ms.max(self.now_ms);
    }

    /// The levels change now.
    pub fn set_levels(&mut self, levels: u8) {
        if levels != self.levels {
            self.levels = levels;
            self.look();
        }
    }

    /// Bytes from the host; what comes back is added to `answer`.
    pub fn receive(&mut self, bytes: &[u8], button: bool, answer: &mut Vec<u8>) {
        self.look();
        for byte in bytes {
            if let Some(frame) = self.logger.receive(&mut self.link, *byte, self.now_ms, button) {
                answer.extend_from_slice(frame);
            }
        }
    }
}
