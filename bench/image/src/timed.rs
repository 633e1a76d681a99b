//! How long commits take, by the chip's own timer. Under an emulator that gives every instruction the same time, this
//! counts instructions.
//!
//! Tells one line by semihosting: `commits N ticks T`, ticks of 62.5 ns; then ends the emulator.

use embedded_storage::nor_flash::NorFlash;
use halfglass_bench_stores::{PAGE_LEN, PAGES, Store, Workload};

/// Commits before the timed ones: the ring is in use.
const WARM_COMMITS: u32 = 2_000;

/// Timed commits.
const COMMITS: u32 = 2_000;

const SEED: u32 = 0x1A55_0FF5;

/// TIMER0's registers.
const TIMER_START: *mut u32 = 0x4000_8000 as *mut u32;
const TIMER_CAPTURE: *mut u32 = 0x4000_8040 as *mut u32;
const TIMER_BITS: *mut u32 = 0x4000_8508 as *mut u32;
const TIMER_PRESCALER: *mut u32 = 0x4000_8510 as *mut u32;
const TIMER_CAPTURED: *const u32 = 0x4000_8540 as *const u32;

fn start_timer() {
    // SAFETY: nothing else uses this timer. 3: 32 bits wide; prescaler 0: 16 MHz.
    unsafe {
        TIMER_BITS.write_volatile(3);
        TIMER_PRESCALER.write_volatile(0);
        TIMER_START.write_volatile(1);
    }
}

fn ticks() -> u32 {
    // SAFETY: as above.
    unsafe {
        TIMER_CAPTURE.write_volatile(1);
        TIMER_CAPTURED.read_volatile()
    }
}

/// Runs the store and tells what it took.
pub(crate) fn run<S: Store>(flash: &mut impl NorFlash) -> ! {
    let _ = flash.erase(0, (PAGES * PAGE_LEN) as u32);
    start_timer();
    let took = S::session(flash, 1, |session| {
        let mut workload = Workload::new(SEED);
        for _ in 0..WARM_COMMITS {
            session.commit(workload.next_change())?;
        }
        let from = ticks();
        for _ in 0..COMMITS {
            session.commit(workload.next_change())?;
        }
        Ok(ticks().wrapping_sub(from))
    });
    match took.and_then(|took| took) {
        Ok(took) => {
            tell(b"commits \0");
            tell_number(COMMITS);
            tell(b" ticks \0");
            tell_number(took);
            tell(b"\n\0");
            end()
        }
        Err(_) => tell_failure(),
    }
}

/// Says that the store did not work here.
pub(crate) fn tell_failure() -> ! {
    tell(b"failed\n\0");
    end()
}

fn tell_number(mut number: u32) {
    let mut digits = [0; 11];
    let mut at = digits.len() - 1;
    loop {
        at -= 1;
        digits[at] = b'0' + (number % 10) as u8;
        number /= 10;
        if number == 0 {
            break;
        }
    }
    tell(&digits[at..]);
}

/// The debugger's calls: write a string that ends in 0, and end.
const WRITE0: u32 = 0x04;
const EXIT: u32 = 0x18;
const APPLICATION_EXIT: u32 = 0x2_0026;

fn tell(text: &[u8]) {
    // SAFETY: every text here ends in 0. Without a debugger the call is a fault, which nobody asked to be spared.
    unsafe { cortex_m::asm::semihosting_syscall(WRITE0, text.as_ptr() as u32) };
}

fn end() -> ! {
    loop {
        // SAFETY: ends the emulator.
        unsafe { cortex_m::asm::semihosting_syscall(EXIT, APPLICATION_EXIT) };
    }
}
