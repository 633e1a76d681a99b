//! What a logger is told about the lines wired to it.

use crate::{LINES_MAX, RADARS_MAX};
use serde::{Deserialize, Serialize};

/// What a line stands for on the radar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Role {
    /// Nothing is wired here: the input is ignored.
    Unused,
    /// The radar's supply is present.
    Supply,
    /// The set is in standby or transmit.
    Heater,
    /// Transmit is selected or high voltage enabled.
    Transmit,
    /// The scanner motor turns.
    Motor,
    /// The scanner's safety switch is open. Never proof of isolation.
    Isolated,
}

impl Role {
    /// Every role that a line can have, in wire order.
    pub const ALL: [Role; 6] =
        [Role::Unused, Role::Supply, Role::Heater, Role::Transmit, Role::Motor, Role::Isolated];

    /// Which line needs which: while the first of a pair is on, the second must be on (and the motor once it has had time to start).
    pub const NEEDS: [(Role, Role); 5] = [
        (Role::Transmit, Role::Heater),
        (Role::Transmit, Role::Supply),
        (Role::Transmit, Role::Motor),
        (Role::Heater, Role::Supply),
        (Role::Motor, Role::Supply),
    ];

    /// The word that people write for this role.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Role::Unused => "unused",
            Role::Supply => "supply",
            Role::Heater => "heater",
            Role::Transmit => "transmit",
            Role::Motor => "motor",
            Role::Isolated => "isolated",
        }
    }

    /// The role that people mean by `name`, if there is one.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.name() == name)
    }
}

/// How a line's input says that it is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Kind {
    /// A dry contact or a steady opto-isolated level: believed once it has stood still for `debounce_ms`.
    Contact {
        /// How long the level must stand still, in milliseconds.
        debounce_ms: u16,
    },
    /// Alternating current through an opto: on while a pulse came within `hold_ms`.
    Pulsed {
        /// How long after the last pulse the line still counts as on, in milliseconds.
        hold_ms: u16,
    },
}

/// One input of the logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// What the line stands for.
    pub role: Role,
    /// Which radar it belongs to, below [`RADARS_MAX`].
    pub radar: u8,
    /// How it says that it is on.
    pub kind: Kind,
    /// For contacts: on is a low level (a contact that pulls its input down).
    pub active_low: bool,
}

impl Line {
    /// An input with nothing wired to it.
    pub const UNUSED: Line =
        Line { role: Role::Unused, radar: 0, kind: Kind::Contact { debounce_ms: 50 }, active_low: false };

    /// A contact with the usual 50 ms of debounce, closed meaning high.
    #[must_use]
    pub const fn contact(role: Role) -> Line {
        Line { role, radar: 0, kind: Kind::Contact { debounce_ms: 50 }, active_low: false }
    }
}

/// The longest debounce or hold time, in milliseconds.
pub const FILTER_MS_MAX: u16 = 5_000;

/// All that a logger is told: kept in its flash, answered over the wire, repeated in its history.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Config {
    /// The inputs, by number.
    pub lines: [Line; LINES_MAX],
    /// The set's stated warm-up per radar, in seconds; 0: not known, nothing is counted as short.
    pub warm_up_s: [u16; RADARS_MAX],
    /// While anything runs, at most this much of it is uncommitted, in seconds: 1 to 60.
    pub heartbeat_s: u16,
    /// While nothing runs, a word is written this often, in seconds: 10 to 800.
    pub idle_s: u16,
}

/// Why a configuration cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ConfigFault {
    /// The heartbeat lies outside 1 to 60 s.
    Heartbeat,
    /// The idle interval lies outside 10 to 800 s.
    Idle,
    /// A line belongs to a radar beyond [`RADARS_MAX`].
    Radar,
    /// A debounce or hold time lies outside 1 to 5,000 ms.
    Filter,
    /// Two lines of one radar have the same role.
    Twice,
}

impl Config {
    /// Five contacts wired as in the guide (supply, heater, transmit, motor, isolated on inputs 0 to 4),
    /// a 10 s heartbeat, an idle word every 10 minutes, no warm-up time known.
    #[must_use]
    pub const fn as_in_guide() -> Config {
        Config {
            lines: [
                Line::contact(Role::Supply),
                Line::contact(Role::Heater),
                Line::contact(Role::Transmit),
                Line::contact(Role::Motor),
                Line::contact(Role::Isolated),
                Line::UNUSED,
                Line::UNUSED,
                Line::UNUSED,
            ],
            warm_up_s: [0; RADARS_MAX],
            heartbeat_s: 10,
            idle_s: 600,
        }
    }

    /// Says whether every figure lies in its range.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), ConfigFault> {
        if !(1..=60).contains(&self.heartbeat_s) {
            return Err(ConfigFault::Heartbeat);
        }
        if !(10..=800).contains(&self.idle_s) {
            return Err(ConfigFault::Idle);
        }
        for (at, line) in self.lines.iter().enumerate() {
            if usize::from(line.radar) >= RADARS_MAX {
                return Err(ConfigFault::Radar);
            }
            let (Kind::Contact { debounce_ms: filter_ms } | Kind::Pulsed { hold_ms: filter_ms }) = line.kind;
            if !(1..=FILTER_MS_MAX).contains(&filter_ms) {
                return Err(ConfigFault::Filter);
            }
            let same = |other: &Line| other.role == line.role && other.radar == line.radar;
            if line.role != Role::Unused && self.lines.iter().skip(at + 1).any(same) {
                return Err(ConfigFault::Twice);
            }
        }
        Ok(())
    }

    /// The input that has this role for this radar.
    #[must_use]
    pub fn line_of(&self, role: Role, radar: u8) -> Option<usize> {
        self.lines.iter().position(|line| line.role == role && line.radar == radar)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_both_ways() {
        for role in Role::ALL {
            assert_eq!(Role::from_name(role.name()), Some(role));
        }
        assert_eq!(Role::from_name("magnetron"), None);
    }

    #[test]
    fn faults_are_found() {
        let good = Config::as_in_guide();
        assert_eq!(good.check(), Ok(()));
        assert_eq!(Config { heartbeat_s: 0, ..good }.check(), Err(ConfigFault::Heartbeat));
        assert_eq!(Config { idle_s: 900, ..good }.check(), Err(ConfigFault::Idle));
        let mut twice = good;
        twice.lines[4].role = Role::Motor;
        assert_eq!(twice.check(), Err(ConfigFault::Twice));
        twice.lines[4].radar = 1;
        assert_eq!(twice.check(), Ok(()));
        twice.lines[4].radar = 2;
        assert_eq!(twice.check(), Err(ConfigFault::Radar));
    }
}
