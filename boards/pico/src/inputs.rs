//! Eight inputs, the button and the supply's warning. Every edge wakes the logger, and none is lost between two looks.
//!
//! The chip latches rising and falling edges of each pin in a bit of its own until they are cleared, also while interrupts are
//! held off. So what happens during a standstill of the flash is seen afterwards, line by line: that it moved, though not
//! when.

use crate::clock;
use core::cell::Cell;
use cortex_m::peripheral::NVIC;
use critical_section::{CriticalSection, Mutex};
use halfglass_firmware::ports::{Sample, Watched};
use halfglass_protocol::config::Config;
use rp2040_hal::pac::{IO_BANK0, Interrupt, PADS_BANK0, RESETS, SIO, interrupt, io_bank0, pads_bank0};

/// GPIO numbers of the inputs: the table in `boards/README.md`. 9 is where the ship's talker is heard.
const PINS: [u8; 8] = [2, 3, 4, 5, 6, 7, 8, 12];
/// The presence button, low while held.
const BUTTON: usize = 10;
/// High while the logger's feed is good; low is the warning that it fails.
const FEED: usize = 11;
/// High while there is power on the USB plug.
const USB_POWER: usize = 24;

/// CTRL: the processor's own pin (SIO).
const BY_PROCESSOR: u32 = 5;
/// Pad: input enabled, Schmitt trigger on, and which way it is pulled.
const PULL_DOWN: u32 = 1 << 6 | 1 << 2 | 1 << 1;
const PULL_UP: u32 = 1 << 6 | 1 << 3 | 1 << 1;
const PULL_NONE: u32 = 1 << 6 | 1 << 1;

/// The bits of a falling and a rising edge among the four that a pin has in a register for eight pins.
const FALLING: u32 = 0b0100;
const RISING: u32 = 0b1000;
const EDGES: u32 = FALLING | RISING;

/// An interrupt comes no later than this after its edge, unless the flash stands: then `latch` is told.
const LATE_MS: u64 = 1;

#[derive(Clone, Copy)]
struct Latched {
    /// Contacts that moved since the last look, and pulsed lines that left their resting level.
    moved: u8,
    /// When the first contact line moved since the last look, at the earliest.
    first_edge_ms: Option<u64>,
    /// The feed's warning has come.
    failing: bool,
    /// The button moved.
    button: bool,
    /// Inputs of contact lines: their edges wake the logger at once.
    contacts: u8,
    /// Inputs of pulsed lines: their pulses may wait a little.
    pulsed: u8,
    /// Inputs that rest high.
    pulled_up: u8,
}

static LATCHED: Mutex<Cell<Latched>> = Mutex::new(Cell::new(Latched {
    moved: 0,
    first_edge_ms: None,
    failing: false,
    button: false,
    contacts: 0,
    pulsed: 0,
    pulled_up: 0,
}));

fn io() -> &'static io_bank0::RegisterBlock {
    // SAFETY: the address is the chip's IO_BANK0; the pins of this module are touched nowhere else, and a pin's CTRL is a
    // register of its own.
    unsafe { &*IO_BANK0::ptr() }
}

fn pads() -> &'static pads_bank0::RegisterBlock {
    // SAFETY: as above.
    unsafe { &*PADS_BANK0::ptr() }
}

/// Levels of all pins.
fn pins() -> u32 {
    // SAFETY: a register that can only be read.
    unsafe { &*SIO::ptr() }.gpio_in().read().bits()
}

fn level(pin: usize) -> bool {
    pins() >> pin & 1 != 0
}

fn connect(pin: usize, pull: u32) {
    pads().gpio(pin).write(|w| {
        // SAFETY: an input with the given pull; every combination used here is defined.
        unsafe { w.bits(pull) }
    });
    io().gpio(pin).gpio_ctrl().write(|w| {
        // SAFETY: a defined function.
        unsafe { w.bits(BY_PROCESSOR) }
    });
}

fn pull(pulled_up: u8) {
    for (input, pin) in PINS.into_iter().enumerate() {
        let pull = if pulled_up >> input & 1 != 0 { PULL_UP } else { PULL_DOWN };
        connect(usize::from(pin), pull);
    }
}

/// Sets the pins up for `config`, pulled to their resting level: an open contact reads as off. Does nothing
/// when nothing changed.
pub(crate) fn configure(config: &Config) {
    let Watched { contacts, pulsed, pulled_up } = Watched::of(config);
    critical_section::with(|cs| {
        let cell = LATCHED.borrow(cs);
        let was = cell.get();
        if (was.contacts, was.pulsed, was.pulled_up) != (contacts, pulsed, pulled_up) {
            cell.set(Latched { contacts, pulsed, pulled_up, ..was });
            if was.pulled_up != pulled_up {
                pull(pulled_up);
            }
        }
    });
}

/// Connects the pins and lets their edges wake the processor.
pub(crate) fn start(resets: &RESETS) {
    resets.reset().modify(|_, w| w.io_bank0().set_bit().pads_bank0().set_bit());
    resets.reset().modify(|_, w| w.io_bank0().clear_bit().pads_bank0().clear_bit());
    while resets.reset_done().read().io_bank0().bit_is_clear()
        || resets.reset_done().read().pads_bank0().bit_is_clear()
    {}
    pull(0);
    connect(BUTTON, PULL_UP);
    connect(FEED, PULL_UP);
    connect(USB_POWER, PULL_NONE);
    critical_section::with(|cs| {
        // Found, not changed.
        latch(cs, 0);
        let cell = LATCHED.borrow(cs);
        cell.set(Latched { moved: 0, first_edge_ms: None, failing: false, button: false, ..cell.get() });
    });
    for pin in PINS.into_iter().map(usize::from).chain([BUTTON, FEED]) {
        io().proc0_inte(pin / 8).modify(|r, w| {
            // SAFETY: lets two kinds of edges of a pin through, and changes no other pin's.
            unsafe { w.bits(r.bits() | EDGES << (4 * (pin % 8))) }
        });
    }
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::IO_IRQ_BANK0) }
}

/// Notes what has moved since the last call. `at_ms`: the earliest instant at which it may have.
pub(crate) fn latch(cs: CriticalSection, at_ms: u64) {
    let mut all = 0u64;
    for half in 0..2 {
        let register = io().intr(half);
        let edges = register.read().bits() & (EDGES * 0x1111_1111);
        register.write(|w| {
            // SAFETY: writing an edge's bit back clears it; an edge that comes between the two is kept.
            unsafe { w.bits(edges) }
        });
        all |= u64::from(edges) << (32 * half);
    }
    if all == 0 {
        return;
    }
    let edges = |pin: usize| (all >> (4 * pin)) as u32 & EDGES;
    let cell = LATCHED.borrow(cs);
    let mut seen = cell.get();
    let (mut moved, mut pulses) = (0, 0);
    for (input, pin) in PINS.into_iter().enumerate() {
        let edges = edges(usize::from(pin));
        let away = if seen.pulled_up >> input & 1 != 0 { FALLING } else { RISING };
        moved |= u8::from(edges != 0) << input;
        pulses |= u8::from(edges & away != 0) << input;
    }
    // Of a pulse only its beginning: its end is none, or a lone one would pass for two.
    seen.moved |= moved & !seen.pulsed | pulses & seen.pulsed;
    if moved & seen.contacts != 0 && seen.first_edge_ms.is_none() {
        seen.first_edge_ms = Some(at_ms);
    }
    seen.button |= edges(BUTTON) != 0;
    seen.failing |= edges(FEED) & FALLING != 0;
    cell.set(seen);
}

/// One look at the inputs, for the logger, and whether the feed has warned since the last.
pub(crate) fn look() -> (Sample, bool) {
    critical_section::with(|cs| {
        let now_ms = clock::now_ms();
        latch(cs, now_ms.saturating_sub(LATE_MS));
        // Read after the latch was emptied: an edge from here on is latched again.
        let pins = pins();
        let levels =
            (0..).zip(PINS).fold(0, |levels, (input, pin)| levels | ((pins >> pin & 1) as u8) << input);
        let cell = LATCHED.borrow(cs);
        let seen = cell.get();
        cell.set(Latched { moved: 0, first_edge_ms: None, failing: false, button: false, ..seen });
        let held_until_ms = seen.first_edge_ms.unwrap_or(now_ms);
        (Sample { now_ms, held_until_ms, levels, pulses: seen.moved }, seen.failing)
    })
}

/// What came in since the last look.
pub(crate) struct Waiting {
    /// A contact line, the button or the feed moved: look now.
    pub(crate) edge: bool,
    /// A pulsed line pulsed: look soon.
    pub(crate) pulse: bool,
}

/// Says whether a look is wanted.
pub(crate) fn waiting() -> Waiting {
    critical_section::with(|cs| {
        let seen = LATCHED.borrow(cs).get();
        Waiting {
            edge: seen.first_edge_ms.is_some() || seen.failing || seen.button,
            pulse: seen.moved & seen.pulsed != 0,
        }
    })
}

/// The presence button is held now.
pub(crate) fn button() -> bool {
    !level(BUTTON)
}

/// The plug's power is all that there is.
pub(crate) fn usb_only() -> bool {
    level(USB_POWER) && !level(FEED)
}

#[interrupt]
fn IO_IRQ_BANK0() {
    critical_section::with(|cs| latch(cs, clock::now_ms().saturating_sub(LATE_MS)));
}
