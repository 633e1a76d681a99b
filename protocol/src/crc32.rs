//! CRC-32/ISO-HDLC, the check over frames, dumps, page heads and records.
//!
//! The table-free form: it costs time that nobody waits for and saves a kilobyte of flash.

/// The reversed polynomial of CRC-32/ISO-HDLC.
const POLYNOMIAL: u32 = 0xEDB8_8320;

/// The check value of `bytes`.
#[must_use]
pub fn of(bytes: &[u8]) -> u32 {
    let mut running = Running::default();
    running.update(bytes);
    running.finish()
}

/// A check value that is built up piece by piece.
pub struct Running(u32);

impl Default for Running {
    fn default() -> Self {
        Self(u32::MAX)
    }
}

impl Running {
    /// Takes more bytes in.
    pub fn update(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 ^= u32::from(*byte);
            for _ in 0..8 {
                let low = self.0 & 1;
                self.0 = (self.0 >> 1) ^ (POLYNOMIAL & low.wrapping_neg());
            }
        }
    }

    /// The check value of all bytes taken in.
    #[must_use]
    pub fn finish(self) -> u32 {
        !self.0
    }
}

#[cfg(test)]
mod tests {
    /// The catalogue's check value for CRC-32/ISO-HDLC (checks K1).
    #[test]
    fn catalogue_check_value() {
        assert_eq!(super::of(b"123456789"), 0xCBF4_3926);
        let mut running = super::Running::default();
        running.update(b"1234");
        running.update(b"56789");
        assert_eq!(running.finish(), 0xCBF4_3926);
    }
}
