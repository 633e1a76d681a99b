//! How `watch` looks: a table that is drawn again on a terminal, a line for each change in a pipe, JSON for programs.

mod json;
mod text;

pub use json::{Json, json};
pub use text::{checklist, head, line, screen};

use halfglass_protocol::config::Role;

/// Shown above every watch: somebody may be about to go aloft.
pub const CAUTION: &str = "\
    Caution: the isolated line is never proof of isolation. It only says that the scanner's switch looks open to the logger. \
    Isolate, lock, tag and prove dead by the set's manual and the permit. Halfglass advises, it does not authorise.";

/// One line as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Its input.
    pub input: u8,
    /// Its radar, if ship.toml says which.
    pub radar: Option<String>,
    /// What it stands for.
    pub role: Role,
    /// Its state; not known while the logger is away.
    pub on: Option<bool>,
    /// Its total, in tenths of a second.
    pub total_tenths: u64,
    /// How often it went on in its life.
    pub starts: u32,
    /// When it was last seen to change in this watch, in milliseconds since 1970.
    pub changed_ms: Option<i64>,
    /// It was seen on in this watch.
    pub seen_on: bool,
    /// It was seen off.
    pub seen_off: bool,
}

impl Line {
    /// Seen on and off.
    #[must_use]
    pub fn is_proven(&self) -> bool {
        self.seen_on && self.seen_off
    }

    /// `S-band transmit (input 2)`.
    #[must_use]
    pub fn name(&self) -> String {
        let radar = self.radar.as_ref().map(|radar| format!("{radar} ")).unwrap_or_default();
        format!("{radar}{} (input {})", self.role.name(), self.input)
    }
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// The watch begins, or goes on after the logger was away: all lines as they stand.
    Begin(Vec<Line>),
    /// A line changed.
    Change(Line),
    /// A line is as it was, and went the other way and back so often between two looks.
    Blink(Line, u32),
    /// Lines contradict each other: what, and where to look.
    Breach(String),
    /// They no longer do.
    BreachOver(String),
    /// The logger started anew.
    Restarted {
        /// Its session.
        session: u32,
    },
    /// The logger answers, and is not ready yet.
    Starting,
    /// The logger is gone: why.
    Lost(String),
    /// Another logger answers in its place.
    Another {
        /// Its id.
        device_id: u64,
    },
    /// It is there again.
    Back {
        /// The port's name.
        port: String,
    },
    /// The watch ends; what is still unproven if that was asked.
    End {
        /// Lines not seen both on and off.
        unproven: Vec<Line>,
    },
}
