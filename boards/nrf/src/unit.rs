//! Which logger this is.

use crate::board::{FICR, UICR};

/// The number written into the chip's customer words 0 and 1 when the board was made; where they are blank, the
/// chip maker's own.
pub fn id(uicr: &UICR, ficr: &FICR) -> u64 {
    let customer = join(uicr.customer[0].read().bits(), uicr.customer[1].read().bits());
    let blank = customer == u64::MAX || customer == 0;
    if blank { join(ficr.deviceid[0].read().bits(), ficr.deviceid[1].read().bits()) } else { customer }
}

fn join(low: u32, high: u32) -> u64 {
    u64::from(high) << 32 | u64::from(low)
}
