//! From the text of a ship.toml to settings in which everything fits together, or to the first mistake and its line.

use super::settings::{Part, Radar, Settings, Spare, parse_device, quoted};
use crate::{Error, Result};
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::config::Role;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    ship: RawShip,
    #[serde(default)]
    radar: Vec<RawRadar>,
    #[serde(default)]
    part: Vec<RawPart>,
    #[serde(default)]
    spare: Vec<RawSpare>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawShip {
    name: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRadar {
    name: Spanned<String>,
    logger: Spanned<String>,
    #[serde(default)]
    fed_from_radar: bool,
    lines: BTreeMap<Spanned<String>, Spanned<i64>>,
    counter_step_h: Option<Spanned<f64>>,
    warm_up_s: Option<u16>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPart {
    radar: Spanned<String>,
    name: Spanned<String>,
    planner_id: Option<String>,
    ages_by: Spanned<String>,
    limit_h: Option<Spanned<f64>>,
    limit_months: Option<Spanned<u32>>,
    limit_starts: Option<Spanned<u32>>,
    warn_h: Option<Spanned<f64>>,
    lead_time_days: Option<u32>,
    work_hours: Option<Spanned<f64>>,
    #[serde(default)]
    needs_aloft: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSpare {
    radar: Spanned<String>,
    part: Spanned<String>,
    serial: Spanned<String>,
    received: Option<String>,
    made: Option<String>,
    last_run: Option<String>,
    warranty_until: Option<String>,
    place: Option<String>,
}

/// The roles that a radar's `lines` may name.
const WIRED_ROLES: [Role; 5] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor, Role::Isolated];

/// The roles whose hours age a part.
const AGEING_ROLES: [Role; 4] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];

pub(super) fn parse(text: &str, file: &str) -> Result<Settings> {
    let place = Place { text, file };
    let raw: Raw = toml::from_str(text).map_err(|error| {
        let message = in_plain_words(error.message());
        let advice = if message.contains("unknown field") {
            "Check the spelling, or take the line out."
        } else if message.contains("missing field") {
            "Add it to this block; `halfglass init` in an empty folder shows a commented example."
        } else {
            "Put this right; nothing was changed."
        };
        place.error(error.span().as_ref(), &message, advice)
    })?;
    if raw.ship.name.get_ref().trim().is_empty() {
        return Err(place.error(Some(&raw.ship.name.span()), "the ship has no name", "Write its name."));
    }
    let mut radars: Vec<Radar> = Vec::new();
    for radar in &raw.radar {
        let radar = place.radar(radar, &radars)?;
        radars.push(radar);
    }
    let mut parts: Vec<Part> = Vec::new();
    for part in &raw.part {
        let part = place.part(part, &radars, &parts)?;
        parts.push(part);
    }
    let mut spares = Vec::new();
    for spare in &raw.spare {
        spares.push(place.spare(spare, &parts)?);
    }
    Ok(Settings { ship: raw.ship.name.into_inner(), radars, parts, spares })
}

/// A message of the TOML reader without the names of Rust's types.
fn in_plain_words(message: &str) -> String {
    let mut words = message.trim().replace('\n', "; ");
    for (types, plain) in [
        (["expected i64", "expected u32", "expected u16"].as_slice(), "expected a whole number"),
        (&["expected f64"], "expected a number"),
        (&["expected a string", "expected string"], "expected text in quotes"),
        (&["expected a boolean", "expected bool"], "expected true or false"),
    ] {
        for name in types {
            words = words.replace(name, plain);
        }
    }
    words
}

/// Where something stands, for messages.
struct Place<'a> {
    text: &'a str,
    file: &'a str,
}

impl Place<'_> {
    fn error(&self, span: Option<&Range<usize>>, what: &str, advice: &str) -> Error {
        let file = self.file;
        let at = match span {
            Some(span) => {
                let before = self.text.get(..span.start).unwrap_or(self.text);
                format!("{file}, line {}", before.matches('\n').count() + 1)
            }
            None => file.to_owned(),
        };
        Error::input(format!("{at}: {what}"), advice)
    }

    fn radar(&self, raw: &RawRadar, before: &[Radar]) -> Result<Radar> {
        let name = self.name(&raw.name, "the radar")?;
        if before.iter().any(|radar| radar.name == name) {
            let what = format!("a second radar is called `{name}`");
            return Err(self.error(Some(&raw.name.span()), &what, "Give each radar a name of its own."));
        }
        let text = raw.logger.get_ref();
        let logger = parse_device(text)
            .map_err(|what| self.error(Some(&raw.logger.span()), &what, "`halfglass pull` shows it."))?;
        let mut lines: Vec<(Role, u8)> = Vec::new();
        for (word, input) in &raw.lines {
            let role = Role::from_name(word.get_ref()).filter(|role| WIRED_ROLES.contains(role));
            let Some(role) = role else {
                let what = format!("radar `{name}` has a line `{}`, which is no role", word.get_ref());
                let advice = format!("A line is one of: {}. Rename it or take it out.", names(&WIRED_ROLES));
                return Err(self.error(Some(&word.span()), &what, &advice));
            };
            let number = u8::try_from(*input.get_ref()).ok().filter(|n| usize::from(*n) < LINES_MAX);
            let Some(number) = number else {
                let what =
                    format!("line `{}` is on input {}, which no logger has", role.name(), input.get_ref());
                let advice = format!("Inputs are numbered 0 to {}.", LINES_MAX - 1);
                return Err(self.error(Some(&input.span()), &what, &advice));
            };
            let same_logger = before.iter().filter(|radar| radar.logger == logger);
            let mut taken = same_logger.flat_map(|radar| &radar.lines).chain(&lines);
            if taken.any(|(_, other)| *other == number) {
                let what = format!("input {number} of logger {text} is given to two lines");
                return Err(self.error(Some(&input.span()), &what, "Each input watches one line."));
            }
            lines.push((role, number));
        }
        if lines.is_empty() {
            let what = format!("radar `{name}` has no lines");
            let advice = "Say which input watches what, as in: lines = { heater = 1, transmit = 2 }";
            return Err(self.error(Some(&raw.name.span()), &what, advice));
        }
        Ok(Radar {
            name,
            logger,
            fed_from_radar: raw.fed_from_radar,
            lines,
            counter_step_h: self.positive(raw.counter_step_h.as_ref(), "counter_step_h")?,
            warm_up_s: raw.warm_up_s,
        })
    }

    fn part(&self, raw: &RawPart, radars: &[Radar], before: &[Part]) -> Result<Part> {
        let name = self.name(&raw.name, "the part")?;
        let Some(radar) = radars.iter().find(|radar| radar.name == *raw.radar.get_ref()) else {
            let what =
                format!("part `{name}` is in radar `{}`, which is not in this file", raw.radar.get_ref());
            let advice = match radars {
                [] => "Write a [[radar]] block first.".to_owned(),
                _ => format!("The radars are: {}.", quoted(radars.iter().map(|radar| &radar.name))),
            };
            return Err(self.error(Some(&raw.radar.span()), &what, &advice));
        };
        if before.iter().any(|part| part.name == name && part.radar == radar.name) {
            let what = format!("radar `{}` has a second part called `{name}`", radar.name);
            return Err(self.error(Some(&raw.name.span()), &what, "Give each part a name of its own."));
        }
        let word = raw.ages_by.get_ref();
        let Some(ages_by) = Role::from_name(word).filter(|role| AGEING_ROLES.contains(role)) else {
            let what = format!("part `{name}` ages by `{word}`, which is no role that has hours");
            let advice = format!("It is one of: {}.", names(&AGEING_ROLES));
            return Err(self.error(Some(&raw.ages_by.span()), &what, &advice));
        };
        if radar.input_of(ages_by).is_none() {
            let what = format!("part `{name}` ages by {word}, but radar `{}` has no {word} line", radar.name);
            let advice = "Add the line to the radar's `lines`, or name another in `ages_by`.";
            return Err(self.error(Some(&raw.ages_by.span()), &what, advice));
        }
        Ok(Part {
            radar: radar.name.clone(),
            name,
            planner_id: raw.planner_id.clone().filter(|id| !id.is_empty()),
            ages_by,
            limit_h: self.positive(raw.limit_h.as_ref(), "limit_h")?,
            limit_months: self.above_zero(raw.limit_months.as_ref(), "limit_months")?,
            limit_starts: self.above_zero(raw.limit_starts.as_ref(), "limit_starts")?,
            warn_h: self.positive(raw.warn_h.as_ref(), "warn_h")?,
            lead_time_days: raw.lead_time_days,
            work_hours: self.positive(raw.work_hours.as_ref(), "work_hours")?,
            needs_aloft: raw.needs_aloft,
        })
    }

    fn spare(&self, raw: &RawSpare, parts: &[Part]) -> Result<Spare> {
        let (radar, part) = (raw.radar.get_ref(), raw.part.get_ref());
        if !parts.iter().any(|known| known.radar == *radar && known.name == *part) {
            let what =
                format!("the spare is for `{part}` of radar `{radar}`, which is no [[part]] of this file");
            let all = quoted(parts.iter().map(|part| format!("{} of {}", part.name, part.radar)));
            let advice = format!("The parts are: {all}.");
            return Err(self.error(Some(&raw.part.span()), &what, &advice));
        }
        Ok(Spare {
            radar: radar.clone(),
            part: part.clone(),
            serial: self.name(&raw.serial, "the spare's serial")?,
            received: raw.received.clone(),
            made: raw.made.clone(),
            last_run: raw.last_run.clone(),
            warranty_until: raw.warranty_until.clone(),
            place: raw.place.clone(),
        })
    }

    fn name(&self, raw: &Spanned<String>, whose: &str) -> Result<String> {
        let name = raw.get_ref().trim();
        if name.is_empty() {
            return Err(self.error(Some(&raw.span()), &format!("{whose} has no name"), "Write one."));
        }
        Ok(name.to_owned())
    }

    fn positive(&self, raw: Option<&Spanned<f64>>, key: &str) -> Result<Option<f64>> {
        match raw {
            Some(value) if !(value.get_ref().is_finite() && *value.get_ref() > 0.0) => {
                let what = format!("{key} is {}", value.get_ref());
                Err(self.error(Some(&value.span()), &what, "Write a number above 0, or take the line out."))
            }
            other => Ok(other.map(|value| *value.get_ref())),
        }
    }

    fn above_zero(&self, raw: Option<&Spanned<u32>>, key: &str) -> Result<Option<u32>> {
        match raw {
            Some(value) if *value.get_ref() == 0 => {
                let advice = "Write a number above 0, or take the line out.";
                Err(self.error(Some(&value.span()), &format!("{key} is 0"), advice))
            }
            other => Ok(other.map(|value| *value.get_ref())),
        }
    }
}

fn names(roles: &[Role]) -> String {
    roles.iter().map(|role| role.name()).collect::<Vec<_>>().join(", ")
}
