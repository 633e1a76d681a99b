//! Requests out, replies in. Every wait has a deadline, a lost or garbled frame is asked for again, and an
//! answer to an earlier question is known by its tag and ignored.

use super::Transport;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::hello::Hello;
use halfglass_protocol::message::{self, Refusal, Reply, Request};
use std::io;
use std::time::{Duration, Instant};

/// How long the client waits, and how often it asks.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For one reply.
    pub reply: Duration,
    /// Times that one request is sent before the logger counts as silent.
    pub tries: u32,
    /// For a logger that says that it is not ready yet, or asks for a wait.
    pub wait_max: Duration,
}

impl Patience {
    /// What `pull` uses: a reply normally takes milliseconds.
    pub const USUAL: Patience =
        Patience { reply: Duration::from_secs(1), tries: 5, wait_max: Duration::from_secs(75) };

    /// For asking a port that may not be a logger at all.
    pub const GREETING: Patience =
        Patience { reply: Duration::from_secs(1), tries: 3, wait_max: Duration::ZERO };
}

/// Why a question got no answer.
#[derive(Debug)]
pub enum Fault {
    /// The cable or port is gone.
    Broken(io::Error),
    /// Not one byte came back.
    Silent {
        /// For how long the client listened in all.
        waited: Duration,
    },
    /// Bytes came back, but no sound frame that answers the question.
    Garbled {
        /// How many bytes.
        bytes: usize,
        /// They were the client's own frames: the port only echoes.
        echo: bool,
    },
    /// The logger understood and declined.
    Refused(Refusal),
    /// A sound frame that this version cannot read, or that answers something else.
    NotUnderstood,
}

/// One conversation with one logger.
pub struct Client<T> {
    transport: T,
    decoder: Decoder<FRAME_MAX>,
    /// Bytes received behind the last frame taken, kept for the next.
    pending: Vec<u8>,
    tag: u8,
    /// Its waits.
    pub patience: Patience,
}

impl<T: Transport> Client<T> {
    /// A client over a transport.
    pub fn new(transport: T, patience: Patience) -> Self {
        Self { transport, decoder: Decoder::new(), pending: Vec::new(), tag: 0, patience }
    }

    /// Asks who is there.
    ///
    /// # Errors
    /// Nobody who speaks as a logger does.
    pub fn hello(&mut self) -> Result<Hello, Fault> {
        self.exchange(Channel::HelloAsk, &[], self.patience.tries, &mut |channel, body| {
            if channel == Channel::HelloAnswer { Hello::decode(body) } else { None }
        })
    }

    /// Asks once or more, until the reply to this very request is there, and hands it to `take`.
    /// `NotReady` and a wait that fits [`Patience::wait_max`] are waited for.
    ///
    /// # Errors
    /// See [`Fault`]. A reply that `take` declines is [`Fault::NotUnderstood`].
    pub fn ask<R>(
        &mut self,
        request: &Request,
        mut take: impl FnMut(&Reply<'_>) -> Option<R>,
    ) -> Result<R, Fault> {
        let give_up = Instant::now() + self.patience.wait_max;
        loop {
            let refusal = match self.ask_once(request, self.patience.tries, &mut take) {
                Err(Fault::Refused(refusal)) => refusal,
                other => return other,
            };
            let pause = match refusal {
                Refusal::NotReady => Duration::from_millis(300),
                Refusal::Wait { seconds } => Duration::from_secs(u64::from(seconds.max(1))),
                _ => return Err(Fault::Refused(refusal)),
            };
            if Instant::now() + pause > give_up {
                return Err(Fault::Refused(refusal));
            }
            std::thread::sleep(pause);
        }
    }

    /// As [`Client::ask`], but a wait that the logger asks for is handed back, and `tries` is given.
    ///
    /// # Errors
    /// As [`Client::ask`].
    pub fn ask_once<R>(
        &mut self,
        request: &Request,
        tries: u32,
        take: &mut impl FnMut(&Reply<'_>) -> Option<R>,
    ) -> Result<R, Fault> {
        self.tag = self.tag.wrapping_add(1);
        let tag = self.tag;
        let mut body = [0; frame::BODY_MAX];
        let body = message::encode(tag, request, &mut body).ok_or(Fault::NotUnderstood)?;
        self.exchange(Channel::Request, body, tries, &mut |channel, body| {
            if channel != Channel::Reply {
                return None;
            }
            match message::decode::<Reply<'_>>(body)? {
                (answered, _) if answered != tag => None,
                (_, None) => Some(Err(Fault::NotUnderstood)),
                (_, Some(Reply::Refused(refusal))) => Some(Err(Fault::Refused(refusal))),
                (_, Some(reply)) => Some(take(&reply).ok_or(Fault::NotUnderstood)),
            }
        })?
    }

    /// Sends a frame up to `tries` times and listens for one that `accept` takes.
    fn exchange<R>(
        &mut self,
        channel: Channel,
        body: &[u8],
        tries: u32,
        accept: &mut dyn FnMut(Channel, &[u8]) -> Option<R>,
    ) -> Result<R, Fault> {
        let mut frame = [0; FRAME_MAX];
        let frame = frame::encode(channel, body, &mut frame).ok_or(Fault::NotUnderstood)?;
        let started = Instant::now();
        let mut heard: Vec<u8> = Vec::new();
        let mut heard_len = 0;
        for _ in 0..tries {
            self.transport.send(frame).map_err(Fault::Broken)?;
            let deadline = Instant::now() + self.patience.reply;
            loop {
                while let Some(byte) = self.pending.pop() {
                    if let Some((channel, body)) = self.decoder.push(byte)
                        && let Some(answer) = accept(channel, body)
                    {
                        return Ok(answer);
                    }
                }
                let now = Instant::now();
                if now >= deadline {
                    break;
                }
                let mut buffer = [0; 1024];
                let count = self.transport.receive(&mut buffer, deadline - now).map_err(Fault::Broken)?;
                let bytes = &buffer[..count.min(buffer.len())];
                heard_len += bytes.len();
                // A port that talks without end must not fill the memory: the first bytes tell an echo.
                let room = (4 * FRAME_MAX).saturating_sub(heard.len()).min(bytes.len());
                heard.extend_from_slice(&bytes[..room]);
                self.pending = bytes.iter().rev().copied().collect();
            }
        }
        if heard_len == 0 {
            return Err(Fault::Silent { waited: started.elapsed() });
        }
        let inner: Vec<u8> = frame.iter().copied().filter(|byte| *byte != 0).collect();
        let echo = heard.windows(inner.len()).any(|window| window == inner);
        Err(Fault::Garbled { bytes: heard_len, echo })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::message::Status;
    use std::collections::VecDeque;

    /// Answers each request by a script: a list of byte strings for the first sending, the second, ...
    struct Scripted {
        answers: VecDeque<Vec<u8>>,
        ready: VecDeque<u8>,
        sent: usize,
    }

    impl Transport for Scripted {
        fn send(&mut self, _bytes: &[u8]) -> io::Result<()> {
            self.sent += 1;
            self.ready.extend(self.answers.pop_front().unwrap_or_default());
            Ok(())
        }

        fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize> {
            if self.ready.is_empty() {
                std::thread::sleep(wait);
                return Ok(0);
            }
            let count = self.ready.len().min(buffer.len()).min(7);
            for (slot, byte) in buffer.iter_mut().zip(self.ready.drain(..count)) {
                *slot = byte;
            }
            Ok(count)
        }
    }

    const QUICK: Patience =
        Patience { reply: Duration::from_millis(15), tries: 3, wait_max: Duration::from_millis(500) };

    fn client(answers: &[Vec<u8>]) -> Client<Scripted> {
        let script = Scripted { answers: answers.iter().cloned().collect(), ready: VecDeque::new(), sent: 0 };
        Client::new(script, QUICK)
    }

    fn reply(tag: u8, reply: &Reply<'_>) -> Vec<u8> {
        let mut body = [0; 255];
        let mut out = [0; FRAME_MAX];
        let body = message::encode(tag, reply, &mut body).unwrap();
        frame::encode(Channel::Reply, body, &mut out).unwrap().to_vec()
    }

    fn status(on: u8) -> Reply<'static> {
        Reply::Status(Status { on, ..Status::default() })
    }

    fn on_of(reply: &Reply<'_>) -> Option<u8> {
        match reply {
            Reply::Status(status) => Some(status.on),
            _ => None,
        }
    }

    #[test]
    fn asks_again_when_a_frame_is_lost_or_garbled() {
        let mut garbled = reply(1, &status(3));
        garbled[9] ^= 0x10;
        let mut client = client(&[vec![], garbled, reply(1, &status(3))]);
        assert_eq!(client.ask(&Request::Status, on_of).unwrap(), 3);
        assert_eq!(client.transport.sent, 3);
    }

    #[test]
    fn a_late_answer_is_not_taken_for_another() {
        // The answer to question 1 comes only after question 2 was asked, before its own answer.
        let mut late = reply(1, &status(1));
        late.extend(reply(2, &status(2)));
        let mut client = client(&[vec![], vec![], vec![], late]);
        assert!(matches!(client.ask(&Request::Status, on_of), Err(Fault::Silent { .. })));
        assert_eq!(client.ask(&Request::Status, on_of).unwrap(), 2);
    }

    #[test]
    fn not_ready_is_waited_for_and_other_refusals_are_not() {
        let not_ready = reply(1, &Reply::Refused(Refusal::NotReady));
        let mut patient = client(&[not_ready, reply(2, &status(5))]);
        assert_eq!(patient.ask(&Request::Status, on_of).unwrap(), 5);
        let mut declined = client(&[reply(1, &Reply::Refused(Refusal::HoldButton))]);
        let fault = declined.ask(&Request::Status, on_of);
        assert!(matches!(fault, Err(Fault::Refused(Refusal::HoldButton))), "{fault:?}");
        // A wait longer than the patience is handed back at once.
        let mut long = client(&[reply(1, &Reply::Refused(Refusal::Wait { seconds: 60 }))]);
        let fault = long.ask(&Request::Status, on_of);
        assert!(matches!(fault, Err(Fault::Refused(Refusal::Wait { seconds: 60 }))), "{fault:?}");
    }

    #[test]
    fn silence_garbage_and_echo_are_told_apart() {
        assert!(matches!(client(&[]).hello(), Err(Fault::Silent { .. })));
        let noise = b"login: ".to_vec();
        let fault = client(&[noise]).hello();
        assert!(matches!(fault, Err(Fault::Garbled { bytes: 7, echo: false })), "{fault:?}");
        let mut frame = [0; FRAME_MAX];
        let own = frame::encode(Channel::HelloAsk, &[], &mut frame).unwrap().to_vec();
        let fault = client(&[own]).hello();
        assert!(matches!(fault, Err(Fault::Garbled { echo: true, .. })), "{fault:?}");
    }
}
