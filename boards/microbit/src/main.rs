//! The logger on an nRF51822: joins the chip's pins, flash, timer and serial line to the firmware.
//!
//! Between two deadlines the processor sleeps. What wakes it is an edge, a byte from the host, the supply's
//! warning, or the timer.
#![no_std]
#![no_main]

mod serial;

use cortex_m_rt::entry;
#[cfg(feature = "defmt")]
use defmt_rtt as _;
use halfglass_firmware::{Link, Logger, ports};
use halfglass_nrf::board::{LAYOUT, Peripherals};
use halfglass_nrf::sleep::sleep;
use halfglass_nrf::{clock, faults, inputs, nvmc, supply, unit, watchdog};

/// Nothing is written before the supply has been good for this long.
const SETTLED_MS: u64 = 3_000;

/// The chip stands still for 22 ms while a page erases (data sheet, from memory), and its latch does not tell contacts apart.
const FILTER_MIN_MS: u16 = 25;

#[entry]
fn main() -> ! {
    let Some(chip) = Peripherals::take() else { faults::end() };
    let mut start = faults::Start::read(&chip.POWER);
    clock::start(&chip.CLOCK);
    inputs::start();
    serial::start();
    supply::start(&chip.POWER);
    let mut watchdog = watchdog::Watchdog::start(chip.WDT);

    let mut logger = begin(nvmc::Nvmc::new(chip.NVMC), &start, unit::id(&chip.UICR, &chip.FICR));
    let mut link = Link::new();
    let mut fault_saved = false;

    loop {
        watchdog.feed();
        let looked_ms = look(&mut logger);
        talk(&mut logger, &mut link);
        if !fault_saved && looked_ms > SETTLED_MS {
            fault_saved = true;
            start.save(logger.flash());
        }
        sleep(looked_ms, logger.next_wake_ms(), serial::waiting);
    }
}

type Board = Logger<nvmc::Nvmc, 8>;

// The parts of the loop are functions of their own, never inlined, so that the stack holds the logger and the deepest of
// them, not the sum of all.

#[inline(never)]
fn begin(mut flash: nvmc::Nvmc, start: &faults::Start, device_id: u64) -> Board {
    let board = ports::Board {
        device_id,
        cause: start.cause,
        // The board cannot tell the USB chip's supply from any other.
        usb_only: false,
        faults: start.faults(&mut flash),
        debounce_min_ms: FILTER_MIN_MS,
        hold_min_ms: FILTER_MIN_MS,
    };
    Logger::start(flash, LAYOUT, board, clock::now_ms())
}

/// One look at the inputs; its time.
#[inline(never)]
fn look(logger: &mut Board) -> u64 {
    inputs::configure(logger.config());
    let failing = supply::failing();
    let sample = inputs::look();
    if failing {
        logger.power_fail(sample);
    } else {
        logger.sample(sample);
    }
    sample.now_ms
}

/// Takes bytes from the host, up to the first that completes a request, and answers.
#[inline(never)]
fn talk(logger: &mut Board, link: &mut Link) {
    while let Some(byte) = serial::receive() {
        if let Some(answer) = logger.receive(link, byte, clock::now_ms(), inputs::button()) {
            serial::send(answer);
            return;
        }
    }
}
