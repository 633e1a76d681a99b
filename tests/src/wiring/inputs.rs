//! Inputs on direct current: the wetted contact and the opto on a rail, and the filter that all inputs share.

use super::parts::Parts;
use super::quantity::{Quantity, Range, corners};
use super::sheet::{Must, Sheet};

/// Margin beyond the worst of every value.
pub(super) const MARGIN: f64 = 1.2;

/// What the pull-up needs to be pulled down.
pub(super) fn pull_up_needs(parts: &Parts, pull_up: &str) -> Range {
    let given = [parts.range("V_logic"), parts.range("V_sat"), parts.resistor(pull_up)];
    corners(given, |[logic, on, pull_up]| (logic - on) / pull_up)
}

/// The transfer ratio that is counted on: the least when new, as little of it as may be left.
pub(super) fn transfer(parts: &Parts) -> f64 {
    parts.one("CTR").bare() * parts.one("kept").bare()
}

struct Steady {
    name: &'static str,
    /// The voltage at which it must be on, and the most that it lives with for ever.
    works: Range,
    /// Series resistor, shunt, pull-up.
    signs: [&'static str; 3],
}

/// The contact and the two rails.
pub(super) fn steady(parts: &Parts) -> Sheet {
    let all = [
        Steady { name: "contact", works: parts.range("V_wet"), signs: ["R11", "R12", "R13"] },
        Steady { name: "24 V DC", works: parts.range("V_24"), signs: ["R21", "R22", "R23"] },
        Steady { name: "12 V DC", works: parts.range("V_12"), signs: ["R21 at 12 V", "R22", "R23"] },
    ];
    let led = parts.range("V_led");
    let series = |one: &Steady| parts.resistor(one.signs[0]);
    let shunt = |one: &Steady| parts.resistor(one.signs[1]);
    let line =
        |one: &Steady| corners([one.works, led, series(one)], |[from, led, series]| (from - led) / series);
    let lit = |one: &Steady| {
        corners([one.works, led, series(one), shunt(one)], |[from, led, series, shunt]| {
            (from - led) / series - led / shunt
        })
    };
    let margin = |one: &Steady| {
        let needs = pull_up_needs(parts, one.signs[2]);
        Range::exactly(lit(one).least.times(transfer(parts)) / needs.most)
    };
    // Of a rail, the most that it lives with; a resistor's heat is greatest at its least resistance.
    let heat = |one: &Steady| {
        let most = corners([led, series(one)], |[led, series]| {
            (one.works.most - led) * (one.works.most - led) / series
        });
        Range::exactly(most.most / parts.rating(one.signs[0]))
    };
    let row = |figure: &dyn Fn(&Steady) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet = Sheet::new(all.iter().map(|one| one.name));
    sheet.row("current through the line", row(&line), Must::Told);
    sheet.row("through the LED", row(&lit), Must::Within(parts.one("I_CTR"), parts.one("I_led")));
    sheet.row(
        "times what the pull-up needs, at half the least transfer ratio",
        row(&margin),
        Must::AtLeast(Quantity::number(MARGIN)),
    );
    sheet.row("series resistor's heat, of its rating", row(&heat), Must::AtMost(Quantity::number(0.6)));
    sheet
}

/// What only the contact asks, and how its wires may be.
pub(super) fn wetting(parts: &Parts) -> Sheet {
    let mut sheet = Sheet::new(["contact"]);
    let (wet, led, series) = (parts.range("V_wet"), parts.range("V_led"), parts.resistor("R11"));
    let least = parts.one("I_wet");
    let current = corners([wet, led, series], |[wet, led, series]| (wet - led) / series);
    sheet.row("wetting current", vec![current], Must::AtLeast(least));
    let loops = corners([wet, led, series], |[wet, led, series]| (wet - led) / least - series);
    sheet.row("wires and contact together", vec![Range::exactly(loops.least)], Must::Told);
    let leak =
        corners([wet, parts.range("V_dark"), series, parts.resistor("R12")], |[wet, dark, series, shunt]| {
            (wet - dark) / (dark / shunt) - series
        });
    sheet.row("an open contact's wires may leak, down to", vec![Range::exactly(leak.most)], Must::Told);
    sheet
}

/// What a rail may still carry and read as off.
pub(super) fn rails(parts: &Parts) -> Sheet {
    let all = [("R21", "off_24"), ("R21 at 12 V", "off_12")];
    let off = |(series, _): &(&str, &str)| {
        let given = [parts.range("V_dark"), parts.resistor(series), parts.resistor("R22")];
        Range::exactly(corners(given, |[dark, series, shunt]| dark + dark / shunt * series).least)
    };
    let times = |one: &(&str, &str)| Range::exactly(off(one).least / parts.one(one.1));
    let leak = corners([parts.range("V_dark"), parts.resistor("R22")], |[dark, shunt]| dark / shunt).least;
    let row = |figure: &dyn Fn(&(&str, &str)) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet = Sheet::new(["24 V DC", "12 V DC"]);
    sheet.row("no light below", row(&off), Must::Told);
    sheet.row("times what must read as off", row(&times), Must::AtLeast(Quantity::number(1.0)));
    sheet.row("current that may leak in", row(&|_| Range::exactly(leak)), Must::Told);
    sheet
}

/// How late a filter lets an edge through, against what the firmware waits anyway.
pub(super) fn filters(parts: &Parts) -> Sheet {
    let names = ["contact", "DC", "AC"];
    let signs = [("R13", "C11"), ("R23", "C21"), ("R43", "C41")];
    let mut sheet = Sheet::new(names);
    let tau = |(pull_up, capacitor): &(&str, &str)| {
        corners([parts.resistor(pull_up), parts.capacitor(capacitor)], |[ohms, farads]| ohms * farads)
    };
    let late = |one: &(&str, &str)| {
        let tau = tau(one);
        let rise = -(1.0 - parts.one("V_up").bare()).ln();
        Range { least: tau.least.times(rise), most: tau.most.times(rise) + parts.one("t_off") }
    };
    // The dark current may not hold the output below the threshold.
    let high = |(pull_up, _): &(&str, &str)| {
        let given = [parts.range("V_logic"), parts.resistor(pull_up)];
        let drawn = parts.one("I_dark") + parts.one("I_in");
        let share = corners(given, |[logic, pull_up]| (logic - drawn * pull_up) / logic);
        Range::exactly(share.least)
    };
    let row = |figure: &dyn Fn(&(&str, &str)) -> Range| signs.iter().map(figure).collect::<Vec<_>>();
    sheet.row("time constant", row(&tau), Must::Told);
    sheet.row("end of light to the logger's input", row(&late), Must::AtMost(parts.one("t_clock")));
    sheet.row("output in the dark and hot, of its supply", row(&high), Must::AtLeast(parts.one("V_up")));
    sheet
}
