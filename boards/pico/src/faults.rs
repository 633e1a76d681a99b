//! What ended the session before, and how often the firmware ended itself.
//!
//! A panic or a hard fault (a stack overflow is one) counts itself in a scratch register, which a reset leaves alone, and
//! resets the chip. The next session, once the supply is trusted, moves that count into a flash sector, where
//! every fault takes one word, so that it outlives the power.

use crate::flash_map::FAULTS;
use core::panic::PanicInfo;
use embedded_storage::nor_flash::{NorFlash, ReadNorFlash};
use halfglass_firmware::faults::FaultPage;
use halfglass_protocol::record::Cause;
use rp2040_hal::pac::{PSM, VREG_AND_CHIP_RESET, WATCHDOG, watchdog};

/// The page, with as many words as are counted.
const PAGE: FaultPage = FaultPage { start: FAULTS, words: 1_024 };

/// Tells a count from what the scratch registers hold at power-up.
const MAGIC: u32 = 0x4861_6C66;
/// Tells a session of this firmware from the boot ROM, which ends itself by the watchdog too, after an update.
const RUNNING: u32 = 0x676C_6173;

/// The watchdog resets everything but the two oscillators (RP2040 data sheet, PSM.WDSEL).
const ALL_BUT_OSCILLATORS: u32 = 0x0001_FFFC;
/// CTRL: reset now.
const TRIGGER: u32 = 1 << 31;

fn registers() -> &'static watchdog::RegisterBlock {
    // SAFETY: the address is the chip's WATCHDOG. Of its registers this module touches scratch 0 to 2, which nothing else does, and
    // in `end`, with interrupts off for good, the trigger.
    unsafe { &*WATCHDOG::ptr() }
}

/// The count is in scratch 0, its complement mixed with [`MAGIC`] in scratch 1.
fn kept() -> u16 {
    let count = registers().scratch0().read().bits();
    let check = registers().scratch1().read().bits();
    if check == !count ^ MAGIC { u16::try_from(count).unwrap_or(u16::MAX) } else { 0 }
}

fn keep(count: u16) {
    let count = u32::from(count);
    // SAFETY: scratch registers take any value.
    unsafe {
        registers().scratch0().write(|w| w.bits(count));
        registers().scratch1().write(|w| w.bits(!count ^ MAGIC));
    }
}

/// How this session began.
pub(crate) struct Start {
    /// Why.
    pub(crate) cause: Cause,
    /// Faults that are in the scratch register only.
    unsaved: u16,
}

impl Start {
    /// Reads what the reset left. Call once, before interrupts.
    pub(crate) fn read(reset: &VREG_AND_CHIP_RESET) -> Start {
        let reason = registers().reason().read();
        let chip = reset.chip_reset().read();
        let ours = registers().scratch2().read().bits() == RUNNING;
        registers().scratch2().write(|w| {
            // SAFETY: a scratch register takes any value.
            unsafe { w.bits(RUNNING) }
        });
        let unsaved = kept();
        let cause = if unsaved != 0 {
            // Just now, or in a session too short to save it: the register's power was never gone.
            Cause::Fault
        } else if reason.timer().bit_is_set() && ours {
            Cause::Watchdog
        } else if reason.timer().bit_is_set() || reason.force().bit_is_set() {
            // The boot ROM, after an update.
            Cause::Request
        } else if chip.had_run().bit_is_set() || chip.had_psm_restart().bit_is_set() {
            // The RUN pin or a debugger.
            Cause::Request
        } else {
            // Power-up, and the brown-out detector, which the chip turns on by itself.
            Cause::Power
        };
        Start { cause, unsaved }
    }

    /// Faults in the board's life.
    pub(crate) fn faults(&self, flash: &mut impl ReadNorFlash) -> u16 {
        PAGE.count(flash).saturating_add(self.unsaved)
    }

    /// Moves the count from the register to flash. Call once the supply has been good for a while.
    pub(crate) fn save(&mut self, flash: &mut impl NorFlash) {
        PAGE.add(flash, self.unsaved);
        self.unsaved = 0;
        critical_section::with(|_| keep(0));
    }
}

/// Counts a fault and resets the chip.
pub(crate) fn end() -> ! {
    cortex_m::interrupt::disable();
    keep(kept().saturating_add(1));
    // SAFETY: the chip is reset by this; nothing of what these registers were matters any more.
    unsafe {
        (*PSM::ptr()).wdsel().write(|w| w.bits(ALL_BUT_OSCILLATORS));
        registers().ctrl().write(|w| w.bits(TRIGGER));
    }
    loop {
        cortex_m::asm::nop();
    }
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
