//! The two serial lines: the service port on UART0, and the ear for the ship's time on UART1, which never speaks.
//!
//! Both receive into the chip's FIFO of 32 bytes. It raises an interrupt at four of them, or when some wait and none has come for
//! 32 bit times; the interrupt stamps what is there and puts it into an inbox, from which the loop takes it. What the chip or
//! the inbox loses leaves noise in its place, which costs the sentence or frame that it falls into.
//!
//! # How late a stamp may be
//!
//! The time of a sentence counts from its `$`. An anchor has a tenth to spare for a stamp that is late: its instant is rounded
//! *down* to a tenth, and the tenth that it allows for that reaches to both sides ([`halfglass_firmware::Logger::anchor`]). At 4800
//! baud a byte takes 2.1 ms and 32 bit times 6.7 ms, so a `$` waits for its interrupt while three more bytes come, 8.8 ms apart
//! at most: 27 ms. Other interrupts and critical sections take microseconds. A word that is programmed takes 3 ms at most, and most
//! erases less than [`STOOD_MAX_MS`]; together that is less than a tenth. After a longer standstill what waits in the FIFO is
//! thrown away, and the sentence that it falls into with it: the chip runs over by itself after 67 ms, but not where the talker
//! pauses behind its `$`. Bytes that were stamped before keep their stamps, however late the loop comes round to them.

use crate::clock;
use core::sync::atomic::{AtomicBool, Ordering};
use cortex_m::peripheral::NVIC;
use halfglass_firmware::inbox::Inbox;
use rp2040_hal::pac::{IO_BANK0, Interrupt, PADS_BANK0, RESETS, UART0, UART1, interrupt, uart0};

/// See the table in `boards/README.md`.
const SERVICE_TX: usize = 0;
const SERVICE_RX: usize = 1;
const SHIP_RX: usize = 9;

const SERVICE_BAUD: u32 = 115_200;

/// What a talker of IEC 61162-1 speaks; one of IEC 61162-2 speaks eight times as fast: `HALFGLASS_SHIP_BAUD=38400 cargo xtask uf2 pico`.
const SHIP_BAUD: u32 = match option_env!("HALFGLASS_SHIP_BAUD") {
    None => 4_800,
    Some(text) => match u32::from_str_radix(text, 10) {
        Ok(baud @ (4_800 | 38_400)) => baud,
        _ => panic!("HALFGLASS_SHIP_BAUD is 4800 or 38400"),
    },
};

/// After a longer standstill the ship's bytes in the FIFO are stamped too late.
const STOOD_MAX_MS: u64 = 50;

/// CTRL: a UART's pin.
const BY_UART: u32 = 2;
/// Pads: input with Schmitt trigger, pulled up, as a line rests that nothing is wired to; output of 4 mA.
const INPUT: u32 = 1 << 6 | 1 << 3 | 1 << 1;
const OUTPUT: u32 = 1 << 4;

/// LCR_H: eight bits, no parity, one stop bit, FIFOs on.
const FORMAT: u32 = 0b11 << 5 | 1 << 4;
/// IFLS: receiving from four bytes on, sending from sixteen down.
const LEVELS: u32 = 0b010;
/// IMSC: four bytes are there; some are there and no more come.
const RECEIVING: u32 = 1 << 4 | 1 << 6;
/// CR: on, both ways.
const ON: u32 = 1 << 9 | 1 << 8 | 1;
/// DR: framing, parity, break, overrun.
const ERRORS: u32 = 0xF00;

/// A line's bytes, longer than any request and any sentence.
struct Line {
    inbox: Inbox<128>,
    /// The loop is wanted.
    waiting: AtomicBool,
}

impl Line {
    const fn new() -> Self {
        Self { inbox: Inbox::new(), waiting: AtomicBool::new(false) }
    }

    fn take(&self) -> Option<(u8, u64)> {
        self.inbox.take(clock::now_ms())
    }
}

static SERVICE: Line = Line::new();
static SHIP: Line = Line::new();

/// Of its registers, DR (reading), RSR and FR are the interrupt's, but for [`stood`] with interrupts held off; those for sending are
/// `service`'s.
pub(crate) fn service() -> &'static uart0::RegisterBlock {
    // SAFETY: the address is the chip's UART0, always touched through shared references to volatile registers.
    unsafe { &*UART0::ptr() }
}

fn ship() -> &'static uart0::RegisterBlock {
    // SAFETY: as above, UART1.
    unsafe { &*UART1::ptr() }
}

/// Opens both lines. The pins' own registers must be out of their reset; `clock_hz`: the clock of the peripherals.
pub(crate) fn start(resets: &RESETS, clock_hz: u32) {
    resets.reset().modify(|_, w| w.uart0().set_bit().uart1().set_bit());
    resets.reset().modify(|_, w| w.uart0().clear_bit().uart1().clear_bit());
    while resets.reset_done().read().uart0().bit_is_clear()
        || resets.reset_done().read().uart1().bit_is_clear()
    {}
    open(service(), clock_hz, SERVICE_BAUD);
    open(ship(), clock_hz, SHIP_BAUD);
    for (pin, pad) in [(SERVICE_TX, OUTPUT), (SERVICE_RX, INPUT), (SHIP_RX, INPUT)] {
        // SAFETY: registers of these pins alone; a defined function, and defined pads.
        unsafe {
            (*PADS_BANK0::ptr()).gpio(pin).write(|w| w.bits(pad));
            (*IO_BANK0::ptr()).gpio(pin).gpio_ctrl().write(|w| w.bits(BY_UART));
        }
    }
    // SAFETY: the handlers below are in place and everything that they use is ready.
    unsafe {
        NVIC::unmask(Interrupt::UART0_IRQ);
        NVIC::unmask(Interrupt::UART1_IRQ);
    }
}

fn open(uart: &uart0::RegisterBlock, clock_hz: u32, baud: u32) {
    // Sixteen clocks a bit, in 64ths.
    let divisor = (4 * clock_hz + baud / 2) / baud;
    // SAFETY: any divisor, and values from the data sheet (4.2.8). The divisor takes effect when LCR_H is written.
    unsafe {
        uart.uartibrd().write(|w| w.bits(divisor >> 6));
        uart.uartfbrd().write(|w| w.bits(divisor & 0x3F));
        uart.uartlcr_h().write(|w| w.bits(FORMAT));
        uart.uartifls().write(|w| w.bits(LEVELS));
        uart.uartimsc().write(|w| w.bits(RECEIVING));
        uart.uartcr().write(|w| w.bits(ON));
    }
}

/// Stamps what waits in the FIFO. True: a sentence's end was among it.
fn gather(uart: &uart0::RegisterBlock, inbox: &Inbox<128>) -> bool {
    let now_ms = clock::now_ms();
    let mut end = false;
    while uart.uartfr().read().rxfe().bit_is_clear() {
        let word = uart.uartdr().read().bits();
        if word & ERRORS == 0 {
            let byte = word as u8;
            inbox.put(byte, now_ms);
            end |= byte == b'\n';
        } else {
            inbox.lose();
        }
    }
    if overran(uart) {
        inbox.lose();
    }
    end
}

/// Bytes came that the FIFO had no room for; asked once.
fn overran(uart: &uart0::RegisterBlock) -> bool {
    let overran = uart.uartrsr().read().oe().bit_is_set();
    if overran {
        uart.uartrsr().write(|w| {
            // SAFETY: writing anything clears it.
            unsafe { w.bits(0) }
        });
    }
    overran
}

/// The processor stood still since `from_ms`, with interrupts held off, as they still are.
pub(crate) fn stood(from_ms: u64) {
    if clock::now_ms().saturating_sub(from_ms) > STOOD_MAX_MS {
        while ship().uartfr().read().rxfe().bit_is_clear() {
            ship().uartdr().read().bits();
        }
        overran(ship());
        SHIP.inbox.lose();
    }
}

/// One of the lines wants the loop.
pub(crate) fn waiting() -> bool {
    [&SERVICE, &SHIP].iter().any(|line| line.waiting.load(Ordering::Relaxed))
}

/// From here on what comes calls the loop again.
pub(crate) fn attend() {
    for line in [&SERVICE, &SHIP] {
        line.waiting.store(false, Ordering::Relaxed);
    }
}

/// The next byte at the service port.
pub(crate) fn asked() -> Option<u8> {
    Some(SERVICE.take()?.0)
}

/// The next byte from the ship's talker, and when it came.
pub(crate) fn heard() -> Option<(u8, u64)> {
    SHIP.take()
}

/// Calls the loop again for the service port.
pub(crate) fn call() {
    SERVICE.waiting.store(true, Ordering::Relaxed);
}

/// Calls the loop when the service port has sent half of what it was given.
pub(crate) fn call_when_sent() {
    critical_section::with(|_| service().uartimsc().modify(|_, w| w.txim().set_bit()));
}

#[interrupt]
fn UART0_IRQ() {
    gather(service(), &SERVICE.inbox);
    // It stays raised until more is sent, which is not done here.
    service().uartimsc().modify(|_, w| w.txim().clear_bit());
    call();
}

#[interrupt]
fn UART1_IRQ() {
    // A sentence at a time. Where no end ever comes, half an inbox.
    if gather(ship(), &SHIP.inbox) || SHIP.inbox.waiting() >= 64 {
        SHIP.waiting.store(true, Ordering::Relaxed);
    }
}
