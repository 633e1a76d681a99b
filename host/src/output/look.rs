//! Colours and weight: always beside a word that says the same, never instead of it. They are put into every text for
//! people, and taken out by [`print_text`](super::print_text) where they are not wanted.

use anstyle::{AnsiColor, Style};

/// The word that marks what was measured and wants attention.
const LOOK: &str = "LOOK:";

/// How a word looks; `None`: as it is.
pub(super) type Look = fn(&str) -> Option<Style>;

const fn colour(colour: AnsiColor) -> Style {
    colour.on_default().bold()
}

/// By the state's word.
pub(super) fn state(word: &str) -> Option<Style> {
    match word {
        "overdue" => Some(colour(AnsiColor::Red)),
        "due" | "soon" => Some(colour(AnsiColor::Yellow)),
        "deferred" | "unknown" => Some(colour(AnsiColor::Magenta)),
        "ok" => Some(colour(AnsiColor::Green)),
        _ => None,
    }
}

/// Words in bold, line by line.
#[must_use]
pub(super) fn bold(text: &str) -> String {
    let style = Style::new().bold();
    text.lines().map(|line| format!("{style}{line}{style:#}\n")).collect()
}

/// The mark of what wants attention in its colour.
#[must_use]
pub(super) fn attention(text: &str) -> String {
    let style = colour(AnsiColor::Yellow);
    text.replace(LOOK, &format!("{style}{LOOK}{style:#}"))
}

/// The first word behind so many characters, in its colour. Colours go in when all lines are laid out: they have no width.
#[must_use]
pub(super) fn word(line: &str, behind: usize, look: Look) -> String {
    let start = line.char_indices().nth(behind).map_or(line.len(), |(at, _)| at);
    let (before, rest) = line.split_at(start);
    let (word, after) = rest.split_at(rest.find(' ').unwrap_or(rest.len()));
    match look(word) {
        Some(style) => format!("{before}{style}{word}{style:#}{after}"),
        None => line.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_state_is_coloured_where_it_stands_and_nowhere_else() {
        let line = word(" soon  soon due", 1, state);
        assert_eq!(anstream::adapter::strip_str(&line).to_string(), " soon  soon due");
        assert!(line.ends_with(" soon due") && line.starts_with(" \u{1b}["), "{line:?}");
        assert_eq!(word("       magnetron", 1, state), "       magnetron");
        assert_eq!(word("", 1, state), "");
    }
}
