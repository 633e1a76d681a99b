//! The board's USB port as a port of this computer, for the built program.

use super::desk::Desk;
use rustix::io::ioctl_fionbio;
use rustix::pty::{OpenptFlags, grantpt, ioctl_tiocgptpeer, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs::File;
use std::io::{self, ErrorKind, Read, Write};
use std::os::fd::OwnedFd;
use std::thread::{scope, sleep};
use std::time::Duration;

/// How much of the board's time passes between two looks at the cable.
const STEP_MS: f64 = 2.0;

/// Does something that needs the port's name, while bytes go to and fro and the board's time goes on. It must end by itself.
///
/// # Panics
/// There is no pseudo-terminal, or it broke.
pub fn plugged<T: Send>(desk: &mut Desk, work: impl FnOnce(&str) -> T + Send) -> T {
    // Their end is kept open, so that ours does not fail before the program has opened it.
    let (mut ours, _theirs, name) = terminal().expect("a pseudo-terminal");
    scope(|threads| {
        let working = threads.spawn(move || work(&name));
        while !working.is_finished() {
            let mut bytes = [0; 512];
            match ours.read(&mut bytes) {
                Ok(count) => desk.send_bytes(&bytes[..count]),
                // The board's time is not to run far ahead of the program's.
                Err(fault) if fault.kind() == ErrorKind::WouldBlock => sleep(Duration::from_millis(1)),
                Err(fault) => panic!("the pseudo-terminal broke: {fault}"),
            }
            desk.run_ms(STEP_MS);
            let received = desk.take_received();
            ours.write_all(&received).expect("the pseudo-terminal takes bytes");
        }
        working.join().expect("the work ends well")
    })
}

/// Our end, which does not wait; their end; and what theirs is called.
fn terminal() -> io::Result<(File, OwnedFd, String)> {
    let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
    let ours = openpt(flags)?;
    grantpt(&ours)?;
    unlockpt(&ours)?;
    let theirs = ioctl_tiocgptpeer(&ours, flags)?;
    // Bytes as they are: no echo, no line editing.
    let mut modes = tcgetattr(&theirs)?;
    modes.make_raw();
    tcsetattr(&theirs, OptionalActions::Now, &modes)?;
    ioctl_fionbio(&ours, true)?;
    let name = ptsname(&ours, Vec::new())?.into_string().map_err(io::Error::other)?;
    Ok((ours.into(), theirs, name))
}
