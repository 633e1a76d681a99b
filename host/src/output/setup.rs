//! A logger's configuration, old and new side by side.

use super::screen::Screen;
use super::table::{Sheet, printable};
use halfglass_protocol::config::{Config, Kind, Line, Role};
use halfglass_protocol::record::Totals;

/// What is to change.
#[derive(Clone, Copy, Debug)]
pub struct Setup<'a> {
    /// In force.
    pub old: &'a Config,
    /// To come.
    pub new: &'a Config,
    /// The names of the logger's radars, in their order at the logger.
    pub radars: &'a [&'a str],
    /// How many inputs it has.
    pub inputs: u8,
    /// What it has counted so far.
    pub totals: &'a Totals,
}

/// Both, row by row, with a mark where they differ.
#[must_use]
pub fn side_by_side(setup: &Setup<'_>, screen: Screen) -> String {
    let Setup { old, new, .. } = setup;
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut row = |what: String, before: String, after: String, differs: bool| {
        let mark = if differs { "changes" } else { "" };
        rows.push(vec![what, before, after, mark.to_owned()]);
    };
    let lines = old.lines.iter().zip(&new.lines).take(usize::from(setup.inputs));
    for (input, (before, after)) in lines.enumerate() {
        if before.role == Role::Unused && after.role == Role::Unused {
            continue;
        }
        row(format!("input {input}"), words(setup, before), words(setup, after), before != after);
    }
    for (slot, (before, after)) in old.warm_up_s.iter().zip(&new.warm_up_s).enumerate() {
        if slot < setup.radars.len() || before != after {
            let seconds = |s: u16| if s == 0 { "not known".to_owned() } else { format!("{s} s") };
            let name = format!("warm-up of {}", name(setup, slot));
            row(name, seconds(*before), seconds(*after), before != after);
        }
    }
    for (what, before, after) in
        [("heartbeat", old.heartbeat_s, new.heartbeat_s), ("idle word", old.idle_s, new.idle_s)]
    {
        row(what.to_owned(), format!("every {before} s"), format!("every {after} s"), before != after);
    }
    Sheet::new(&["", "At the logger", "New", ""], &[], rows).on(screen)
}

/// What comes of the change, a paragraph each.
#[must_use]
pub fn effects(setup: &Setup<'_>, screen: Screen) -> String {
    let Setup { old, new, totals, .. } = setup;
    let mut text = screen.paragraph(
        "Nothing counted is lost: every input keeps its total and its starts, and the log keeps which setup held from \
         when on. An input that changes begins afresh: off until it proves itself, then one start more.",
    );
    for (input, (before, after)) in old.lines.iter().zip(&new.lines).enumerate() {
        let tenths = totals.on_tenths.get(input).copied().unwrap_or(0);
        if before.role == after.role || before.role == Role::Unused || tenths == 0 {
            continue;
        }
        let hours = tenths as f64 / 36_000.0;
        let then = match after.role {
            Role::Unused => "is no longer watched".to_owned(),
            role => format!("counts as {} from now on, in the same total", role.name()),
        };
        text.push_str(&screen.paragraph(&format!(
            "Input {input} has {hours:.1} h in it that were counted as {}; it {then}. Pull before you write.",
            before.role.name()
        )));
    }
    text
}

/// A line as `--line` would say it.
fn words(setup: &Setup<'_>, line: &Line) -> String {
    if line.role == Role::Unused {
        return "not watched".to_owned();
    }
    let configs = [setup.old, setup.new];
    let two_radars = configs
        .iter()
        .any(|config| config.lines.iter().any(|line| line.role != Role::Unused && line.radar > 0));
    let radar = if two_radars { format!("{}/", name(setup, usize::from(line.radar))) } else { String::new() };
    let role = line.role.name();
    match (line.kind, line.active_low) {
        (Kind::Contact { debounce_ms }, true) => format!("{radar}{role}=contact,{debounce_ms}ms,low"),
        (Kind::Contact { debounce_ms }, false) => format!("{radar}{role}=contact,{debounce_ms}ms,high"),
        (Kind::Pulsed { hold_ms }, true) => format!("{radar}{role}=pulsed,{hold_ms}ms,low"),
        (Kind::Pulsed { hold_ms }, false) => format!("{radar}{role}=pulsed,{hold_ms}ms"),
    }
}

fn name(setup: &Setup<'_>, slot: usize) -> String {
    setup.radars.get(slot).map_or_else(|| format!("radar {}", slot + 1), |name| printable(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn old_and_new_stand_side_by_side_and_what_changes_is_marked() {
        let old = Config::as_in_guide();
        let mut new = old;
        new.lines[2] = Line { kind: Kind::Pulsed { hold_ms: 200 }, ..new.lines[2] };
        new.lines[3] = Line { active_low: true, ..Line::contact(Role::Supply) };
        new.lines[0] = Line::UNUSED;
        new.warm_up_s = [180, 0];
        let mut totals = Totals::default();
        totals.on_tenths[3] = 36_000 * 12;
        let setup = Setup { old: &old, new: &new, radars: &["S-band"], inputs: 5, totals: &totals };
        let text = side_by_side(&setup, Screen::PIPE);
        let row =
            |name: &str| text.lines().find(|line| line.contains(name)).unwrap_or_else(|| panic!("{text}"));
        assert!(row("input 0").contains(" supply=contact,50ms,high "));
        assert!(row("input 0").contains("not watched") && row("input 0").ends_with("changes"), "{text}");
        assert!(!row("input 1").contains("changes"));
        assert!(row("input 2").contains(" transmit=pulsed,200ms "));
        assert!(row("input 3").contains(" supply=contact,50ms,low "));
        assert!(row("warm-up of S-band").contains("not known") && row("warm-up of S-band").contains("180 s"));
        assert!(!text.contains("input 5") && !text.contains("radar 2"), "{text}");
        let second = Config { lines: old.lines.map(|line| Line { radar: 1, ..line }), ..old };
        let two = side_by_side(&Setup { new: &second, ..setup }, Screen::PIPE);
        assert!(
            two.contains(" S-band/heater=contact,50ms,high ") && two.contains(" radar 2/heater="),
            "{two}"
        );
        let effects = effects(&setup, Screen::PIPE);
        let moved = "Input 3 has 12.0 h in it that were counted as motor; it counts as supply from now on, in the same total.";
        // Input 0 has counted nothing.
        assert!(effects.contains(moved) && !effects.contains("Input 0"), "{effects}");
    }
}
