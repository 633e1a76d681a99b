//! Halfglass's own journal, called as its logger calls it.

use crate::{Change, Failed, LINES, PAGE_LEN, PAGES, Session, Store, Totals};
use embedded_storage::nor_flash::NorFlash;
use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::word::Word;
use halfglass_firmware::ports::Region;

const REGION: Region = Region { start: 0, page_len: PAGE_LEN as u32, pages: PAGES as u16 };

/// One 32-bit word a commit, a snapshot at the head of each page.
pub struct Halfglass;

struct Mounted<'a, F> {
    flash: &'a mut F,
    journal: Journal<LINES>,
}

impl Store for Halfglass {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        _boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut journal = Journal::mount(flash, REGION, Default::default());
        journal.recover(flash).map_err(|_| Failed)?;
        Ok(work(&mut Mounted { flash, journal }))
    }
}

impl<F: NorFlash> Session for Mounted<'_, F> {
    fn totals(&self) -> Totals {
        let totals = &self.journal.state().totals;
        let mut on_tenths = [0; LINES];
        on_tenths.copy_from_slice(&totals.on_tenths[..LINES]);
        Totals { uptime_tenths: totals.uptime_tenths, on_tenths }
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        self.journal.commit(self.flash, Word::hold(change.mask, change.tenths)).map_err(|_| Failed)?;
        self.journal.prepare(self.flash);
        Ok(())
    }
}
