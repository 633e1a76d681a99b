//! From what an input does to what a line is: debounce for contacts, hold for pulses.
//!
//! An edge is reported late, when it has proved itself, but with the instant at which it happened: an on-edge when
//! the contact last closed or the first pulse was seen, an off-edge when the level was last known to be
//! on or the last pulse can have come at the earliest. Until then nothing at or beyond that
//! instant may be committed: that is the horizon.

use crate::journal::state::bit;
use crate::ports::Sample;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::config::{Config, Kind, Line, Role};

/// A contact that keeps chattering for so long is taken as open since it began.
const CHATTER_MAX_MS: u64 = 1_000;

/// While a pulsed line is on it is looked at this often, so that its off-edge is known to 0.1 s.
const PULSE_LOOK_MS: u64 = 50;

/// A proven edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Edge {
    pub(crate) line: usize,
    pub(crate) at_ms: u64,
    pub(crate) on: bool,
}

/// All inputs.
#[derive(Clone, Debug)]
pub(crate) struct Lines {
    inputs: [Input; LINES_MAX],
    last_look_ms: u64,
    /// No look since the rules changed: one is wanted at once.
    fresh: bool,
}

#[derive(Clone, Copy, Debug)]
struct Input {
    config: Line,
    on: bool,
    doubt: Option<Doubt>,
    /// Contacts: the level at the last look. Pulsed: unused.
    raw: bool,
    /// Pulsed and on: the last pulse came no earlier, and no later.
    pulse_ms: (u64, u64),
}

/// A change that has not proved itself.
#[derive(Clone, Copy, Debug)]
struct Doubt {
    /// When it began: the horizon.
    since_ms: u64,
    /// When the level last moved.
    moved_ms: u64,
}

impl Lines {
    pub(crate) fn new(config: &Config, now_ms: u64) -> Self {
        Self { inputs: config.lines.map(Input::new), last_look_ms: now_ms, fresh: true }
    }

    /// Takes one look in; `edge` gets every edge that is now proven.
    pub(crate) fn look(&mut self, sample: &Sample, mut edge: impl FnMut(Edge)) {
        let now_ms = sample.now_ms.max(self.last_look_ms);
        for (line, input) in self.inputs.iter_mut().enumerate() {
            if input.config.role == Role::Unused {
                continue;
            }
            let mut report = |at_ms, on| edge(Edge { line, at_ms, on });
            match input.config.kind {
                Kind::Contact { debounce_ms } => {
                    let level = (sample.levels & bit(line) != 0) != input.config.active_low;
                    let held_ms = sample.held_until_ms.max(self.last_look_ms).min(now_ms);
                    let moved = sample.pulses & bit(line) != 0;
                    input.contact(level, moved, held_ms, now_ms, u64::from(debounce_ms), &mut report);
                }
                Kind::Pulsed { hold_ms } => {
                    let pulse = sample.pulses & bit(line) != 0;
                    input.pulsed(pulse, self.last_look_ms, now_ms, u64::from(hold_ms), &mut report);
                }
            }
        }
        self.last_look_ms = now_ms;
        self.fresh = false;
    }

    /// Lines whose rules change start afresh: off until they prove themselves. The mask of those lines.
    pub(crate) fn reconfigure(&mut self, config: &Config) -> u8 {
        let mut changed = 0;
        for (line, (input, config)) in self.inputs.iter_mut().zip(config.lines).enumerate() {
            if input.config != config {
                *input = Input::new(config);
                changed |= bit(line);
            }
        }
        self.fresh = true;
        changed
    }

    /// The clock at the last look.
    pub(crate) const fn last_look_ms(&self) -> u64 {
        self.last_look_ms
    }

    /// Nothing at or beyond this instant may be committed yet.
    pub(crate) fn horizon_ms(&self) -> u64 {
        self.inputs.iter().filter_map(Input::horizon_ms).fold(self.last_look_ms, u64::min)
    }

    /// When to look again if nothing happens, if there is anything to wait for.
    pub(crate) fn wake_ms(&self) -> Option<u64> {
        let fresh = self.fresh.then_some(self.last_look_ms);
        self.inputs.iter().filter_map(|input| input.wake_ms(self.last_look_ms)).chain(fresh).min()
    }

    /// How late the slowest line may prove an edge.
    pub(crate) fn filter_max_ms(&self) -> u64 {
        let filter = |input: &Input| match input.config.kind {
            Kind::Contact { debounce_ms } => u64::from(debounce_ms).max(CHATTER_MAX_MS),
            Kind::Pulsed { hold_ms } => u64::from(hold_ms),
        };
        self.inputs.iter().filter(|input| input.config.role != Role::Unused).map(filter).max().unwrap_or(0)
    }
}

impl Input {
    const fn new(config: Line) -> Self {
        Self { config, on: false, doubt: None, raw: false, pulse_ms: (0, 0) }
    }

    fn contact(
        &mut self,
        level: bool,
        moved: bool,
        held_ms: u64,
        now_ms: u64,
        debounce_ms: u64,
        report: &mut impl FnMut(u64, bool),
    ) {
        // The level of the last look may have proved itself before this look's change.
        self.prove(held_ms, debounce_ms, report);
        if moved && level && self.raw {
            // On, off and on again unseen: off for as long as that may have been. (On unseen is left out.)
            let since_ms = self.doubt.map_or(held_ms, |doubt| doubt.since_ms);
            self.raw = false;
            self.doubt = self.on.then_some(Doubt { since_ms, moved_ms: held_ms });
            self.prove(now_ms, debounce_ms, report);
        }
        if level != self.raw {
            self.raw = level;
            let since_ms = if level { now_ms } else { held_ms };
            self.doubt = match self.doubt {
                // Back to what it was before it ever closed: no doubt left.
                Some(_) | None if !self.on && !level => None,
                Some(doubt) if self.on => Some(Doubt { moved_ms: now_ms, ..doubt }),
                _ => Some(Doubt { since_ms, moved_ms: now_ms }),
            };
        }
        self.prove(now_ms, debounce_ms, report);
    }

    fn prove(&mut self, until_ms: u64, debounce_ms: u64, report: &mut impl FnMut(u64, bool)) {
        let Some(doubt) = self.doubt else { return };
        if until_ms >= doubt.moved_ms + debounce_ms {
            self.doubt = None;
            if self.raw != self.on {
                self.on = self.raw;
                report(doubt.since_ms, self.on);
            }
        } else if self.on && until_ms >= doubt.since_ms + CHATTER_MAX_MS.max(2 * debounce_ms) {
            self.on = false;
            report(doubt.since_ms, false);
            self.doubt = self.raw.then_some(Doubt { since_ms: doubt.moved_ms, ..doubt });
        }
    }

    fn pulsed(
        &mut self,
        pulse: bool,
        last_look_ms: u64,
        now_ms: u64,
        hold_ms: u64,
        report: &mut impl FnMut(u64, bool),
    ) {
        if pulse {
            self.pulse_ms = (last_look_ms, now_ms);
            match self.doubt.take() {
                // The second pulse within the hold time: the line is on since the first.
                Some(first) if !self.on && now_ms <= first.moved_ms + hold_ms => {
                    self.on = true;
                    report(first.since_ms, true);
                }
                _ if !self.on => self.doubt = Some(Doubt { since_ms: now_ms, moved_ms: now_ms }),
                _ => {}
            }
        } else if self.on && now_ms >= self.pulse_ms.1 + hold_ms {
            self.on = false;
            report(self.pulse_ms.0, false);
        } else if self.doubt.is_some_and(|first| now_ms > first.moved_ms + hold_ms) {
            // One pulse alone is noise.
            self.doubt = None;
        }
    }

    fn horizon_ms(&self) -> Option<u64> {
        match self.config.kind {
            Kind::Pulsed { .. } if self.on => Some(self.pulse_ms.0),
            _ => self.doubt.map(|doubt| doubt.since_ms),
        }
    }

    fn wake_ms(&self, now_ms: u64) -> Option<u64> {
        match (self.config.kind, self.doubt) {
            (Kind::Contact { debounce_ms }, Some(doubt)) => Some(doubt.moved_ms + u64::from(debounce_ms)),
            (Kind::Pulsed { .. }, Some(_)) => Some(now_ms + PULSE_LOOK_MS),
            (Kind::Pulsed { .. }, None) if self.on => Some(now_ms + PULSE_LOOK_MS),
            _ => None,
        }
    }
}
