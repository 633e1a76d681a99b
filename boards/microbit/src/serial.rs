//! The serial line to the host: 115,200 baud, eight bits, no parity, through the board's USB chip.
//!
//! Bytes come in by interrupt into a ring; answers go out one byte after the other, the longest in 23 ms.
//! While the flash is being erased the processor stands still and the chip keeps six bytes: a frame that loses some fails
//! its check and the host asks again.

use core::cell::Cell;
use cortex_m::peripheral::NVIC;
use critical_section::Mutex;
use halfglass_nrf::board::{Interrupt, UART0, interrupt, uart0};
use halfglass_nrf::clock;

/// GPIO numbers of the lines to the USB chip.
const TX: u32 = 24;
const RX: u32 = 25;
/// BAUDRATE for 115,200.
const BAUD_115200: u32 = 0x01D7_E000;
/// ENABLE: on.
const ON: u32 = 4;
/// A byte takes 87 us. One that has not left after this long never will.
const SEND_MS: u64 = 1_000;

/// Longer than any request, so that one may wait while a commit is written.
const RING_LEN: usize = 128;

/// Bytes received. Only touched in critical sections.
struct Ring {
    bytes: [Cell<u8>; RING_LEN],
    first: Cell<usize>,
    used: Cell<usize>,
}

static RING: Mutex<Ring> =
    Mutex::new(Ring { bytes: [const { Cell::new(0) }; RING_LEN], first: Cell::new(0), used: Cell::new(0) });

fn uart() -> &'static uart0::RegisterBlock {
    // SAFETY: the address is the chip's UART0, which only this module touches; the receiving registers are the
    // interrupt's, the sending ones `send`'s.
    unsafe { &*UART0::ptr() }
}

/// Opens the line.
pub(crate) fn start() {
    let uart = uart();
    // SAFETY: pin numbers and values from the reference manual; 1 triggers a task.
    unsafe {
        uart.pseltxd.write(|w| w.bits(TX));
        uart.pselrxd.write(|w| w.bits(RX));
        uart.baudrate.write(|w| w.bits(BAUD_115200));
        uart.enable.write(|w| w.bits(ON));
        uart.tasks_starttx.write(|w| w.bits(1));
        uart.tasks_startrx.write(|w| w.bits(1));
    }
    uart.intenset.write(|w| w.rxdrdy().set_bit().error().set_bit());
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::UART0) }
}

/// The next byte from the host, if one has come.
pub(crate) fn receive() -> Option<u8> {
    critical_section::with(|cs| {
        let ring = RING.borrow(cs);
        let used = ring.used.get().checked_sub(1)?;
        let first = ring.first.get();
        let byte = ring.bytes.get(first)?.get();
        ring.first.set((first + 1) % RING_LEN);
        ring.used.set(used);
        Some(byte)
    })
}

/// A byte has come.
pub(crate) fn waiting() -> bool {
    critical_section::with(|cs| RING.borrow(cs).used.get() != 0)
}

/// Sends `bytes`. Gives up on a line that does not take them: the host asks again.
pub(crate) fn send(bytes: &[u8]) {
    let uart = uart();
    for byte in bytes {
        uart.events_txdrdy.reset();
        uart.txd.write(|w| {
            // SAFETY: any byte may be sent.
            unsafe { w.bits(u32::from(*byte)) }
        });
        let from_ms = clock::now_ms();
        while uart.events_txdrdy.read().bits() == 0 {
            if clock::now_ms() > from_ms + SEND_MS {
                return;
            }
        }
    }
}

#[interrupt]
fn UART0() {
    let uart = uart();
    if uart.events_error.read().bits() != 0 {
        uart.events_error.reset();
        // Writing the bits back clears them. What was lost shows in the frame's check.
        let errors = uart.errorsrc.read().bits();
        uart.errorsrc.write(|w| {
            // SAFETY: bits just read from the same register.
            unsafe { w.bits(errors) }
        });
    }
    while uart.events_rxdrdy.read().bits() != 0 {
        // Cleared before the byte is taken: the next byte raises it again.
        uart.events_rxdrdy.reset();
        let byte = (uart.rxd.read().bits() & 0xFF) as u8;
        critical_section::with(|cs| {
            let ring = RING.borrow(cs);
            let (first, used) = (ring.first.get(), ring.used.get());
            if used < RING_LEN
                && let Some(slot) = ring.bytes.get((first + used) % RING_LEN)
            {
                slot.set(byte);
                ring.used.set(used + 1);
            }
        });
    }
}
