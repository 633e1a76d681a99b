//! From the text of a ship.toml to settings in which everything fits together, or to the first mistake and its line.

use super::place::Place;
use super::settings::{Logger, Part, Radar, Settings, Spare, parse_device, quoted};
use crate::Result;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::config::Role;
use serde::Deserialize;
use std::collections::BTreeMap;
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
    #[serde(default)]
    logger: Vec<RawLogger>,
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
    #[serde(rename = "type")]
    type_number: Option<String>,
    ages_by: Spanned<String>,
    limit_h: Option<Spanned<f64>>,
    limit_months: Option<Spanned<u32>>,
    limit_starts: Option<Spanned<u32>>,
    warn_h: Option<Spanned<f64>>,
    lead_time_days: Option<u32>,
    work_hours: Option<Spanned<f64>>,
    #[serde(default)]
    needs_aloft: bool,
    failure_cost_ratio: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSpare {
    radar: Spanned<String>,
    part: Spanned<String>,
    serial: Spanned<String>,
    received: Option<Spanned<toml::Value>>,
    made: Option<Spanned<toml::Value>>,
    last_run: Option<Spanned<toml::Value>>,
    warranty_until: Option<Spanned<toml::Value>>,
    place: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLogger {
    id: Spanned<String>,
    erases_rated: Option<Spanned<u32>>,
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
        let spare = place.spare(spare, &parts, &spares)?;
        spares.push(spare);
    }
    let mut loggers = Vec::new();
    for logger in &raw.logger {
        let logger = place.logger(logger, &loggers)?;
        loggers.push(logger);
    }
    Ok(Settings { ship: raw.ship.name.into_inner(), radars, parts, spares, loggers })
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

impl Place<'_> {
    fn radar(&self, raw: &RawRadar, before: &[Radar]) -> Result<Radar> {
        let name = self.name(&raw.name, "the radar")?;
        if before.iter().any(|radar| radar.name == name) {
            let what = format!("a second radar is called `{name}`");
            return Err(self.error(Some(&raw.name.span()), &what, "Give each radar a name of its own."));
        }
        let text = raw.logger.get_ref();
        let logger = self.device(&raw.logger)?;
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
            type_number: raw
                .type_number
                .as_deref()
                .map(str::trim)
                .filter(|text| !text.is_empty())
                .map(str::to_owned),
            ages_by,
            limit_h: self.positive(raw.limit_h.as_ref(), "limit_h")?,
            limit_months: self.above_zero(raw.limit_months.as_ref(), "limit_months")?,
            limit_starts: self.above_zero(raw.limit_starts.as_ref(), "limit_starts")?,
            warn_h: self.positive(raw.warn_h.as_ref(), "warn_h")?,
            lead_time_days: raw.lead_time_days,
            work_hours: self.positive(raw.work_hours.as_ref(), "work_hours")?,
            needs_aloft: raw.needs_aloft,
            failure_cost_ratio: self.above_one(raw.failure_cost_ratio.as_ref(), "failure_cost_ratio")?,
        })
    }

    fn spare(&self, raw: &RawSpare, parts: &[Part], before: &[Spare]) -> Result<Spare> {
        let (radar, part) = (raw.radar.get_ref(), raw.part.get_ref());
        if !parts.iter().any(|known| known.radar == *radar && known.name == *part) {
            let what =
                format!("the spare is for `{part}` of radar `{radar}`, which is no [[part]] of this file");
            let all = quoted(parts.iter().map(|part| format!("{} of {}", part.name, part.radar)));
            let advice = format!("The parts are: {all}.");
            return Err(self.error(Some(&raw.part.span()), &what, &advice));
        }
        let serial = raw.serial.get_ref().trim().to_owned();
        if serial.is_empty() {
            let advice = "Write what its label says; if it has none, a word of your own that is on it.";
            return Err(self.error(Some(&raw.serial.span()), "the spare has no serial", advice));
        }
        if before.iter().any(|spare| spare.radar == *radar && spare.part == *part && spare.serial == serial) {
            let what = format!("a second spare {part} has the serial `{serial}`");
            let advice =
                "One [[spare]] block for each piece; a spare that fits several radars stands under one.";
            return Err(self.error(Some(&raw.serial.span()), &what, advice));
        }
        let made = self.days(raw.made.as_ref(), "made")?;
        let received = self.days(raw.received.as_ref(), "received")?;
        if let (Some(made), Some(received), Some(at)) = (made, received, &raw.received)
            && received.last < made.first
        {
            let what = format!("spare `{serial}` was received before it was made");
            return Err(self.error(Some(&at.span()), &what, "Put one of the two dates right."));
        }
        Ok(Spare {
            radar: radar.clone(),
            part: part.clone(),
            serial,
            received,
            made,
            last_run: self.days(raw.last_run.as_ref(), "last_run")?,
            warranty_until: self.days(raw.warranty_until.as_ref(), "warranty_until")?,
            place: raw.place.as_deref().map(str::trim).filter(|place| !place.is_empty()).map(str::to_owned),
        })
    }
}

impl Place<'_> {
    fn logger(&self, raw: &RawLogger, before: &[Logger]) -> Result<Logger> {
        let id = self.device(&raw.id)?;
        if before.iter().any(|logger| logger.id == id) {
            let what = format!("a second [[logger]] block is for {}", raw.id.get_ref());
            return Err(self.error(Some(&raw.id.span()), &what, "One block for each logger."));
        }
        Ok(Logger { id, erases_rated: self.above_zero(raw.erases_rated.as_ref(), "erases_rated")? })
    }

    fn device(&self, raw: &Spanned<String>) -> Result<u64> {
        parse_device(raw.get_ref())
            .map_err(|what| self.error(Some(&raw.span()), &what, "`halfglass pull` shows it."))
    }
}

fn names(roles: &[Role]) -> String {
    roles.iter().map(|role| role.name()).collect::<Vec<_>>().join(", ")
}
