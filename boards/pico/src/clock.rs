//! Milliseconds since power-up, from the chip's 64-bit count of microseconds.
//!
//! The count comes from the 12 MHz crystal and would come round after half a million years. It stops for nothing but
//! a reset, and no erase holds it up.

use cortex_m::peripheral::NVIC;
use rp2040_hal::pac::{Interrupt, RESETS, TIMER, interrupt, timer};

/// The longest sleep: the watchdog is fed at least this often.
pub(crate) const SLEEP_MAX_MS: u64 = 4_000;

/// Alarm 0, in every register that has a bit for each alarm.
const ALARM: u32 = 1;
/// An alarm this near may be passed before it is set.
const NEAR_US: u64 = 20;

fn timer() -> &'static timer::RegisterBlock {
    // SAFETY: the address is the chip's TIMER; only this module touches it, always through shared references to
    // volatile registers.
    unsafe { &*TIMER::ptr() }
}

/// Starts the count, at 0. The tick generator must be running.
pub(crate) fn start(resets: &RESETS) {
    resets.reset().modify(|_, w| w.timer().set_bit());
    resets.reset().modify(|_, w| w.timer().clear_bit());
    while resets.reset_done().read().timer().bit_is_clear() {}
    timer().inte().write(|w| {
        // SAFETY: enables alarm 0 and nothing else.
        unsafe { w.bits(ALARM) }
    });
    // SAFETY: the handler below is in place and needs nothing else.
    unsafe { NVIC::unmask(Interrupt::TIMER_IRQ_0) }
}

/// Microseconds since [`start`]. May be read in any context: these registers latch nothing.
pub(crate) fn now_us() -> u64 {
    let timer = timer();
    loop {
        let high = timer.timerawh().read().bits();
        let low = timer.timerawl().read().bits();
        if timer.timerawh().read().bits() == high {
            return u64::from(high) << 32 | u64::from(low);
        }
    }
}

/// Milliseconds since [`start`].
pub(crate) fn now_ms() -> u64 {
    now_us() / 1_000
}

/// Sets the alarm that ends the next sleep, at most [`SLEEP_MAX_MS`] away. False: the instant is (almost) there, do not
/// sleep.
pub(crate) fn wake_at(at_ms: u64) -> bool {
    let at_us = at_ms.saturating_mul(1_000);
    timer().alarm0().write(|w| {
        // SAFETY: any count is a valid alarm; the alarm compares the lower half only, and an hour is less.
        unsafe { w.bits((at_us & u64::from(u32::MAX)) as u32) }
    });
    at_us > now_us().saturating_add(NEAR_US)
}

#[interrupt]
fn TIMER_IRQ_0() {
    timer().intr().write(|w| {
        // SAFETY: writing the alarm's bit back clears it.
        unsafe { w.bits(ALARM) }
    });
}
