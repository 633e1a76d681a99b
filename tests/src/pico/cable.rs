//! The board's ports as ports of this computer, for the built program.

use super::desk::{Desk, Port};
use rustix::io::ioctl_fionbio;
use rustix::pty::{OpenptFlags, grantpt, ioctl_tiocgptpeer, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs::File;
use std::io::{self, ErrorKind, Read, Write};
use std::os::fd::OwnedFd;
use std::thread::{scope, sleep};
use std::time::Duration;

/// How much of the board's time passes between two looks at the cables.
const STEP_MS: f64 = 2.0;

/// Does something that needs the USB port's name, while bytes go to and fro and the board's time goes on. It must end by itself.
///
/// # Panics
/// There is no pseudo-terminal, or it broke.
pub fn plugged<T: Send>(desk: &mut Desk, work: impl FnOnce(&str) -> T + Send) -> T {
    plugged_at(desk, [Port::Usb], |[name]| work(name))
}

/// The same with any of the board's ports, all at once.
///
/// # Panics
/// There is no pseudo-terminal, or it broke.
pub fn plugged_at<const N: usize, T: Send>(
    desk: &mut Desk,
    ports: [Port; N],
    work: impl FnOnce([&str; N]) -> T + Send,
) -> T {
    // Their ends are kept open, so that ours do not fail before the program has opened them.
    let mut terminals = ports.map(|port| (port, terminal().expect("a pseudo-terminal")));
    let names = terminals.each_ref().map(|(_, (_, _, name))| name.clone());
    scope(|threads| {
        let working = threads.spawn(move || work(names.each_ref().map(String::as_str)));
        while !working.is_finished() {
            let mut silent = true;
            for (port, (ours, ..)) in &mut terminals {
                let mut bytes = [0; 512];
                match ours.read(&mut bytes) {
                    Ok(count) => {
                        silent = false;
                        desk.send_to(*port, &bytes[..count]);
                    }
                    Err(fault) if fault.kind() == ErrorKind::WouldBlock => {}
                    Err(fault) => panic!("the pseudo-terminal broke: {fault}"),
                }
            }
            if silent {
                // The board's time is not to run far ahead of the program's.
                sleep(Duration::from_millis(1));
            }
            desk.run_ms(STEP_MS);
            for (port, (ours, ..)) in &mut terminals {
                let received = desk.take_from(*port);
                ours.write_all(&received).expect("the pseudo-terminal takes bytes");
            }
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
