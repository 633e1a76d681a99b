//! The clock chip with a battery of its own: a DS3231 or one of its kin, if there is one.
//!
//! Its registers are told and understood by the crate `ds323x`. What that leaves to its caller is done here: it takes digits above 9
//! for more than 9, and the alarms' seven bytes, which nothing else uses, are the note of [`halfglass_firmware::battery`].
//!
//! ```text
//!  0x00 to 0x06   seconds, minutes, hours, weekday, day, month and century, year: two decimal digits each
//!  0x07 to 0x0D   the alarms: the note
//!  0x0E, 0x0F     control; status, its bit 7: the oscillator has stood still
//!  0x10           ageing offset: the accuracy is stated for 0
//! ```

use crate::i2c::Wires;
use chrono::DateTime;
use ds323x::{DateTimeAccess, Ds323x};
use embedded_hal::i2c::I2c;
use halfglass_firmware::battery::{Chip, NOTE_LEN, Reading};

const ADDRESS: u8 = 0x68;
/// The note's first register.
const NOTE: u8 = 0x07;
const HOURS: usize = 2;
/// In the register of hours: they count to 12.
const TWELVE: u8 = 1 << 6;

/// The chip, if there is one.
pub(crate) struct Battery(Wires);

impl Battery {
    pub(crate) fn new(wires: Wires) -> Self {
        Self(wires)
    }

    /// In seconds since 1970.
    #[inline(never)]
    fn time(&mut self) -> Option<u64> {
        let time = Ds323x::new_ds3231(&mut self.0).datetime().ok()?;
        u64::try_from(time.and_utc().timestamp()).ok()
    }

    fn leave(&mut self, note: [u8; NOTE_LEN]) -> Option<()> {
        let [a, b, c, d, e, f, g] = note;
        self.0.write(ADDRESS, &[NOTE, a, b, c, d, e, f, g]).ok()
    }

    fn try_set(&mut self, to: &Reading) -> Option<()> {
        let time = DateTime::from_timestamp(i64::try_from(to.utc_s).ok()?, 0)?.naive_utc();
        self.leave([0; NOTE_LEN])?;
        let mut chip = Ds323x::new_ds3231(&mut self.0);
        chip.set_aging_offset(0).ok()?;
        chip.enable().ok()?;
        chip.set_datetime(&time).ok()?;
        chip.clear_has_been_stopped_flag().ok()?;
        self.leave(to.note)
    }
}

impl Chip for Battery {
    fn read(&mut self) -> Option<Reading> {
        if !self.0.open() || Ds323x::new_ds3231(&mut self.0).has_been_stopped().ok()? {
            return None;
        }
        let first_s = self.time()?;
        let mut held = [0; NOTE as usize + NOTE_LEN];
        self.0.write_read(ADDRESS, &[0], &mut held).ok()?;
        let (digits, note) = held.split_first_chunk::<{ NOTE as usize }>()?;
        if digits.iter().any(|two| two & 0xF > 9) || digits[HOURS] & TWELVE != 0 {
            return None;
        }
        // The wires have no check of their own: a time that was garbled once does not agree with itself.
        let utc_s = self.time()?;
        (first_s..=first_s + 1).contains(&utc_s).then_some(Reading { utc_s, note: note.try_into().ok()? })
    }

    fn set(&mut self, to: &Reading) -> bool {
        self.0.open() && self.try_set(to).is_some()
    }
}
