//! Eight inputs and the button. Every edge wakes the logger, and none is lost between two looks.
//!
//! Each pin is told to sense the level that it does *not* have; when one gets there, the chip raises its
//! port event and [`latch`] notes what changed and when, and turns that pin's sense round. A pin that has
//! turned back meanwhile is seen by reading again. The emulator has no port event: there the tests raise the interrupt,
//! which is why the handler never asks whether the event was set.

use crate::board::{BUTTON, GPIO, GPIOTE, Interrupt, PINS, interrupt};
use crate::clock;
use core::cell::Cell;
use cortex_m::peripheral::NVIC;
use critical_section::{CriticalSection, Mutex};
use halfglass_firmware::ports::{Sample, Watched};
use halfglass_protocol::config::Config;

/// PIN_CNF fields: pull resistor and sensed level. Direction input and a connected buffer are 0.
const PULL_DOWN: u32 = 1 << 2;
const PULL_UP: u32 = 3 << 2;
const SENSE_HIGH: u32 = 2 << 16;
const SENSE_LOW: u32 = 3 << 16;

/// How often the pins are read again while they keep changing; after that the interrupt is raised anew.
const SETTLE_READS: u8 = 4;

#[derive(Clone, Copy)]
struct Latched {
    /// Raw levels as last read: what each pin's sense is the opposite of.
    levels: u8,
    /// Inputs that left their resting level since the last look.
    pulses: u8,
    /// When the first contact line changed since the last look.
    first_edge_ms: Option<u64>,
    /// When the pins were last looked at.
    looked_ms: u64,
    /// Inputs of contact lines: their edges wake the logger at once.
    contacts: u8,
    /// Inputs of pulsed lines: their pulses may wait a little.
    pulsed: u8,
    /// Inputs that rest high.
    pulled_up: u8,
}

static LATCHED: Mutex<Cell<Latched>> = Mutex::new(Cell::new(Latched {
    levels: 0,
    pulses: 0,
    first_edge_ms: None,
    looked_ms: 0,
    contacts: 0,
    pulsed: 0,
    pulled_up: 0,
}));

fn gpio() -> &'static crate::board::gpio::RegisterBlock {
    // SAFETY: the address is the chip's GPIO; the pins of this module are touched nowhere else, and PIN_CNF of each
    // pin is a register of its own.
    unsafe { &*GPIO::ptr() }
}

fn gpiote() -> &'static crate::board::gpiote::RegisterBlock {
    // SAFETY: the address is the chip's GPIOTE; only this module touches it.
    unsafe { &*GPIOTE::ptr() }
}

fn pin(number: usize, bits: u32) {
    if let Some(register) = gpio().pin_cnf.get(number) {
        register.write(|w| {
            // SAFETY: an input with the given pull and sense; every combination used here is defined.
            unsafe { w.bits(bits) }
        });
    }
}

fn read() -> u8 {
    let all = gpio().in_.read().bits();
    let mut levels = 0;
    for (input, number) in PINS.iter().enumerate() {
        levels |= (((all >> number) & 1) as u8) << input;
    }
    levels
}

/// Makes each input of `inputs` sense the opposite of its level in `levels`.
fn sense(inputs: u8, levels: u8, pulled_up: u8) {
    for (input, number) in PINS.iter().enumerate() {
        if inputs >> input & 1 != 0 {
            let pull = if pulled_up >> input & 1 != 0 { PULL_UP } else { PULL_DOWN };
            let sense = if levels >> input & 1 != 0 { SENSE_LOW } else { SENSE_HIGH };
            pin(usize::from(*number), pull | sense);
        }
    }
}

/// Sets the pins up for `config`, pulled to their resting level: an open contact reads as off. Does nothing
/// when nothing changed.
pub fn configure(config: &Config) {
    let Watched { contacts, pulsed, pulled_up } = Watched::of(config);
    critical_section::with(|cs| {
        let cell = LATCHED.borrow(cs);
        let was = cell.get();
        if (was.contacts, was.pulsed, was.pulled_up) != (contacts, pulsed, pulled_up) {
            cell.set(Latched { contacts, pulsed, pulled_up, ..was });
            sense(u8::MAX, was.levels, pulled_up);
        }
    });
}

/// Connects the pins and lets their edges wake the processor.
pub fn start() {
    pin(BUTTON, PULL_UP);
    critical_section::with(|cs| {
        sense(u8::MAX, 0, 0);
        latch(cs, clock::now_ms_in(cs));
        // Found, not changed.
        let cell = LATCHED.borrow(cs);
        cell.set(Latched { pulses: 0, first_edge_ms: None, ..cell.get() });
    });
    gpiote().intenset.write(|w| w.port().set_bit());
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::GPIOTE) }
}

/// Notes what has changed since the last call. `at_ms`: the earliest instant at which it may have.
pub fn latch(cs: CriticalSection, at_ms: u64) {
    let cell = LATCHED.borrow(cs);
    let mut seen = cell.get();
    // Cleared before the pins are read: an edge after the reading raises it again.
    gpiote().events_port.reset();
    for turn in 0..SETTLE_READS {
        let levels = read();
        let changed = levels ^ seen.levels;
        if changed == 0 {
            break;
        }
        seen.levels = levels;
        // Away from rest only: the end of a pulse is no pulse, or a lone one would pass for two.
        seen.pulses |= changed & (levels ^ seen.pulled_up);
        if changed & seen.contacts != 0 && seen.first_edge_ms.is_none() {
            seen.first_edge_ms = Some(at_ms);
        }
        sense(changed, levels, seen.pulled_up);
        if turn + 1 == SETTLE_READS {
            NVIC::pend(Interrupt::GPIOTE);
        }
    }
    cell.set(seen);
}

/// One look at the inputs, for the logger.
pub fn look() -> Sample {
    critical_section::with(|cs| {
        let now_ms = clock::now_ms_in(cs);
        let cell = LATCHED.borrow(cs);
        // A change that raised no interrupt came at some time since the last look.
        let at_ms = if NVIC::is_pending(Interrupt::GPIOTE) { now_ms } else { cell.get().looked_ms };
        latch(cs, at_ms);
        let seen = cell.get();
        cell.set(Latched { pulses: 0, first_edge_ms: None, looked_ms: now_ms, ..seen });
        Sample {
            now_ms,
            held_until_ms: seen.first_edge_ms.unwrap_or(now_ms),
            levels: seen.levels,
            pulses: seen.pulses & seen.pulsed,
        }
    })
}

/// What came in since the last look.
pub struct Waiting {
    /// A contact line changed: look now.
    pub edge: bool,
    /// A pulsed line pulsed: look soon.
    pub pulse: bool,
}

/// Says whether a look is wanted.
pub fn waiting() -> Waiting {
    critical_section::with(|cs| {
        let seen = LATCHED.borrow(cs).get();
        Waiting { edge: seen.first_edge_ms.is_some(), pulse: seen.pulses & seen.pulsed != 0 }
    })
}

/// The presence button is held now.
pub fn button() -> bool {
    gpio().in_.read().bits() >> BUTTON & 1 == 0
}

#[interrupt]
fn GPIOTE() {
    critical_section::with(|cs| latch(cs, clock::now_ms_in(cs)));
}
