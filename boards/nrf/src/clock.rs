//! Milliseconds since power-up, from TIMER0.
//!
//! The timer counts 31,250 times a second in 32 bits and comes round after 38 hours. It is read at
//! least every [`SLEEP_MAX_MS`], so every turn is seen, and a reading is never below the one before.

use crate::board::{CLOCK, Interrupt, TIMER0, interrupt};
use core::cell::Cell;
use cortex_m::peripheral::NVIC;
use critical_section::{CriticalSection, Mutex};

/// The longest sleep: the watchdog is fed at least this often.
pub const SLEEP_MAX_MS: u64 = 10_000;

/// The most that the chip may sleep through before the watchdog bites, in seconds.
pub const HANG_MAX_S: u32 = 32;

/// Capture register that takes the count when it is read.
const NOW: usize = 0;
/// Compare register that ends a sleep.
const WAKE: usize = 1;
/// A compare value this near may be passed before it takes effect.
const TICKS_MIN: u64 = 3;

static LAST_TICKS: Mutex<Cell<u64>> = Mutex::new(Cell::new(0));

fn timer() -> &'static crate::board::timer0::RegisterBlock {
    // SAFETY: the address is the chip's TIMER0; only this module touches it, always through shared references
    // to volatile registers, and NOW is only used inside critical sections.
    unsafe { &*TIMER0::ptr() }
}

/// Starts the crystal and the count.
pub fn start(clock: &CLOCK) {
    // The RC oscillator is off by up to 1 %, which would be 36 seconds an hour.
    clock.tasks_hfclkstart.write(|w| {
        // SAFETY: 1 triggers the task; it has no other meaning.
        unsafe { w.bits(1) }
    });
    let timer = timer();
    // SAFETY: values from the reference manual: 32 bits (3), 16 MHz / 2^9, task triggers, the WAKE compare event.
    unsafe {
        timer.bitmode.write(|w| w.bits(3));
        timer.prescaler.write(|w| w.bits(9));
        for compare in &timer.cc {
            // Far away: a compare value of 0 would match as the count starts.
            compare.write(|w| w.bits(u32::MAX));
        }
        timer.tasks_clear.write(|w| w.bits(1));
        timer.tasks_start.write(|w| w.bits(1));
        timer.intenset.write(|w| w.bits(1 << (16 + WAKE)));
    }
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::TIMER0) }
}

fn ticks(cs: CriticalSection) -> u64 {
    let timer = timer();
    timer.tasks_capture[NOW].write(|w| {
        // SAFETY: 1 triggers the capture; the critical section keeps others off the register.
        unsafe { w.bits(1) }
    });
    let low = timer.cc[NOW].read().bits();
    let last = LAST_TICKS.borrow(cs);
    let mut now = (last.get() & !u64::from(u32::MAX)) | u64::from(low);
    if now < last.get() {
        now += 1 << 32;
    }
    last.set(now);
    now
}

/// Milliseconds since [`start`].
pub fn now_ms() -> u64 {
    critical_section::with(now_ms_in)
}

/// The same where a critical section is at hand.
pub fn now_ms_in(cs: CriticalSection) -> u64 {
    // 31.25 counts make a millisecond.
    ticks(cs).saturating_mul(4) / 125
}

/// Sets the alarm that ends the next sleep, at most [`SLEEP_MAX_MS`] away. False: the instant is (almost) there,
/// do not sleep.
pub fn wake_at(at_ms: u64) -> bool {
    critical_section::with(|cs| {
        let at = at_ms.saturating_mul(125).div_ceil(4);
        timer().cc[WAKE].write(|w| {
            // SAFETY: any count is a valid compare value.
            unsafe { w.bits((at & u64::from(u32::MAX)) as u32) }
        });
        at > ticks(cs) + TICKS_MIN
    })
}

#[interrupt]
fn TIMER0() {
    let timer = timer();
    if let Some(event) = timer.events_compare.get(WAKE) {
        event.reset();
    }
    // Moved into the past, so that a timer which matches for as long as count and compare are equal does not hold the line.
    timer.cc[WAKE].modify(|was, w| {
        // SAFETY: any count is a valid compare value.
        unsafe { w.bits(was.bits().wrapping_sub(1)) }
    });
}
