//! The logger on an nRF52840: the loop, and its USB plug.
//!
//! Nobody has run this on a board yet, and no emulator here has this chip: it builds, and what it shares with the
//! micro:bit runs there.
#![no_std]
#![no_main]

mod plug;

use cortex_m_rt::entry;
use halfglass_firmware::{Link, Logger, ports};
use halfglass_nrf::board::{LAYOUT, Peripherals};
use halfglass_nrf::sleep::sleep;
use halfglass_nrf::{clock, faults, inputs, nvmc, supply, unit, watchdog};
use halfglass_usb::{Serial, Usb};
use plug::{Driver, Plug};

/// Nothing is written before the supply has been good for this long.
const SETTLED_MS: u64 = 3_000;

/// The chip stands still for 85 ms while a page erases (data sheet, from memory), and its latch does not tell contacts apart.
const FILTER_MIN_MS: u16 = 100;

#[entry]
fn main() -> ! {
    let Some(chip) = Peripherals::take() else { faults::end() };
    let start = faults::Start::read(&chip.POWER);
    clock::start(&chip.CLOCK);
    inputs::start();
    supply::start(&chip.POWER);
    let watchdog = watchdog::Watchdog::start(chip.WDT);
    let device_id = unit::id(&chip.UICR, &chip.FICR);
    let mut plug = Plug::new(chip.POWER, chip.CLOCK, chip.USBD);

    let logger = begin(nvmc::Nvmc::new(chip.NVMC), &start, device_id, plug.feeds_alone());
    let mut board = Board { logger, link: Link::new(), watchdog, start, fault_saved: false };
    let serial = Serial::of(device_id);

    loop {
        while !plug.is_in() {
            board.turn(None);
        }
        let bus = plug.connect();
        let Some(mut usb) = Usb::start(&bus, &serial) else { faults::end() };
        while plug.is_in() {
            board.turn(Some(&mut usb));
        }
        plug.disconnect();
    }
}

struct Board {
    logger: Logger<nvmc::Nvmc, 8>,
    link: Link,
    watchdog: watchdog::Watchdog,
    start: faults::Start,
    fault_saved: bool,
}

// The parts of the loop are functions of their own, never inlined, so that the stack holds the logger and the deepest of
// them, not the sum of all.

#[inline(never)]
fn begin(
    mut flash: nvmc::Nvmc,
    start: &faults::Start,
    device_id: u64,
    usb_only: bool,
) -> Logger<nvmc::Nvmc, 8> {
    let faults = start.faults(&mut flash);
    let board = ports::Board {
        device_id,
        cause: start.cause,
        usb_only,
        faults,
        debounce_min_ms: FILTER_MIN_MS,
        hold_min_ms: FILTER_MIN_MS,
    };
    Logger::start(flash, LAYOUT, board, clock::now_ms())
}

impl Board {
    /// Once round the loop.
    fn turn(&mut self, mut usb: Option<&mut Usb<'_, Driver>>) {
        let looked_ms = self.look();
        // Here and nowhere else: whatever hangs, a look, a commit or the bus, is ended.
        self.watchdog.feed();
        if let Some(usb) = usb.as_deref_mut() {
            self.talk(usb);
        }
        if !self.fault_saved && looked_ms > SETTLED_MS {
            self.fault_saved = true;
            self.start.save(self.logger.flash());
        }
        let plug_ms =
            looked_ms + if usb.is_some() { plug::SERVED_EVERY_MS } else { plug::LOOKED_FOR_EVERY_MS };
        sleep(looked_ms, self.logger.next_wake_ms().min(plug_ms), || false);
    }

    /// One look at the inputs; its time.
    #[inline(never)]
    fn look(&mut self) -> u64 {
        inputs::configure(self.logger.config());
        let failing = supply::failing();
        let sample = inputs::look();
        if failing {
            self.logger.power_fail(sample);
        } else {
            self.logger.sample(sample);
        }
        sample.now_ms
    }

    /// Serves the bus, takes bytes from the host up to the first that completes a request, and answers.
    #[inline(never)]
    fn talk(&mut self, usb: &mut Usb<'_, Driver>) {
        usb.serve(clock::now_ms());
        while let Some(byte) = usb.receive() {
            if let Some(answer) = self.logger.receive(&mut self.link, byte, clock::now_ms(), inputs::button())
            {
                usb.send(answer, clock::now_ms());
                return;
            }
        }
    }
}
