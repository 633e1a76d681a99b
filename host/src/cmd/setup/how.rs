//! How a line says that it is on, as written behind `--line`.

use crate::{Error, Result};
use halfglass_protocol::config::{FILTER_MS_MAX, Kind, Line, Role};
use halfglass_protocol::hello::Hello;

/// How long a contact must stand still, where nothing was said.
const DEBOUNCE_MS: u16 = 50;
/// How long after its last pulse a pulsed line counts as on, where nothing was said: ten periods of 50 Hz.
const HOLD_MS: u16 = 200;

/// The shortest times that a board can do with, in milliseconds: for as long as it stands still (while its flash erases) it
/// sees no bounce and no pulse. 0: whatever.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Least {
    debounce_ms: u16,
    hold_ms: u16,
}

impl Least {
    /// As the logger says; one that says more than can be set is not believed.
    pub(super) fn of(hello: &Hello) -> Least {
        let believed = |ms: u16| if ms > FILTER_MS_MAX { 0 } else { ms };
        Least { debounce_ms: believed(hello.debounce_min_ms), hold_ms: believed(hello.hold_min_ms) }
    }

    /// The line's own time and the shortest that there may be, if that is longer.
    fn exceeds(self, line: &Line) -> Option<(u16, u16)> {
        let (ms, least_ms) = match line.kind {
            _ if line.role == Role::Unused => return None,
            Kind::Contact { debounce_ms } => (debounce_ms, self.debounce_ms),
            Kind::Pulsed { hold_ms } => (hold_ms, self.hold_ms),
        };
        (ms < least_ms).then_some((ms, least_ms))
    }

    /// Makes a line's time as long as the board needs it. `how`: what was said of it. Some: it was raised, and why.
    ///
    /// # Errors
    /// The shorter time was asked for.
    pub(super) fn raise(self, line: &mut Line, how: Option<&How>) -> Result<Option<String>> {
        let Some((ms, least_ms)) = self.exceeds(line) else { return Ok(None) };
        let why = match line.kind {
            Kind::Contact { .. } => "may take a bounce of the contact for a start",
            Kind::Pulsed { .. } => "may break a run in two",
        };
        if let Some(how) = how.filter(|how| how.time_ms.is_some()) {
            return Err(Error::input(
                format!(
                    "--line {}: with {ms} ms this logger {why} whenever its flash erases; nothing was changed",
                    how.text
                ),
                format!("Give it {least_ms}ms or more."),
            ));
        }
        line.kind = match line.kind {
            Kind::Contact { .. } => Kind::Contact { debounce_ms: least_ms },
            Kind::Pulsed { .. } => Kind::Pulsed { hold_ms: least_ms },
        };
        Ok(Some(format!(
            "{}: {least_ms} ms instead of {ms}, with which this logger {why} whenever its flash erases.",
            line.role.name()
        )))
    }
}

/// What one `--line` says; what it does not say stays as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct How {
    /// The radar, if it was named.
    pub(super) radar: Option<String>,
    pub(super) role: Role,
    is_pulsed: Option<bool>,
    time_ms: Option<u16>,
    active_low: Option<bool>,
    /// As it was written.
    pub(super) text: String,
}

impl How {
    /// Reads `[RADAR/]ROLE=WORDS`.
    ///
    /// # Errors
    /// What is wrong, and how it is written.
    pub(super) fn parse(text: &str) -> Result<How> {
        let wrong = |what: String| {
            Error::input(
                format!("--line {text}: {what}; nothing was changed"),
                "Write it as in --line motor=pulsed,200ms or --line S-band/isolated=contact,50ms,low.",
            )
        };
        let (line, words) = text.split_once('=').ok_or_else(|| wrong("there is no `=`".to_owned()))?;
        // A radar's name may hold a slash, a role does not.
        let (radar, role) = match line.rsplit_once('/') {
            Some((radar, role)) => (Some(radar.trim().to_owned()), role),
            None => (None, line),
        };
        let named = Role::from_name(role.trim()).filter(|role| *role != Role::Unused);
        let role = named.ok_or_else(|| {
            wrong(format!("`{}` is no line: supply, heater, transmit, motor or isolated", role.trim()))
        })?;
        let mut how =
            How { radar, role, is_pulsed: None, time_ms: None, active_low: None, text: text.to_owned() };
        for word in words.split(',').map(str::trim) {
            let again = match word {
                "contact" | "pulsed" => how.is_pulsed.replace(word == "pulsed").is_some(),
                "low" | "high" => how.active_low.replace(word == "low").is_some(),
                _ => {
                    let ms = word.strip_suffix("ms").and_then(|ms| ms.trim().parse().ok());
                    let ms: u16 = ms.ok_or_else(|| {
                        wrong(format!(
                            "`{word}` is none of contact, pulsed, high, low and a time such as 50ms"
                        ))
                    })?;
                    how.time_ms.replace(ms).is_some()
                }
            };
            if again {
                return Err(wrong(format!("`{word}` says again what was said before it")));
            }
        }
        Ok(how)
    }

    /// A line changed as this says.
    pub(super) fn apply(&self, line: &mut Line) {
        let (was_pulsed, was_ms) = match line.kind {
            Kind::Contact { debounce_ms } => (false, debounce_ms),
            Kind::Pulsed { hold_ms } => (true, hold_ms),
        };
        let is_pulsed = self.is_pulsed.unwrap_or(was_pulsed);
        let usual_ms = match (is_pulsed == was_pulsed, is_pulsed) {
            (true, _) => was_ms,
            (false, true) => HOLD_MS,
            (false, false) => DEBOUNCE_MS,
        };
        let ms = self.time_ms.unwrap_or(usual_ms);
        line.kind = if is_pulsed { Kind::Pulsed { hold_ms: ms } } else { Kind::Contact { debounce_ms: ms } };
        line.active_low = self.active_low.unwrap_or(line.active_low);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn applied(text: &str, mut line: Line) -> (Kind, bool) {
        How::parse(text).unwrap().apply(&mut line);
        (line.kind, line.active_low)
    }

    #[test]
    fn what_is_not_said_stays() {
        let contact = Line::contact(Role::Motor);
        let pulsed = Line { kind: Kind::Pulsed { hold_ms: 120 }, active_low: true, ..contact };
        assert_eq!(applied("motor=pulsed", contact), (Kind::Pulsed { hold_ms: 200 }, false));
        assert_eq!(applied("motor=pulsed", pulsed), (Kind::Pulsed { hold_ms: 120 }, true));
        assert_eq!(applied("motor=300ms", pulsed), (Kind::Pulsed { hold_ms: 300 }, true));
        assert_eq!(applied("motor=contact,high", pulsed), (Kind::Contact { debounce_ms: 50 }, false));
        assert_eq!(applied("S/X/motor=low, 80ms", contact), (Kind::Contact { debounce_ms: 80 }, true));
        assert_eq!(How::parse("S/X/motor=low").unwrap().radar.as_deref(), Some("S/X"));
    }

    #[test]
    fn what_cannot_be_read_is_named() {
        for (text, says) in [
            ("motor", "there is no `=`"),
            ("moter=low", "`moter` is no line"),
            ("unused=low", "`unused` is no line"),
            ("motor=", "`` is none of contact"),
            ("motor=50", "`50` is none of"),
            ("motor=70000ms", "`70000ms` is none of"),
            ("motor=low,high", "`high` says again"),
        ] {
            let error = How::parse(text).unwrap_err();
            assert!(error.what().contains(says), "{error}");
            assert!(error.advice().contains("--line motor=pulsed,200ms"));
        }
    }
}
