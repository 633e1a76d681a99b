//! The arithmetic of the boards guide (`boards/README.md`): its parts in, every figure that it states out.
//!
//! ```text
//!   the guide's tables of parts --> parts --> inputs, mains, listener, feed, clock: figures at their worst --> sheet: the guide's other tables
//! ```
//!
//! Nothing here knows a part's value: they stand in the guide, and in its schematic.

pub mod clock;
pub mod feed;
pub mod inputs;
pub mod listener;
pub mod mains;
pub mod parts;
pub mod quantity;
pub mod sheet;

use parts::Parts;
use sheet::Sheet;

/// Every computed table of the guide, in its order.
///
/// # Panics
/// A part that they need does not stand in the guide.
#[must_use]
pub fn sheets(parts: &Parts) -> Vec<Sheet> {
    vec![
        inputs::steady(parts),
        inputs::wetting(parts),
        inputs::rails(parts),
        mains::load(parts),
        mains::pulses(parts),
        mains::capacitor(parts),
        listener::listener(parts),
        inputs::filters(parts),
        feed::current(parts),
        feed::hold_up(parts),
        clock::chip(parts),
    ]
}
