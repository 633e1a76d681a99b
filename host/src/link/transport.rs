//! A two-way stream of bytes on which every wait ends.

use std::io;
use std::time::Duration;

/// What the client needs of a cable.
pub trait Transport {
    /// Sends all of `bytes`.
    ///
    /// # Errors
    /// The cable is gone, or nothing was taken for a second.
    fn send(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Waits at most `wait` for something to arrive and says how many bytes did; 0: nothing in time.
    ///
    /// # Errors
    /// The cable is gone.
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize>;
}

impl<T: Transport + ?Sized> Transport for Box<T> {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        (**self).send(bytes)
    }

    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize> {
        (**self).receive(buffer, wait)
    }
}

/// A serial port: real, USB or pseudo-terminal.
pub struct Serial(pub Box<dyn serialport::SerialPort>);

/// For how long a port may take nothing before it counts as gone.
const SEND_WAIT: Duration = Duration::from_secs(1);

impl Transport for Serial {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.set_timeout(SEND_WAIT)?;
        // No flush: draining a pseudo-terminal can wait for ever, and the reply proves the arrival anyway.
        io::Write::write_all(&mut self.0, bytes)
    }

    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.0.set_timeout(wait.max(Duration::from_millis(1)))?;
        match io::Read::read(&mut self.0, buffer) {
            Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
            Ok(count) => Ok(count),
            Err(error) if is_only_late(&error) => Ok(0),
            Err(error) => Err(error),
        }
    }
}

fn is_only_late(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted)
}
