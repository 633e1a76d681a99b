//! The logger on an RP2040: joins the chip's pins, external flash, timer, USB and serial lines to the firmware.
//!
//! One loop on one core; the second core is never started. Between two deadlines the processor sleeps. What wakes it is an
//! edge, the bus, a byte, the feed's warning, or the timer.
#![no_std]
#![no_main]

mod battery;
mod clock;
mod faults;
mod flash_map;
mod i2c;
mod inputs;
mod lamp;
mod nor;
mod service;
mod uart;
mod unit;
mod usb;

use cortex_m_rt::entry;
#[cfg(feature = "defmt")]
use defmt_rtt as _;
use halfglass_firmware::battery::Keeper;
use halfglass_firmware::sentence::Listener;
use halfglass_firmware::{Link, Logger, ports};
use halfglass_usb::Serial;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::fugit::MicrosDurationU32;
use rp2040_hal::pac::Peripherals;
use rp2040_hal::usb::UsbBus;
use rp2040_hal::watchdog::Watchdog;
use usb_device::bus::UsbBusAllocator;

/// What the boot ROM runs first: sets up the flash chip for reading by four lines.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

/// The board's crystal.
const CRYSTAL_HZ: u32 = 12_000_000;

/// The most that the loop may take for one turn, sleep included; the chip's watchdog counts to 8.3 s.
const HANG_MAX: MicrosDurationU32 = MicrosDurationU32::secs(8);

/// Pulses are latched; the logger is told of them this much later at most.
const PULSE_LATE_MS: u64 = 50;

/// A sector erases in 400 ms at most, and pulses in the meantime are one: a shorter hold would break a run in two.
const HOLD_MIN_MS: u16 = 500;

/// Nothing is written before the supply has been good for this long.
const SETTLED_MS: u64 = 3_000;

#[entry]
fn main() -> ! {
    let Some(mut chip) = Peripherals::take() else { faults::end() };
    let mut start = faults::Start::read(&chip.VREG_AND_CHIP_RESET);
    let mut watchdog = Watchdog::new(chip.WATCHDOG);
    let clocks = init_clocks_and_plls(
        CRYSTAL_HZ,
        chip.XOSC,
        chip.CLOCKS,
        chip.PLL_SYS,
        chip.PLL_USB,
        &mut chip.RESETS,
        &mut watchdog,
    );
    let Ok(clocks) = clocks else { faults::end() };
    watchdog.start(HANG_MAX);
    clock::start(&chip.RESETS);
    inputs::start(&chip.RESETS);
    uart::start(&chip.RESETS, clocks.peripheral_clock.freq().to_Hz());
    lamp::start();

    let mut flash = nor::Nor::new(chip.XIP_SSI);
    let Some(device_id) = unit::id(&mut flash) else { numberless(&watchdog) };
    let mut logger = begin(flash, &start, device_id);

    let bus = UsbBusAllocator::new(UsbBus::new(
        chip.USBCTRL_REGS,
        chip.USBCTRL_DPRAM,
        clocks.usb_clock,
        true,
        &mut chip.RESETS,
    ));
    let serial = Serial::of(device_id);
    let Some(mut usb) = usb::start(&bus, &serial) else { faults::end() };
    let (mut usb_link, mut service_link) = (Link::new(), Link::new());
    let (mut service, mut listener) = (service::Service::new(), Listener::new());
    let mut battery = battery::Battery::new(i2c::Wires::new(chip.I2C0));
    let mut keeper = Keeper::new();
    let mut fault_saved = false;

    loop {
        let looked_ms = look(&mut logger);
        // Here and nowhere else: whatever hangs, be it a tick, a commit to the journal or the bus, is ended. A flash that refuses does
        // not hang; a reset would only lose what RAM still knows.
        watchdog.feed();
        talk(&mut logger, &mut usb, &mut usb_link);
        uart::attend();
        talk_by_wire(&mut logger, &mut service, &mut service_link);
        listen(&mut logger, &mut listener);
        tend(&mut logger, &mut keeper, &mut battery);
        let lamp_ms = if looked_ms < SETTLED_MS {
            SETTLED_MS
        } else {
            if !fault_saved {
                fault_saved = true;
                start.save(logger.flash());
            }
            lamp::show_running(clock::now_ms())
        };
        let wake_ms = usb.wake_ms().into_iter().fold(logger.next_wake_ms().min(lamp_ms), u64::min);
        sleep(looked_ms, wake_ms);
    }
}

type Board = Logger<nor::Nor, 8>;

// The parts of the loop are functions of their own, never inlined, so that the stack holds the logger and the deepest of
// them, not the sum of all.

#[inline(never)]
fn begin(mut flash: nor::Nor, start: &faults::Start, device_id: u64) -> Board {
    let board = ports::Board {
        device_id,
        cause: start.cause,
        usb_only: inputs::usb_only(),
        faults: start.faults(&mut flash),
        // The latch tells contacts apart.
        debounce_min_ms: 0,
        hold_min_ms: HOLD_MIN_MS,
    };
    Logger::start(flash, flash_map::LAYOUT, board, clock::now_ms())
}

/// One look at the inputs; its time.
#[inline(never)]
fn look(logger: &mut Board) -> u64 {
    inputs::configure(logger.config());
    let (sample, failing) = inputs::look();
    if failing {
        logger.power_fail(sample);
    } else {
        logger.sample(sample);
    }
    sample.now_ms
}

/// Serves the bus, takes bytes from the host up to the first that completes a request, and answers.
#[inline(never)]
fn talk(logger: &mut Board, usb: &mut usb::Plug<'_>, link: &mut Link) {
    usb::serve(usb, clock::now_ms());
    while let Some(byte) = usb.receive() {
        if let Some(answer) = asked(logger, link, byte) {
            usb.send(answer, clock::now_ms());
            return;
        }
    }
}

/// The same at the service port.
#[inline(never)]
fn talk_by_wire(logger: &mut Board, service: &mut service::Service, link: &mut Link) {
    while let Some(byte) = service.receive() {
        if let Some(answer) = asked(logger, link, byte) {
            service.send(answer);
            return;
        }
    }
}

#[inline(never)]
fn asked<'a>(logger: &mut Board, link: &'a mut Link, byte: u8) -> Option<&'a [u8]> {
    logger.receive(link, byte, clock::now_ms(), inputs::button())
}

/// Hears what the ship's talker said, or that it says nothing.
#[inline(never)]
fn listen(logger: &mut Board, listener: &mut Listener) {
    while let Some((byte, came_ms)) = uart::heard() {
        listener.hear(logger, byte, came_ms, clock::now_ms());
    }
    listener.wait(logger, clock::now_ms());
}

/// Sees to the battery's clock, a few times a day.
#[inline(never)]
fn tend(logger: &mut Board, keeper: &mut Keeper, battery: &mut battery::Battery) {
    keeper.tend(logger, battery, clock::now_ms());
}

/// Sleeps until there is something to do.
fn sleep(looked_ms: u64, next_wake_ms: u64) {
    let latest_ms = next_wake_ms.min(looked_ms + clock::SLEEP_MAX_MS);
    while doze(|| {
        let waiting = inputs::waiting();
        let wake_ms = if waiting.pulse { latest_ms.min(looked_ms + PULSE_LATE_MS) } else { latest_ms };
        (!waiting.edge && !usb::waiting() && !uart::waiting()).then_some(wake_ms)
    }) {}
}

/// Sleeps until an interrupt comes, at most to the instant that `until_ms` says. True: it slept; false: that instant is there,
/// or `until_ms` says that something is due.
fn doze(until_ms: impl FnOnce() -> Option<u64>) -> bool {
    // Asked with interrupts held off: one that comes from here on stays pending and ends the sleep at once.
    cortex_m::interrupt::disable();
    let sleeps = until_ms().is_some_and(clock::wake_at);
    if sleeps {
        cortex_m::asm::wfi();
    }
    // SAFETY: no critical section is open here; interrupts were enabled above.
    unsafe { cortex_m::interrupt::enable() }
    sleeps
}

/// Logs nothing and says so, until the board is given a number.
fn numberless(watchdog: &Watchdog) -> ! {
    loop {
        watchdog.feed();
        let wake_ms = lamp::show_numberless(clock::now_ms());
        doze(|| Some(wake_ms));
    }
}
