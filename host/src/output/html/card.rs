//! The work card: what to do, in working order, with blanks that only the set's manual can fill.

mod steps;

use super::book::{Book, Part};
use super::filters;
use super::findings;
use super::rows::{self, Row, SpareRow};
use super::words::{ADVISES, shown};
use crate::time;
use askama::Template;
use steps::{Section, Task};

/// The page.
#[derive(Template)]
#[template(path = "card.html")]
pub(super) struct Page {
    ship: String,
    as_of: String,
    row: Row,
    part: String,
    role: &'static str,
    work_h: Option<f64>,
    /// Findings that touch this part's hours.
    doubts: Vec<String>,
    spares: Vec<SpareRow>,
    sections: Vec<Section>,
    /// What to type, in pieces that belong together.
    commands: Vec<Vec<String>>,
    advises: &'static str,
}

impl Page {
    /// `None`: there is no such part.
    pub(super) fn of(book: &Book, radar: &str, name: &str) -> Option<Page> {
        let named = |part: &Part| part.settings.radar == radar && part.settings.name == name;
        // `s-band` will do, unless there is one of exactly that name.
        let nearly = |part: &Part| {
            part.settings.radar.eq_ignore_ascii_case(radar) && part.settings.name.eq_ignore_ascii_case(name)
        };
        let at = book.parts.iter().position(named).or_else(|| book.parts.iter().position(nearly))?;
        let part = book.parts.get(at)?;
        let row = rows::parts(book).into_iter().find(|row| row.at == at)?;
        let findings = findings::all(book);
        let touched = findings.open.iter().filter(|finding| {
            finding.radar == row.radar && finding.part.as_deref().is_none_or(|own| own == part.settings.name)
        });
        let warm_up_s = book.warm_up_s(&part.settings.radar);
        let task = Task {
            kind: kind(part),
            aloft: part.settings.needs_aloft,
            role: part.settings.ages_by,
            warm_up_s,
        };
        Some(Page {
            ship: shown(&book.ship),
            as_of: time::minute(book.as_of_ms),
            part: shown(&part.settings.name),
            role: part.settings.ages_by.name(),
            work_h: part.settings.work_hours,
            doubts: touched.map(|finding| finding.title.clone()).collect(),
            spares: part.spares.iter().map(|spare| rows::spare_row(spare, book.as_of_ms)).collect(),
            sections: steps::sections(&task),
            commands: commands(book, part),
            advises: ADVISES,
            row,
        })
    }
}

/// What kind of part it is: by its name, as the trade calls it.
fn kind(part: &Part) -> steps::Kind {
    let name = part.settings.name.to_lowercase();
    if name.contains("magnetron") {
        steps::Kind::Magnetron
    } else if name.contains("motor") || name.contains("gearbox") {
        steps::Kind::Motor
    } else {
        steps::Kind::Other
    }
}

/// What to type afterwards, with blanks.
fn commands(book: &Book, part: &Part) -> Vec<Vec<String>> {
    const BLANK: &str = "________";
    let folder = book.reconciled.folder.display().to_string();
    let ship = if folder == "." { String::new() } else { format!("--ship {} ", quoted(&folder)) };
    let (radar, name) = (quoted(&part.settings.radar), quoted(&part.settings.name));
    let new = part.spares.first().map_or_else(|| BLANK.to_owned(), |spare| quoted(&spare.serial));
    let old = part.due.serial.as_deref().map_or_else(|| BLANK.to_owned(), quoted);
    let because = if part.due.remaining_h.is_some() { "limit" } else { BLANK };
    let mut commands = vec![format!(
        "halfglass {ship}add fitting --at {BLANK} --radar {radar} --part {name} --serial {new} --counter-zeroed yes \
         --counter-before {BLANK} --counter-after 0 --hours-at-fit 0 --removed-serial {old} \
         --removed-because {because} --by {BLANK}"
    )];
    if kind(part) == steps::Kind::Magnetron {
        commands.push(format!(
            "halfglass {ship}add condition --at {BLANK} --radar {radar} --quantity \"tube current\" --value {BLANK} \
             --unit {BLANK} --pulse long --range-nm {BLANK} --by {BLANK}"
        ));
    }
    commands.push(format!("halfglass {ship}pull"));
    commands.push(format!("halfglass {ship}reconcile"));
    commands.iter().map(|command| pieces(&shown(command))).collect()
}

/// A command, broken before each of its options.
fn pieces(command: &str) -> Vec<String> {
    let mut pieces = command.split(" --");
    let first = pieces.next().map(str::to_owned);
    first.into_iter().chain(pieces.map(|piece| format!("--{piece}"))).collect()
}

/// An argument as a shell takes it for one word.
fn quoted(text: &str) -> String {
    if !text.is_empty() && text.chars().all(|c| c.is_alphanumeric() || "/\\-_.:~".contains(c)) {
        text.to_owned()
    } else if !text.contains(['"', '$', '`', '\\', '!']) {
        format!("\"{text}\"")
    } else {
        format!("'{}'", text.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_word_for_a_shell() {
        assert_eq!(quoted("S-band"), "S-band");
        assert_eq!(quoted("scanner motor"), "\"scanner motor\"");
        assert_eq!(quoted("a\"b'c$(d)"), "'a\"b'\\''c$(d)'");
        assert_eq!(quoted(""), "\"\"");
    }
}
