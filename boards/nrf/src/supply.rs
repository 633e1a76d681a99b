//! The warning before the supply fails: below 2.7 V there is still time for one commit.
//!
//! The emulator lacks the comparator. As with the inputs, the handler does not ask whether the event was set, so that a
//! test can raise the interrupt.

use crate::board::{Interrupt, POWER, interrupt};
use core::cell::Cell;
use cortex_m::peripheral::NVIC;
use critical_section::Mutex;

static FAILING: Mutex<Cell<bool>> = Mutex::new(Cell::new(false));

/// Turns the comparator on.
pub fn start(power: &POWER) {
    power.pofcon.write(|w| w.threshold().v27().pof().set_bit());
    power.intenset.write(|w| w.pofwarn().set_bit());
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::POWER_CLOCK) }
}

/// A warning has come since the last call.
pub fn failing() -> bool {
    critical_section::with(|cs| FAILING.borrow(cs).replace(false))
}

/// A warning waits to be taken.
pub fn waiting() -> bool {
    critical_section::with(|cs| FAILING.borrow(cs).get())
}

#[interrupt]
fn POWER_CLOCK() {
    // SAFETY: only clears the event, in one store.
    unsafe { &*POWER::ptr() }.events_pofwarn.reset();
    critical_section::with(|cs| FAILING.borrow(cs).set(true));
}
