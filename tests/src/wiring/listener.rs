//! The ear for the ship's time: an opto on a talker's two wires.

use super::inputs::{MARGIN, pull_up_needs};
use super::parts::Parts;
use super::quantity::{Quantity, Range, corners};
use super::sheet::{Must, Sheet};

/// How far an edge may be displaced, in bits: half a bit, less what clocks 2 % apart gain in nine and a half.
const DISPLACED_MAX: f64 = 0.3;

/// Current, margin and speed.
pub(super) fn listener(parts: &Parts) -> Sheet {
    let (talk, led, series) = (parts.range("V_talk"), parts.range("V_led"), parts.resistor("R51 on a pico"));
    let through = |talk| corners([talk, led, series], |[talk, led, series]| (talk - led) / series);
    let lit = through(talk);
    let ratio = parts.one("ratio").bare() * parts.one("kept").bare();
    let margin = lit.least.times(ratio) / pull_up_needs(parts, "R53 on a pico").most;
    let heat = corners([led, series], |[led, series]| (talk.most - led) * (talk.most - led) / series).most;
    let one = |quantity| vec![Range::exactly(quantity)];
    let mut sheet = Sheet::new(["IEC 61162-1"]);
    sheet.row(
        "drawn from the talker at its least",
        vec![through(Range::exactly(talk.least))],
        Must::AtMost(parts.one("I_talk")),
    );
    sheet.row("through the LED", vec![lit], Must::Within(parts.one("I_ratio"), parts.one("I_led")));
    sheet.row(
        "times what the pull-up needs, at half the least transfer ratio",
        one(margin),
        Must::AtLeast(Quantity::number(MARGIN)),
    );
    sheet.row(
        "series resistor's heat, of its rating",
        one(heat / parts.rating("R51 on a pico")),
        Must::AtMost(Quantity::number(0.6)),
    );
    sheet.row(
        "an edge displaced, of a bit",
        one(parts.one("t_low") / parts.one("t_bit")),
        Must::AtMost(Quantity::number(DISPLACED_MAX)),
    );
    sheet
}
