//! The service port: what is asked and answered on USB, on a serial line of 115,200 baud, for a computer that is wired for good.

use crate::uart;
use halfglass_protocol::frame::FRAME_MAX;

/// An answer on its way, of which the chip holds 32 bytes.
pub(crate) struct Service {
    out: [u8; FRAME_MAX],
    sent: usize,
    len: usize,
}

impl Service {
    /// The line must be open.
    pub(crate) const fn new() -> Self {
        Self { out: [0; FRAME_MAX], sent: 0, len: 0 }
    }

    /// The next byte from the host, if one has come and the answer before it is on its way.
    pub(crate) fn receive(&mut self) -> Option<u8> {
        if self.push_out() { uart::asked() } else { None }
    }

    /// Sends a frame.
    pub(crate) fn send(&mut self, bytes: &[u8]) {
        let Some(out) = self.out.get_mut(..bytes.len()) else { return };
        out.copy_from_slice(bytes);
        self.len = bytes.len();
        self.sent = 0;
        if self.push_out() {
            // No interrupt will call for what has come behind the request.
            uart::call();
        }
    }

    /// Gives the chip what it has room for; true: that was all.
    fn push_out(&mut self) -> bool {
        let port = uart::service();
        while let Some(byte) = self.out.get(..self.len).and_then(|out| out.get(self.sent)) {
            if port.uartfr().read().txff().bit_is_set() {
                // It is full now, so the half is still to come: the interrupt is for passing it.
                uart::call_when_sent();
                return false;
            }
            port.uartdr().write(|w| {
                // SAFETY: any byte may be sent.
                unsafe { w.bits(u32::from(*byte)) }
            });
            self.sent += 1;
        }
        true
    }
}
