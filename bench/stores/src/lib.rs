//! Halfglass's journal and its peers behind one interface.
//!
//! A store keeps the totals of four lines and the uptime through power cuts. Each peer is used as its authors intend:
//! documented calls, the cache that they offer, checks switched on. What a store does not do itself (adding up, and for a
//! queue of deltas the snapshots between them) is done here, in its file.
#![no_std]

mod change;

#[cfg(feature = "ekv")]
mod ekv;
#[cfg(feature = "halfglass")]
mod halfglass;
#[cfg(feature = "littlefs2")]
mod littlefs2;
mod none;
#[cfg(any(feature = "sequential-storage", feature = "ekv"))]
mod now;
#[cfg(feature = "sequential-storage")]
mod sequential_storage;

#[cfg(feature = "ekv")]
pub use ekv::Ekv;
#[cfg(feature = "halfglass")]
pub use halfglass::Halfglass;
#[cfg(feature = "littlefs2")]
pub use littlefs2::Littlefs2;
#[cfg(feature = "sequential-storage")]
pub use sequential_storage::{Map, Queue, QueueOfDeltas};

pub use change::{Change, LINES, Totals, Workload};
pub use none::NoStore;

use embedded_storage::nor_flash::NorFlash;

/// Bytes of a page, the unit of erasing.
pub const PAGE_LEN: usize = 1024;

/// Pages that each store gets.
pub const PAGES: usize = 64;

/// Bytes of a granule, the unit of programming.
pub const GRANULE_LEN: usize = 4;

/// A store that could not be mounted, or did not take a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Failed;

/// A way to keep totals in flash.
pub trait Store {
    /// Power comes, the store is mounted, `work` uses it until power goes. The store owns the whole of `flash`, from 0 to
    /// [`PAGES`] x [`PAGE_LEN`]. `boot` is 1 on a new flash, for stores that want to be formatted, and differs at each power-up,
    /// for stores that want a random seed.
    ///
    /// # Errors
    /// The store cannot be mounted.
    fn session<F: NorFlash, R>(
        flash: &mut F,
        boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed>;
}

/// A mounted store.
pub trait Session {
    /// What the store says was counted.
    fn totals(&self) -> Totals;

    /// Keeps one more change. When it returns `Ok` no power cut may take the change away.
    ///
    /// # Errors
    /// The store did not take the change.
    fn commit(&mut self, change: Change) -> Result<(), Failed>;
}
