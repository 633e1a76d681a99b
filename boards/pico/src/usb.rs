//! The USB plug. The chip answers the bus by itself (it says "not yet") while the processor is busy, so the processor may look when it
//! comes round to it; the interrupt only wakes it.

use core::sync::atomic::{AtomicBool, Ordering};
use cortex_m::peripheral::NVIC;
use halfglass_usb::{Serial, Usb};
use rp2040_hal::pac::{Interrupt, interrupt};
use rp2040_hal::usb::UsbBus;
use usb_device::bus::UsbBusAllocator;

static WAITING: AtomicBool = AtomicBool::new(true);

/// The plug, as this chip drives it.
pub(crate) type Plug<'a> = Usb<'a, UsbBus>;

/// Shows the logger on the bus. None: the driver refuses, which it does for no board that works.
pub(crate) fn start<'a>(bus: &'a UsbBusAllocator<UsbBus>, serial: &'a Serial) -> Option<Plug<'a>> {
    let usb = Usb::start(bus, serial)?;
    listen();
    Some(usb)
}

/// Does what the bus wants.
pub(crate) fn serve(usb: &mut Plug<'_>, now_ms: u64) {
    WAITING.store(false, Ordering::Relaxed);
    usb.serve(now_ms);
    listen();
}

/// Level-triggered: what came since the bus was served raises it at once.
fn listen() {
    // SAFETY: the handler below is in place and everything that it uses is ready.
    unsafe { NVIC::unmask(Interrupt::USBCTRL_IRQ) }
}

/// The bus wants something.
pub(crate) fn waiting() -> bool {
    WAITING.load(Ordering::Relaxed)
}

#[interrupt]
fn USBCTRL_IRQ() {
    // It stays raised until the bus is served, which is not done here.
    NVIC::mask(Interrupt::USBCTRL_IRQ);
    WAITING.store(true, Ordering::Relaxed);
}
