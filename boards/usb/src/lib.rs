//! The USB plug: a serial port (CDC-ACM) as every system has a driver for, on any chip's driver.
//!
//! Nothing here waits: an answer that the host does not take is dropped after a while, and the host asks again.
#![no_std]

use halfglass_protocol::frame::FRAME_MAX;
use usb_device::bus::{UsbBus, UsbBusAllocator};
use usb_device::device::{StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid};
use usb_device::{LangID, UsbError};
use usbd_serial::{SerialPort, USB_CLASS_CDC};

/// Vendor and product that the plug shows. 1209:0001 is for trying things out on one's own desk: its owner, pid.codes, forbids it in
/// anything that is handed on. Who makes loggers for others asks for a product number of their own (pid.codes gives them to open
/// projects, makers of chips to makers of boards with them) and builds with it: `HALFGLASS_USB_ID=1209:abcd cargo xtask build pico`.
/// The host finds a logger by asking it, not by this number.
const ID: UsbVidPid = match option_env!("HALFGLASS_USB_ID") {
    None => UsbVidPid(0x1209, 0x0001),
    Some(text) => parse(text),
};

const fn parse(text: &str) -> UsbVidPid {
    let bytes = text.as_bytes();
    assert!(bytes.len() == 9 && bytes[4] == b':', "HALFGLASS_USB_ID is vendor:product, four hex digits each");
    UsbVidPid(value(bytes, 0), value(bytes, 5))
}

const fn value(bytes: &[u8], from: usize) -> u16 {
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

/// A logger's number as the host writes it: sixteen hex digits.
pub struct Serial([u8; 16]);

impl Serial {
    /// The digits of `number`.
    #[must_use]
    pub fn of(number: u64) -> Self {
        let mut text = [b'0'; 16];
        for (at, digit) in text.iter_mut().rev().enumerate() {
            let value = (number >> (4 * at)) as u8 & 0xF;
            *digit = if value < 10 { b'0' + value } else { b'a' + value - 10 };
        }
        Self(text)
    }

    /// The same as text.
    #[must_use]
    pub fn text(&self) -> &str {
        core::str::from_utf8(&self.0).unwrap_or_default()
    }
}

/// The plug.
pub struct Usb<'a, B: UsbBus> {
    device: UsbDevice<'a, B>,
    port: SerialPort<'a, B>,
    /// An answer on its way.
    out: [u8; FRAME_MAX],
    sent: usize,
    len: usize,
    since_ms: u64,
}

impl<'a, B: UsbBus> Usb<'a, B> {
    /// Shows the logger on the bus. None: the driver refuses, which it does for no board that works.
    #[must_use]
    pub fn start(bus: &'a UsbBusAllocator<B>, serial: &'a Serial) -> Option<Self> {
        let port = SerialPort::new(bus);
        let strings =
            StringDescriptors::new(LangID::EN_US).manufacturer("Halfglass").product("Halfglass logger");
        let device = UsbDeviceBuilder::new(bus, ID)
            .device_class(USB_CLASS_CDC)
            .strings(&[strings.serial_number(serial.text())])
            .ok()?
            // Smaller ones go wrong with some hosts: see the driver's notes.
            .max_packet_size_0(64)
            .ok()?
            .build();
        Some(Self { device, port, out: [0; FRAME_MAX], sent: 0, len: 0, since_ms: 0 })
    }

    /// Does what the bus wants.
    pub fn serve(&mut self, now_ms: u64) {
        // Once: a packet that has come keeps this true until it is read.
        self.device.poll(&mut [&mut self.port]);
        self.push_out();
        let gone = self.device.state() != UsbDeviceState::Configured || now_ms > self.since_ms + GIVE_UP_MS;
        if self.sending() && gone {
            self.len = 0;
        }
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
    pub fn receive(&mut self) -> Option<u8> {
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
    pub fn send(&mut self, bytes: &[u8], now_ms: u64) {
        let Some(out) = self.out.get_mut(..bytes.len()) else { return };
        out.copy_from_slice(bytes);
        self.len = bytes.len();
        self.sent = 0;
        self.since_ms = now_ms;
        self.push_out();
    }

    /// When to look again even if the bus is silent.
    #[must_use]
    pub fn wake_ms(&self) -> Option<u64> {
        self.sending().then_some(self.since_ms + GIVE_UP_MS + 1)
    }
}
