//! A socket on which nothing waits for ever.

use std::io::{ErrorKind, Read, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::time::{Duration, Instant};

/// How long an answer from the emulator may take. It answers in a millisecond unless it is gone or runs for ever.
pub const ANSWER_MAX: Duration = Duration::from_secs(60);

/// A connected socket and what came in over it.
pub struct Stream {
    name: &'static str,
    socket: UnixStream,
    /// Bytes not yet taken.
    pub held: Vec<u8>,
}

impl Stream {
    /// Connects as soon as the other side listens.
    ///
    /// # Panics
    /// It does not listen within ten seconds.
    #[must_use]
    pub fn connect(name: &'static str, path: &Path) -> Stream {
        let until = Instant::now() + Duration::from_secs(10);
        loop {
            match UnixStream::connect(path) {
                Ok(socket) => {
                    socket.set_read_timeout(Some(ANSWER_MAX)).unwrap();
                    socket.set_write_timeout(Some(ANSWER_MAX)).unwrap();
                    return Stream { name, socket, held: Vec::new() };
                }
                Err(_) if Instant::now() < until => std::thread::sleep(Duration::from_millis(1)),
                Err(fault) => panic!("the emulator's {name} socket does not open: {fault}"),
            }
        }
    }

    /// Sends all of `bytes`.
    pub fn send(&mut self, bytes: &[u8]) {
        if let Err(fault) = self.socket.write_all(bytes) {
            panic!("the emulator's {} socket takes nothing more: {fault}", self.name);
        }
    }

    /// Waits for more bytes.
    pub fn more(&mut self) {
        let mut bytes = [0; 65_536];
        match self.socket.read(&mut bytes) {
            Ok(0) => panic!("the emulator closed its {} socket", self.name),
            Ok(count) => self.held.extend_from_slice(&bytes[..count]),
            Err(fault) => {
                panic!("no answer on the emulator's {} socket in {ANSWER_MAX:?}: {fault}", self.name)
            }
        }
    }

    /// Takes in what has come already.
    pub fn poll(&mut self) {
        self.socket.set_nonblocking(true).unwrap();
        let mut bytes = [0; 4_096];
        loop {
            match self.socket.read(&mut bytes) {
                Ok(0) => break,
                Ok(count) => self.held.extend_from_slice(&bytes[..count]),
                Err(fault) if fault.kind() == ErrorKind::WouldBlock => break,
                Err(fault) => panic!("the emulator's {} socket: {fault}", self.name),
            }
        }
        self.socket.set_nonblocking(false).unwrap();
    }
}
