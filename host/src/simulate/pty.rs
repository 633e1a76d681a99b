//! A simulated logger behind a real pseudo-terminal, which stands for its USB cable.
//!
//! The logger's clock stands still while it is served: the anchor that a pull appends is of the instant at which the
//! simulation stopped, if the host's clock says that instant.

use super::Simulation;

/// A pseudo-terminal to which nobody answers yet.
pub struct Pty {
    #[cfg(target_os = "linux")]
    ends: linux::Ends,
    name: String,
}

/// A logger that answers.
pub struct Served {
    name: String,
    /// Ends the answers when it goes.
    #[cfg(target_os = "linux")]
    _thread: linux::Thread,
}

impl Served {
    /// The port's name, as `--port` takes it.
    #[must_use]
    pub fn port(&self) -> &str {
        &self.name
    }
}

#[cfg(not(target_os = "linux"))]
impl Pty {
    /// Opens one.
    ///
    /// # Errors
    /// Always: only Linux's pseudo-terminals are known to serve as serial ports.
    pub fn open() -> std::io::Result<Pty> {
        Err(std::io::Error::new(
            std::io::ErrorKind::Unsupported,
            "only Linux has a pseudo-terminal that serves as a port",
        ))
    }

    /// Lets the logger answer.
    #[must_use]
    pub fn serve(self, _simulation: Simulation) -> Served {
        Served { name: self.name }
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use super::{Pty, Served, Simulation};
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::pty::{OpenptFlags, grantpt, ioctl_tiocgptpeer, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
    use std::fs::File;
    use std::io::{self, Read, Write};
    use std::os::fd::OwnedFd;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::thread::JoinHandle;

    /// How soon the thread sees that it is to stop.
    const STOP_LOOK: Timespec = Timespec { tv_sec: 0, tv_nsec: 20_000_000 };

    pub(super) struct Ends {
        logger: File,
        /// Kept open, so that the logger's end does not fail while the host has not opened the port yet.
        host: OwnedFd,
    }

    pub(super) struct Thread {
        stop: Arc<AtomicBool>,
        handle: Option<JoinHandle<()>>,
    }

    impl Pty {
        /// Opens one.
        ///
        /// # Errors
        /// The system has none to give.
        pub fn open() -> io::Result<Pty> {
            let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
            let logger = openpt(flags)?;
            grantpt(&logger)?;
            unlockpt(&logger)?;
            let host = ioctl_tiocgptpeer(&logger, flags)?;
            // Bytes as they are: no echo, no line editing.
            let mut modes = tcgetattr(&host)?;
            modes.make_raw();
            tcsetattr(&host, OptionalActions::Now, &modes)?;
            let name = ptsname(&logger, Vec::new())?.into_string().map_err(io::Error::other)?;
            Ok(Pty { ends: Ends { logger: File::from(logger), host }, name })
        }

        /// Lets the logger answer, from a thread of its own, until the result is dropped.
        #[must_use]
        pub fn serve(self, simulation: Simulation) -> Served {
            let stop = Arc::new(AtomicBool::new(false));
            let (ends, asked_to_stop) = (self.ends, Arc::clone(&stop));
            let handle = std::thread::spawn(move || answer(ends, simulation, &asked_to_stop));
            Served { name: self.name, _thread: Thread { stop, handle: Some(handle) } }
        }
    }

    fn answer(mut ends: Ends, mut simulation: Simulation, stop: &AtomicBool) {
        let mut bytes = [0; 1024];
        let mut answers = Vec::new();
        while !stop.load(Ordering::Relaxed) {
            let waiting = poll(&mut [PollFd::new(&ends.logger, PollFlags::IN)], Some(&STOP_LOOK));
            if !matches!(waiting, Ok(1..)) {
                continue;
            }
            // A cable that fails ends the answers; the host's deadlines then say so.
            let Ok(count) = ends.logger.read(&mut bytes) else { break };
            simulation.receive(&bytes[..count], &mut answers);
            if ends.logger.write_all(&answers).is_err() {
                break;
            }
            answers.clear();
        }
        drop(ends.host);
    }

    impl Drop for Thread {
        fn drop(&mut self) {
            self.stop.store(true, Ordering::Relaxed);
            if let Some(handle) = self.handle.take() {
                // A thread that panicked has said so already.
                let _ = handle.join();
            }
        }
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;
    use crate::link::ports;
    use crate::simulate::{Geometry, Options};

    #[test]
    fn a_logger_on_a_pseudo_terminal_greets_and_lets_go_of_it() {
        let options = Options { device_id: 0xab, geometry: Geometry::default(), seed: 1, warm_up_s: 0 };
        let mut simulation = Simulation::new(0, &options).unwrap();
        simulation.advance(5_000).unwrap();
        let served = Pty::open().unwrap().serve(simulation);
        let port = served.port().to_owned();
        assert_eq!(ports::connect(&port).unwrap().hello.device_id, 0xab);
        drop(served);
        assert!(ports::connect(&port).is_err());
    }
}
