//! Words that several pages share.

use crate::due::{Interval, State};
use crate::output::table::hours;
use crate::time;

/// A name from a file as a page may show it: nothing in it may change the direction of the words around it. What a browser
/// would take for a tag is escaped by the template.
pub(super) fn shown(text: &str) -> String {
    let marks = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars().map(|c| if c.is_control() || marks(c) { '\u{fffd}' } else { c }).collect()
}

/// `4678 h (4676 to 4679)`.
pub(super) fn interval(of: Interval) -> String {
    let (low, high) = (hours(of.low), hours(of.high));
    if low == high {
        format!("{} h", hours(of.best))
    } else {
        format!("{} h ({low} to {high})", hours(of.best))
    }
}

/// `284 h`, or `12 h over`.
pub(super) fn left(remaining_h: f64) -> String {
    if remaining_h < 0.0 {
        format!("{} h over", hours(-remaining_h))
    } else {
        format!("{} h", hours(remaining_h))
    }
}

/// `2026-04-01 to 2026-04-07`; one date if both are on one day.
pub(super) fn dates(from_ms: i64, to_ms: Option<i64>) -> String {
    match to_ms.map(time::date) {
        Some(to) if to == time::date(from_ms) => to,
        Some(to) => format!("{} to {to}", time::date(from_ms)),
        None => format!("{} to much later", time::date(from_ms)),
    }
}

/// What a state asks for, in a word or two.
pub(super) fn meaning(state: State) -> &'static str {
    match state {
        State::Ok => "nothing to do yet",
        State::Soon => "order and plan",
        State::Due => "may be over its limit",
        State::Overdue => "over its limit",
        State::Deferred => "put off with leave",
        State::Unknown => "something is missing",
    }
}

/// The worse, the smaller.
pub(super) fn urgency(state: State) -> u8 {
    match state {
        State::Overdue => 0,
        State::Due => 1,
        State::Soon => 2,
        State::Unknown => 3,
        State::Deferred => 4,
        State::Ok => 5,
    }
}

/// `1 finding`, `3 findings`.
pub(super) fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// Before a renewal, and under every plan.
pub(super) const ADVISES: &str = "Halfglass advises, it does not authorise. The maker's manual, the ship's safety management \
                                  system and licensed persons come first. Halfglass's isolated line is never proof of \
                                  isolation.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_words_round_is_shown_as_a_mark() {
        assert_eq!(shown("S-\u{202e}dnab\n"), "S-\u{fffd}dnab\u{fffd}");
        assert_eq!(shown("مكشاف <b>"), "مكشاف <b>", "letters are left alone; the template escapes the tag");
    }

    #[test]
    fn figures_read_plainly() {
        assert_eq!(
            interval(Interval { low: 4_676.2, best: 4_678.0, high: 4_679.4 }),
            "4678 h (4676 to 4679)"
        );
        assert_eq!((left(-12.0), left(284.0)), ("12.0 h over".to_owned(), "284 h".to_owned()));
        assert_eq!(dates(0, Some(1)), "1970-01-01");
        assert_eq!(dates(0, None), "1970-01-01 to much later");
    }
}
