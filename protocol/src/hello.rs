//! The handshake, frozen for ever: any host of any age can ask any logger who it is.
//!
//! ```text
//!  0        2          4                 12       15       16       20        24       28
//!  | "Hg"   | protocol | device id       | firmware | lines | session | uptime  | least  |
//!  |        | u16      | u64             | x.y.z    | u8    | u32     | s, u32  | 2x u16 |
//!  little-endian; least: debounce and hold time, ms. A firmware from before they were said has 0 there.
//! ```

/// The protocol version that this crate speaks.
pub const PROTOCOL_VERSION: u16 = 1;

/// The length of an answered hello, in bytes.
pub const HELLO_LEN: usize = 28;

/// Who answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hello {
    /// The version of requests, replies and records that the logger speaks.
    pub protocol_version: u16,
    /// The logger's own number, from its chip.
    pub device_id: u64,
    /// The firmware's version: major, minor, patch.
    pub firmware_version: [u8; 3],
    /// How many inputs the board has.
    pub lines: u8,
    /// The current session.
    pub session: u32,
    /// The lifetime uptime, in whole seconds.
    pub uptime_s: u32,
    /// A contact's debounce time may not be shorter on this board, in milliseconds. 0: it does not say.
    pub debounce_min_ms: u16,
    /// Nor a pulsed line's hold time.
    pub hold_min_ms: u16,
}

impl Hello {
    /// The fixed bytes of an answer.
    #[must_use]
    pub fn encode(&self) -> [u8; HELLO_LEN] {
        let [p0, p1] = self.protocol_version.to_le_bytes();
        let [d0, d1, d2, d3, d4, d5, d6, d7] = self.device_id.to_le_bytes();
        let [v0, v1, v2] = self.firmware_version;
        let [s0, s1, s2, s3] = self.session.to_le_bytes();
        let [u0, u1, u2, u3] = self.uptime_s.to_le_bytes();
        let [l0, l1] = self.debounce_min_ms.to_le_bytes();
        let [h0, h1] = self.hold_min_ms.to_le_bytes();
        [
            b'H', b'g', p0, p1, d0, d1, d2, d3, d4, d5, d6, d7, v0, v1, v2, self.lines, s0, s1, s2, s3, u0,
            u1, u2, u3, l0, l1, h0, h1,
        ]
    }

    /// Reads an answer; `None` if it is not one.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Hello> {
        let bytes: &[u8; HELLO_LEN] = bytes.try_into().ok()?;
        let rest = bytes.strip_prefix(b"Hg")?;
        let (protocol_version, rest) = rest.split_first_chunk()?;
        let (device_id, rest) = rest.split_first_chunk()?;
        let (firmware_version, rest) = rest.split_first_chunk()?;
        let (lines, rest) = rest.split_first()?;
        let (session, rest) = rest.split_first_chunk()?;
        let (uptime_s, rest) = rest.split_first_chunk()?;
        let (debounce_min_ms, rest) = rest.split_first_chunk()?;
        let (hold_min_ms, _) = rest.split_first_chunk()?;
        Some(Hello {
            protocol_version: u16::from_le_bytes(*protocol_version),
            device_id: u64::from_le_bytes(*device_id),
            firmware_version: *firmware_version,
            lines: *lines,
            session: u32::from_le_bytes(*session),
            uptime_s: u32::from_le_bytes(*uptime_s),
            debounce_min_ms: u16::from_le_bytes(*debounce_min_ms),
            hold_min_ms: u16::from_le_bytes(*hold_min_ms),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_frozen() {
        let hello = Hello {
            protocol_version: 1,
            device_id: 0x3f9c_11d2_a07b_e458,
            firmware_version: [0, 1, 0],
            lines: 8,
            session: 7,
            uptime_s: 3_600,
            debounce_min_ms: 0,
            hold_min_ms: 0,
        };
        let bytes = [
            0x48, 0x67, 1, 0, 0x58, 0xe4, 0x7b, 0xa0, 0xd2, 0x11, 0x9c, 0x3f, 0, 1, 0, 8, 7, 0, 0, 0, 0x10,
            0x0e, 0, 0, 0, 0, 0, 0,
        ];
        assert_eq!(hello.encode(), bytes);
        assert_eq!(Hello::decode(&bytes), Some(hello));
        let least = Hello { debounce_min_ms: 100, hold_min_ms: 500, ..hello };
        let mut more = bytes;
        more[24..].copy_from_slice(&[100, 0, 0xF4, 1]);
        assert_eq!(least.encode(), more);
        assert_eq!(Hello::decode(&more), Some(least));
        assert_eq!(Hello::decode(&bytes[1..]), None);
        assert_eq!(Hello::decode(b"Hello, this is some other device"), None);
    }
}
