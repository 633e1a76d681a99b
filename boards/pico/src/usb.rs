//! The USB port: a serial port (CDC-ACM) as every system has a driver for.
//!
//! The chip answers the bus by itself (it says "not yet") while the processor is busy, so the processor may look when it
//! comes round to it; the interrupt only wakes it. Nothing here waits: an answer that the host does not take is dropped after a
//! while, and the host asks again.

use core::sync::atomic::{AtomicBool, Ordering};
use cortex_m::peripheral::NVIC;
use halfglass_protocol::frame::FRAME_MAX;
use rp2040_hal::pac::{Interrupt, interrupt};
use rp2040_hal::usb::UsbBus;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid};
use usb_device::{LangID, UsbError};
use usbd_serial::{SerialPort, USB_CLASS_CDC};

/// Vendor and product that the plug shows. 1209:0001 is for trying things out on one's own desk: its owner, pid.codes, forbids it in
/// anything that is handed on. Who makes loggers for others asks for a product number of their own (pid.codes gives them to open
/// projects, Raspberry Pi to makers of boards with its chips, below its vendor number 2E8A) and builds with it:
/// `HALFGLASS_USB_ID=1209:abcd cargo xtask build pico`. The host finds a logger by asking it, not by this number.
const ID: UsbVidPid = match option_env!("HALFGLASS_USB_ID") {
    None => UsbVidPid(0x1209, 0x0001),
    Some(text) => parse(text),
};

const fn parse(text: &str) -> UsbVidPid {
    let bytes = text.as_bytes();
    assert!(bytes.len() == 9 && bytes[4] == b':', "HALFGLASS_USB_ID is vendor:product, four hex digits each");
    UsbVidPid(hex(bytes, 0), hex(bytes, 5))
}

const fn hex(bytes: &[u8], from: usize) -> u16 {
    let (mut value, mut at) = (0, from);
    while at < from + 4 {
        let digit = (bytes[at] as char).to_digit(16).expect("HALFGLASS_USB_ID has hex digits");
        value = value << 4 | digit as u16;
        at += 1;
    }
    value
}

/// A host that takes nothing for so long has gone.
const GIVE_UP_MS: u64 = 1_000;

static WAITING: AtomicBool = AtomicBool::new(true);

/// The plug.
pub(crate) struct Usb<'a> {
    device: UsbDevice<'a, UsbBus>,
    port: SerialPort<'a, UsbBus>,
    /// An answer on its way.
    out: [u8; FRAME_MAX],
    sent: usize,
    len: usize,
    since_ms: u64,
}

impl<'a> Usb<'a> {
    /// Shows the logger on the bus. `serial`: its number in hex. None: the driver refuses, which it does for no board that works.
    pub(crate) fn start(bus: &'a UsbBusAllocator<UsbBus>, serial: &'a str) -> Option<Self> {
        let port = SerialPort::new(bus);
        let strings =
            StringDescriptors::new(LangID::EN_US).manufacturer("Halfglass").product("Halfglass logger");
        let device = UsbDeviceBuilder::new(bus, ID)
            .device_class(USB_CLASS_CDC)
            .strings(&[strings.serial_number(serial)])
            .ok()?
            // Smaller ones go wrong with some hosts: see the driver's notes.
            .max_packet_size_0(64)
            .ok()?
            .build();
        // SAFETY: the handler below is in place and everything that it uses is ready.
        unsafe { NVIC::unmask(Interrupt::USBCTRL_IRQ) }
        Some(Self { device, port, out: [0; FRAME_MAX], sent: 0, len: 0, since_ms: 0 })
    }

    /// Does what the bus wants.
    pub(crate) fn serve(&mut self, now_ms: u64) {
        WAITING.store(false, Ordering::Relaxed);
        // Once: a packet that has come keeps this true until it is read.
        self.device.poll(&mut [&mut self.port]);
        self.push_out();
        let gone = self.device.state() != UsbDeviceState::Configured || now_ms > self.since_ms + GIVE_UP_MS;
        if self.sending() && gone {
            self.len = 0;
        }
        // SAFETY: as in `start`. It is level-triggered: what came since raises it at once.
        unsafe { NVIC::unmask(Interrupt::USBCTRL_IRQ) }
    }

    fn sending(&self) -> bool {
        self.sent < self.len
    }

    fn push_out(&mut self) {
        while let Some(rest) = self.out.get(self.sent..self.len).filter(|rest| !rest.is_empty()) {
            match self.port.write(rest) {
                Ok(count) => self.sent += count,
                Err(_) => return,
            }
        }
        match self.port.flush() {
            Ok(()) | Err(UsbError::WouldBlock) => {}
            // What cannot be sent cannot be helped: the host asks again.
            Err(_) => self.len = 0,
        }
    }

    /// The next byte from the host, if one has come and the answer before it is on its way.
    pub(crate) fn receive(&mut self) -> Option<u8> {
        if self.sending() {
            return None;
        }
        let mut byte = [0];
        match self.port.read(&mut byte) {
            Ok(1) => {
                let [byte] = byte;
                Some(byte)
            }
            _ => None,
        }
    }

    /// Sends a frame.
    pub(crate) fn send(&mut self, bytes: &[u8], now_ms: u64) {
        let Some(out) = self.out.get_mut(..bytes.len()) else { return };
        out.copy_from_slice(bytes);
        self.len = bytes.len();
        self.sent = 0;
        self.since_ms = now_ms;
        self.push_out();
    }

    /// When to look again even if the bus is silent.
    pub(crate) fn wake_ms(&self) -> Option<u64> {
        self.sending().then_some(self.since_ms + GIVE_UP_MS + 1)
    }
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
