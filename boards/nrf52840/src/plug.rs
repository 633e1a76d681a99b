//! The USB plug's power. The chip's USB part works only while the plug has power and the crystal runs, and its driver waits for
//! it without end: so it is turned on when the plug is in and off when it is pulled, and the logger never waits for it.

use halfglass_nrf::board::{CLOCK, GPIO, POWER, USBD};
use nrf_usbd::{UsbPeripheral, Usbd};
use usb_device::bus::UsbBusAllocator;

/// The bus is served this often; the standard gives a device 50 ms for the shortest answer that it wants at once.
pub(crate) const SERVED_EVERY_MS: u64 = 4;
/// A plug that was pushed in is seen after this long at most.
pub(crate) const LOOKED_FOR_EVERY_MS: u64 = 500;

/// High while the logger's own feed is good: GPIO of port 0, pulled down.
const FEED: usize = 24;
const PULL_DOWN: u32 = 1 << 2;

/// The chip's USB part.
pub(crate) struct Registers;

// SAFETY: the address is the chip's USBD, which `Plug` owns; it lends it to one driver at a time.
unsafe impl UsbPeripheral for Registers {
    const REGISTERS: *const () = USBD::ptr().cast();
}

/// Its driver.
pub(crate) type Driver = Usbd<Registers>;

/// The plug.
pub(crate) struct Plug {
    power: POWER,
    clock: CLOCK,
    usbd: USBD,
}

impl Plug {
    pub(crate) fn new(power: POWER, clock: CLOCK, usbd: USBD) -> Self {
        if let Some(pin) = Self::gpio().pin_cnf.get(FEED) {
            pin.write(|w| {
                // SAFETY: an input, pulled down.
                unsafe { w.bits(PULL_DOWN) }
            });
        }
        Self { power, clock, usbd }
    }

    fn gpio() -> &'static halfglass_nrf::board::gpio::RegisterBlock {
        // SAFETY: the address is the chip's port 0; of its registers only FEED's own and the levels are used here.
        unsafe { &*GPIO::ptr() }
    }

    /// The plug has power, and everything that the driver waits for is ready.
    pub(crate) fn is_in(&self) -> bool {
        let status = self.power.usbregstatus.read();
        let crystal = self.clock.events_hfclkstarted.read().bits() != 0;
        status.vbusdetect().is_vbus_present() && status.outputrdy().is_ready() && crystal
    }

    /// The plug has power and the logger's own feed has none.
    pub(crate) fn feeds_alone(&self) -> bool {
        let fed = Self::gpio().in_.read().bits() >> FEED & 1 != 0;
        self.power.usbregstatus.read().vbusdetect().is_vbus_present() && !fed
    }

    /// A driver for as long as the plug is in.
    pub(crate) fn connect(&mut self) -> UsbBusAllocator<Driver> {
        UsbBusAllocator::new(Usbd::new(Registers))
    }

    /// The plug was pulled.
    pub(crate) fn disconnect(&mut self) {
        self.usbd.usbpullup.write(|w| w.connect().disabled());
        self.usbd.enable.write(|w| w.enable().disabled());
    }
}
