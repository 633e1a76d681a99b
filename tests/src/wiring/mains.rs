//! Inputs on alternating current: an opto behind resistors that lights in one half of each cycle.

use super::inputs::{MARGIN, pull_up_needs, transfer};
use super::parts::Parts;
use super::quantity::{Quantity, Range, corners};
use super::sheet::{Must, Sheet};
use std::f64::consts::{PI, SQRT_2};

struct Mains {
    name: &'static str,
    /// Root mean square, from the least to the most.
    volts: Range,
    /// One of the two resistors in series.
    series: &'static str,
    shunt: &'static str,
}

fn mains(parts: &Parts) -> [Mains; 2] {
    [
        Mains { name: "115 V", volts: parts.range("V_115"), series: "R41 at 115 V", shunt: "R42" },
        Mains { name: "230 V", volts: parts.range("V_230"), series: "R41", shunt: "R42" },
    ]
}

impl Mains {
    /// Both resistors together.
    fn both(&self, parts: &Parts) -> Range {
        let one = parts.resistor(self.series);
        Range { least: one.least.times(2.0), most: one.most.times(2.0) }
    }

    /// The LED's current at the crest.
    fn crest(&self, parts: &Parts) -> Range {
        let given = [self.volts, self.both(parts), parts.range("V_led"), parts.resistor(self.shunt)];
        corners(given, |[volts, series, led, shunt]| (volts.times(SQRT_2) - led) / series - led / shunt)
    }

    /// The voltage at an instant above which the LED may give light.
    fn dark_below(&self, parts: &Parts) -> Quantity {
        let given = [parts.range("V_dark"), self.both(parts), parts.resistor(self.shunt)];
        corners(given, |[dark, series, shunt]| dark + dark / shunt * series).least
    }

    /// The voltage at an instant from which on the output is sure to be pulled down.
    fn lit_above(&self, parts: &Parts) -> Quantity {
        let needs = pull_up_needs(parts, "R43").most.times(1.0 / transfer(parts));
        let given = [parts.range("V_led"), self.both(parts), parts.resistor(self.shunt)];
        corners(given, |[led, series, shunt]| led + (needs + led / shunt) * series).most
    }
}

/// Currents, heat, and what an unpowered wire may pick up.
pub(super) fn load(parts: &Parts) -> Sheet {
    let all = mains(parts);
    let squared =
        |one: &Mains, series: Range| corners([one.volts, series], |[volts, series]| volts * volts / series);
    let current = |one: &Mains| corners([one.volts, one.both(parts)], |[volts, series]| volts / series);
    let margin = |one: &Mains| {
        Range::exactly(one.crest(parts).least.times(transfer(parts)) / pull_up_needs(parts, "R43").most)
    };
    let each = |one: &Mains| {
        Range::exactly(squared(one, one.both(parts)).most.times(0.5) / parts.rating(one.series))
    };
    let alone = |one: &Mains| {
        Range::exactly(squared(one, parts.resistor(one.series)).most / parts.rating(one.series))
    };
    // With the other shorted one resistor bears the whole crest.
    let bears = |one: &Mains| Range::exactly(one.volts.most.times(SQRT_2) / parts.one("V_R"));
    let short = |one: &Mains| {
        let given = [one.volts, parts.resistor(one.series), parts.range("V_led")];
        corners(given, |[volts, series, led]| (volts.times(SQRT_2) - led) / series)
    };
    let surge =
        |one: &Mains| corners([parts.range("V_surge"), one.both(parts)], |[volts, series]| volts / series);
    let off = |one: &Mains| Range::exactly(one.dark_below(parts).times(1.0 / SQRT_2));
    let row = |figure: &dyn Fn(&Mains) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet = Sheet::new(all.iter().map(|one| one.name));
    sheet.row("current from the circuit, RMS", row(&current), Must::Told);
    let lit = row(&|one| one.crest(parts));
    sheet.row("through the LED at the crest", lit, Must::Within(parts.one("I_CTR"), parts.one("I_led")));
    sheet.row(
        "times what the pull-up needs at the crest, at half the least transfer ratio",
        row(&margin),
        Must::AtLeast(Quantity::number(MARGIN)),
    );
    sheet.row("heat of each resistor, of its rating", row(&each), Must::AtMost(Quantity::number(0.5)));
    sheet.row("of one while the other is shorted", row(&alone), Must::AtMost(Quantity::number(1.0)));
    sheet.row("crest on that one, of its rating", row(&bears), Must::AtMost(Quantity::number(1.0)));
    sheet.row("LED at the crest while one is shorted", row(&short), Must::AtMost(parts.one("I_led")));
    sheet.row("no pulses below, RMS", row(&off), Must::Told);
    sheet.row("through the LED in such a surge", row(&surge), Must::AtMost(parts.one("I_surge")));
    sheet
}

/// Pulses at each frequency: long enough to be seen, far enough apart to end.
pub(super) fn pulses(parts: &Parts) -> Sheet {
    let [low, high] = mains(parts);
    let all = [(&low, "f_50"), (&low, "f_60"), (&low, "f_400"), (&high, "f_50"), (&high, "f_60")];
    let stray = parts.one("stray").bare();
    let hertz = |sign: &str| Range::within(parts.one(sign), stray);
    let radians = |hertz: Quantity| hertz.times(2.0 * PI);
    let shortest = |(one, sign): &(&Mains, &str)| {
        let from = (one.lit_above(parts) / one.volts.least.times(SQRT_2)).bare();
        let width = Quantity::number(PI - 2.0 * from.asin());
        Range::exactly(width / radians(hertz(sign).most))
    };
    // Discharging the filter with what current is left over at the crest.
    let needed = |(one, _): &(&Mains, &str)| {
        let left = one.crest(parts).least.times(transfer(parts)) - pull_up_needs(parts, "R43").most;
        Range::exactly(parts.capacitor("C41").most * parts.range("V_logic").most / left + parts.one("t_on"))
    };
    let times = |one: &(&Mains, &str)| Range::exactly(shortest(one).least / needed(one).most);
    let rest = |(_, sign): &(&Mains, &str)| Range::exactly(Quantity::number(0.5) / hertz(sign).most);
    let comes_back = {
        let tau =
            corners([parts.resistor("R43"), parts.capacitor("C41")], |[ohms, farads]| ohms * farads).most;
        tau.times(-(1.0 - parts.one("V_up").bare()).ln()) + parts.one("t_off")
    };
    let rests = |one: &(&Mains, &str)| Range::exactly(rest(one).least / comes_back);
    // Were both halves lit: from one pulse's end to the next one's beginning.
    let both_halves = |(one, sign): &(&Mains, &str)| {
        let from = (one.dark_below(parts) / one.volts.most.times(SQRT_2)).bare();
        Range::exactly(Quantity::number(2.0 * from.asin()) / radians(hertz(sign).most) / comes_back)
    };
    let waits = |(_, sign): &(&Mains, &str)| {
        let period = Quantity::number(1.0) / hertz(sign).least;
        Range::exactly(period + parts.one("t_look") + parts.range("t_stand").most)
    };
    // The unpowered wire beside a live one: so many metres of it pass what the shunt takes in the dark.
    let wire = |(one, sign): &(&Mains, &str)| {
        let passes = one.dark_below(parts) / one.both(parts).least;
        let by_metre = one.volts.most.times(SQRT_2) * radians(hertz(sign).most) * parts.one("C_wire");
        Range::exactly(passes / by_metre)
    };
    let row = |figure: &dyn Fn(&(&Mains, &str)) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet =
        Sheet::new(all.iter().map(|(one, sign)| format!("{}, {:.0} Hz", one.name, parts.one(sign).value)));
    sheet.row("shortest pulse", row(&shortest), Must::Told);
    sheet.row("times what the filter and the opto need", row(&times), Must::AtLeast(Quantity::number(2.0)));
    sheet.row("dark half of the cycle", row(&rest), Must::Told);
    sheet.row(
        "times what the output takes to come back",
        row(&rests),
        Must::AtLeast(Quantity::number(MARGIN)),
    );
    sheet.row("the same if both halves lit the LED", row(&both_halves), Must::Told);
    sheet.row("longest wait for a pulse to be seen", row(&waits), Must::AtMost(parts.one("t_hold")));
    sheet.row("metres of unpowered wire beside a live one", row(&wire), Must::Told);
    sheet
}

/// A capacitor instead of the resistors: what it would pass.
pub(super) fn capacitor(parts: &Parts) -> Sheet {
    let [low, high] = mains(parts);
    let all = [(&high, "f_50"), (&high, "f_60"), (&low, "f_400")];
    let farads = parts.one("C_drop");
    let current = |(one, sign): &(&Mains, &str)| {
        Range::exactly(one.volts.most * parts.one(sign).times(2.0 * PI) * farads)
    };
    let fifth = |(one, sign): &(&Mains, &str)| {
        let tenth = one.volts.most.times(0.1);
        Range::exactly(tenth * parts.one(sign).times(5.0 * 2.0 * PI) * farads)
    };
    let inrush =
        |(one, _): &(&Mains, &str)| Range::exactly(one.volts.most.times(SQRT_2) / parts.one("R_drop"));
    let row = |figure: &dyn Fn(&(&Mains, &str)) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet =
        Sheet::new(all.iter().map(|(one, sign)| format!("{}, {:.0} Hz", one.name, parts.one(sign).value)));
    sheet.row("current, RMS", row(&current), Must::Told);
    sheet.row("more for a fifth harmonic of 10 %", row(&fifth), Must::Told);
    sheet.row("switched on at the crest", row(&inrush), Must::Told);
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The reactance of 100 nF at 50 Hz is 31.83 kΩ (any table of reactances).
    #[test]
    fn a_capacitor_passes_what_its_reactance_lets_through() {
        let volts: Quantity = "100 V".parse().expect("a figure");
        let hertz: Quantity = "50 Hz".parse().expect("a figure");
        let farads: Quantity = "100 nF".parse().expect("a figure");
        let ohms = volts / (volts * hertz.times(2.0 * PI) * farads);
        assert_eq!(ohms.to_string(), "31.8 kΩ");
    }
}
