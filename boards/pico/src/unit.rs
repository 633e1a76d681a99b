//! Which logger this is.
//!
//! The chip has no number of its own; the flash chip mostly has one (Read Unique ID, 4Bh). A number that the maker of the board
//! has put into flash goes before it. Two loggers with one number would mix up two radars' hours, so a number that
//! others are known to share is refused, and the board logs nothing until it is given one.

use crate::flash_map::NUMBER;
use crate::nor::Nor;
use embedded_storage::nor_flash::ReadNorFlash;

/// Makers of flash chips whose first eight bytes are no number, or one that repeats:
/// Spansion and Macronix have none; Zetta's and ISSI's are 16 bytes long, and the first eight of many are alike
/// (documentation of the `rp2040-flash` crate; issue 1641 of raspberrypi/pico-sdk). By JEDEC number.
const MAKERS_REFUSED: [u8; 4] = [0x01, 0xC2, 0xBA, 0x9D];

/// The number that the board was given, else the flash chip's. None: it has none that is its own.
pub(crate) fn id(flash: &mut Nor) -> Option<u64> {
    given(flash).or_else(|| {
        let maker = flash.maker();
        let [first, ..] = maker;
        let number = flash.number();
        let known = !MAKERS_REFUSED.contains(&first) && !all_alike(&maker) && !all_alike(&number);
        known.then_some(u64::from_be_bytes(number))
    })
}

/// What the making of the board left: the number, then its complement.
fn given(flash: &mut Nor) -> Option<u64> {
    let (mut number, mut check) = ([0; 8], [0; 8]);
    flash.read(NUMBER, &mut number).ok()?;
    flash.read(NUMBER + 8, &mut check).ok()?;
    let number = u64::from_be_bytes(number);
    (u64::from_be_bytes(check) == !number && number != 0 && number != u64::MAX).then_some(number)
}

/// All bytes the same: what a chip answers that does not know the question.
fn all_alike(bytes: &[u8]) -> bool {
    bytes.windows(2).all(|two| matches!(two, [a, b] if a == b))
}
