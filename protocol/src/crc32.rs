//! CRC-32/ISO-HDLC, the check over frames, dumps, page heads and records.
//!
//! The table-free form: it costs time that nobody waits for and saves a kilobyte of flash.

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// The check value of `bytes`.
#[must_use]
pub fn of(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// A check value that is built up piece by piece.
pub struct Running(crc::Digest<'static, u32, NoTable>);

static STATIC_CRC: Crc<u32, NoTable> = CRC;

impl Default for Running {
    fn default() -> Self {
        Self(STATIC_CRC.digest())
    }
}

impl Running {
    /// Takes more bytes in.
    pub fn update(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The check value of all bytes taken in.
    #[must_use]
    pub fn finish(self) -> u32 {
        self.0.finalize()
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
