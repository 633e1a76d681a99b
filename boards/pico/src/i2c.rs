//! The wires to the clock chip: I2C at 100 kHz, data on GPIO 20, clock on GPIO 21.
//!
//! Every wait ends. The library for this chip waits for ever on wires that somebody holds down, so its registers are worked here; a
//! device that was cut off in the middle of a byte holds the data wire until it has been clocked through the rest of it.

use crate::clock;
use core::cell::Cell;
use embedded_hal::i2c::{Error, ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use rp2040_hal::pac::{I2C0, IO_BANK0, PADS_BANK0, RESETS, SIO, i2c0};

const SDA: usize = 20;
const SCL: usize = 21;

/// CTRL: which part of the chip has the pin.
const BY_I2C: u32 = 3;
const BY_PROCESSOR: u32 = 5;
/// Pad: input enabled, 4 mA, pulled up a little, Schmitt trigger on.
const PAD: u32 = 1 << 6 | 1 << 4 | 1 << 3 | 1 << 1;

/// A tenth of a millisecond is a byte; the longest message has 16.
const MESSAGE_MAX_US: u64 = 10_000;

/// Half a clock at 100 kHz.
const HALF_US: u64 = 5;
/// A byte and its acknowledgement.
const CLOCKS: u32 = 9;

/// The clock's low and high time, the spikes that are ignored, and how long data holds on after it: in cycles of 8 ns. 100 kHz takes
/// 4.7 µs low and 4.0 µs high at least; the chip adds some to either. 0.3 µs of hold bridges the edge; a spike of 0.4 µs
/// is no bit of 10 µs.
const LOW: u16 = 750;
const HIGH: u16 = 500;
const SPIKE: u8 = 46;
const HOLD: u16 = 38;

/// Why a message came to nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// Nobody is there, or it refuses.
    Refused,
    /// It took too long.
    Late,
}

impl Error for Fault {
    fn kind(&self) -> ErrorKind {
        match self {
            Fault::Refused => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown),
            Fault::Late => ErrorKind::Bus,
        }
    }
}

/// The wires.
pub(crate) struct Wires(());

fn i2c() -> &'static i2c0::RegisterBlock {
    // SAFETY: the address is the chip's I2C0; only this module touches it, in one thread.
    unsafe { &*I2C0::ptr() }
}

fn sio() -> &'static rp2040_hal::pac::sio::RegisterBlock {
    // SAFETY: the address is the chip's SIO; of its registers this module uses those that set and clear bits one by one.
    unsafe { &*SIO::ptr() }
}

fn connect(pin: usize, function: u32) {
    // SAFETY: registers of this pin alone; all values are defined.
    unsafe {
        (*PADS_BANK0::ptr()).gpio(pin).write(|w| w.bits(PAD));
        (*IO_BANK0::ptr()).gpio(pin).gpio_ctrl().write(|w| w.bits(function));
    }
}

/// Pulls the wire down, or lets go of it.
fn pull(pin: usize, down: bool) {
    // SAFETY: every bit but the pin's is written as 0, which leaves it.
    unsafe {
        if down {
            sio().gpio_oe_set().write(|w| w.bits(1 << pin));
        } else {
            sio().gpio_oe_clr().write(|w| w.bits(1 << pin));
        }
    }
    let until_us = clock::now_us() + HALF_US;
    while clock::now_us() < until_us {}
}

fn is_up(pin: usize) -> bool {
    sio().gpio_in().read().bits() >> pin & 1 != 0
}

impl Wires {
    /// The one and only: the caller has the chip's peripherals to itself.
    pub(crate) fn new(_: I2C0) -> Self {
        Self(())
    }

    /// Begins afresh. False: a wire is held down, and nothing can be said.
    pub(crate) fn open(&mut self) -> bool {
        // SAFETY: `resets` is shared, but nothing else changes it after the start, and this is one thread.
        let resets = unsafe { &*RESETS::ptr() };
        resets.reset().modify(|_, w| w.i2c0().set_bit());
        // SAFETY: bits of two pins that are this module's; a pin that is driven at all is driven low.
        unsafe { sio().gpio_out_clr().write(|w| w.bits(1 << SDA | 1 << SCL)) }
        for pin in [SDA, SCL] {
            pull(pin, false);
            connect(pin, BY_PROCESSOR);
        }
        pull(SCL, false);
        for _ in 0..CLOCKS {
            if is_up(SDA) {
                break;
            }
            pull(SCL, true);
            pull(SCL, false);
        }
        if !(is_up(SDA) && is_up(SCL)) {
            return false;
        }
        // Begin and end of a message, so that everybody waits for the next.
        pull(SDA, true);
        pull(SDA, false);
        connect(SDA, BY_I2C);
        connect(SCL, BY_I2C);
        resets.reset().modify(|_, w| w.i2c0().clear_bit());
        let until_us = clock::now_us() + MESSAGE_MAX_US;
        while resets.reset_done().read().i2c0().bit_is_clear() {
            if clock::now_us() > until_us {
                return false;
            }
        }
        i2c().ic_con().write(|w| {
            w.master_mode().enabled().ic_slave_disable().slave_disabled();
            // Whatever else its name says, it takes 100 kHz too, and is set by the registers below.
            w.speed().fast().ic_restart_en().enabled().rx_fifo_full_hld_ctrl().enabled()
        });
        // SAFETY: figures within their fields.
        unsafe {
            i2c().ic_fs_scl_lcnt().write(|w| w.ic_fs_scl_lcnt().bits(LOW));
            i2c().ic_fs_scl_hcnt().write(|w| w.ic_fs_scl_hcnt().bits(HIGH));
            i2c().ic_fs_spklen().write(|w| w.ic_fs_spklen().bits(SPIKE));
            i2c().ic_sda_hold().modify(|_, w| w.ic_sda_tx_hold().bits(HOLD));
        }
        true
    }
}

/// Waits until it is so.
fn wait(until_us: u64, is_so: impl Fn() -> bool) -> Result<(), Fault> {
    loop {
        if i2c().ic_raw_intr_stat().read().tx_abrt().bit_is_set() {
            return Err(Fault::Refused);
        }
        if is_so() {
            return Ok(());
        }
        if clock::now_us() > until_us {
            return Err(Fault::Late);
        }
    }
}

impl ErrorType for Wires {
    type Error = Fault;
}

impl I2c for Wires {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), Fault> {
        let until_us = clock::now_us() + MESSAGE_MAX_US;
        i2c().ic_enable().write(|w| w.enable().disabled());
        // SAFETY: an address of seven bits.
        i2c().ic_tar().write(|w| unsafe { w.ic_tar().bits(u16::from(address & 0x7F)) });
        i2c().ic_clr_intr().read();
        i2c().ic_enable().write(|w| w.enable().enabled());
        let count = |operation: &Operation<'_>| match operation {
            Operation::Read(bytes) => bytes.len(),
            Operation::Write(bytes) => bytes.len(),
        };
        let mut left: usize = operations.iter().map(count).sum();
        let is_first = Cell::new(true);
        for operation in operations {
            let mut begins = !is_first.replace(false);
            let mut say = |word: u8, is_read: bool| {
                left -= 1;
                wait(until_us, || i2c().ic_status().read().tfnf().bit_is_set())?;
                i2c().ic_data_cmd().write(|w| {
                    w.restart().bit(core::mem::take(&mut begins)).stop().bit(left == 0).cmd().bit(is_read);
                    // SAFETY: any byte is data.
                    unsafe { w.dat().bits(word) }
                });
                Ok(())
            };
            match operation {
                Operation::Write(bytes) => {
                    for byte in bytes.iter() {
                        say(*byte, false)?;
                    }
                }
                Operation::Read(bytes) => {
                    for byte in bytes.iter_mut() {
                        say(0, true)?;
                        wait(until_us, || i2c().ic_status().read().rfne().bit_is_set())?;
                        *byte = i2c().ic_data_cmd().read().dat().bits();
                    }
                }
            }
        }
        wait(until_us, || i2c().ic_raw_intr_stat().read().stop_det().bit_is_set())
    }
}
