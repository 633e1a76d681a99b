//! What ended the session before, and how often the firmware ended itself.
//!
//! A panic or a hard fault (a stack overflow is one) counts itself in a word of RAM that a reset leaves alone and
//! resets the chip. The next session, once the supply is trusted, moves that count into a flash page, where
//! every fault takes one word, so that it outlives the power.

use crate::board::{FAULTS, POWER};
use core::cell::UnsafeCell;
use core::mem::MaybeUninit;
use core::panic::PanicInfo;
use embedded_storage::nor_flash::{NorFlash, ReadNorFlash};
use halfglass_firmware::faults::FaultPage;
use halfglass_protocol::record::Cause;

/// The page, with as many words as are counted.
const PAGE: FaultPage = FaultPage { start: FAULTS, words: 256 };

/// RESETREAS bits.
const RESET_PIN: u32 = 1 << 0;
const WATCHDOG: u32 = 1 << 1;
const SOFTWARE: u32 = 1 << 2;
const LOCKUP: u32 = 1 << 3;
const DEBUGGER: u32 = 1 << 18;

/// Tells a count from what RAM holds at power-up.
const MAGIC: u32 = 0x4861_6C66;

/// The count, and its complement mixed with [`MAGIC`].
struct Kept(UnsafeCell<MaybeUninit<[u32; 2]>>);

// SAFETY: only touched by `kept` and `keep`, which run before interrupts are enabled or after they are disabled for good.
unsafe impl Sync for Kept {}

#[unsafe(link_section = ".uninit.faults")]
static KEPT: Kept = Kept(UnsafeCell::new(MaybeUninit::uninit()));

fn kept() -> u16 {
    // SAFETY: any bits are a valid u32; volatile, because the start-up code left this memory as it was.
    let [count, check] = unsafe { KEPT.0.get().cast::<[u32; 2]>().read_volatile() };
    if check == !count ^ MAGIC { u16::try_from(count).unwrap_or(u16::MAX) } else { 0 }
}

fn keep(count: u16) {
    let count = u32::from(count);
    // SAFETY: see `Kept`.
    unsafe { KEPT.0.get().cast::<[u32; 2]>().write_volatile([count, !count ^ MAGIC]) }
}

/// How this session began.
pub struct Start {
    /// Why.
    pub cause: Cause,
    /// Faults that are in RAM only.
    unsaved: u16,
}

impl Start {
    /// Reads what the reset left. Call once, before interrupts.
    pub fn read(power: &POWER) -> Start {
        let reasons = power.resetreas.read().bits();
        power.resetreas.write(|w| {
            // SAFETY: writing a reason's bit back clears it.
            unsafe { w.bits(reasons) }
        });
        let unsaved = kept();
        // RAM that still knows a fault was powered all along, so the fault was just now or in a session too short to save it.
        let cause = if unsaved != 0 || reasons & LOCKUP != 0 {
            Cause::Fault
        } else if reasons & WATCHDOG != 0 {
            Cause::Watchdog
        } else if reasons & (RESET_PIN | SOFTWARE | DEBUGGER) != 0 {
            Cause::Request
        } else {
            Cause::Power
        };
        Start { cause, unsaved }
    }

    /// Faults in the board's life.
    pub fn faults(&self, flash: &mut impl ReadNorFlash) -> u16 {
        PAGE.count(flash).saturating_add(self.unsaved)
    }

    /// Moves the count from RAM to flash. Call once the supply has been good for a while.
    pub fn save(&mut self, flash: &mut impl NorFlash) {
        PAGE.add(flash, self.unsaved);
        self.unsaved = 0;
        critical_section::with(|_| keep(0));
    }
}

/// Counts a fault and resets the chip.
pub fn end() -> ! {
    cortex_m::interrupt::disable();
    keep(kept().saturating_add(1));
    cortex_m::peripheral::SCB::sys_reset()
}

#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    end()
}

/// Entered with a stack pointer that may lie outside RAM: moves it back before anything is pushed.
#[unsafe(naked)]
#[unsafe(no_mangle)]
extern "C" fn HardFault() -> ! {
    core::arch::naked_asm!("ldr r0, =_stack_start", "msr msp, r0", "ldr r0, ={end}", "bx r0", end = sym after_fault)
}

extern "C" fn after_fault() -> ! {
    end()
}
