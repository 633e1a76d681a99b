//! Values of a ship.toml that know where they stand.

use super::settings::Days;
use crate::{Error, Result};
use std::ops::Range;
use toml::Spanned;

/// The file, for messages.
pub(super) struct Place<'a> {
    pub(super) text: &'a str,
    pub(super) file: &'a str,
}

impl Place<'_> {
    /// Says what is wrong with what stands at `span`.
    pub(super) fn error(&self, span: Option<&Range<usize>>, what: &str, advice: &str) -> Error {
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

    /// A date, if there is one.
    pub(super) fn days(&self, raw: Option<&Spanned<toml::Value>>, key: &str) -> Result<Option<Days>> {
        let Some(raw) = raw else { return Ok(None) };
        // In quotes, or bare as TOML has dates, or a bare year.
        let text = match raw.get_ref() {
            toml::Value::String(text) => text.trim().to_owned(),
            other => other.to_string(),
        };
        if text.is_empty() {
            return Ok(None);
        }
        let days = Days::parse(&text).map_err(|what| {
            self.error(Some(&raw.span()), &format!("{key}: {what}"), "Or take the line out.")
        });
        days.map(Some)
    }

    /// Text that is not blank.
    pub(super) fn name(&self, raw: &Spanned<String>, whose: &str) -> Result<String> {
        let name = raw.get_ref().trim();
        if name.is_empty() {
            return Err(self.error(Some(&raw.span()), &format!("{whose} has no name"), "Write one."));
        }
        Ok(name.to_owned())
    }

    /// A number above 0, if there is one.
    pub(super) fn positive(&self, raw: Option<&Spanned<f64>>, key: &str) -> Result<Option<f64>> {
        match raw {
            Some(value) if !(value.get_ref().is_finite() && *value.get_ref() > 0.0) => {
                let what = format!("{key} is {}", value.get_ref());
                Err(self.error(Some(&value.span()), &what, "Write a number above 0, or take the line out."))
            }
            other => Ok(other.map(|value| *value.get_ref())),
        }
    }

    /// A ratio above 1, if there is one.
    pub(super) fn above_one(&self, raw: Option<&Spanned<f64>>, key: &str) -> Result<Option<f64>> {
        match raw {
            Some(value) if !(value.get_ref().is_finite() && *value.get_ref() > 1.0) => {
                let what = format!("{key} is {}, so that a planned renewal would never pay", value.get_ref());
                let advice =
                    "Write what a failure in service costs with a planned renewal as 1, or take it out.";
                Err(self.error(Some(&value.span()), &what, advice))
            }
            other => Ok(other.map(|value| *value.get_ref())),
        }
    }

    /// A whole number above 0, if there is one.
    pub(super) fn above_zero(&self, raw: Option<&Spanned<u32>>, key: &str) -> Result<Option<u32>> {
        match raw {
            Some(value) if *value.get_ref() == 0 => {
                let advice = "Write a number above 0, or take the line out.";
                Err(self.error(Some(&value.span()), &format!("{key} is 0"), advice))
            }
            other => Ok(other.map(|value| *value.get_ref())),
        }
    }
}
