//! The chip's watchdog. It runs on while the processor sleeps and cannot be stopped once started.

use crate::board::WDT;
use crate::clock::HANG_MAX_S;

/// What RR wants to hear.
const FEED: u32 = 0x6E52_4635;
/// Counts a second.
const HZ: u32 = 32_768;

/// The running watchdog.
pub struct Watchdog(WDT);

impl Watchdog {
    /// Starts it.
    pub fn start(wdt: WDT) -> Self {
        // SAFETY: values from the reference manual: run in sleep (bit 0), pause under a debugger; one reload register.
        unsafe {
            wdt.config.write(|w| w.bits(1));
            wdt.crv.write(|w| w.bits(HANG_MAX_S * HZ));
            wdt.rren.write(|w| w.bits(1));
            wdt.tasks_start.write(|w| w.bits(1));
        }
        Self(wdt)
    }

    /// Puts it off.
    pub fn feed(&mut self) {
        if let Some(reload) = self.0.rr.first() {
            reload.write(|w| {
                // SAFETY: the one value that the register takes.
                unsafe { w.bits(FEED) }
            });
        }
    }
}
