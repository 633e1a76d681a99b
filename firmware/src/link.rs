//! Bytes in, bytes out: frames, tags and nothing of what is asked. A board has one for each of its ports, so that two hosts
//! at once cannot garble each other's frames.

use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::hello::Hello;
use halfglass_protocol::message::{self, REQUESTS, Refusal, Reply, Request};

/// A port's two ends: what has come of a frame, and the frame that goes back.
pub struct Link {
    decoder: Decoder<FRAME_MAX>,
    out: [u8; FRAME_MAX],
}

/// What a frame asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asked {
    Hello,
    Request {
        tag: u8,
        request: Request,
    },
    /// A request that is to be refused for what it is.
    Bad {
        tag: u8,
        refusal: Refusal,
    },
}

impl Default for Link {
    fn default() -> Self {
        Self::new()
    }
}

impl Link {
    /// Nothing has come yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { decoder: Decoder::new(), out: [0; FRAME_MAX] }
    }

    /// Takes one byte; what was asked once a frame is whole.
    pub(crate) fn push(&mut self, byte: u8) -> Option<Asked> {
        let (channel, body) = self.decoder.push(byte)?;
        match channel {
            Channel::HelloAsk => Some(Asked::Hello),
            Channel::Request => match message::decode::<Request>(body)? {
                (tag, Some(request)) => Some(Asked::Request { tag, request }),
                (tag, None) => {
                    let known = body.get(1).is_some_and(|variant| *variant < REQUESTS);
                    let refusal = if known { Refusal::Malformed } else { Refusal::Unknown };
                    Some(Asked::Bad { tag, refusal })
                }
            },
            // Answers are not for a logger.
            Channel::HelloAnswer | Channel::Reply => None,
        }
    }

    /// The frame of an answered hello.
    pub(crate) fn hello(&mut self, hello: &Hello) -> Option<&[u8]> {
        frame::encode(Channel::HelloAnswer, &hello.encode(), &mut self.out)
    }

    /// The frame of a reply. Its buffers are on the stack only while it runs.
    #[inline(never)]
    pub(crate) fn reply(&mut self, tag: u8, reply: &Reply<'_>) -> Option<&[u8]> {
        let mut body = [0; frame::BODY_MAX];
        let body = message::encode(tag, reply, &mut body)?;
        frame::encode(Channel::Reply, body, &mut self.out)
    }
}
