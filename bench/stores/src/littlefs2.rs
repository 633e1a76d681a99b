//! littlefs2: one file, rewritten and closed at each commit; small enough to lie inline in its directory.

use crate::{Change, Failed, GRANULE_LEN, PAGE_LEN, PAGES, Session, Store, Totals};
use ::littlefs2::consts::{U1, U64};
use ::littlefs2::driver::Storage;
use ::littlefs2::fs::Filesystem;
use ::littlefs2::io::{Error, Result as IoResult};
use ::littlefs2::path;
use ::littlefs2::path::Path;
use embedded_storage::nor_flash::NorFlash;

const FILE: &Path = path!("totals");

/// A file system with wear levelling.
pub struct Littlefs2;

/// The flash as the crate wants it.
struct Disk<'a, F>(&'a mut F);

impl<F: NorFlash> Storage for Disk<'_, F> {
    const READ_SIZE: usize = GRANULE_LEN;
    const WRITE_SIZE: usize = GRANULE_LEN;
    const BLOCK_SIZE: usize = PAGE_LEN;
    const BLOCK_COUNT: usize = PAGES;
    /// The crate advises 100 to 1,000: the low end levels wear best.
    const BLOCK_CYCLES: isize = 100;
    type CACHE_SIZE = U64;
    /// One unit of 64 blocks: all there are.
    type LOOKAHEAD_SIZE = U1;

    fn read(&mut self, offset: usize, bytes: &mut [u8]) -> IoResult<usize> {
        self.0.read(offset as u32, bytes).map_err(|_| Error::IO)?;
        Ok(bytes.len())
    }

    fn write(&mut self, offset: usize, bytes: &[u8]) -> IoResult<usize> {
        self.0.write(offset as u32, bytes).map_err(|_| Error::IO)?;
        Ok(bytes.len())
    }

    fn erase(&mut self, offset: usize, len: usize) -> IoResult<usize> {
        self.0.erase(offset as u32, (offset + len) as u32).map_err(|_| Error::IO)?;
        Ok(len)
    }
}

struct Mounted<'a, 'b, F: NorFlash> {
    files: &'b Filesystem<'a, Disk<'a, F>>,
    totals: Totals,
}

impl Store for Littlefs2 {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut allocation = Filesystem::allocate();
        let mut disk = Disk(flash);
        // Formatted once, when the flash is new, and never again.
        if boot == 1 {
            Filesystem::format(&mut disk).map_err(|_| Failed)?;
        }
        let files = Filesystem::mount(&mut allocation, &mut disk).map_err(|_| Failed)?;
        let totals = match files.read::<{ Totals::LEN }>(FILE) {
            Ok(bytes) => Totals::from_bytes(&bytes)?,
            Err(Error::NO_SUCH_ENTRY) => Totals::default(),
            Err(_) => return Err(Failed),
        };
        Ok(work(&mut Mounted { files: &files, totals }))
    }
}

impl<F: NorFlash> Session for Mounted<'_, '_, F> {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        let totals = self.totals.with(change);
        self.files.write(FILE, &totals.to_bytes()).map_err(|_| Failed)?;
        self.totals = totals;
        Ok(())
    }
}
