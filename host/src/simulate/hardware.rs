//! A logger on the bench: its flash outlives its power.

use crate::{Error, Result};
use halfglass_firmware::ports::{Board, Layout};
use halfglass_firmware::provision;
use halfglass_protocol::config::Config;
use halfglass_sim::bench::Powered;
use halfglass_sim::flash::{Cut, Flash};

/// Inputs of the simulated board.
const INPUTS: usize = 8;

/// What can be done to a logger from outside, whatever its flash. Times are milliseconds since its power came.
pub(super) trait Hardware: Send {
    /// Power comes, with these levels on the inputs.
    fn power_on(&mut self, board: Board, levels: u8);
    /// Power goes at this instant. What the logger does at this very instant is cut as `cut` says.
    fn power_off(&mut self, at_ms: u64, cut: Cut);
    /// Time passes.
    fn run_until(&mut self, until_ms: u64);
    /// The levels on the inputs change now.
    fn set_levels(&mut self, levels: u8);
    /// Bytes come over the cable now; answers are added to `answer`.
    fn receive(&mut self, bytes: &[u8], answer: &mut Vec<u8>);
    /// How often the most erased page was erased.
    fn erases_max(&mut self) -> u32;
    /// The first rule of the flash that the firmware broke, if it broke any.
    fn violation(&mut self) -> Option<String>;
}

/// A logger with one kind of flash: granules of `G` bytes, erases of `P` bytes.
pub(super) struct Rig<const G: usize, const P: usize> {
    layout: Layout,
    state: State<G, P>,
}

enum State<const G: usize, const P: usize> {
    Dark(Box<Flash<G, P>>),
    Powered(Box<Powered<Flash<G, P>, INPUTS>>),
    /// Only within a change from one to the other.
    Between,
}

impl<const G: usize, const P: usize> Rig<G, P> {
    pub(super) fn new(layout: Layout, config: &Config, seed: u64) -> Result<Self> {
        let regions = [layout.journal, layout.history, layout.config];
        let end = regions.map(|region| region.start + region.page_len * u32::from(region.pages));
        let len = end.into_iter().max().unwrap_or(0) as usize;
        let mut flash = Flash::new(len.div_ceil(P), seed);
        provision(&mut flash, &layout, config).map_err(|fault| {
            Error::input(
                format!(
                    "the simulated logger does not take its configuration ({fault:?}); nothing was simulated"
                ),
                "This is a fault in Halfglass: please report it.",
            )
        })?;
        Ok(Self { layout, state: State::Dark(Box::new(flash)) })
    }

    fn flash(&mut self) -> Option<&mut Flash<G, P>> {
        match &mut self.state {
            State::Dark(flash) => Some(&mut **flash),
            State::Powered(powered) => Some(powered.logger.flash()),
            State::Between => None,
        }
    }
}

impl<const G: usize, const P: usize> Hardware for Rig<G, P> {
    fn power_on(&mut self, board: Board, levels: u8) {
        self.state = match std::mem::replace(&mut self.state, State::Between) {
            State::Dark(mut flash) => {
                flash.power_on(None);
                State::Powered(Box::new(Powered::on(*flash, self.layout, board, levels)))
            }
            other => other,
        };
    }

    fn power_off(&mut self, at_ms: u64, cut: Cut) {
        self.state = match std::mem::replace(&mut self.state, State::Between) {
            State::Powered(mut powered) => {
                // Up to the instant before, all went well; whatever is due at the instant itself is cut.
                powered.run_until(at_ms.saturating_sub(1));
                powered.logger.flash().power_on(Some(cut));
                powered.run_until(at_ms);
                let mut flash = powered.logger.into_flash();
                flash.power_off();
                State::Dark(Box::new(flash))
            }
            other => other,
        };
    }

    fn run_until(&mut self, until_ms: u64) {
        if let State::Powered(powered) = &mut self.state {
            powered.run_until(until_ms);
        }
    }

    fn set_levels(&mut self, levels: u8) {
        if let State::Powered(powered) = &mut self.state {
            powered.set_levels(levels);
        }
    }

    fn receive(&mut self, bytes: &[u8], answer: &mut Vec<u8>) {
        if let State::Powered(powered) = &mut self.state {
            powered.receive(bytes, false, answer);
        }
    }

    fn erases_max(&mut self) -> u32 {
        self.flash().and_then(|flash| flash.counts.erases.iter().max().copied()).unwrap_or(0)
    }

    fn violation(&mut self) -> Option<String> {
        let violation = self.flash()?.violations.first()?;
        Some(format!("{} ({:?})", violation.rule, violation.operation))
    }
}
