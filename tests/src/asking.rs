//! Asks a simulated board over its byte pipe, frame by frame.

use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Reply, Request};
use halfglass_sim::bench::Powered;
use std::collections::BTreeMap;

/// Asks once; what `read` makes of the reply.
pub fn ask<F: NorFlash, const L: usize, T>(
    board: &mut Powered<F, L>,
    request: &Request,
    button: bool,
    read: impl FnOnce(Reply<'_>) -> T,
) -> T {
    let mut body = [0; frame::BODY_MAX];
    let mut bytes = [0; FRAME_MAX];
    let body = message::encode(7, request, &mut body).expect("a request fits");
    let bytes = frame::encode(Channel::Request, body, &mut bytes).expect("a frame fits");
    let mut answer = Vec::new();
    board.receive(bytes, button, &mut answer);
    let mut decoder = Decoder::<FRAME_MAX>::new();
    for byte in answer {
        if let Some((Channel::Reply, body)) = decoder.push(byte) {
            let (tag, reply) = message::decode::<Reply<'_>>(body).expect("a tag");
            assert_eq!(tag, 7);
            return read(reply.expect("a reply of this version"));
        }
    }
    panic!("no answer to {request:?}");
}

/// Everything in the history by index, as a pull would read it; an empty record is one that was lost.
pub fn pull_all<F: NorFlash, const L: usize>(board: &mut Powered<F, L>) -> BTreeMap<u32, Vec<u8>> {
    let (from, to) = ask(board, &Request::Fix { have: 0 }, false, |reply| match reply {
        Reply::Range { from, to, oldest } => {
            assert_eq!(from, oldest);
            (from, to)
        }
        other => panic!("{other:?}"),
    });
    let mut records = BTreeMap::new();
    let mut next = from;
    while next < to {
        let got = ask(board, &Request::Read { from: next, to }, false, |reply| match reply {
            Reply::Records { first, data } => {
                assert_eq!(first, next);
                data.to_vec()
            }
            other => panic!("{other:?}"),
        });
        let mut rest = got.as_slice();
        while let Some((len, after)) = rest.split_first() {
            let (record, after) = after.split_at(usize::from(*len));
            records.insert(next, record.to_vec());
            next += 1;
            rest = after;
        }
        assert!(!got.is_empty(), "a reply without records at {next} of {from}..{to}");
    }
    records
}
