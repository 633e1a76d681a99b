//! What each kind of finding is called in plain language: told, asked, and as somebody else's explanation.

use crate::reconcile::{Finding, Instead, Kind};
use halfglass_protocol::config::Role;

/// As a sentence without its full stop.
pub(in crate::output) fn title(finding: &Finding) -> String {
    let line = finding.line.map_or("radar's", Role::name);
    let part = finding.part.as_deref().unwrap_or("part");
    match finding.kind {
        Kind::ZeroedWithoutFitting => {
            format!("The {line} counter was set to zero, and no fitting says why")
        }
        Kind::CounterExchanged => match finding.line {
            Some(role) => format!("The box that counts {} hours was exchanged", role.name()),
            None => "The box with the radar's counters was exchanged".to_owned(),
        },
        Kind::FittedWithoutZeroing => {
            format!("The fitting says that the {line} counter was zeroed, but it went on")
        }
        Kind::RecordContradicted => {
            format!("The fitting says that the {line} counter was not zeroed, but it was")
        }
        Kind::FittingMisdated => format!("The {part} was put in on another day than recorded"),
        Kind::Misread => format!("A reading of the {line} counter was misread or mistyped"),
        Kind::ReadingsSwapped => match finding.line {
            Some(role) => {
                format!("A {} reading stands in the place of the other radar's", role.name())
            }
            None => "Two readings of one day stand in each other's place".to_owned(),
        },
        Kind::ImpossibleReading => format!("The {line} counter cannot have shown this reading"),
        Kind::CountsOtherLine => format!("The {line} counter counts another line's hours"),
        Kind::CounterRate => match finding.line {
            Some(role) => format!("The {} counter and the logger run at a steady ratio", role.name()),
            None => "The radar's counters and the logger run at a steady ratio".to_owned(),
        },
        Kind::CounterUnits => format!("Readings of the {line} counter are in another unit than hours"),
        Kind::LineDead => format!("The logger's {line} line was dead"),
        Kind::LineStuck => format!("The logger's {line} line stuck on"),
        Kind::LineIntermittent => format!("The logger's {line} line came and went"),
        Kind::Wiring => {
            format!("The logger's {line} line is wired otherwise than ship.toml or the radar says")
        }
        Kind::DarkGap => "The logger was without power, and how much ran meanwhile is open".to_owned(),
        Kind::WorkUnrecorded => "The scanner was isolated, and nothing recorded says why".to_owned(),
    }
}

/// As a question.
pub(in crate::output) fn question(finding: &Finding) -> String {
    let line = finding.line.map_or("radar's", Role::name);
    let part = finding.part.as_deref().unwrap_or("part");
    match finding.kind {
        Kind::ZeroedWithoutFitting => format!("Was the {line} counter set to zero?"),
        Kind::CounterExchanged => match finding.line {
            Some(role) => format!("Was the box that counts {} hours exchanged?", role.name()),
            None => "Was the box with the radar's counters exchanged?".to_owned(),
        },
        Kind::FittedWithoutZeroing => format!("Did the {line} counter go on although it was to be zeroed?"),
        Kind::RecordContradicted => format!("Was the {line} counter zeroed although the fitting says no?"),
        Kind::FittingMisdated => format!("Was the {part} put in on another day than recorded?"),
        Kind::Misread => format!("Was a reading of the {line} counter misread or mistyped?"),
        Kind::ReadingsSwapped => "Do two readings stand in each other's place?".to_owned(),
        Kind::ImpossibleReading => format!("Did the {line} counter show this?"),
        Kind::CountsOtherLine => format!("Does the {line} counter count another line's hours?"),
        Kind::CounterRate => match finding.line {
            Some(role) => format!("Do the {} counter and the logger run at a steady ratio?", role.name()),
            None => "Do the radar's counters and the logger run at a steady ratio?".to_owned(),
        },
        Kind::CounterUnits => format!("Are readings of the {line} counter in another unit than hours?"),
        Kind::LineDead => format!("Was the logger's {line} line dead?"),
        Kind::LineStuck => format!("Did the logger's {line} line stick on?"),
        Kind::LineIntermittent => format!("Did the logger's {line} line come and go?"),
        Kind::Wiring => format!("Is the logger's {line} line wired otherwise?"),
        Kind::DarkGap => "How much ran while the logger was without power?".to_owned(),
        Kind::WorkUnrecorded => "What was done while the scanner was isolated?".to_owned(),
    }
}

/// As the next-best explanation.
pub(in crate::output) fn otherwise(instead: Instead) -> String {
    let what = match instead.kind {
        None => "nothing is wrong",
        Some(Kind::ZeroedWithoutFitting) => "the counter was set to zero",
        Some(Kind::CounterExchanged) => "the counter's box was exchanged",
        Some(Kind::FittedWithoutZeroing) => "a fitting's zeroing was not done",
        Some(Kind::RecordContradicted) => "it was zeroed although a fitting says no",
        Some(Kind::FittingMisdated) => "a fitting is recorded on the wrong day",
        Some(Kind::Misread) => "a reading was misread or mistyped",
        Some(Kind::ReadingsSwapped) => "two readings stand in each other's place",
        Some(Kind::ImpossibleReading) => "a reading is wrong in a way that no slip explains",
        Some(Kind::CountsOtherLine) => "the counter counts another line's hours",
        Some(Kind::CounterRate) => "counter and logger run at a steady ratio",
        Some(Kind::CounterUnits) => "readings are in another unit than hours",
        Some(Kind::LineDead) => "the logger's line was dead",
        Some(Kind::LineStuck) => "the logger's line stuck on",
        Some(Kind::LineIntermittent) => "the logger's line came and went",
        Some(Kind::Wiring) => "the logger's lines are wired otherwise",
        Some(Kind::DarkGap) => "the radar ran while its logger was without power",
        Some(Kind::WorkUnrecorded) => "work was done and not recorded",
    };
    format!("{what} ({})", percent(instead.probability))
}

/// How sure something is, in words and figures.
pub(in crate::output) fn how_sure(probability: f64) -> String {
    let word = match probability {
        p if p >= 0.99 => "practically certain",
        p if p >= 0.95 => "very likely",
        p if p >= 0.8 => "likely",
        p if p >= 0.5 => "more likely than not",
        _ => "possible",
    };
    format!("{word} ({})", percent(probability))
}

pub(in crate::output) fn percent(probability: f64) -> String {
    match probability * 100.0 {
        p if p > 99.0 && probability < 1.0 => "over 99 %".to_owned(),
        p if p < 1.0 => "under 1 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}
