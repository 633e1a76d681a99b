//! Filters of the templates.

use askama::filters::Safe;
use askama::{Result, Values};

/// Words with dates in them, the dates kept in one piece: `2026-03-14` is not broken at its dashes, nor is a command
/// that stands between backquotes shown with them. Everything is escaped first; only tags of our own are added.
#[askama::filter_fn]
pub(super) fn prose(text: impl std::fmt::Display, _: &dyn Values) -> Result<Safe<String>> {
    Ok(Safe(marked(&text.to_string())))
}

fn marked(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 64);
    let mut rest = text;
    while !rest.is_empty() {
        if is_date(rest) {
            // All of a date is ASCII.
            let (date, behind) = rest.split_at(DATE);
            let time = behind.get(..6).filter(|time| is_time(time)).unwrap_or_default();
            let behind = &behind[time.len()..];
            // In a narrow column `to` stays on the line of the date before it.
            let to = if behind.starts_with(" to ") { " to" } else { "" };
            out.push_str(&format!("<span class=\"nb\">{date}{time}{to}</span>"));
            rest = &behind[to.len()..];
        } else if let Some((command, behind)) = rest.strip_prefix('`').and_then(|inner| inner.split_once('`'))
        {
            out.push_str(&format!("<code>{}</code>", escaped(command)));
            rest = behind;
        } else {
            // Up to where the next date or command can begin.
            let mut chars =
                rest.char_indices().skip(1).skip_while(|(_, c)| !(c.is_ascii_digit() || *c == '`'));
            let end = chars.next().map_or(rest.len(), |(at, _)| at);
            // Within a number none begins.
            let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            let end = end.max(digits);
            out.push_str(&escaped(&rest[..end]));
            rest = &rest[end..];
        }
    }
    out
}

/// Length of `2026-03-14`.
const DATE: usize = 10;

fn is_date(text: &str) -> bool {
    shaped(text, "dddd-dd-dd")
}

fn is_time(text: &str) -> bool {
    shaped(text, " dd:dd")
}

/// Whether a text begins with this pattern, `d` standing for a digit.
fn shaped(text: &str, pattern: &str) -> bool {
    text.len() >= pattern.len()
        && text.bytes().zip(pattern.bytes()).all(|(byte, sign)| match sign {
            b'd' => byte.is_ascii_digit(),
            sign => byte == sign,
        })
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    // Writing into a string cannot fail.
    let _ = askama::filters::Escaper::write_escaped_str(&askama::filters::Html, &mut out, text);
    out
}

#[cfg(test)]
mod tests {
    use super::marked;

    #[test]
    fn dates_and_commands_are_marked_and_everything_is_escaped() {
        assert_eq!(
            marked("due 2026-04-03 (2026-04-01 08:12 to 2026-04-07)."),
            "due <span class=\"nb\">2026-04-03</span> (<span class=\"nb\">2026-04-01 08:12 to</span> \
             <span class=\"nb\">2026-04-07</span>)."
        );
        assert_eq!(marked("see `halfglass <x>`"), "see <code>halfglass &#60;x&#62;</code>");
        assert_eq!(marked("<script>1</script>2024-1"), "&#60;script&#62;1&#60;/script&#62;2024-1");
        assert_eq!(marked("é`12"), "é`12", "a quote that never ends is shown as it is");
        assert_eq!(marked("120264-03-14"), "120264-03-14", "within a number no date begins");
        assert_eq!(marked(""), "");
    }
}
