//! sequential-storage: its queue, the same with the caller's own deltas, and its map.
//!
//! All three with the fullest cache that the crate offers, new at each power-up as it demands. The queue overwrites its
//! oldest items; only `push` and `iter` are used, as `pop` needs flash that may be written twice.

use crate::now::now;
use crate::{Change, Failed, PAGE_LEN, PAGES, Session, Store, Totals};
use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use embedded_storage_async::nor_flash as asynchronous;
use sequential_storage::cache::key_pointers::ArrayKeyPointers;
use sequential_storage::cache::page_pointers::ArrayPagePointers;
use sequential_storage::cache::page_states::ArrayPageStates;
use sequential_storage::cache::{Cache, Uncached};
use sequential_storage::map::{MapConfig, MapStorage};
use sequential_storage::queue::{QueueConfig, QueueStorage};

const REGION_LEN: u32 = (PAGES * PAGE_LEN) as u32;

/// Snapshots stand between so many deltas: rare enough to cost nothing, often enough that several are in the ring.
const DELTAS_PER_SNAPSHOT: u32 = 500;

/// The flash as the crate wants it.
struct Async<'a, F>(&'a mut F);

impl<F: NorFlash> ErrorType for Async<'_, F> {
    type Error = F::Error;
}

impl<F: NorFlash> asynchronous::ReadNorFlash for Async<'_, F> {
    const READ_SIZE: usize = F::READ_SIZE;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), F::Error> {
        ReadNorFlash::read(self.0, offset, bytes)
    }

    fn capacity(&self) -> usize {
        ReadNorFlash::capacity(self.0)
    }
}

impl<F: NorFlash> asynchronous::NorFlash for Async<'_, F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), F::Error> {
        NorFlash::erase(self.0, from, to)
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), F::Error> {
        NorFlash::write(self.0, offset, bytes)
    }
}

type QueueCache = Cache<ArrayPageStates<PAGES>, ArrayPagePointers<PAGES>, Uncached>;
type MapCache = Cache<ArrayPageStates<PAGES>, ArrayPagePointers<PAGES>, ArrayKeyPointers<u8, 1>, u8>;

fn queue<F: NorFlash>(flash: &mut F) -> QueueStorage<Async<'_, F>, QueueCache> {
    let cache = Cache::new(ArrayPageStates::new(), ArrayPagePointers::new(), Uncached);
    QueueStorage::new(Async(flash), QueueConfig::new(0..REGION_LEN), cache)
}

/// A queue of all totals: the newest item counts.
pub struct Queue;

struct MountedQueue<'a, F: NorFlash> {
    queue: QueueStorage<Async<'a, F>, QueueCache>,
    totals: Totals,
}

impl Store for Queue {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        _boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut queue = queue(flash);
        let totals = now(async {
            let mut buffer = [0; 32];
            let mut totals = Totals::default();
            let mut items = queue.iter().await.map_err(|_| Failed)?;
            while let Some(item) = items.next(&mut buffer).await.map_err(|_| Failed)? {
                totals = Totals::from_bytes(&item)?;
            }
            Ok(totals)
        })?;
        Ok(work(&mut MountedQueue { queue, totals }))
    }
}

impl<F: NorFlash> Session for MountedQueue<'_, F> {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        let totals = self.totals.with(change);
        now(self.queue.push(&totals.to_bytes(), true)).map_err(|_| Failed)?;
        self.totals = totals;
        Ok(())
    }
}

/// A queue of changes with a snapshot of the totals now and then.
pub struct QueueOfDeltas;

struct MountedDeltas<'a, F: NorFlash> {
    queue: QueueStorage<Async<'a, F>, QueueCache>,
    totals: Totals,
    since_snapshot: u32,
}

impl Store for QueueOfDeltas {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        _boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let mut queue = queue(flash);
        let (totals, since_snapshot) = now(async {
            let mut buffer = [0; 32];
            let mut totals = Totals::default();
            let mut since_snapshot = 0;
            let mut items = queue.iter().await.map_err(|_| Failed)?;
            while let Some(item) = items.next(&mut buffer).await.map_err(|_| Failed)? {
                match <[u8; Change::LEN]>::try_from(&*item) {
                    Ok(change) => {
                        totals = totals.with(Change::from_bytes(change));
                        since_snapshot += 1;
                    }
                    Err(_) => {
                        totals = Totals::from_bytes(&item)?;
                        since_snapshot = 0;
                    }
                }
            }
            Ok((totals, since_snapshot))
        })?;
        Ok(work(&mut MountedDeltas { queue, totals, since_snapshot }))
    }
}

impl<F: NorFlash> Session for MountedDeltas<'_, F> {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        now(self.queue.push(&change.to_bytes(), true)).map_err(|_| Failed)?;
        self.totals = self.totals.with(change);
        self.since_snapshot += 1;
        if self.since_snapshot >= DELTAS_PER_SNAPSHOT {
            now(self.queue.push(&self.totals.to_bytes(), true)).map_err(|_| Failed)?;
            self.since_snapshot = 0;
        }
        Ok(())
    }
}

/// A map with one key, under which all totals lie.
pub struct Map;

const KEY: u8 = 1;

struct MountedMap<'a, F: NorFlash> {
    map: MapStorage<u8, Async<'a, F>, MapCache>,
    totals: Totals,
}

impl Store for Map {
    fn session<F: NorFlash, R>(
        flash: &mut F,
        _boot: u32,
        work: impl FnOnce(&mut dyn Session) -> R,
    ) -> Result<R, Failed> {
        let cache = Cache::new(ArrayPageStates::new(), ArrayPagePointers::new(), ArrayKeyPointers::new());
        let mut map = MapStorage::new(Async(flash), MapConfig::new(0..REGION_LEN), cache);
        let mut buffer = [0; 32];
        let stored: Option<&[u8]> = now(map.fetch_item(&mut buffer, &KEY)).map_err(|_| Failed)?;
        let totals = stored.map_or(Ok(Totals::default()), Totals::from_bytes)?;
        Ok(work(&mut MountedMap { map, totals }))
    }
}

impl<F: NorFlash> Session for MountedMap<'_, F> {
    fn totals(&self) -> Totals {
        self.totals
    }

    fn commit(&mut self, change: Change) -> Result<(), Failed> {
        let totals = self.totals.with(change);
        now(self.map.store_item(&mut [0; 32], &KEY, &&totals.to_bytes()[..])).map_err(|_| Failed)?;
        self.totals = totals;
        Ok(())
    }
}
