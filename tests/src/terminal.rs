//! Runs the built `halfglass` at a pseudo-terminal of a chosen width, as somebody who sits before it does.

use rustix::pty::{OpenptFlags, grantpt, ioctl_tiocgptpeer, openpt, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::File;
use std::io::{Read, Write};
use std::process::{Command, Stdio};

/// What a reader's settings may say of colours. None of it is taken over from whoever runs the tests.
const SETTINGS: [&str; 6] = ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLORTERM", "CI", "COLUMNS"];

/// What stood on the terminal, and how the command ended.
pub struct Shown {
    /// The exit code.
    pub code: i32,
    /// Everything, escape codes too; typed characters as the terminal echoes them.
    pub raw: String,
}

impl Shown {
    /// What can be read.
    #[must_use]
    pub fn plain(&self) -> String {
        plain(&self.raw)
    }

    /// Whether anything but characters stands in it.
    #[must_use]
    pub fn has_escapes(&self) -> bool {
        self.raw.contains('\u{1b}')
    }
}

/// The text without the codes that colour it: escape, bracket, figures, `m` (ECMA-48, select graphic rendition).
#[must_use]
pub fn plain(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, behind)) = rest.split_once("\u{1b}[") {
        plain.push_str(before);
        let end = behind.find(|c: char| !c.is_ascii_digit() && c != ';').unwrap_or(behind.len());
        assert_eq!(behind.get(end..=end), Some("m"), "a code that is no colour: {behind:.20?}");
        rest = &behind[end + 1..];
    }
    plain + rest
}

/// A command without anybody's settings of colours, for a terminal that shows them.
#[must_use]
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(crate::command::halfglass());
    for name in SETTINGS {
        command.env_remove(name);
    }
    command.args(arguments).env("TERM", "xterm-256color");
    command
}

/// Runs it at a terminal of so many columns, with this typed.
#[must_use]
pub fn run(mut command: Command, columns: u16, typed: &str) -> Shown {
    let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
    let desk = openpt(flags).unwrap();
    grantpt(&desk).unwrap();
    unlockpt(&desk).unwrap();
    let screen = ioctl_tiocgptpeer(&desk, flags).unwrap();
    tcsetwinsize(&screen, Winsize { ws_row: 50, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
    let (stdin, stderr) = (screen.try_clone().unwrap(), screen.try_clone().unwrap());
    command.stdin(Stdio::from(stdin)).stdout(Stdio::from(screen)).stderr(Stdio::from(stderr));
    let mut child = command.spawn().unwrap();
    // The command holds the screen's ends as well: only the child's are to stay open.
    drop(command);
    let mut desk = File::from(desk);
    desk.write_all(typed.as_bytes()).unwrap();
    let (mut bytes, mut some) = (Vec::new(), [0; 4096]);
    // When the last end of the screen is closed, Linux says so by an error.
    while let Ok(count @ 1..) = desk.read(&mut some) {
        bytes.extend_from_slice(&some[..count]);
    }
    let code = child.wait().unwrap().code().unwrap_or(-1);
    Shown { code, raw: String::from_utf8(bytes).unwrap().replace("\r\n", "\n") }
}
