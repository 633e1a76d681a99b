//! Frames as they travel: what must come through, what must not, and how the receiver stays in step.

use halfglass_protocol::frame::{self, BODY_MAX, Channel, Decoder, FRAME_MAX};
use proptest::prelude::*;

type FullDecoder = Decoder<FRAME_MAX>;

const CHANNELS: [Channel; 4] = [Channel::HelloAsk, Channel::HelloAnswer, Channel::Request, Channel::Reply];

fn framed(channel: Channel, body: &[u8]) -> Vec<u8> {
    let mut out = [0; FRAME_MAX];
    frame::encode(channel, body, &mut out).expect("FRAME_MAX always suffices").to_vec()
}

/// Every sound frame among `bytes`.
fn received<const N: usize>(decoder: &mut Decoder<N>, bytes: &[u8]) -> Vec<(Channel, Vec<u8>)> {
    let mut frames = Vec::new();
    for byte in bytes {
        if let Some((channel, body)) = decoder.push(*byte) {
            frames.push((channel, body.to_vec()));
        }
    }
    frames
}

/// Written by Python: `cobs` 1.2.2 and `zlib.crc32` of Python 3.11, so an independent COBS and CRC agree.
#[test]
fn bytes_on_the_wire() {
    assert_eq!(framed(Channel::HelloAsk, &[]), [0x00, 0x06, 0x01, 0x1b, 0xdf, 0x05, 0xa5, 0x00]);
    let hello = [
        0x48, 0x67, 1, 0, 0x58, 0xe4, 0x7b, 0xa0, 0xd2, 0x11, 0x9c, 0x3f, 0, 1, 0, 8, 7, 0, 0, 0, 0x10, 0x0e,
        0, 0, 0, 0, 0, 0,
    ];
    assert_eq!(
        framed(Channel::HelloAnswer, &hello),
        [
            0x00, 0x05, 0x02, 0x48, 0x67, 0x01, 0x09, 0x58, 0xe4, 0x7b, 0xa0, 0xd2, 0x11, 0x9c, 0x3f, 0x02,
            0x01, 0x03, 0x08, 0x07, 0x01, 0x01, 0x03, 0x10, 0x0e, 0x01, 0x01, 0x01, 0x01, 0x01, 0x05, 0x07,
            0x44, 0x36, 0xa7, 0x00
        ]
    );
    // Tag 9: a status request, and a reply that says done.
    assert_eq!(
        framed(Channel::Request, &[9, 0]),
        [0x00, 0x03, 0x10, 0x09, 0x05, 0x2b, 0xc1, 0xa5, 0x32, 0x00]
    );
    assert_eq!(framed(Channel::Reply, &[9, 6]), [0x00, 0x08, 0x11, 0x09, 0x06, 0x29, 0x0e, 0x04, 0xda, 0x00]);
}

/// The longest bodies, from the same Python: length, and CRC-32 of the whole frame.
#[test]
fn longest_bodies_on_the_wire() {
    let crc = halfglass_protocol::crc32::of;
    let zeros = framed(Channel::Reply, &[0; BODY_MAX]);
    assert_eq!((zeros.len(), crc(&zeros)), (263, 0xd042_623e));
    let no_zero: Vec<u8> = (1..=255).collect();
    let no_zero = framed(Channel::Reply, &no_zero);
    assert_eq!((no_zero.len(), crc(&no_zero)), (264, 0x11af_15f0));
    let ramp: Vec<u8> = (0..255).collect();
    let ramp = framed(Channel::Reply, &ramp);
    assert_eq!((ramp.len(), crc(&ramp)), (264, 0x8989_8bde));
    assert_eq!(FRAME_MAX, 264, "no byte of room is wasted");
}

#[test]
fn every_channel_and_length_comes_through() {
    let mut decoder = FullDecoder::new();
    for channel in CHANNELS {
        for len in 0..=BODY_MAX {
            let body: Vec<u8> = (0..len).map(|at| (at * 7) as u8).collect();
            let frames = received(&mut decoder, &framed(channel, &body));
            assert_eq!(frames, [(channel, body)]);
        }
    }
}

#[test]
fn too_long_a_body_or_too_short_a_buffer_is_refused() {
    let mut out = [0; 2 * FRAME_MAX];
    assert_eq!(frame::encode(Channel::Reply, &[1; BODY_MAX + 1], &mut out), None);
    let needed = framed(Channel::Request, &[9, 0]).len();
    for len in 0..needed {
        assert_eq!(frame::encode(Channel::Request, &[9, 0], &mut out[..len]), None, "{len} bytes of room");
    }
    assert!(frame::encode(Channel::Request, &[9, 0], &mut out[..needed]).is_some());
}

/// One flipped bit anywhere: no frame comes out of it with another content, and the next one is whole.
#[test]
fn a_flipped_bit_never_becomes_a_frame() {
    let sound = framed(Channel::Reply, &[9, 4, 0, 0xAC, 0x02, 0, 0, 1]);
    let expected = received(&mut FullDecoder::new(), &sound);
    for at in 0..sound.len() {
        for bit in 0..8 {
            let mut bytes = sound.clone();
            bytes[at] ^= 1 << bit;
            let mut decoder = FullDecoder::new();
            let frames = received(&mut decoder, &bytes);
            // A flip in the delimiter ahead of the frame only adds noise that the code byte then swallows.
            assert!(frames.is_empty(), "bit {bit} of byte {at} gave {frames:02x?}");
            // A flipped last delimiter merges it with the leading delimiter of the next frame: that one ends it.
            assert_eq!(received(&mut decoder, &sound), expected, "after bit {bit} of byte {at}");
        }
    }
}

/// Noise in front, no delimiter in it: the frame's own leading delimiter cuts it off.
#[test]
fn noise_in_front_is_cut_off() {
    let mut decoder = FullDecoder::new();
    let sound = framed(Channel::HelloAsk, &[]);
    for noise in [&[0xFF][..], b"boot: ok\r\n", &[1; 1000], &[0, 0, 0], &[5, 5, 0, 9]] {
        let bytes = [noise, &sound].concat();
        assert_eq!(received(&mut decoder, &bytes), [(Channel::HelloAsk, vec![])], "{noise:02x?}");
    }
}

/// Joined in the middle of a frame: that one is lost, the next comes through.
#[test]
fn a_receiver_that_joins_late_falls_into_step() {
    let first = framed(Channel::Reply, &[1, 2, 3, 4, 5, 6, 7, 8]);
    let second = framed(Channel::Reply, &[9]);
    for skip in 2..first.len() {
        let bytes = [&first[skip..], &second].concat();
        let frames = received(&mut FullDecoder::new(), &bytes);
        assert_eq!(frames, [(Channel::Reply, vec![9])], "joined at byte {skip}");
    }
}

/// A decoder for short frames (a logger need not hold a long request) drops a longer one whole.
#[test]
fn an_overlong_frame_is_dropped_to_its_delimiter() {
    let short = framed(Channel::Request, &[9, 0]);
    let room = short.len() - 2;
    let mut decoder = Decoder::<8>::new();
    assert_eq!(room, 8, "the short frame just fits");
    for len in 3..=BODY_MAX {
        let long = framed(Channel::Request, &vec![7; len]);
        assert_eq!(received(&mut decoder, &long), []);
        assert_eq!(received(&mut decoder, &short), [(Channel::Request, vec![9, 0])], "after {len} bytes");
    }
}

/// A frame that is sound as far as the room goes and longer than that: still dropped.
#[test]
fn an_overlong_frame_is_not_cut_to_a_sound_one() {
    let mut bytes = framed(Channel::Request, &[9, 0]);
    bytes.insert(bytes.len() - 1, 0x01);
    assert_eq!(received(&mut Decoder::<8>::new(), &bytes), []);
}

#[test]
fn an_unknown_channel_is_dropped() {
    // Content 0x7F and its CRC-32, from Python: cobs 1.2.2, zlib.
    let unknown = [0x00, 0x06, 0x7f, 0x20, 0x83, 0xb8, 0x12, 0x00];
    assert_eq!(received(&mut FullDecoder::new(), &unknown), []);
}

#[test]
fn delimiters_alone_are_no_frame() {
    assert_eq!(received(&mut FullDecoder::new(), &[0; 1000]), []);
}

proptest! {
    /// Whatever arrives, the decoder neither panics nor loses its step.
    #[test]
    fn any_noise_then_a_frame(noise in prop::collection::vec(any::<u8>(), 0..2000), body in prop::collection::vec(any::<u8>(), 0..=BODY_MAX)) {
        let mut decoder = FullDecoder::new();
        received(&mut decoder, &noise);
        let mut small = Decoder::<3>::new();
        received(&mut small, &noise);
        let frames = received(&mut decoder, &framed(Channel::Reply, &body));
        prop_assert_eq!(frames.last(), Some(&(Channel::Reply, body)));
    }

    /// Frames in a row, cut into any pieces, come out as they went in.
    #[test]
    fn frames_in_a_row(bodies in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..=BODY_MAX), 0..8)) {
        let bytes: Vec<u8> = bodies.iter().flat_map(|body| framed(Channel::Request, body)).collect();
        let expected: Vec<_> = bodies.into_iter().map(|body| (Channel::Request, body)).collect();
        prop_assert_eq!(received(&mut FullDecoder::new(), &bytes), expected);
    }
}
