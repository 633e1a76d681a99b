//! Explanations that no reader of the same papers could tell apart: declared here, each with its reason.

use super::event::Event;
use halfglass::reconcile::Kind;

/// Kinds that count as right for an event as well, if its evidence leaves them open.
#[must_use]
pub fn pairs(event: &Event) -> &'static [Kind] {
    match event {
        // A counter at nought after the supply was off: a new box, or the service menu. Only a second quantity tells.
        Event::Exchanged { .. } => &[Kind::ZeroedWithoutFitting],
        Event::Zeroed { .. } => &[Kind::CounterExchanged],
        // A log of 24 h periods shows neither a line that is off by the hour nor one that is off while unused.
        Event::Dead { .. } => &[Kind::LineIntermittent],
        Event::Intermittent { .. } => &[Kind::LineDead],
        // Under steady duty heater hours are a steady multiple of transmit hours.
        Event::OtherLine { .. } => &[Kind::CounterRate],
        Event::Rate { .. } => &[Kind::CountsOtherLine],
        // The figure of another transceiver that nobody wrote down is a wrong figure, whatever it is called.
        Event::OtherSource { .. } => &[Kind::Misread, Kind::ImpossibleReading],
        // A wrong figure may be a slip of a digit by chance, and a slip may look like none.
        Event::Slip { .. } | Event::Off { .. } => &[Kind::ImpossibleReading],
        Event::Impossible { .. } => &[Kind::Misread],
        _ => &[],
    }
}

/// Kinds that explain the same but that the design ranks below: no rivals, and not right either.
#[must_use]
pub fn ranked_below(event: &Event) -> &'static [Kind] {
    match event {
        // A zeroing within a week of the fitting is the fitting's: one cause, one finding.
        Event::Misdated { .. } => &[Kind::ZeroedWithoutFitting],
        _ => &[],
    }
}
