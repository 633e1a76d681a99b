//! The logger on an nRF51822: joins the chip's pins, flash, timer and serial line to the firmware.
//!
//! Between two deadlines the processor sleeps. What wakes it is an edge, a byte from the host, the supply's
//! warning, or the timer.
#![no_std]
#![no_main]

mod clock;
mod faults;
mod flash_map;
mod inputs;
mod nvmc;
mod serial;
mod supply;
mod unit;
mod watchdog;

use cortex_m_rt::entry;
use halfglass_firmware::Logger;
use halfglass_firmware::ports::Board;
use nrf51_pac::Peripherals;

/// Pulses are latched by interrupt; the logger is told of them this much later at most.
const PULSE_LATE_MS: u64 = 50;

/// Nothing is written before the supply has been good for this long.
const SETTLED_MS: u64 = 3_000;

#[entry]
fn main() -> ! {
    let Some(chip) = Peripherals::take() else { faults::end() };
    let mut start = faults::Start::read(&chip.POWER);
    clock::start(&chip.CLOCK);
    inputs::start();
    serial::start();
    supply::start(&chip.POWER);
    let mut watchdog = watchdog::Watchdog::start(chip.WDT);

    let mut flash = nvmc::Nvmc::new(chip.NVMC);
    let board = Board {
        device_id: unit::id(&chip.UICR, &chip.FICR),
        cause: start.cause,
        // The board cannot tell the USB chip's supply from any other.
        usb_only: false,
        faults: start.faults(&mut flash),
    };
    let mut logger = Logger::<_, 8>::start(flash, flash_map::LAYOUT, board, clock::now_ms());
    let mut fault_saved = false;

    loop {
        watchdog.feed();
        inputs::configure(logger.config());
        let failing = supply::failing();
        let sample = inputs::look();
        let looked_ms = sample.now_ms;
        if failing {
            logger.power_fail(sample);
        } else {
            logger.sample(sample);
        }

        while let Some(byte) = serial::receive() {
            if let Some(answer) = logger.receive(byte, clock::now_ms(), inputs::button()) {
                serial::send(answer);
                break;
            }
        }
        if !fault_saved && looked_ms > SETTLED_MS {
            fault_saved = true;
            start.save(logger.flash());
        }
        sleep(looked_ms, logger.next_wake_ms());
    }
}

/// Sleeps until there is something to do.
fn sleep(looked_ms: u64, next_wake_ms: u64) {
    let latest_ms = next_wake_ms.min(looked_ms + clock::SLEEP_MAX_MS);
    loop {
        // Asked with interrupts held off: one that comes from here on stays pending and ends the sleep at once.
        cortex_m::interrupt::disable();
        let waiting = inputs::waiting();
        let wake_ms = if waiting.pulse { latest_ms.min(looked_ms + PULSE_LATE_MS) } else { latest_ms };
        let due = waiting.edge || serial::waiting() || supply::waiting() || !clock::wake_at(wake_ms);
        if !due {
            cortex_m::asm::wfi();
        }
        // SAFETY: no critical section is open here; interrupts were enabled above.
        unsafe { cortex_m::interrupt::enable() }
        if due {
            return;
        }
    }
}
