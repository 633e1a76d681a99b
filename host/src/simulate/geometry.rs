//! Flash chips by name: what one programming writes, what one erase erases, and how much there is.

use crate::{Error, Result};
use halfglass_firmware::ports::{Layout, Region};
use halfglass_protocol::config::Config;
use halfglass_sim::rig::{Chip, Rig};

/// A flash chip and how it is shared out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Geometry {
    /// The name that `--flash` takes.
    pub name: &'static str,
    /// In a few words.
    pub about: &'static str,
    /// Where the three stores live.
    pub layout: Layout,
    /// While anything runs, at most this much of it is uncommitted, in seconds.
    pub heartbeat_s: u16,
    chip: Chip,
}

const fn layout(page_len: u32, journal: u16, history: u16) -> Layout {
    let config_start = page_len * (journal as u32 + history as u32);
    Layout {
        journal: Region { start: 0, page_len, pages: journal },
        history: Region { start: page_len * journal as u32, page_len, pages: history },
        config: Region { start: config_start, page_len, pages: 2 },
    }
}

/// Every geometry that there is; the first is used unless another is named.
pub const GEOMETRIES: [Geometry; 5] = [
    Geometry {
        name: "nrf51",
        about: "the first board: pages of 1 KiB, 64 KiB for totals, 124 KiB for history",
        layout: halfglass_sim::bench::LAYOUT,
        heartbeat_s: 10,
        chip: Chip::Small,
    },
    Geometry {
        name: "small",
        about: "8 KiB for totals, 8 KiB for history, a heartbeat of 60 s: history is overwritten within months",
        layout: layout(1_024, 8, 8),
        heartbeat_s: 60,
        chip: Chip::Small,
    },
    Geometry {
        name: "qspi",
        about: "external flash: pages of 4 KiB, 64 KiB for totals, 128 KiB for history",
        layout: layout(4_096, 16, 32),
        heartbeat_s: 10,
        chip: Chip::Wide,
    },
    Geometry {
        name: "ecc8",
        about: "error-corrected granules of 8 bytes: pages of 2 and 4 KiB, 128 KiB for totals, 192 KiB for history",
        layout: Layout {
            journal: Region { start: 0, page_len: 2_048, pages: 64 },
            history: Region { start: 64 * 2_048, page_len: 4_096, pages: 48 },
            config: Region { start: 160 * 2_048, page_len: 2_048, pages: 2 },
        },
        heartbeat_s: 10,
        chip: Chip::Corrected8,
    },
    Geometry {
        name: "ecc16",
        about: "error-corrected granules of 16 bytes: pages of 8 KiB, 256 KiB for totals, 256 KiB for history",
        layout: layout(8_192, 32, 32),
        heartbeat_s: 10,
        chip: Chip::Corrected16,
    },
];

impl Geometry {
    /// The geometry of this name.
    ///
    /// # Errors
    /// There is none; the message lists those that there are.
    pub fn named(name: &str) -> Result<Geometry> {
        GEOMETRIES.into_iter().find(|geometry| geometry.name == name).ok_or_else(|| {
            let all: Vec<String> =
                GEOMETRIES.iter().map(|each| format!("{:6} {}", each.name, each.about)).collect();
            Error::input(
                format!("there is no flash called `{name}`; nothing was simulated"),
                format!("These are known:\n{}", all.join("\n")),
            )
        })
    }

    /// A logger without power, with this configuration in its flash. `seed` decides every random tear.
    pub(super) fn rig(&self, config: &Config, seed: u64) -> Result<Box<dyn Rig>> {
        self.chip.rig(self.layout, config, seed).map_err(|fault| {
            Error::input(
                format!(
                    "the simulated logger does not take its configuration ({fault:?}); nothing was simulated"
                ),
                "This is a fault in Halfglass: please report it.",
            )
        })
    }
}

impl Default for Geometry {
    fn default() -> Self {
        let [first, ..] = GEOMETRIES;
        first
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_name_lists_the_known_ones() {
        assert_eq!(Geometry::named("qspi").unwrap().name, "qspi");
        let message = Geometry::named("nor").unwrap_err().to_string();
        for geometry in GEOMETRIES {
            assert!(message.contains(geometry.name), "{message}");
        }
    }

    #[test]
    fn stores_do_not_overlap_and_every_chip_takes_its_configuration() {
        for geometry in GEOMETRIES {
            let Layout { journal, history, config } = geometry.layout;
            let end = |region: Region| region.start + region.page_len * u32::from(region.pages);
            assert!(end(journal) <= history.start && end(history) <= config.start, "{}", geometry.name);
            assert!(geometry.rig(&Config::as_in_guide(), 1).is_ok(), "{}", geometry.name);
        }
    }
}
