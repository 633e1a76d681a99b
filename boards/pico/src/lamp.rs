//! The lamp: the Pico's own, on GPIO 25.
//!
//! | lamp | means |
//! |---|---|
//! | on | the first seconds: the supply is not trusted yet, nothing is written |
//! | a blink every four seconds | the logger runs |
//! | on and off every quarter second | the board has no number of its own: nothing is logged |
//! | dark | no power, or the logger does not run |

use rp2040_hal::pac::{IO_BANK0, PADS_BANK0, SIO};

const PIN: usize = 25;
/// CTRL: the processor's own pin (SIO).
const BY_PROCESSOR: u32 = 5;
/// Pad: 4 mA, as after a reset, and no pull.
const OUTPUT: u32 = 1 << 4;

/// From blink to blink, and how long one is.
const EVERY_MS: u64 = 4_000;
const BLINK_MS: u64 = 20;
/// Half a period of the sign for a board without a number.
const NUMBERLESS_MS: u64 = 250;

/// Makes the pin an output, lit.
pub(crate) fn start() {
    light(true);
    // SAFETY: registers of this pin alone, and a bit of a register that sets bits one by one; all values are defined.
    unsafe {
        (*SIO::ptr()).gpio_oe_set().write(|w| w.bits(1 << PIN));
        (*PADS_BANK0::ptr()).gpio(PIN).write(|w| w.bits(OUTPUT));
        (*IO_BANK0::ptr()).gpio(PIN).gpio_ctrl().write(|w| w.bits(BY_PROCESSOR));
    }
}

fn light(on: bool) {
    // SAFETY: registers that set or clear the bits written as ones and leave the others.
    unsafe {
        let sio = &*SIO::ptr();
        if on {
            sio.gpio_out_set().write(|w| w.bits(1 << PIN));
        } else {
            sio.gpio_out_clr().write(|w| w.bits(1 << PIN));
        }
    }
}

/// Shows that the logger runs. The instant at which it wants to be shown again.
pub(crate) fn show_running(now_ms: u64) -> u64 {
    let phase_ms = now_ms % EVERY_MS;
    light(phase_ms < BLINK_MS);
    now_ms - phase_ms + if phase_ms < BLINK_MS { BLINK_MS } else { EVERY_MS }
}

/// Shows that the board has no number. The instant at which it wants to be shown again.
pub(crate) fn show_numberless(now_ms: u64) -> u64 {
    let turn = now_ms / NUMBERLESS_MS;
    light(turn.is_multiple_of(2));
    (turn + 1) * NUMBERLESS_MS
}
