//! No store: what an image costs before one is added.

use crate::{Change, Failed, GRANULE_LEN, PAGE_LEN, Session, Store, Totals};
use embedded_storage::nor_flash::NorFlash;

/// Uses each of the flash's calls once and keeps nothing.
pub struct NoStore;

struct Nothing {
    totals: Totals,
}

impl Store for NoStore {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        _boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut granule = [0; GRANULE_LEN];
        flash.read(0, &mut granule).map_err(|_| Failed)?;
        flash.erase(0, PAGE_LEN as u32).map_err(|_| Failed)?;
        flash.write(0, &granule).map_err(|_| Failed)?;
        Ok(work(&mut Nothing { totals: Totals::default() }))
    }
}

impl Session for Nothing {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        self.totals.uptime_tenths = change.tenths.into();
        Ok(())
    }
}
