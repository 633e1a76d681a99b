//! A flash that counts what is asked of it and ends whoever asks without end.

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};

/// A flash behind a counter. Each read, program and erase of the wrapped flash counts as one operation.
pub struct Bounded<F> {
    /// The flash behind it.
    pub flash: F,
    operations: u64,
    limit: u64,
    /// The most operations between two calls of [`Bounded::begin`].
    pub most: u64,
}

impl<F> Bounded<F> {
    /// A flash from which no more than `limit` operations may be asked at a time.
    pub const fn new(flash: F, limit: u64) -> Self {
        Self { flash, operations: 0, limit, most: 0 }
    }

    /// Counting begins afresh.
    pub const fn begin(&mut self) {
        self.operations = 0;
    }

    /// # Panics
    /// The limit is passed: there is no other way out of a loop without end.
    fn count(&mut self) {
        self.operations += 1;
        self.most = self.most.max(self.operations);
        assert!(self.operations <= self.limit, "more than {} flash operations in one call", self.limit);
    }
}

impl<F: ErrorType> ErrorType for Bounded<F> {
    type Error = F::Error;
}

impl<F: ReadNorFlash> ReadNorFlash for Bounded<F> {
    const READ_SIZE: usize = F::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), F::Error> {
        self.count();
        self.flash.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.flash.capacity()
    }
}

impl<F: NorFlash> NorFlash for Bounded<F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), F::Error> {
        self.count();
        self.flash.erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), F::Error> {
        self.count();
        self.flash.write(offset, bytes)
    }
}
