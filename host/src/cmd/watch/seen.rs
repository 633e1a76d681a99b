//! What was seen of the lines, look by look: changes, contradictions, and which lines were seen both on and off. Pure.

use super::names::Wired;
use crate::output::watch::{Event, Line};
use halfglass_protocol::config::Role;
use halfglass_protocol::message::Status;

/// A scanner needs this long to start, and to run down, before a contradiction with its motor counts.
const MOTOR_MS: i64 = 10_000;
/// Two lines that go together are seen by looks this much apart at most.
const SLACK_MS: i64 = 1_000;

/// Two lines that contradict each other.
#[derive(Clone, Debug)]
struct Pair {
    /// Places in the list of lines: this one is on
    on: usize,
    /// while this one is off, or for an isolated switch also on.
    other: usize,
    /// The other's state that contradicts.
    other_on: bool,
    /// For so long it may be.
    grace_ms: i64,
    since_ms: Option<i64>,
    said: bool,
}

/// The lines of one logger, watched.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    /// The lines, by input.
    pub(super) lines: Vec<Line>,
    pairs: Vec<Pair>,
    session: Option<u32>,
    /// The lines are not known now: nothing was seen yet, or the logger is away.
    unknown: bool,
    /// The state of each line when it was last known.
    known: Vec<Option<bool>>,
    /// Starts of each line at the beginning, and how often it was seen to go on since.
    starts: Vec<(u32, u32)>,
}

impl Seen {
    /// Nothing was seen yet.
    pub(super) fn new(wired: &[Wired]) -> Seen {
        let line = |wired: &Wired| Line {
            input: wired.input,
            radar: wired.radar.clone(),
            role: wired.role,
            on: None,
            total_tenths: 0,
            starts: 0,
            changed_ms: None,
            seen_on: false,
            seen_off: false,
        };
        let lines: Vec<Line> = wired.iter().map(line).collect();
        let (starts, known) = (vec![(0, 0); lines.len()], vec![None; lines.len()]);
        Seen { lines, pairs: pairs(wired), session: None, unknown: true, known, starts }
    }

    /// Takes in how the logger stands at an instant (milliseconds since 1970); what is new.
    pub(super) fn take(&mut self, status: &Status, at_ms: i64) -> Vec<Event> {
        let mut events = Vec::new();
        let session = status.totals.session;
        let first = self.session.is_none();
        let anew = self.session.replace(session).is_some_and(|before| before != session);
        if anew {
            events.push(Event::Restarted { session });
        }
        let unknown = std::mem::take(&mut self.unknown);
        for ((line, (base, seen)), known) in self.lines.iter_mut().zip(&mut self.starts).zip(&mut self.known)
        {
            let input = usize::from(line.input);
            let on = status.on >> line.input & 1 != 0;
            let starts = status.totals.starts.get(input).copied().unwrap_or(0);
            line.total_tenths = status.totals.on_tenths.get(input).copied().unwrap_or(0);
            line.starts = starts;
            line.on = Some(on);
            line.seen_on |= on;
            line.seen_off |= !on;
            let was = known.replace(on);
            if first || anew {
                // A line found on at a start counts as one: that is no blink.
                (*base, *seen) = (starts, 0);
            } else if was == Some(false) && on {
                *seen += 1;
            }
            // Starts may be told later than the state, never more of them than there were.
            let missed = starts.saturating_sub(*base).saturating_sub(*seen);
            *seen += missed;
            let moved = was.is_some_and(|was| was != on);
            if moved || missed > 0 {
                line.changed_ms = Some(at_ms);
            }
            if unknown {
                // All lines are told below.
            } else if moved {
                events.push(Event::Change(line.clone()));
            } else if missed > 0 {
                events.push(Event::Blink(line.clone(), missed));
            }
        }
        if unknown {
            events.push(Event::Begin(self.lines.clone()));
        }
        self.contradictions(at_ms, &mut events);
        events
    }

    /// The logger is away: nothing is known of the lines until it is back.
    pub(super) fn lose(&mut self) {
        self.unknown = true;
        for line in &mut self.lines {
            line.on = None;
        }
        for pair in &mut self.pairs {
            pair.since_ms = None;
        }
    }

    /// Lines that contradict each other now, as sentences.
    pub(super) fn breaches(&self) -> Vec<String> {
        self.pairs.iter().filter(|pair| pair.said).map(|pair| self.sentence(pair)).collect()
    }

    /// Lines that were not seen both on and off.
    pub(super) fn unproven(&self) -> Vec<Line> {
        self.lines.iter().filter(|line| !line.is_proven()).cloned().collect()
    }

    fn contradictions(&mut self, at_ms: i64, events: &mut Vec<Event>) {
        let mut turned = Vec::new();
        for (number, pair) in self.pairs.iter_mut().enumerate() {
            let is = |at: usize, on: bool| self.lines.get(at).is_some_and(|line| line.on == Some(on));
            if !(is(pair.on, true) && is(pair.other, pair.other_on)) {
                pair.since_ms = None;
                if std::mem::take(&mut pair.said) {
                    turned.push((number, false));
                }
                continue;
            }
            let since_ms = *pair.since_ms.get_or_insert(at_ms);
            if at_ms - since_ms > pair.grace_ms && !pair.said {
                pair.said = true;
                turned.push((number, true));
            }
        }
        for (number, begins) in turned {
            let Some(sentence) = self.pairs.get(number).map(|pair| self.sentence(pair)) else { continue };
            events.push(if begins { Event::Breach(sentence) } else { Event::BreachOver(sentence) });
        }
    }

    fn sentence(&self, pair: &Pair) -> String {
        let name =
            |at: usize| self.lines.get(at).map(|line| (line.role.name(), line.input)).unwrap_or_default();
        let ((on, on_input), (other, other_input)) = (name(pair.on), name(pair.other));
        let radar = self.lines.get(pair.on).and_then(|line| line.radar.as_ref());
        let radar = radar.map(|radar| format!("{radar}: ")).unwrap_or_default();
        let state = if pair.other_on { "on (its switch open)" } else { "off" };
        format!(
            "{radar}{on} on while {other} {state}: check wiring and sense of inputs {on_input} and {other_input}"
        )
    }
}

/// The pairs of lines of one radar that can contradict each other.
fn pairs(wired: &[Wired]) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for (on, line) in wired.iter().enumerate() {
        let place = |role: Role| {
            wired.iter().enumerate().find(|(_, other)| other.group == line.group && other.role == role)
        };
        let mut add = |role: Role, other_on: bool| {
            if let Some((other, needed)) = place(role) {
                let with_motor = line.role == Role::Motor || role == Role::Motor;
                let filter_ms = line.filter_ms.max(needed.filter_ms) + SLACK_MS;
                let grace_ms = if with_motor { filter_ms.max(MOTOR_MS) } else { filter_ms };
                pairs.push(Pair { on, other, other_on, grace_ms, since_ms: None, said: false });
            }
        };
        for (needing, needed) in Role::NEEDS {
            // What lies between two lines tells more than they do.
            let told_by_heater =
                (needing, needed) == (Role::Transmit, Role::Supply) && place(Role::Heater).is_some();
            if line.role == needing && !told_by_heater {
                add(needed, false);
            }
        }
        // The scanner's own switch stops its motor (common practice, no source): a sense that is the wrong way round shows here.
        if line.role == Role::Motor {
            add(Role::Isolated, true);
        }
    }
    pairs
}

#[cfg(test)]
#[path = "seen_tests.rs"]
mod tests;
