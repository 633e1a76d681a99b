//! What outlives the power: flash, and the truth.

use super::desk::TICKS_PER_TENTH;
use super::image::Image;
use halfglass_protocol::LINES_MAX;

/// A logger's flash and how long each of its lines was truly on.
#[derive(Clone, Debug)]
pub struct Life {
    /// Its number.
    pub device_id: u64,
    /// Its flash.
    pub image: Image,
    /// True on-time of each line, in ticks of the truth clock.
    pub on_ticks: [u64; LINES_MAX],
    /// True time under power, in ticks.
    pub powered_ticks: u64,
    /// How often each line went on, or was on at power-up.
    pub starts: [u32; LINES_MAX],
    /// Power cuts.
    pub cuts: u32,
}

impl Life {
    /// A new board.
    #[must_use]
    pub fn new(device_id: u64) -> Life {
        Life {
            device_id,
            image: Image::blank(),
            on_ticks: [0; LINES_MAX],
            powered_ticks: 0,
            starts: [0; LINES_MAX],
            cuts: 0,
        }
    }

    /// True on-time of a line in tenths, rounded down.
    #[must_use]
    pub fn on_tenths(&self, line: usize) -> u64 {
        self.on_ticks[line] / TICKS_PER_TENTH
    }
}
