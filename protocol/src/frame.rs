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
        let plain_len = cobs::decode_in_place(self.bytes.get_mut(..used)?).ok()?;
        let plain = self.bytes.get(..plain_len)?;
        let (content, check) = plain.split_at_checked(plain.len().checked_sub(4)?)?;
        if crc32::of(content).to_le_bytes() != *check {
            return None;
        }
        let (channel, body) = content.split_first()?;
        Some((Channel::from_byte(*channel)?, body))
    }
}
