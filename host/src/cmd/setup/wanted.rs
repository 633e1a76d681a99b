//! From ship.toml and options to the configuration that a logger is to have. Pure.

use super::how::{How, Least};
use crate::link::setting;
use crate::ship::settings::Radar;
use crate::{Error, Result};
use halfglass_protocol::RADARS_MAX;
use halfglass_protocol::config::{Config, ConfigFault, Line, Role};

/// What is wanted of a logger.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted<'a> {
    pub(super) radars: &'a [&'a Radar],
    pub(super) hows: &'a [How],
    pub(super) heartbeat_s: Option<u16>,
    pub(super) idle_s: Option<u16>,
    /// How many inputs the logger has.
    pub(super) inputs: u8,
    /// The shortest times that it can do with.
    pub(super) least: Least,
}

impl Wanted<'_> {
    /// The new configuration, and what is missing in ship.toml for it to be of full use or is otherwise than somebody might expect.
    ///
    /// # Errors
    /// An input that the logger does not have, an option for a line that is not there, or a figure out of its range or too short for
    /// this logger.
    pub(super) fn config(&self, old: &Config) -> Result<(Config, Vec<String>)> {
        if self.radars.len() > RADARS_MAX {
            return Err(setting::faulty(ConfigFault::Radar));
        }
        let mut config = Config { lines: [Line::UNUSED; halfglass_protocol::LINES_MAX], ..*old };
        config.warm_up_s = [0; RADARS_MAX];
        let mut notes = Vec::new();
        for (slot, radar) in (0..).zip(self.radars) {
            for (role, input) in &radar.lines {
                let Some(line) = config.lines.get_mut(usize::from(*input)).filter(|_| *input < self.inputs)
                else {
                    return Err(Error::input(
                        format!(
                            "ship.toml has {}'s {} on input {input}, but this logger has the inputs 0 to {}; nothing was changed",
                            radar.name,
                            role.name(),
                            self.inputs.saturating_sub(1)
                        ),
                        "Give it another input, in ship.toml and at the terminals.",
                    ));
                };
                let before = old.lines.get(usize::from(*input)).filter(|line| line.role == *role);
                *line = Line { radar: slot, ..before.copied().unwrap_or(Line::contact(*role)) };
            }
            if let Some(warm_up_s) = config.warm_up_s.get_mut(usize::from(slot)) {
                *warm_up_s = radar.warm_up_s.unwrap_or(0);
            }
            notes.extend(missing(radar));
        }
        let mut said = [None; halfglass_protocol::LINES_MAX];
        for how in self.hows {
            let input = self.input_of(how)?;
            how.apply(&mut config.lines[input]);
            said[input] = Some(how);
        }
        for (line, how) in config.lines.iter_mut().zip(said) {
            notes.extend(self.least.raise(line, how)?);
        }
        config.heartbeat_s = self.heartbeat_s.unwrap_or(old.heartbeat_s);
        config.idle_s = self.idle_s.unwrap_or(old.idle_s);
        config.check().map_err(setting::faulty)?;
        Ok((config, notes))
    }

    /// The input that an option means.
    fn input_of(&self, how: &How) -> Result<usize> {
        let means = |radar: &Radar| how.radar.as_ref().is_none_or(|name| *name == radar.name);
        let inputs: Vec<u8> = self
            .radars
            .iter()
            .filter(|radar| means(radar))
            .filter_map(|radar| radar.input_of(how.role))
            .collect();
        let role = how.role.name();
        match inputs.as_slice() {
            [input] => Ok(usize::from(*input)),
            [] => Err(Error::input(
                format!(
                    "--line {}: ship.toml has no such line at this logger; nothing was changed",
                    how.text
                ),
                format!(
                    "Write {role} and its input into the radar's `lines` in ship.toml, or leave this option out."
                ),
            )),
            _ => Err(Error::input(
                format!(
                    "--line {}: two radars at this logger have a line {role}; nothing was changed",
                    how.text
                ),
                format!("Say whose: --line RADAR/{role}=..."),
            )),
        }
    }
}

/// What ship.toml does not say of a radar, and what comes of it.
fn missing(radar: &Radar) -> Vec<String> {
    let name = &radar.name;
    let mut notes = Vec::new();
    let (heater, transmit) = (radar.input_of(Role::Heater), radar.input_of(Role::Transmit));
    match (heater, transmit, radar.warm_up_s) {
        (Some(_), Some(_), None) => notes.push(format!(
            "{name}: ship.toml has no warm_up_s, so no warm-up is counted as short. It stands in the set's manual."
        )),
        (Some(_), Some(_), Some(_)) => {}
        _ => notes.push(format!(
            "{name}: ship.toml's `lines` lacks {}, so the logger tells neither drop-outs nor short warm-ups.",
            if transmit.is_none() { "transmit" } else { "heater" }
        )),
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ship::Settings;
    use halfglass_protocol::config::Kind;
    use halfglass_protocol::hello::Hello;

    const HELLO: Hello = Hello {
        protocol_version: 1,
        device_id: 0xAA,
        firmware_version: [0, 1, 0],
        lines: 8,
        session: 1,
        uptime_s: 0,
        debounce_min_ms: 0,
        hold_min_ms: 0,
    };

    const SHIP: &str = "[ship]\nname = \"MV Calder Sound\"\n\n[[radar]]\nname = \"S-band\"\nlogger = \"00000000000000aa\"\n\
        lines = { heater = 0, transmit = 1, motor = 3 }\nwarm_up_s = 180\n\n[[radar]]\nname = \"X-band\"\n\
        logger = \"00000000000000aa\"\nlines = { heater = 4, motor = 6 }\n";

    fn wanted(hows: &[&str], change: impl FnOnce(&mut Wanted<'_>)) -> Result<(Config, Vec<String>)> {
        let settings = Settings::parse(SHIP, "ship.toml").unwrap();
        let radars: Vec<&Radar> = settings.radars.iter().collect();
        let hows: Vec<How> = hows.iter().map(|text| How::parse(text).unwrap()).collect();
        let least = Least::default();
        let mut wanted =
            Wanted { radars: &radars, hows: &hows, heartbeat_s: None, idle_s: None, inputs: 8, least };
        change(&mut wanted);
        let mut old = Config::as_in_guide();
        old.lines[3].kind = Kind::Pulsed { hold_ms: 120 };
        old.heartbeat_s = 20;
        wanted.config(&old)
    }

    #[test]
    fn ship_toml_gives_roles_and_the_logger_keeps_how_a_line_that_stays_says_that_it_is_on() {
        let (config, notes) = wanted(&["X-band/motor=pulsed,300ms,low"], |_| {}).unwrap();
        let seen: Vec<_> =
            config.lines.iter().map(|line| (line.role.name(), line.radar, line.kind)).collect();
        let contact = Kind::Contact { debounce_ms: 50 };
        let unused = ("unused", 0, contact);
        let expected = [
            ("heater", 0, contact),
            ("transmit", 0, contact),
            unused,
            ("motor", 0, Kind::Pulsed { hold_ms: 120 }),
            ("heater", 1, contact),
            unused,
            ("motor", 1, Kind::Pulsed { hold_ms: 300 }),
            unused,
        ];
        assert_eq!(seen, expected);
        assert!(config.lines[6].active_low && !config.lines[3].active_low);
        assert_eq!((config.warm_up_s, config.heartbeat_s, config.idle_s), ([180, 0], 20, 600));
        assert_eq!(notes.len(), 1);
        assert!(notes[0].contains("X-band") && notes[0].contains("lacks transmit"), "{notes:?}");
    }

    /// Times that a board cannot do with are raised where nobody asked for them, and refused where somebody did.
    #[test]
    fn times_are_as_long_as_the_board_needs_them() {
        let least = |debounce_min_ms, hold_min_ms| Hello { debounce_min_ms, hold_min_ms, ..HELLO };
        // The nRF52840's, the pico's, and what no configuration can hold.
        let nrf52840 = Least::of(&least(100, 100));
        let pico = Least::of(&least(0, 500));
        let nonsense = Least::of(&least(u16::MAX, u16::MAX));
        let times = |hows: &[&str], least| {
            let (config, notes) = wanted(hows, |w| w.least = least).unwrap();
            let (Kind::Contact { debounce_ms: heater_ms }, Kind::Pulsed { hold_ms }) =
                (config.lines[0].kind, config.lines[3].kind)
            else {
                panic!("{config:?}");
            };
            (heater_ms, hold_ms, notes)
        };
        let (debounce_ms, hold_ms, notes) = times(&[], nrf52840);
        assert_eq!((debounce_ms, hold_ms), (100, 120));
        let note = "heater: 100 ms instead of 50, with which this logger may take a bounce of the contact for a start";
        assert!(notes.iter().any(|said| said.starts_with(note)), "{notes:?}");
        let (debounce_ms, hold_ms, notes) = times(&[], pico);
        assert_eq!((debounce_ms, hold_ms), (50, 500));
        assert!(
            notes.iter().any(
                |said| said.starts_with("motor: 500 ms instead of 120, with which this logger may break")
            ),
            "{notes:?}"
        );
        let (debounce_ms, hold_ms, _) = times(&["S-band/motor=600ms"], pico);
        assert_eq!((debounce_ms, hold_ms), (50, 600));
        let (debounce_ms, hold_ms, _) = times(&["S-band/heater=low"], nonsense);
        assert_eq!((debounce_ms, hold_ms), (50, 120));

        let error = wanted(&["S-band/motor=450ms"], |w| w.least = pico).unwrap_err();
        assert!(
            error
                .what()
                .contains("--line S-band/motor=450ms: with 450 ms this logger may break a run in two")
        );
        assert!(
            error.what().contains("nothing was changed") && error.advice().contains("500ms or more"),
            "{error}"
        );
        assert_eq!(error.exit_code(), 2);
    }

    #[test]
    fn what_does_not_fit_is_refused_with_its_remedy() {
        type Change = fn(&mut Wanted<'_>);
        let cases: [(&[&str], Change, &str, &str); 7] = [
            (&[], |w| w.inputs = 5, "X-band's motor on input 6", "another input"),
            (&["motor=low"], |_| {}, "two radars", "--line RADAR/motor="),
            (&["S-band/supply=low"], |_| {}, "no such line", "`lines` in ship.toml"),
            (&["W-band/motor=low"], |_| {}, "no such line", "`lines` in ship.toml"),
            (&[], |w| w.heartbeat_s = Some(61), "heartbeat lies outside 1 to 60", "--heartbeat 10"),
            (&[], |w| w.idle_s = Some(9), "idle interval lies outside", "--idle 600"),
            (&["S-band/motor=6000ms"], |_| {}, "debounce or hold time lies outside", "--line"),
        ];
        for (hows, change, what, advice) in cases {
            let error = wanted(hows, change).unwrap_err();
            assert!(error.what().contains(what) && error.what().contains("nothing was changed"), "{error}");
            assert!(error.advice().contains(advice), "{error}");
            assert_eq!(error.exit_code(), 2);
        }
    }
}
