//! ekv: one key, under which all totals lie, one write transaction a commit; CRCs on.

use crate::now::now;
use crate::{Change, Failed, PAGE_LEN, PAGES, Session, Store, Totals};
use ::ekv::flash::{Flash, PageID};
use ::ekv::{Config, Database, ReadError};
use embassy_sync::blocking_mutex::raw::NoopRawMutex;
use embedded_storage::nor_flash::NorFlash;

const KEY: &[u8] = b"totals";

/// A log-structured tree of keys.
pub struct Ekv;

/// The flash as the crate wants it.
struct Pages<'a, F>(&'a mut F);

impl<F: NorFlash> Flash for Pages<'_, F> {
    type Error = F::Error;

    fn page_count(&self) -> usize {
        PAGES
    }

    async fn erase(&mut self, page: PageID) -> Result<(), F::Error> {
        let from = page.index() * PAGE_LEN;
        self.0.erase(from as u32, (from + PAGE_LEN) as u32)
    }

    async fn read(&mut self, page: PageID, offset: usize, bytes: &mut [u8]) -> Result<(), F::Error> {
        self.0.read((page.index() * PAGE_LEN + offset) as u32, bytes)
    }

    async fn write(&mut self, page: PageID, offset: usize, bytes: &[u8]) -> Result<(), F::Error> {
        self.0.write((page.index() * PAGE_LEN + offset) as u32, bytes)
    }
}

struct Mounted<'a, F: NorFlash> {
    database: Database<Pages<'a, F>, NoopRawMutex>,
    totals: Totals,
}

impl Store for Ekv {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut config = Config::default();
        config.random_seed = boot;
        let database = Database::new(Pages(flash), config);
        let totals = now(async {
            // Formatted once, when the flash is new, and never again.
            if boot == 1 {
                database.format().await.map_err(|_| Failed)?;
            }
            database.mount().await.map_err(|_| Failed)?;
            let mut bytes = [0; Totals::LEN];
            match database.read_transaction().await.read(KEY, &mut bytes).await {
                Ok(len) => Totals::from_bytes(&bytes[..len]),
                Err(ReadError::KeyNotFound) => Ok(Totals::default()),
                Err(_) => Err(Failed),
            }
        })?;
        Ok(work(&mut Mounted { database, totals }))
    }
}

impl<F: NorFlash> Session for Mounted<'_, F> {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        let totals = self.totals.with(change);
        now(async {
            let mut transaction = self.database.write_transaction().await;
            transaction.write(KEY, &totals.to_bytes()).await.map_err(|_| Failed)?;
            transaction.commit().await.map_err(|_| Failed)
        })?;
        self.totals = totals;
        Ok(())
    }
}
