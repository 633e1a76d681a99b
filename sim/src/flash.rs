//! A NOR flash that enforces the chip's rules and can be hurt.
//!
//! It knows the [`embedded_storage`] traits and nothing of what is stored. Every breach of a rule (a granule
//! programmed twice, a write off the grid, a write into a page whose erase was cut) is kept in
//! [`Flash::violations`]: tests look there.

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash};
use std::collections::BTreeMap;

/// How a power cut leaves the granule that was being programmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum WordTear {
    /// Nothing of it was programmed.
    Nothing,
    /// All of it was, but nobody was told.
    Whole,
    /// A random subset of its zeros was.
    Subset,
    /// All but one of its zeros were.
    AllButOne,
    /// One zero was.
    One,
}

/// How a power cut leaves the page that was being erased.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EraseTear {
    /// As it was.
    Nothing,
    /// Wholly erased, but nobody was told.
    Whole,
    /// Random zeros have become ones.
    ZerosToOnes,
    /// Random ones have become zeros (pre-programming before an erase).
    OnesToZeros,
    /// One granule in eight is still as it was, the rest is blank.
    DirtyEighth,
}

/// Every way to tear a word.
pub const WORD_TEARS: [WordTear; 5] =
    [WordTear::Nothing, WordTear::Whole, WordTear::Subset, WordTear::AllButOne, WordTear::One];

/// Every way to tear an erase.
pub const ERASE_TEARS: [EraseTear; 5] = [
    EraseTear::Nothing,
    EraseTear::Whole,
    EraseTear::ZerosToOnes,
    EraseTear::OnesToZeros,
    EraseTear::DirtyEighth,
];

/// What the flash was doing when power went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operation {
    /// Programming at this address; the first word of what was to be written.
    Program(u32, u32),
    /// Erasing the page at this address.
    Erase(u32),
}

/// When to cut power, and what that leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// The operation to cut, counted from [`Flash::power_on`]: 0 is the first program or erase after it.
    pub at: u64,
    /// Only erases are counted.
    pub among_erases: bool,
    /// If it is a program.
    pub word: WordTear,
    /// If it is an erase.
    pub erase: EraseTear,
    /// What was torn reads differently each time.
    pub flicker: bool,
}

/// A rule that was broken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// What was done.
    pub operation: Operation,
    /// Which rule it broke.
    pub rule: &'static str,
}

/// Operations counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Granules programmed.
    pub programs: u64,
    /// Bytes programmed.
    pub programmed_bytes: u64,
    /// Bytes read.
    pub read_bytes: u64,
    /// Erases of each page.
    pub erases: Vec<u32>,
}

/// Why an operation failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error {
    /// Power is gone.
    Off,
    /// The page is worn out.
    Stuck,
    /// Outside the flash, or off its grid.
    Bounds,
    /// The granule's error correction failed (flash with ECC).
    Ecc,
}

impl NorFlashError for Error {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Error::Bounds => NorFlashErrorKind::OutOfBounds,
            _ => NorFlashErrorKind::Other,
        }
    }
}

/// The flash: granules of `GRANULE` bytes (4, 8 or 16), pages of `PAGE` bytes.
#[derive(Clone)]
pub struct Flash<const GRANULE: usize, const PAGE: usize> {
    bytes: Vec<u8>,
    /// Granules that were programmed since their page's last whole erase.
    programmed: Vec<bool>,
    /// Granules whose programming was cut: they may be programmed once more, with error correction only to zeros.
    touched: Vec<bool>,
    /// Bits of a granule that read differently each time.
    weak: BTreeMap<usize, [u8; 16]>,
    /// Granules whose content their error correction cannot vouch for.
    ecc_broken: BTreeMap<usize, ()>,
    /// Pages whose erase was cut.
    half_erased: Vec<bool>,
    stuck: Vec<bool>,
    refuse_next: bool,
    random: fastrand::Rng,
    off: bool,
    cut: Option<Cut>,
    /// Programs and erases since power came.
    operations: u64,
    erase_operations: u64,
    /// What the last cut hit.
    pub hit: Option<Operation>,
    /// Programs and erases carried out.
    pub counts: Counts,
    /// Rules broken.
    pub violations: Vec<Violation>,
}

impl<const GRANULE: usize, const PAGE: usize> Flash<GRANULE, PAGE> {
    /// A blank flash of so many pages. `seed` decides every random tear and flicker.
    #[must_use]
    pub fn new(pages: usize, seed: u64) -> Self {
        Self {
            bytes: vec![0xFF; pages * PAGE],
            programmed: vec![false; pages * PAGE / GRANULE],
            touched: vec![false; pages * PAGE / GRANULE],
            weak: BTreeMap::new(),
            ecc_broken: BTreeMap::new(),
            half_erased: vec![false; pages],
            stuck: vec![false; pages],
            refuse_next: false,
            random: fastrand::Rng::with_seed(seed),
            off: false,
            cut: None,
            operations: 0,
            erase_operations: 0,
            hit: None,
            counts: Counts { erases: vec![0; pages], ..Counts::default() },
            violations: Vec::new(),
        }
    }

    /// A flash with this content, its length a multiple of the page; what is not blank counts as programmed.
    #[must_use]
    pub fn from_image(image: &[u8], seed: u64) -> Self {
        let mut flash = Self::new(image.len() / PAGE, seed);
        flash.bytes.copy_from_slice(image);
        for (programmed, granule) in flash.programmed.iter_mut().zip(image.chunks(GRANULE)) {
            *programmed = granule.iter().any(|byte| *byte != 0xFF);
        }
        flash
    }

    /// Power comes (back). From here operations are counted, and `cut` may end them.
    pub fn power_on(&mut self, cut: Option<Cut>) {
        self.off = false;
        self.cut = cut;
        self.operations = 0;
        self.erase_operations = 0;
        self.hit = None;
    }

    /// Power goes between two operations.
    pub fn power_off(&mut self) {
        self.off = true;
    }

    /// Power is gone.
    #[must_use]
    pub fn is_off(&self) -> bool {
        self.off
    }

    /// Programs and erases since power came.
    #[must_use]
    pub fn operations(&self) -> u64 {
        self.operations
    }

    /// From now on this page can neither be erased nor programmed.
    pub fn make_stuck(&mut self, page: usize) {
        self.stuck[page] = true;
    }

    /// The next program fails and leaves its granule torn.
    pub fn refuse_next_program(&mut self) {
        self.refuse_next = true;
    }

    /// Flips one bit, as age does.
    pub fn rot(&mut self, address: usize, bit: u8) {
        self.bytes[address] ^= 1 << bit;
    }

    /// The content as it would read without flicker.
    #[must_use]
    pub fn image(&self) -> &[u8] {
        &self.bytes
    }

    fn operation(&mut self, operation: Operation) -> Option<Cut> {
        let (this, this_erase) = (self.operations, self.erase_operations);
        self.operations += 1;
        let erase = matches!(operation, Operation::Erase(_));
        self.erase_operations += u64::from(erase);
        let hits = |cut: &Cut| if cut.among_erases { erase && cut.at == this_erase } else { cut.at == this };
        let cut = self.cut.filter(hits)?;
        self.off = true;
        self.hit = Some(operation);
        Some(cut)
    }

    fn violation(&mut self, operation: Operation, rule: &'static str) {
        self.violations.push(Violation { operation, rule });
    }

    fn tear_word(&mut self, granule: usize, new: &[u8], cut: Cut) {
        let start = granule * GRANULE;
        let mut weak = self.weak.remove(&granule).unwrap_or_default();
        let zeros: Vec<(usize, u8)> = (0..GRANULE)
            .flat_map(|byte| (0..8).map(move |bit| (byte, 1 << bit)))
            .filter(|(byte, bit)| self.bytes[start + byte] & !new[*byte] & bit != 0)
            .collect();
        let chosen: Vec<bool> = match cut.word {
            WordTear::Nothing => vec![false; zeros.len()],
            WordTear::Whole => vec![true; zeros.len()],
            WordTear::Subset => zeros.iter().map(|_| self.random.bool()).collect(),
            WordTear::AllButOne | WordTear::One => {
                let odd = if zeros.is_empty() { 0 } else { self.random.usize(0..zeros.len()) };
                (0..zeros.len()).map(|at| (at == odd) == (cut.word == WordTear::One)).collect()
            }
        };
        // Half of the time only one bit is weak, which then makes all the difference; else any may be.
        let open: Vec<usize> = (0..chosen.len()).filter(|at| !chosen[*at]).collect();
        let missing = self.random.choice(&open).copied().filter(|_| self.random.bool());
        for (at, ((byte, bit), chosen)) in zeros.iter().zip(chosen).enumerate() {
            if chosen {
                self.bytes[start + byte] &= !bit;
            }
            let is_weak = missing.map_or_else(|| self.random.bool(), |missing| missing == at);
            if cut.flicker && is_weak {
                weak[*byte] |= bit;
            }
        }
        let torn = !matches!(cut.word, WordTear::Whole | WordTear::Nothing);
        if GRANULE > 4 && (torn || weak != [0; 16]) {
            self.ecc_broken.insert(granule, ());
        }
        if weak != [0; 16] {
            self.weak.insert(granule, weak);
        }
    }

    fn tear_erase(&mut self, page: usize, cut: Cut) {
        let range = page * PAGE..(page + 1) * PAGE;
        if cut.erase == EraseTear::Nothing {
            return;
        }
        self.half_erased[page] = true;
        let dirty = self.random.usize(0..8);
        let mut torn = Vec::new();
        for (at, byte) in self.bytes[range.clone()].iter_mut().enumerate() {
            let random = self.random.u8(..);
            let old = *byte;
            match cut.erase {
                EraseTear::Nothing => {}
                EraseTear::Whole => *byte = 0xFF,
                EraseTear::ZerosToOnes => *byte |= random,
                EraseTear::OnesToZeros => *byte &= random,
                EraseTear::DirtyEighth => {
                    if (at / GRANULE) % 8 != dirty {
                        *byte = 0xFF;
                    }
                }
            }
            if cut.flicker && *byte != old {
                torn.push((range.start + at, (*byte ^ old) & random));
            }
        }
        for (at, bits) in torn {
            self.weak.entry(at / GRANULE).or_insert([0; 16])[at % GRANULE] |= bits;
        }
    }
}

impl<const GRANULE: usize, const PAGE: usize> ErrorType for Flash<GRANULE, PAGE> {
    type Error = Error;
}

impl<const GRANULE: usize, const PAGE: usize> ReadNorFlash for Flash<GRANULE, PAGE> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Error> {
        if self.off {
            return Err(Error::Off);
        }
        let start = offset as usize;
        let source = self.bytes.get(start..start + bytes.len()).ok_or(Error::Bounds)?;
        bytes.copy_from_slice(source);
        self.counts.read_bytes += bytes.len() as u64;
        if self.weak.is_empty() && self.ecc_broken.is_empty() {
            return Ok(());
        }
        for granule in start / GRANULE..=(start + bytes.len() - 1) / GRANULE {
            if self.ecc_broken.contains_key(&granule) {
                return Err(Error::Ecc);
            }
            if let Some(weak) = self.weak.get(&granule) {
                for (at, bits) in weak.iter().enumerate().take(GRANULE) {
                    let at = granule * GRANULE + at;
                    if let Some(byte) = at.checked_sub(start).and_then(|at| bytes.get_mut(at)) {
                        *byte ^= bits & self.random.u8(..);
                    }
                }
            }
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const GRANULE: usize, const PAGE: usize> NorFlash for Flash<GRANULE, PAGE> {
    const WRITE_SIZE: usize = GRANULE;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Error> {
        let (from, to) = (from as usize, to as usize);
        if !from.is_multiple_of(PAGE) || !to.is_multiple_of(PAGE) || to > self.bytes.len() || from > to {
            return Err(Error::Bounds);
        }
        for page in from / PAGE..to / PAGE {
            if self.off {
                return Err(Error::Off);
            }
            if self.stuck[page] {
                return Err(Error::Stuck);
            }
            self.counts.erases[page] += 1;
            if let Some(cut) = self.operation(Operation::Erase((page * PAGE) as u32)) {
                self.tear_erase(page, cut);
                return Err(Error::Off);
            }
            self.bytes[page * PAGE..(page + 1) * PAGE].fill(0xFF);
            self.half_erased[page] = false;
            let granules = page * PAGE / GRANULE..(page + 1) * PAGE / GRANULE;
            self.programmed[granules.clone()].fill(false);
            self.touched[granules.clone()].fill(false);
            self.weak.retain(|granule, _| !granules.contains(granule));
            self.ecc_broken.retain(|granule, ()| !granules.contains(granule));
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Error> {
        let start = offset as usize;
        if !start.is_multiple_of(GRANULE)
            || !bytes.len().is_multiple_of(GRANULE)
            || start + bytes.len() > self.bytes.len()
        {
            self.violation(Operation::Program(offset, 0), "a write off the grid");
            return Err(Error::Bounds);
        }
        for (at, new) in bytes.chunks(GRANULE).enumerate() {
            if self.off {
                return Err(Error::Off);
            }
            let granule = start / GRANULE + at;
            let address = granule * GRANULE;
            let first = new.first_chunk::<4>().map_or(0, |word| u32::from_le_bytes(*word));
            let operation = Operation::Program(address as u32, first);
            if self.stuck[address / PAGE] {
                return Err(Error::Stuck);
            }
            let zeros = new.iter().all(|byte| *byte == 0);
            // In a page whose erase was cut every granule is a touched one.
            let touched = self.touched[granule] || self.half_erased[address / PAGE];
            if touched && GRANULE > 4 && !zeros {
                self.violation(operation, "a touched granule with error correction programmed to something");
            } else if self.programmed[granule] && !touched {
                self.violation(operation, "a granule programmed twice");
            }
            self.programmed[granule] = true;
            self.touched[granule] = false;
            self.counts.programs += 1;
            self.counts.programmed_bytes += GRANULE as u64;
            if let Some(cut) = self.operation(operation) {
                self.touched[granule] = true;
                self.tear_word(granule, new, cut);
                return Err(Error::Off);
            }
            if std::mem::take(&mut self.refuse_next) {
                self.bytes[address] &= new[0];
                return Err(Error::Stuck);
            }
            for (byte, new) in self.bytes[address..].iter_mut().zip(new) {
                *byte &= new;
            }
            // What is programmed now is firm; what was weak and is not programmed stays weak.
            if let Some(weak) = self.weak.get_mut(&granule) {
                for (weak, new) in weak.iter_mut().zip(new) {
                    *weak &= new;
                }
            }
            if zeros {
                self.ecc_broken.remove(&granule);
            }
        }
        Ok(())
    }
}
