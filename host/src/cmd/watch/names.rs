//! What the inputs of a logger are called: by ship.toml where it knows the logger, by the logger's own configuration
//! elsewhere. Where the two disagree, both are said.

use crate::cmd::door;
use crate::ship::facts::LoggerExchange;
use crate::ship::settings::Radar;
use crate::ship::{Folder, Settings};
use crate::store::{Kept, Store};
use crate::timeline::Timeline;
use halfglass_protocol::config::{Config, Kind, Role};
use std::path::Path;

/// An input that something is wired to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wired {
    /// Its number.
    pub(super) input: u8,
    /// The radar's name, if ship.toml says it.
    pub(super) radar: Option<String>,
    /// Lines with the same number here belong to one radar.
    pub(super) group: usize,
    /// What it stands for.
    pub(super) role: Role,
    /// For how long a change may go unnoticed, in milliseconds: debounce or hold.
    pub(super) filter_ms: i64,
}

/// The names of one logger's inputs.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Names {
    /// The inputs in use, by number.
    pub(super) lines: Vec<Wired>,
    /// What the user should know of them.
    pub(super) notes: Vec<String>,
}

/// The radars that a logger watches now: by the exchanges on record, else by ship.toml.
pub(in crate::cmd) fn radars_of<'a>(
    settings: &'a Settings,
    exchanges: &[Kept<LoggerExchange>],
    device_id: u64,
) -> Vec<&'a Radar> {
    let now = |radar: &Radar| {
        let own = exchanges.iter().filter(|kept| kept.fact.radar == radar.name);
        own.max_by_key(|kept| kept.fact.at.hi_ms()).map_or(radar.logger, |kept| kept.fact.logger)
    };
    settings.radars.iter().filter(|radar| now(radar) == device_id).collect()
}

/// The exchanges on record; none if there is no database yet or it cannot be read.
pub(in crate::cmd) fn exchanges_in(folder: &Folder) -> Vec<Kept<LoggerExchange>> {
    let path = folder.store_path();
    if !path.exists() {
        return Vec::new();
    }
    Store::open(&path).and_then(|store| store.standing()).unwrap_or_default()
}

impl Names {
    /// Of the logger `device_id`, set up as `config` says, on the ship of this folder. Without a ship folder, or with one
    /// that cannot be read, the logger's own words serve: somebody stands at the switches.
    pub(super) fn find(ship: &Path, device_id: u64, config: &Config) -> Names {
        let Ok(folder) = Folder::open(ship) else {
            let mut names = Names::of(config, &[]);
            names.notes.push(
                "There is no ship folder here, so the names are the logger's own; --ship DIR names one."
                    .to_owned(),
            );
            return names;
        };
        match folder.settings() {
            Ok(settings) => {
                let radars = radars_of(&settings, &exchanges_in(&folder), device_id);
                let mut names = Names::of(config, &radars);
                if radars.is_empty() {
                    names.notes.push(format!(
                        "No radar in ship.toml has this logger yet, so the names are the logger's own: write logger = \
                         \"{device_id:016x}\" into its [[radar]] block, or `halfglass add logger` if it took another's place."
                    ));
                }
                names
            }
            Err(error) => {
                let mut names = Names::of(config, &[]);
                names.notes.push(format!(
                    "ship.toml wants attention, so the names are the logger's own: {}.",
                    error.what()
                ));
                names
            }
        }
    }

    /// By the logger's configuration and the radars that it watches.
    pub(super) fn of(config: &Config, radars: &[&Radar]) -> Names {
        let mut names = Names::default();
        for (group, radar) in radars.iter().enumerate() {
            for (role, input) in &radar.lines {
                names.lines.push(wired(config, *input, Some(radar.name.clone()), group, *role));
            }
            let configured = Timeline { configs: vec![(0, *config)], ..Timeline::default() };
            let disagreements = door::wiring::disagreements(&configured, &radar.lines, 0, u32::MAX);
            for disagreement in disagreements.unwrap_or_default() {
                names.notes.push(format!("{}: `halfglass setup` puts that right.", disagreement.sentence));
            }
        }
        for (input, line) in (0..).zip(&config.lines) {
            if line.role != Role::Unused && !names.lines.iter().any(|known| known.input == input) {
                let group = radars.len() + usize::from(line.radar);
                names.lines.push(wired(config, input, None, group, line.role));
            }
        }
        names.lines.sort_by_key(|line| line.input);
        names
    }
}

fn wired(config: &Config, input: u8, radar: Option<String>, group: usize, role: Role) -> Wired {
    let filter_ms = config.lines.get(usize::from(input)).map_or(0, |line| match line.kind {
        Kind::Contact { debounce_ms } => i64::from(debounce_ms),
        Kind::Pulsed { hold_ms } => i64::from(hold_ms),
    });
    Wired { input, radar, group, role, filter_ms }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ship::facts::LoggerExchange;
    use crate::time::Moment;

    const SHIP: &str = "[ship]\nname = \"MV Calder Sound\"\n\n[[radar]]\nname = \"S-band\"\nlogger = \"00000000000000aa\"\n\
        lines = { heater = 1, transmit = 2 }\n\n[[radar]]\nname = \"X-band\"\nlogger = \"00000000000000aa\"\n\
        lines = { heater = 5 }\n";

    #[test]
    fn ship_toml_names_what_it_knows_and_the_logger_the_rest() {
        let settings = Settings::parse(SHIP, "ship.toml").unwrap();
        let names = Names::of(&Config::as_in_guide(), &radars_of(&settings, &[], 0xaa));
        let seen: Vec<_> =
            names.lines.iter().map(|l| (l.input, l.radar.as_deref(), l.group, l.role.name())).collect();
        let expected = [
            (0, None, 2, "supply"),
            (1, Some("S-band"), 0, "heater"),
            (2, Some("S-band"), 0, "transmit"),
            (3, None, 2, "motor"),
            (4, None, 2, "isolated"),
            (5, Some("X-band"), 1, "heater"),
        ];
        assert_eq!(seen, expected);
        // The logger ignores input 5: said, with the remedy.
        assert_eq!(names.notes.len(), 1);
        assert!(names.notes[0].contains("heater on input 5") && names.notes[0].contains("halfglass setup"));
    }

    #[test]
    fn an_exchanged_logger_is_known_by_its_last_exchange() {
        let settings = Settings::parse(SHIP, "ship.toml").unwrap();
        let exchange = |id, at_ms, logger| Kept {
            id,
            fact: LoggerExchange {
                at: Moment::exact(at_ms),
                radar: "S-band".to_owned(),
                logger,
                serial: None,
                reason: String::new(),
                by: None,
            },
        };
        let exchanges = [exchange(1, 2_000, 0xcc), exchange(2, 1_000, 0xbb)];
        let of = |device_id| -> Vec<&str> {
            radars_of(&settings, &exchanges, device_id).iter().map(|radar| radar.name.as_str()).collect()
        };
        assert_eq!((of(0xaa), of(0xbb), of(0xcc)), (vec!["X-band"], vec![], vec!["S-band"]));
    }
}
