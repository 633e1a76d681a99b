//! The clock chip's wires and its cell.

use super::parts::Parts;
use super::quantity::{Quantity, Range, corners};
use super::sheet::{Must, Sheet};
use halfglass_firmware::battery::DRIFT_PPM;

/// A wire that is let go rises from three to seven tenths of the supply in so many time constants: ln(0.7 / 0.3).
const RISE: f64 = 0.847_298;

const DAY_S: f64 = 86_400.0;

/// Pull-ups, cell and what the clock may be off by.
pub(super) fn chip(parts: &Parts) -> Sheet {
    let supply = parts.range("V_logic");
    let pull_up = parts.resistor("R_wire");
    let sunk = corners([supply, pull_up], |[supply, pull_up]| supply / pull_up);
    let rise = corners([pull_up, parts.range("C_bus")], |[pull_up, wires]| (pull_up * wires).times(RISE));
    let lasts = parts.one("Q_cell") / parts.one("I_cell");
    let year = parts.one("year");
    let off = |days: f64| days * DAY_S * f64::from(DRIFT_PPM) / 1e6;
    let one = |quantity| vec![Range::exactly(quantity)];
    let mut sheet = Sheet::new(["clock chip"]);
    sheet.row("what holds a wire down must take", vec![sunk], Must::AtMost(parts.one("I_sink")));
    sheet.row("a wire rises within", vec![rise], Must::AtMost(parts.one("t_rise")));
    sheet.row(
        "years without any power that the cell lasts",
        one(lasts / year),
        Must::AtLeast(Quantity::number(5.0)),
    );
    sheet.row(
        "seconds that may be added to its bound in 30 days",
        one(Quantity::number(off(30.0))),
        Must::Told,
    );
    sheet.row("and in a year", one(Quantity::number(off(365.0))), Must::Told);
    sheet
}
