//! The configuration in flash: two pages, the newer one counts.
//!
//! ```text
//!  a page's head   | length | configuration, postcard | padding | uptime when written, 40 bit |
//!                  | u8     | up to 100 bytes         |         | tenths                      |
//!  its body        one word, written when the head is known to be whole
//! ```

use crate::ports::Region;
use crate::ring::{Dead, HEAD_MAX, Ring};
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::config::{Config, Kind};

const CONFIG_MAX: usize = 100;
const HEAD_LEN: usize = 1 + CONFIG_MAX + 5;

/// After so long the configuration is written afresh, so that its cells do not fade.
const REFRESH_TENTHS: u64 = 365 * 24 * 36_000;

/// The configuration in force.
#[derive(Clone, Debug)]
pub(crate) struct Settings {
    ring: Ring,
    config: Config,
    written_tenths: u64,
    /// The page has its body word: it is firm.
    firm: bool,
    /// A configuration was there and cannot be read.
    pub(crate) lost: bool,
}

impl Settings {
    /// Reads the region; writes nothing. Without a configuration: the guide's, its contacts debounced for as long as the board needs.
    pub(crate) fn mount<F: NorFlash>(flash: &mut F, region: Region, debounce_min_ms: u16) -> Self {
        let mut settings = Self {
            ring: Ring::new(region, HEAD_LEN),
            config: Config::as_in_guide(),
            written_tenths: 0,
            firm: true,
            lost: false,
        };
        let mut below = u32::MAX;
        let mut newest = None;
        while let Some(found) = settings.ring.newest_below(flash, below) {
            newest.get_or_insert(found);
            let mut head = [0; HEAD_MAX];
            if settings.ring.open(flash, found, &mut head)
                && let Some((config, written_tenths)) = decode(&head)
            {
                settings.config = config;
                settings.written_tenths = written_tenths;
                settings.firm = settings.ring.scan(flash, |_, _, _, _| {}) > 0;
                return settings;
            }
            below = found.sequence;
        }
        settings.lost = newest.is_some();
        for line in &mut settings.config.lines {
            if let Kind::Contact { debounce_ms } = &mut line.kind {
                *debounce_ms = debounce_min_ms.max(*debounce_ms);
            }
        }
        settings
    }

    /// Makes what the mount found firm.
    pub(crate) fn recover<F: NorFlash>(&mut self, flash: &mut F, uptime_tenths: u64) -> Result<(), Dead> {
        if self.ring.sequence() == 0 {
            return Ok(());
        }
        self.ring.settle(flash);
        if self.lost || !self.firm {
            let config = self.config;
            return self.put(
                flash,
                &config,
                uptime_tenths,
                if self.lost { Ring::roll } else { Ring::rewrite },
            );
        }
        Ok(())
    }

    /// Puts a new configuration in force.
    pub(crate) fn write<F: NorFlash>(
        &mut self,
        flash: &mut F,
        config: &Config,
        uptime_tenths: u64,
    ) -> Result<(), Dead> {
        self.put(flash, config, uptime_tenths, Ring::roll)
    }

    /// Writes the configuration afresh once a year.
    pub(crate) fn refresh<F: NorFlash>(&mut self, flash: &mut F, uptime_tenths: u64) {
        if self.ring.sequence() != 0 && uptime_tenths.saturating_sub(self.written_tenths) > REFRESH_TENTHS {
            // Tried again next year whatever comes of it: the old page still stands.
            self.written_tenths = uptime_tenths;
            let config = self.config;
            let _ = self.put(flash, &config, uptime_tenths, Ring::roll);
        }
    }

    fn put<F: NorFlash>(
        &mut self,
        flash: &mut F,
        config: &Config,
        uptime_tenths: u64,
        write: impl FnOnce(&mut Ring, &mut F, &[u8]) -> Result<(), Dead>,
    ) -> Result<(), Dead> {
        let mut head = [0xFF; HEAD_LEN];
        encode(config, uptime_tenths, &mut head).ok_or(Dead)?;
        write(&mut self.ring, flash, &head)?;
        self.ring.append(flash, 1, 0).map_err(|_| Dead)?;
        self.config = *config;
        self.written_tenths = uptime_tenths;
        self.firm = true;
        self.lost = false;
        Ok(())
    }

    pub(crate) const fn config(&self) -> &Config {
        &self.config
    }

    pub(crate) const fn ring(&self) -> &Ring {
        &self.ring
    }
}

fn encode(config: &Config, uptime_tenths: u64, head: &mut [u8; HEAD_LEN]) -> Option<()> {
    let (len_out, rest) = head.split_first_mut()?;
    let (content, written) = rest.split_at_mut_checked(CONFIG_MAX)?;
    let used = halfglass_protocol::message::to_slice(config, content)?;
    *len_out = u8::try_from(used).ok()?;
    written.copy_from_slice(uptime_tenths.to_le_bytes().get(..5)?);
    Some(())
}

fn decode(head: &[u8]) -> Option<(Config, u64)> {
    let (len, rest) = head.split_first()?;
    let (content, rest) = rest.split_at_checked(CONFIG_MAX)?;
    let config: Config = halfglass_protocol::message::from_slice(content.get(..usize::from(*len))?)?;
    let [a, b, c, d, e, ..] = *rest else { return None };
    config.check().ok()?;
    Some((config, u64::from_le_bytes([a, b, c, d, e, 0, 0, 0])))
}
