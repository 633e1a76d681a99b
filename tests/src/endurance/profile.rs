//! The lives that are lived, by name.

use super::life::Duty;
use halfglass_firmware::ports::{Layout, Region};
use halfglass_protocol::config::{Config, Kind, Line, Role};

/// Flash chips: granule and erase length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chip {
    /// 4 bytes, 1 KiB.
    Small,
    /// 8 bytes with error correction, 2 KiB.
    Corrected8,
    /// 16 bytes with error correction, 8 KiB.
    Corrected16,
}

/// What a life of 25 years must keep to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Erases of the worst page of totals, of 10,000 that a page bears.
    pub totals_erases_max: u32,
    /// Days that the history must reach back.
    pub history_days_min: Option<f64>,
}

/// One life.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Profile {
    /// Short, for `--only`.
    pub name: &'static str,
    /// What it is.
    pub about: &'static str,
    /// Its flash.
    pub chip: Chip,
    /// Its flash map.
    pub layout: Layout,
    /// While anything is on, a commit is due this often.
    pub heartbeat_s: u16,
    /// How long a contact must stand still.
    pub debounce_ms: u16,
    /// What it lives through.
    pub duty: Duty,
    /// Days of it; 0: as many as are asked for.
    pub days: u32,
    /// Days between pulls; 0: never.
    pub pull_every_days: u64,
    /// What it must keep to, if anything.
    pub target: Option<Target>,
}

/// Two radars, 200 edges a day: the first supply always on, a run a day of the other, the rest standby, transmit and motor.
pub const USUAL: [u32; 8] = [0, 10, 60, 31, 2, 10, 56, 31];

/// The same number of edges, spread evenly: 25 runs of supply lines a day, each kept singly.
pub const EVEN: [u32; 8] = [25; 8];

const fn layout(page_len: u32, journal: u16, history: u16) -> Layout {
    let config = page_len * (journal as u32 + history as u32);
    Layout {
        journal: Region { start: 0, page_len, pages: journal },
        history: Region { start: page_len * journal as u32, page_len, pages: history },
        config: Region { start: config, page_len, pages: 2 },
    }
}

const NRF51: Profile = Profile {
    name: "nrf51",
    about: "64 KiB at 10 s, the usual life",
    chip: Chip::Small,
    layout: halfglass_sim::bench::LAYOUT,
    heartbeat_s: 10,
    debounce_ms: 50,
    duty: Duty::Ship { edges: USUAL, boots: 2 },
    days: 0,
    pull_every_days: 7,
    target: None,
};

/// All of them. Totals have 64 KiB and history 124 KiB unless something else is said.
pub const PROFILES: [Profile; 11] = [
    Profile { target: Some(Target { totals_erases_max: 6_000, history_days_min: Some(396.0) }), ..NRF51 },
    Profile {
        name: "nrf51-even",
        about: "the same, edges spread evenly over the lines",
        duty: Duty::Ship { edges: EVEN, boots: 2 },
        ..NRF51
    },
    Profile {
        name: "small",
        about: "8 KiB at 60 s; history has the least that works, 2 pages of 1 KiB",
        layout: layout(1_024, 8, 2),
        heartbeat_s: 60,
        target: Some(Target { totals_erases_max: 9_000, history_days_min: None }),
        ..NRF51
    },
    Profile {
        name: "granule8",
        about: "granules of 8 bytes, pages of 2 KiB",
        chip: Chip::Corrected8,
        layout: layout(2_048, 32, 48),
        ..NRF51
    },
    Profile {
        name: "granule8-128k",
        about: "the same, 128 KiB for totals and 192 KiB in pages of 4 KiB for history",
        chip: Chip::Corrected8,
        layout: Layout {
            journal: Region { start: 0, page_len: 2_048, pages: 64 },
            history: Region { start: 64 * 2_048, page_len: 4_096, pages: 48 },
            config: Region { start: 160 * 2_048, page_len: 2_048, pages: 2 },
        },
        ..NRF51
    },
    Profile {
        name: "granule16",
        about: "granules of 16 bytes, pages of 8 KiB",
        chip: Chip::Corrected16,
        layout: layout(8_192, 8, 12),
        ..NRF51
    },
    Profile {
        name: "granule16-256k",
        about: "the same, 256 KiB each for totals and history",
        chip: Chip::Corrected16,
        layout: layout(8_192, 32, 32),
        ..NRF51
    },
    Profile {
        name: "chatter-alone",
        about: "a supply line closes at 10 Hz, the others are off",
        duty: Duty::Chatter { line: 0, others_on: 0 },
        debounce_ms: 10,
        days: 365,
        ..NRF51
    },
    Profile {
        name: "chatter-beside",
        about: "a transmit line closes at 10 Hz, seven others are on",
        duty: Duty::Chatter { line: 2, others_on: 0b1111_1011 },
        debounce_ms: 10,
        days: 365,
        ..NRF51
    },
    Profile {
        name: "boot-1s",
        about: "a boot a second, 0.1 s dark",
        duty: Duty::Boots { every_ms: 1_000, dark_ms: 100, on: 0b0000_0111 },
        days: 7,
        pull_every_days: 0,
        ..NRF51
    },
    Profile {
        name: "boot-3s",
        about: "a boot every 3 s, 0.1 s dark",
        duty: Duty::Boots { every_ms: 3_000, dark_ms: 100, on: 0b0000_0111 },
        days: 7,
        pull_every_days: 0,
        ..NRF51
    },
];

impl Profile {
    /// Two radars, four lines each, contacts.
    #[must_use]
    pub fn config(&self) -> Config {
        let roles = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];
        let mut config = Config { heartbeat_s: self.heartbeat_s, ..Config::as_in_guide() };
        for (at, line) in config.lines.iter_mut().enumerate() {
            let kind = Kind::Contact { debounce_ms: self.debounce_ms };
            *line = Line { role: roles[at % 4], radar: (at / 4) as u8, kind, active_low: false };
        }
        config
    }

    /// Days that are lived if so many are asked for.
    #[must_use]
    pub fn days(&self, asked: u32) -> u32 {
        if self.days == 0 { asked } else { self.days.min(asked) }
    }
}
