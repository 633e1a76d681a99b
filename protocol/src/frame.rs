//! Frames: COBS between zero bytes, a CRC-32 at the end. See the picture in the crate's front page.

use crate::crc32;

/// The longest body, in bytes.
pub const BODY_MAX: usize = 255;

/// Channel, body and check.
pub const PLAIN_MAX: usize = 1 + BODY_MAX + 4;

/// The longest frame on the wire: COBS adds one byte in 254 and one more, then the delimiter; a leading
/// delimiter is sent too, so that whatever noise came before is cut off.
pub const FRAME_MAX: usize = 1 + cobs::max_encoding_length(PLAIN_MAX) + 1;

/// What a frame carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Channel {
    /// Who are you?
    HelloAsk = 0x01,
    /// [`crate::hello::Hello`].
    HelloAnswer = 0x02,
    /// [`crate::message::Request`].
    Request = 0x10,
    /// [`crate::message::Reply`].
    Reply = 0x11,
}

impl Channel {
    fn from_byte(byte: u8) -> Option<Channel> {
        [Channel::HelloAsk, Channel::HelloAnswer, Channel::Request, Channel::Reply]
            .into_iter()
            .find(|channel| *channel as u8 == byte)
    }
}

/// Writes a frame into `out`, delimiters included; `None` if the body is too long or `out` too short
/// ([`FRAME_MAX`] always suffices).
pub fn encode<'a>(channel: Channel, body: &[u8], out: &'a mut [u8]) -> Option<&'a [u8]> {
    let mut plain = [0; PLAIN_MAX];
    let (first, rest) = plain.split_first_mut()?;
    *first = channel as u8;
    rest.get_mut(..body.len())?.copy_from_slice(body);
    let end = 1 + body.len();
    let check = crc32::of(plain.get(..end)?);
    // No room for the check behind a body beyond BODY_MAX: this is where it is refused.
    plain.get_mut(end..end + 4)?.copy_from_slice(&check.to_le_bytes());
    let plain = plain.get(..end + 4)?;

    let (lead, rest) = out.split_first_mut()?;
    *lead = 0;
    let used = cobs::try_encode(plain, rest).ok()?;
    *rest.get_mut(used)? = 0;
    out.get(..used + 2)
}

/// Collects bytes into frames. `N` is the longest frame it will take, delimiter excluded; anything longer is
/// dropped up to the next delimiter.
pub struct Decoder<const N: usize> {
    bytes: [u8; N],
    used: usize,
    overlong: bool,
}

impl<const N: usize> Default for Decoder<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Decoder<N> {
    /// An empty decoder.
    #[must_use]
    pub const fn new() -> Self {
        Self { bytes: [0; N], used: 0, overlong: false }
    }

    /// Takes one byte; a whole and sound frame comes back as channel and body.
    pub fn push(&mut self, byte: u8) -> Option<(Channel, &[u8])> {
        if byte != 0 {
            match self.bytes.get_mut(self.used) {
                Some(slot) => {
                    *slot = byte;
                    self.used += 1;
                }
                None => self.overlong = true,
            }
            return None;
        }
        let used = core::mem::take(&mut self.used);
        if core::mem::take(&mut self.overlong) {
            return None;
        }
        let plain_len = unstuff(self.bytes.get_mut(..used)?)?;
        let plain = self.bytes.get(..plain_len)?;
        let (content, check) = plain.split_at_checked(plain.len().checked_sub(4)?)?;
        if crc32::of(content).to_le_bytes() != *check {
            return None;
        }
        let (channel, body) = content.split_first()?;
        Some((Channel::from_byte(*channel)?, body))
    }
}

/// Undoes COBS in place (no zero is among the bytes); the length of what was stuffed, or `None` if a block is cut
/// short. The `cobs` crate does the same, but with indices of which the compiler cannot show that they stay inside,
/// and a logger must be shown not to panic.
fn unstuff(bytes: &mut [u8]) -> Option<usize> {
    let (mut from, mut to) = (0, 0);
    while let Some(code) = bytes.get(from).copied() {
        from += 1;
        for _ in 1..code {
            *bytes.get_mut(to)? = *bytes.get(from)?;
            from += 1;
            to += 1;
        }
        // A zero stands at a block's end, unless the block is a full one or the last.
        if code < 0xFF && from < bytes.len() {
            *bytes.get_mut(to)? = 0;
            to += 1;
        }
    }
    Some(to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    #[track_caller]
    fn assert_unstuffed(stuffed: &[u8], plain: &[u8]) {
        let mut bytes = stuffed.to_vec();
        let len = unstuff(&mut bytes).expect("COBS");
        assert_eq!(&bytes[..len], plain, "{stuffed:02x?}");
    }

    /// Checks K5 and K7: Python `cobs` 1.2.2; Cheshire and Baker, "Consistent Overhead Byte Stuffing", 1999.
    #[test]
    fn short_examples() {
        assert_unstuffed(&[0x01, 0x01], &[0x00]);
        assert_unstuffed(&[0x01, 0x01, 0x01], &[0x00, 0x00]);
        assert_unstuffed(&[0x01, 0x02, 0x11, 0x01], &[0x00, 0x11, 0x00]);
        assert_unstuffed(&[0x03, 0x11, 0x22, 0x02, 0x33], &[0x11, 0x22, 0x00, 0x33]);
        assert_unstuffed(&[0x05, 0x11, 0x22, 0x33, 0x44], &[0x11, 0x22, 0x33, 0x44]);
        assert_unstuffed(&[0x02, 0x11, 0x01, 0x01, 0x01], &[0x11, 0x00, 0x00, 0x00]);
        assert_unstuffed(
            &[0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37],
            &[0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37],
        );
    }

    /// Checks K6, around the block of 254: Python `cobs` 1.2.2.
    #[test]
    fn long_examples() {
        let run = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
        assert_unstuffed(&[&[0xFF][..], &run(0x01, 0xFE)].concat(), &run(0x01, 0xFE));
        assert_unstuffed(&[&[0x01, 0xFF][..], &run(0x01, 0xFE)].concat(), &run(0x00, 0xFE));
        assert_unstuffed(&[&[0xFF][..], &run(0x01, 0xFE), &[0x02, 0xFF]].concat(), &run(0x01, 0xFF));
        assert_unstuffed(
            &[&[0xFF][..], &run(0x02, 0xFF), &[0x01, 0x01]].concat(),
            &[&run(0x02, 0xFF)[..], &[0x00]].concat(),
        );
        assert_unstuffed(
            &[&[0xFE][..], &run(0x03, 0xFF), &[0x02, 0x01]].concat(),
            &[&run(0x03, 0xFF)[..], &[0x00, 0x01]].concat(),
        );
    }

    #[test]
    fn a_block_cut_short_is_not_cobs() {
        assert_eq!(unstuff(&mut [0x03, 0x11]), None);
        assert_eq!(unstuff(&mut [0x02]), None);
        assert_eq!(unstuff(&mut []), Some(0));
    }

    proptest::proptest! {
        /// Whatever is stuffed by the `cobs` crate comes back, and whatever that crate unstuffs, this does alike.
        #[test]
        fn as_the_cobs_crate_does(
            plain in proptest::collection::vec(0u8..4, 0..600),
            noise in proptest::collection::vec(1u8..8, 0..300),
        ) {
            let mut stuffed = std::vec![0; cobs::max_encoding_length(plain.len())];
            let len = cobs::try_encode(&plain, &mut stuffed).expect("long enough");
            assert_unstuffed(&stuffed[..len], &plain);
            let mut theirs = noise.clone();
            if let Ok(len) = cobs::decode_in_place(&mut theirs) {
                assert_unstuffed(&noise, &theirs[..len]);
            }
        }
    }
}
