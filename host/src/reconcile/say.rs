//! Sentences for people: the figures that speak for a finding, and what to do about it.

use super::chain::Edge;
use super::counter::Counter;
use super::counters::Told;
use super::draft::{Draft, Whose};
use super::events::Scale;
use super::extract::Moved;
use super::finding::Kind;
use super::moves::{Fault, Law, Moves};
use super::slips::{self, Slip};
use crate::time;
use halfglass_protocol::config::Role;

/// A figure as the counter would show it.
fn figure(counter: &Counter, hours: f64) -> String {
    let decimals = usize::from(counter.step_h < 1.0);
    format!("{hours:.decimals$}")
}

/// A figure moved by this much; the log says how far it should have moved.
pub(super) fn moved(counter: &Counter, from: (usize, f64), to: (usize, f64), expected: (f64, f64)) -> String {
    let (a, b) = (&counter.seen[from.0], &counter.seen[to.0]);
    format!(
        "The {} counter showed {} on {} and {} on {} UTC; by the logger it moved {} in between.",
        counter.role.name(),
        figure(counter, from.1),
        time::minute(a.at.best_ms()),
        figure(counter, to.1),
        time::minute(b.at.best_ms()),
        span_h(expected)
    )
}

fn span_h((low, high): (f64, f64)) -> String {
    if high - low < 0.15 {
        format!("{low:.1} h")
    } else if high - low < 3.0 {
        format!("{low:.1} to {high:.1} h")
    } else {
        format!("{low:.0} to {high:.0} h")
    }
}

/// When a zeroing must have been.
pub(super) fn zeroed_between(from_ms: i64, to_ms: i64) -> String {
    format!(
        "To show that figure, it was zeroed between {} and {} UTC.",
        time::minute(from_ms),
        time::minute(to_ms)
    )
}

/// Dark time of a logger that hangs on its radar.
pub(super) fn dark(dark_h: f64) -> String {
    format!(
        "The logger was without power for up to {dark_h:.0} h and hangs on the radar's supply, yet the counter moved."
    )
}

/// Why a figure is set aside.
pub(super) fn aside(told: &Told, edge: &Edge, k: usize, kind: Kind) -> Vec<String> {
    let counter = &told.counter;
    let seen = &counter.seen[k];
    let mut said = Vec::new();
    let expected = edge.from.map(|(j, state)| {
        let at = told.histories.states[j][state];
        let earlier = super::chain::shown(counter, j, at.scale, at.swap);
        let (law, dark) = (counter.laws[at.law].0, !counter.fed);
        if let Some(since) = counter.since_zeroing(j, k) {
            return since.range(law, Fault::None, dark);
        }
        let (low, high) = counter.moves(j, k).range(law, Fault::None, dark);
        (earlier.hours + low, earlier.hours + earlier.width_h + high)
    });
    let expected = expected.map(|range| from_behind(told, edge, k, range));
    if let Some((low, high)) = expected {
        said.push(format!(
            "The {} counter is noted as {} on {} UTC; by the readings beside it and the logger it stood at {}.",
            counter.role.name(),
            figure(counter, seen.hours),
            time::minute(seen.at.best_ms()),
            span_h((low, high))
        ));
    } else {
        said.push(format!(
            "The {} counter is noted as {} on {} UTC, which the readings after it contradict.",
            counter.role.name(),
            figure(counter, seen.hours),
            time::minute(seen.at.best_ms())
        ));
    }
    if kind == Kind::Misread
        && let Some(sentence) = expected.and_then(|range| digits(counter, range, seen.hours))
    {
        said.push(sentence);
    }
    if kind == Kind::ReadingsSwapped {
        said.push(
            "It fits the other radar's counter: the display may have shown that transceiver.".to_owned(),
        );
    }
    said
}

/// Where a figure should be, narrowed by the sound figure behind it.
fn from_behind(told: &Told, edge: &Edge, k: usize, (low, high): (f64, f64)) -> (f64, f64) {
    let counter = &told.counter;
    let (_, Some(at)) = told.histories.states_of(edge) else { return (low, high) };
    let calm = edge.event == super::events::Event::AsRecorded
        && told.histories.fault_on(edge) == Fault::None
        && counter.since_zeroing(k, edge.to.0).is_none();
    if !calm {
        return (low, high);
    }
    let later = super::chain::shown(counter, edge.to.0, at.scale, at.swap);
    let (least, most) = counter.moves(k, edge.to.0).range(counter.laws[at.law].0, Fault::None, !counter.fed);
    let both = (low.max(later.hours - most), high.min(later.hours + later.width_h - least));
    if both.0 <= both.1 { both } else { (low, high) }
}

/// Which digits slipped, if a slip explains the figure.
fn digits(counter: &Counter, (low, high): (f64, f64), written_h: f64) -> Option<String> {
    let step_h = counter.step_h;
    let written = (written_h / step_h).round().max(0.0) as u64;
    let (first, last) = ((low / step_h).floor().max(0.0) as u64, (high / step_h).floor().max(0.0) as u64);
    let candidates = (first..=last.min(first + 100))
        .filter_map(|meant| slips::slip(meant, written).map(|(chance, slip)| (chance, meant, slip)));
    let (_, meant, slip) = candidates.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let digit = |text: &str, at: usize| text.chars().nth(at).map(String::from).unwrap_or_default();
    let (m, w) = (meant.to_string(), written.to_string());
    let what = match slip {
        Slip::Exchanged(at) => {
            format!("the digits {} and {} changed places", digit(&m, at), digit(&m, at + 1))
        }
        Slip::Wrong(at) => format!("{} was written for {}", digit(&w, at), digit(&m, at)),
        Slip::Missing(at) => format!("the digit {} is missing", digit(&m, at)),
        Slip::Doubled(at) => format!("the digit {} stands twice", digit(&m, at)),
    };
    Some(format!(
        "This looks like {}, not {}: {what}.",
        figure(counter, meant as f64 * step_h),
        figure(counter, written_h)
    ))
}

/// A figure that stands in another's place.
pub(super) fn swapped(counter: &Counter, k: usize, hours: f64) -> String {
    format!(
        "On {} UTC {} is noted for the {} counter, and {} fits it.",
        time::minute(counter.seen[k].at.best_ms()),
        figure(counter, counter.seen[k].hours),
        counter.role.name(),
        figure(counter, hours)
    )
}

/// What the log of a line at fault looks like.
pub(super) fn fault(role: Role, kind: Kind, moves: &Moves) -> String {
    match kind {
        Kind::LineStuck => format!(
            "The logger's {} line stayed on without a break for {:.0} h of that.",
            role.name(),
            moves.steady_h()
        ),
        _ => format!(
            "The logger's {} line was off for {:.0} h in which the other lines say it could have been on.",
            role.name(),
            moves.room_h()
        ),
    }
}

/// Figures written in another unit.
pub(super) fn units(counter: &Counter, k: usize, scale: Scale) -> String {
    let (what, factor) = match scale {
        Scale::Tens => ("tens of hours", 10.0),
        _ => ("tenths of hours", 0.1),
    };
    let written = counter.seen[k].hours;
    format!(
        "From {} UTC the {} counter's figures fit only as {what}: {written} means {:.1} h.",
        time::minute(counter.seen[k].at.best_ms()),
        counter.role.name(),
        written * factor
    )
}

/// A counter that follows another law.
pub(super) fn law(counter: &Counter, law: Law, first: usize, last: usize) -> String {
    let moved_h = counter.seen[last].hours - counter.seen[first].hours;
    let moves = counter.moves(first, last);
    let own = span_h(moves.range(Law::Own, Fault::None, !counter.fed));
    match law {
        Law::Line(role) if !counter.watch.has(role) => format!(
            "From {} to {} UTC the {} counter moved {moved_h:.0} h, its line {own}: it follows something that no line of the \
             logger watches, most likely the {}.",
            time::date(counter.seen[first].at.best_ms()),
            time::date(counter.seen[last].at.best_ms()),
            counter.role.name(),
            role.name()
        ),
        Law::Line(role) => format!(
            "From {} to {} UTC the {} counter moved {moved_h:.0} h, the {} line {}, the {} line {own}.",
            time::date(counter.seen[first].at.best_ms()),
            time::date(counter.seen[last].at.best_ms()),
            counter.role.name(),
            role.name(),
            span_h(moves.range(law, Fault::None, !counter.fed)),
            counter.role.name()
        ),
        Law::Ratio(ratio) => format!(
            "From {} to {} UTC the {} counter moved {moved_h:.0} h, its line {own}: a steady {ratio:.3} of it.",
            time::date(counter.seen[first].at.best_ms()),
            time::date(counter.seen[last].at.best_ms()),
            counter.role.name()
        ),
        Law::AnyRatio => format!(
            "From {} to {} UTC the {} counter moved {moved_h:.0} h, more than the time that passed.",
            time::date(counter.seen[first].at.best_ms()),
            time::date(counter.seen[last].at.best_ms()),
            counter.role.name()
        ),
        Law::Own => String::new(),
    }
}

fn by_its_line(other: Role, moved: &Moved) -> String {
    format!(
        "The {} counter of the same radar moved {:.0} h in that time, its line {}",
        other.name(),
        moved.counter_h,
        span_h(moved.line_h)
    )
}

fn fast(ratio: f64) -> String {
    format!("{:.1} % {}", (ratio - 1.0).abs() * 100.0, if ratio > 1.0 { "fast" } else { "slow" })
}

/// Another counter proves the logger's clock.
pub(super) fn agrees_with_logger(role: Role, other: Role, moved: &Moved, ratio: f64) -> String {
    let so = format!("so the {} counter runs {}", role.name(), fast(ratio));
    format!("{}: it agrees with the logger, {so}.", by_its_line(other, moved))
}

/// Another counter is off by the same ratio.
pub(super) fn off_alike(role: Role, other: Role, moved: &Moved, ratio: f64) -> String {
    format!(
        "{}: as far off as the {} counter, so the logger's clock runs {}, unless one clock drives all of the radar's \
         counters.",
        by_its_line(other, moved),
        role.name(),
        fast(1.0 / ratio)
    )
}

/// What to do about a finding.
pub(super) fn advice(draft: &Draft) -> String {
    let whose = draft.ratio.map_or(Whose::Open, |(_, whose)| whose);
    let text = match draft.kind {
        Kind::ZeroedWithoutFitting => {
            "Ask who zeroed the counter: if a part was renewed, record the fitting; if not, answer this finding."
        }
        Kind::CounterExchanged => {
            "Ask which box was exchanged and whether the tube moved with it; record the fitting if it did."
        }
        Kind::FittedWithoutZeroing => {
            "Look whether the counter was zeroed; if not, correct the fitting with counter_zeroed no, or zero it now and note its figure."
        }
        Kind::RecordContradicted => "Correct the fitting: its counter was zeroed.",
        Kind::FittingMisdated => "Look up the day in the work permit and correct the fitting's time.",
        Kind::Misread => "Look the figure up and correct the reading.",
        Kind::ReadingsSwapped => {
            "Look both figures up and correct the readings; write down the source if the display showed another transceiver."
        }
        Kind::ImpossibleReading => "Read the counter again; correct or withdraw the reading.",
        Kind::CountsOtherLine => {
            "See the set's manual for what this counter counts; limits are in the hours that the manual means."
        }
        Kind::CounterRate => match whose {
            Whose::Counter => {
                "Go by the logger's hours, not by this counter's; have it seen to with the set."
            }
            Whose::Logger => {
                "Compare the logger with a watch for an hour of transmitting: if its clock is off, exchange the logger."
            }
            Whose::Open => {
                "No other counter of this radar says whose clock is off, the counter's or the logger's. Compare with a watch \
                 for an hour of transmitting: which of the two is it?"
            }
        },
        Kind::CounterUnits => {
            "Correct the readings to hours; write the counter's step into ship.toml as counter_step_h."
        }
        Kind::LineDead => {
            "Look at the logger's input and its terminal: watch it while the line is switched on."
        }
        Kind::LineStuck => {
            "Look at the logger's input and its contact: watch it while the line is switched off."
        }
        Kind::LineIntermittent => "Look for a loose terminal or a weak opto-coupler at the logger's input.",
        Kind::Wiring => {
            "Prove each line on and off at the logger, then put right the terminals or ship.toml."
        }
        Kind::DarkGap => {
            "Take a reading of the radar's counters now, and find out why the logger was without power."
        }
        Kind::WorkUnrecorded => {
            "Record what was done: halfglass add fitting or halfglass add work; or answer this finding."
        }
    };
    if draft.provisional {
        format!("Provisional, it rests on the last reading: read the counter again first. {text}")
    } else {
        text.to_owned()
    }
}
