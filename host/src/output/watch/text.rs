//! What people see of a watch.

use super::{CAUTION, Event, Line};
use crate::output::screen::Screen;
use crate::output::table::{Sheet, printable};
use halfglass_protocol::config::Role;
use jiff::Timestamp;

/// What stands above a watch: whom it watches, the caution, what to know beforehand.
#[must_use]
pub fn head(logger: &str, notes: &[String], prove: bool, screen: Screen) -> String {
    let mut text = format!("{logger}\n\n{}", screen.paragraph(CAUTION));
    if prove {
        text.push('\n');
        text.push_str(&screen.paragraph(
            "Work one switch at a time, on and off, each for a second or more, and look that the line of that name moves \
             and no other.",
        ));
    }
    for note in notes {
        text.push('\n');
        text.push_str(&screen.paragraph(note));
    }
    text
}

/// Everything as it stands at an instant, to be drawn again and again. `away`: what to say while the logger is not there.
#[must_use]
pub fn screen(
    lines: &[Line],
    breaches: &[String],
    prove: bool,
    away: Option<&str>,
    at_ms: i64,
    screen: Screen,
) -> String {
    let mut heading = vec!["Input", "Radar", "Line", "State", "Total h:mm:ss", "Starts", "Last change"];
    if lines.iter().all(|line| line.radar.is_none()) {
        heading.remove(1);
    }
    if prove {
        heading.extend(["Seen on", "Seen off"]);
    }
    let rows: Vec<Vec<String>> = lines
        .iter()
        .map(|line| {
            let mut row = vec![
                line.input.to_string(),
                line.radar.clone().unwrap_or_else(|| "-".to_owned()),
                line.role.name().to_owned(),
                state(line),
                total(line.total_tenths),
                line.starts.to_string(),
                line.changed_ms.map_or_else(|| "none seen".to_owned(), |ms| ago(at_ms - ms)),
            ];
            if !heading.contains(&"Radar") {
                row.remove(1);
            }
            if prove {
                row.extend([seen(line.seen_on), seen(line.seen_off)]);
            }
            row
        })
        .collect();
    let mut text = Sheet::new(&heading, &["Input", "Total h:mm:ss", "Starts"], rows).on(screen);
    let mut say = Vec::new();
    if lines.is_empty() {
        say.push("No input of this logger is set up: `halfglass setup` does that.".to_owned());
    }
    say.extend(away.map(str::to_owned));
    say.extend(breaches.iter().map(|breach| format!("Check: {breach}.")));
    if prove {
        say.push(still(lines));
    }
    for said in say {
        text.push_str("\n\n");
        text.push_str(screen.paragraph(&said).trim_end());
    }
    text
}

/// One thing that happened, as a line; the beginning as one for each input.
#[must_use]
pub fn line(event: &Event, at_ms: i64) -> String {
    let at = instant(at_ms);
    let say = |what: &str| format!("{at}  {}", printable(what));
    match event {
        Event::Begin(lines) if lines.is_empty() => {
            say("no input of this logger is set up: `halfglass setup` does that")
        }
        Event::Begin(lines) => lines.iter().map(|line| say(&figures(line))).collect::<Vec<_>>().join("\n"),
        Event::Change(line) => say(&figures(line)),
        Event::Blink(line, times) => {
            let times = if *times == 1 { "once".to_owned() } else { format!("{times} times") };
            let moved = if line.on == Some(true) { "went off and on again" } else { "went on and off again" };
            say(&format!("{} {moved}, {times} between two looks; {}", line.name(), counts(line)))
        }
        Event::Breach(what) => say(&format!("check: {what}")),
        Event::BreachOver(what) => {
            say(&format!("no longer: {}", what.split(": check").next().unwrap_or(what)))
        }
        Event::Restarted { session } => say(&format!("the logger started anew: session {session}")),
        Event::Starting => say("the logger answers and waits for its supply to be good"),
        Event::Lost(why) => say(&format!("the logger is away: {why}; looking for it")),
        Event::Another { device_id } => {
            say(&format!("another logger answers there, {device_id:016x}; still looking for the first"))
        }
        Event::Back { port } => say(&format!("the logger is back, on {port}")),
        Event::End { unproven } if unproven.is_empty() => say("end of the watch"),
        Event::End { unproven } => {
            let names: Vec<String> = unproven.iter().map(missing).collect();
            say(&format!("end of the watch; unproven: {}", names.join("; ")))
        }
    }
}

/// Which lines were seen on and off, and which still have to be.
#[must_use]
pub fn checklist(lines: &[Line], screen: Screen) -> String {
    let rows: Vec<Vec<String>> =
        lines.iter().map(|line| vec![line.name(), seen(line.seen_on), seen(line.seen_off)]).collect();
    let table = Sheet::new(&["Line", "Seen on", "Seen off"], &[], rows).on(screen);
    format!("{table}\n\n{}", screen.paragraph(&still(lines)).trim_end())
}

fn still(lines: &[Line]) -> String {
    let open: Vec<String> = lines.iter().filter(|line| !line.is_proven()).map(missing).collect();
    match (lines.len(), open.len()) {
        (0, _) => "Nothing is proven: no input is set up.".to_owned(),
        (all, 0) => format!("Every line ({all}) was seen on and off."),
        _ => format!("Still to prove: {}.", open.join("; ")),
    }
}

/// What of a line was not seen yet.
fn missing(line: &Line) -> String {
    let what = match (line.seen_on, line.seen_off) {
        (false, false) => "on and off",
        (false, true) => "on",
        _ => "off",
    };
    format!("{} {what}", line.name())
}

fn figures(line: &Line) -> String {
    format!("{}: {}; {}", line.name(), state(line), counts(line))
}

fn counts(line: &Line) -> String {
    let starts = if line.starts == 1 { "1 start".to_owned() } else { format!("{} starts", line.starts) };
    format!("total {} h, {starts}", total(line.total_tenths))
}

fn state(line: &Line) -> String {
    match (line.on, line.role) {
        (None, _) => "not known",
        (Some(true), Role::Isolated) => "on (switch open)",
        (Some(false), Role::Isolated) => "off (switch closed)",
        (Some(true), _) => "on",
        (Some(false), _) => "off",
    }
    .to_owned()
}

fn seen(seen: bool) -> String {
    if seen { "yes" } else { "not yet" }.to_owned()
}

/// Hours, minutes, seconds and tenths: `1234:05:06.7`.
fn total(tenths: u64) -> String {
    let (seconds, tenth) = (tenths / 10, tenths % 10);
    format!("{}:{:02}:{:02}.{tenth}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

/// How long ago, as short as it stays useful.
fn ago(ms: i64) -> String {
    match ms.max(0) / 1000 {
        seconds @ 0..60 => format!("{seconds} s ago"),
        seconds @ 60..3_600 => format!("{} min {} s ago", seconds / 60, seconds % 60),
        seconds => format!("{} h {} min ago", seconds / 3_600, seconds / 60 % 60),
    }
}

fn instant(at_ms: i64) -> String {
    Timestamp::from_millisecond(at_ms)
        .map_or_else(|_| String::new(), |at| at.strftime("%Y-%m-%d %H:%M:%S%.1f UTC").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn transmit() -> Line {
        Line {
            input: 2,
            radar: Some("S-band".to_owned()),
            role: Role::Transmit,
            on: Some(true),
            total_tenths: 36_000 * 1_234 + 3_067,
            starts: 1,
            changed_ms: Some(1_772_352_725_300),
            seen_on: true,
            seen_off: false,
        }
    }

    /// By hand: 1,234 h and 306.7 s are 5 min 6.7 s more.
    #[test]
    fn totals_are_hours_minutes_seconds_and_tenths() {
        assert_eq!(total(36_000 * 1_234 + 3_067), "1234:05:06.7");
        assert_eq!(
            (total(0), total(9), total(599)),
            ("0:00:00.0".into(), "0:00:00.9".into(), "0:00:59.9".into())
        );
        assert_eq!(
            [ago(-5), ago(59_999), ago(61_000), ago(7_260_000)],
            ["0 s ago", "59 s ago", "1 min 1 s ago", "2 h 1 min ago"]
        );
    }

    #[test]
    fn a_change_is_one_line_with_its_time() {
        assert_eq!(
            line(&Event::Change(transmit()), 1_772_352_725_349),
            "2026-03-01 08:12:05.3 UTC  S-band transmit (input 2): on; total 1234:05:06.7 h, 1 start"
        );
        let over = line(&Event::BreachOver("S-band: a on while b off: check wiring".into()), 0);
        assert!(over.ends_with("no longer: S-band: a on while b off"), "{over}");
    }

    /// Names come from a file: no control character reaches the terminal.
    #[test]
    fn the_screen_says_what_is_still_unproven_and_shows_no_control_character() {
        let mut odd = transmit();
        odd.radar = Some("S\u{1b}[2J".to_owned());
        let text = screen(
            &[odd.clone()],
            &["x on while y off".to_owned()],
            true,
            Some("away"),
            1_772_352_737_300,
            Screen::PIPE,
        );
        assert!(!text.contains('\u{1b}'), "{text:?}");
        for words in
            ["12 s ago", "Check: x on while y off.", "Still to prove: S", "(input 2) off.", "not yet"]
        {
            assert!(text.contains(words), "{words}: {text}");
        }
        odd.seen_off = true;
        assert!(checklist(&[odd], Screen::PIPE).contains("Every line (1) was seen on and off."));
    }
}
