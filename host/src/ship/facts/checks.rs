//! Checks that several kinds of fact share. Each takes the fields and a field's name, and says what is wrong with it.

use super::{Fields, Known};
use crate::Result;
use crate::ship::settings::quoted;
use crate::time::Moment;

/// A time, which must be there.
pub(super) fn moment(fields: &impl Fields, field: &str, known: &Known<'_>) -> Result<Moment> {
    known.clock.moment(fields.text(field)).map_err(|what| fields.error(field, &what))
}

/// A time, if it is there.
pub(super) fn moment_if(fields: &impl Fields, field: &str, known: &Known<'_>) -> Result<Option<Moment>> {
    if fields.text(field).is_empty() { Ok(None) } else { moment(fields, field, known).map(Some) }
}

/// `from` and `to`. The end must be able to lie behind the beginning.
pub(super) fn from_to(fields: &impl Fields, known: &Known<'_>) -> Result<(Moment, Moment)> {
    let (from, to) = (moment(fields, "from", known)?, moment(fields, "to", known)?);
    if to.hi_ms() <= from.lo_ms() {
        let what = format!("`{}` is not after `{}`", fields.text("to"), fields.text("from"));
        return Err(fields.error("to", &what));
    }
    Ok((from, to))
}

/// A radar of ship.toml.
pub(super) fn radar(fields: &impl Fields, known: &Known<'_>) -> Result<String> {
    let name = fields.text("radar");
    if known.settings.radar(name).is_some() {
        return Ok(name.to_owned());
    }
    let radars = &known.settings.radars;
    let what = if radars.is_empty() {
        "ship.toml has no radar yet: write a [[radar]] block into it first".to_owned()
    } else {
        let all = quoted(radars.iter().map(|radar| &radar.name));
        format!("ship.toml has no radar `{name}`; its radars are: {all}")
    };
    Err(fields.error("radar", &what))
}

/// A part of that radar in ship.toml.
pub(super) fn part(fields: &impl Fields, radar: &str, known: &Known<'_>) -> Result<String> {
    let part = fields.text("part");
    let parts = || known.settings.parts.iter().filter(|known| known.radar == radar).map(|known| &known.name);
    if parts().any(|known| known == part) {
        return Ok(part.to_owned());
    }
    let all = quoted(parts());
    let all = if all.is_empty() { "none".to_owned() } else { all };
    let what = format!("ship.toml has no part `{part}` in radar `{radar}`; its parts are: {all}");
    Err(fields.error("part", &what))
}

/// Hours from 0 up, if they are there.
pub(super) fn hours(fields: &impl Fields, field: &str) -> Result<Option<f64>> {
    let text = fields.text(field);
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(hours) if hours.is_finite() && (0.0..1e7).contains(&hours) => Ok(Some(hours)),
        Ok(_) => Err(fields.error(field, &format!("{text} hours cannot be: it is a number from 0 up"))),
        Err(_) => {
            let what =
                format!("`{text}` is not a number of hours: write it as 1234 or 1234.5, without a unit");
            Err(fields.error(field, &what))
        }
    }
}

/// A number for which `allowed` holds, if it is there; `words` say which numbers those are.
pub(super) fn number(
    fields: &impl Fields,
    field: &str,
    words: &str,
    allowed: impl Fn(f64) -> bool,
) -> Result<Option<f64>> {
    let text = fields.text(field);
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() && allowed(number) => Ok(Some(number)),
        _ => Err(fields.error(field, &format!("`{text}` cannot stand here: write {words}"))),
    }
}

/// Words, which must be there; `missing` says what to write.
pub(super) fn words(fields: &impl Fields, field: &str, missing: &str) -> Result<String> {
    optional(fields, field).ok_or_else(|| fields.error(field, missing))
}

/// Words, if they are there.
pub(super) fn optional(fields: &impl Fields, field: &str) -> Option<String> {
    Some(fields.text(field)).filter(|text| !text.is_empty()).map(str::to_owned)
}

/// `yes` or `no`, which must be there.
pub(super) fn yes_no(fields: &impl Fields, field: &str) -> Result<bool> {
    match fields.text(field) {
        "yes" => Ok(true),
        "no" => Ok(false),
        other => Err(fields.error(field, &format!("`{other}` is neither `yes` nor `no`"))),
    }
}

/// `yes` or `no`, if it is there.
pub(super) fn yes_no_if(fields: &impl Fields, field: &str) -> Result<Option<bool>> {
    if fields.text(field).is_empty() { Ok(None) } else { yes_no(fields, field).map(Some) }
}

/// The word for it.
pub(super) fn yes_no_word(yes: bool) -> String {
    if yes { "yes" } else { "no" }.to_owned()
}

/// A number as it is written; empty if there is none.
pub(super) fn number_text(number: Option<f64>) -> String {
    number.map_or_else(String::new, |number| number.to_string())
}

/// A time as it is written; empty if there is none.
pub(super) fn moment_text(moment: Option<Moment>) -> String {
    moment.map_or_else(String::new, Moment::written)
}

/// Words as they are written; empty if there are none.
pub(super) fn text(words: Option<&String>) -> String {
    words.cloned().unwrap_or_default()
}
