//! A proof by linking: nothing in firmware or protocol can panic.
//!
//! The panic handler calls a function that does not exist. If the optimiser cannot show that no panic is
//! reachable, the linker misses that function and says its name. `cargo xtask no-panic` links this twice: as it is,
//! which must succeed, and with an index panic planted, which must fail on that very name.
//!
//! Every public entry is called, and every value comes from a volatile read, so that nothing is known beforehand.
#![no_std]
#![no_main]

use core::panic::PanicInfo;
use core::ptr::{addr_of, addr_of_mut};
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use halfglass_firmware::battery::{Chip, Keeper, Reading};
use halfglass_firmware::inbox::Inbox;
use halfglass_firmware::ports::{Board, Layout, Region, Sample};
use halfglass_firmware::sentence::Listener;
use halfglass_firmware::{Link, Logger, provision};
use halfglass_protocol::config::Config;
use halfglass_protocol::record::Cause;

unsafe extern "C" {
    fn halfglass_must_not_panic() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    // SAFETY: never linked, so never called.
    unsafe { halfglass_must_not_panic() }
}

static mut WORLD: u32 = 0;

/// A value that the optimiser knows nothing about.
fn any() -> u32 {
    // SAFETY: one thread, a plain word, and volatile so that every call is a new value to the optimiser.
    unsafe { addr_of!(WORLD).read_volatile() }
}

fn any_u64() -> u64 {
    u64::from(any()) << 32 | u64::from(any())
}

/// Keeps a value from being thrown away.
fn used(value: u32) {
    // SAFETY: as above.
    unsafe { addr_of_mut!(WORLD).write_volatile(value) }
}

/// A flash of which nothing is known but its granule.
struct Flash;

fn outcome() -> Result<(), NorFlashErrorKind> {
    match any() {
        0 => Ok(()),
        1 => Err(NorFlashErrorKind::NotAligned),
        2 => Err(NorFlashErrorKind::OutOfBounds),
        _ => Err(NorFlashErrorKind::Other),
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        used(offset);
        for byte in bytes {
            *byte = any() as u8;
        }
        outcome()
    }

    fn capacity(&self) -> usize {
        any() as usize
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = 1024;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        used(from ^ to);
        outcome()
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        used(offset);
        for byte in bytes {
            used(u32::from(*byte));
        }
        outcome()
    }
}

/// A clock of which nothing is known.
struct Clock;

impl Chip for Clock {
    fn read(&mut self) -> Option<Reading> {
        (any() != 0).then(|| Reading { utc_s: any_u64(), note: core::array::from_fn(|_| any() as u8) })
    }

    fn set(&mut self, to: &Reading) -> bool {
        used(to.utc_s as u32);
        for byte in to.note {
            used(u32::from(byte));
        }
        any() != 0
    }
}

fn region() -> Region {
    Region { start: any(), page_len: any(), pages: any() as u16 }
}

fn cause() -> Cause {
    match any() {
        0 => Cause::Power,
        1 => Cause::Watchdog,
        2 => Cause::Fault,
        _ => Cause::Request,
    }
}

fn sample() -> Sample {
    Sample { now_ms: any_u64(), held_until_ms: any_u64(), levels: any() as u8, pulses: any() as u8 }
}

fn config() -> Config {
    let mut config = Config::as_in_guide();
    config.heartbeat_s = any() as u16;
    config.idle_s = any() as u16;
    config
}

/// The entry: every public function of the firmware, in any order, with any values.
#[unsafe(no_mangle)]
pub extern "C" fn _start() -> ! {
    let layout = Layout { journal: region(), history: region(), config: region() };
    used(u32::from(provision(&mut Flash, &layout, &config()).is_ok()));
    let board = Board {
        device_id: any_u64(),
        cause: cause(),
        usb_only: any() != 0,
        faults: any() as u16,
        debounce_min_ms: any() as u16,
        hold_min_ms: any() as u16,
    };
    let mut logger = Logger::<Flash, 8>::start(Flash, layout, board, any_u64());
    let (mut link, mut listener, inbox) = (Link::new(), Listener::new(), Inbox::<128>::new());
    let mut keeper = Keeper::new();
    loop {
        match any() {
            0 => logger.sample(sample()),
            1 => used(logger.next_wake_ms() as u32),
            2 => logger.power_fail(sample()),
            3 => used(logger.totals().session),
            4 => used(u32::from(logger.config().heartbeat_s)),
            5 => used(u32::from(logger.on())),
            6 => used(u32::from(logger.flash().read(any(), &mut []).is_ok())),
            7 => {
                let taken = core::mem::replace(&mut logger, Logger::start(Flash, layout, board, any_u64()));
                used(u32::from(taken.into_flash().read(any(), &mut []).is_ok()));
            }
            8 => used(u32::from(listener.hear(&mut logger, any() as u8, any_u64(), any_u64()).unwrap_or(0))),
            9 => listener.wait(&mut logger, any_u64()),
            10 => logger.way(any_u64(), halfglass_protocol::record::Motion::MakingWay),
            11 => inbox.put(any() as u8, any_u64()),
            12 => inbox.lose(),
            13 => used(
                inbox
                    .take(any_u64())
                    .map_or(inbox.waiting() as u32, |(byte, at_ms)| at_ms as u32 ^ u32::from(byte)),
            ),
            14 => keeper.tend(&mut logger, &mut Clock, any_u64()),
            _ => {
                let (byte, now_ms, button) = (any() as u8, any_u64(), any() != 0);
                if let Some(answer) = logger.receive(&mut link, byte, now_ms, button) {
                    for byte in answer {
                        used(u32::from(*byte));
                    }
                }
            }
        }
        #[cfg(feature = "planted")]
        used(u32::from([1u8, 2, 3][any() as usize]));
    }
}
