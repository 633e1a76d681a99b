//! A logger whose flash outlives its power, for whoever does not care which flash it has.

use crate::bench::Powered;
use crate::flash::{Cut, Flash};
use halfglass_firmware::ports::{Board, Layout};
use halfglass_firmware::{ProvisionFault, provision};
use halfglass_protocol::config::Config;

/// Inputs of the simulated board.
const INPUTS: usize = 8;

/// Flash chips.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chip {
    /// Granules of 4 bytes, erases of 1 KiB.
    Small,
    /// Granules of 4 bytes, erases of 4 KiB.
    Wide,
    /// Granules of 8 bytes with error correction, erases of 2 KiB.
    Corrected8,
    /// Granules of 16 bytes with error correction, erases of 8 KiB.
    Corrected16,
}

impl Chip {
    /// A logger without power: a blank chip with this configuration in it. `seed` decides every random tear.
    ///
    /// # Errors
    /// The configuration cannot be written.
    pub fn rig(self, layout: Layout, config: &Config, seed: u64) -> Result<Box<dyn Rig>, ProvisionFault> {
        Ok(match self {
            Chip::Small => Box::new(Bench::<4, 1_024>::new(layout, config, seed)?),
            Chip::Wide => Box::new(Bench::<4, 4_096>::new(layout, config, seed)?),
            Chip::Corrected8 => Box::new(Bench::<8, 2_048>::new(layout, config, seed)?),
            Chip::Corrected16 => Box::new(Bench::<16, 8_192>::new(layout, config, seed)?),
        })
    }
}

/// What can be done to a logger from outside, whatever its flash. Times are milliseconds since its power came.
pub trait Rig: Send {
    /// Power comes, with these levels on the inputs.
    fn power_on(&mut self, board: Board, levels: u8);
    /// Power goes at this instant. What the logger does at this very instant is cut as `cut` says.
    fn power_off(&mut self, at_ms: u64, cut: Cut);
    /// Time passes.
    fn run_until(&mut self, until_ms: u64);
    /// The levels on the inputs change now.
    fn set_levels(&mut self, levels: u8);
    /// The talker at its listener says this speed over ground from now on, in tenths of a knot; `None`: it is silent, as it is when
    /// power comes.
    fn set_speed(&mut self, tenth_knots: Option<u16>);
    /// Bytes come over the cable now; answers are added to `answer`.
    fn receive(&mut self, bytes: &[u8], answer: &mut Vec<u8>);
    /// How often the most erased page was erased.
    fn erases_max(&mut self) -> u32;
    /// The first rule of the flash that the firmware broke, if it broke any.
    fn violation(&mut self) -> Option<String>;
}

/// A logger with one kind of flash: granules of `G` bytes, erases of `P` bytes.
struct Bench<const G: usize, const P: usize> {
    layout: Layout,
    state: State<G, P>,
}

enum State<const G: usize, const P: usize> {
    Dark(Box<Flash<G, P>>),
    Powered(Box<Powered<Flash<G, P>, INPUTS>>),
    /// Only within a change from one to the other.
    Between,
}

impl<const G: usize, const P: usize> Bench<G, P> {
    fn new(layout: Layout, config: &Config, seed: u64) -> Result<Self, ProvisionFault> {
        let regions = [layout.journal, layout.history, layout.config];
        let end = regions.map(|region| region.start + region.page_len * u32::from(region.pages));
        let len = end.into_iter().max().unwrap_or(0) as usize;
        let mut flash = Flash::new(len.div_ceil(P), seed);
        provision(&mut flash, &layout, config)?;
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

impl<const G: usize, const P: usize> Rig for Bench<G, P> {
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

    fn set_speed(&mut self, tenth_knots: Option<u16>) {
        if let State::Powered(powered) = &mut self.state {
            powered.set_speed(tenth_knots);
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
