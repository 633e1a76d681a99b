//! The feed: what it takes, and how long it lasts when it goes.

use super::parts::Parts;
use super::quantity::{Quantity, Range, corners};
use super::sheet::{Must, Sheet};

/// Current, fuse and converters.
pub(super) fn current(parts: &Parts) -> Sheet {
    let wet =
        corners([parts.range("V_wet"), parts.range("V_led"), parts.resistor("R11")], |[wet, led, series]| {
            (wet - led) / series * wet
        });
    let wetting = wet.most.times(parts.one("lines").bare());
    let logger = parts.range("V_5").most * parts.one("I_5");
    let efficiency = parts.one("efficiency").bare();
    let rail = logger + wetting.times(1.0 / efficiency);
    let taken = rail.times(1.0 / efficiency);
    let feed = parts.range("V_feed");
    let amperes = corners([feed, parts.range("V_D1")], |[feed, drop]| taken / (feed - drop));
    let mut sheet = Sheet::new(["feed"]);
    let one = |quantity| vec![Range::exactly(quantity)];
    sheet.row(
        "wetting of every line, all contacts closed",
        one(wetting),
        Must::AtMost(parts.one("U2").times(0.8)),
    );
    sheet.row("5 V, with the wetting converter", one(rail), Must::AtMost(parts.one("U1").times(0.8)));
    sheet.row("taken from the feed", one(taken), Must::Told);
    sheet.row("current", vec![amperes], Must::AtMost(parts.one("F1").times(0.6)));
    sheet.row(
        "feed at its highest, of what the TVS lets stand",
        one(feed.most / parts.one("D2")),
        Must::AtMost(Quantity::number(1.0)),
    );
    sheet.row(
        "charging the hold-up capacitor, at first",
        one(parts.range("V_5").most / parts.one("R1")),
        Must::Told,
    );
    sheet
}

/// C = I t / dV, twice.
pub(super) fn hold_up(parts: &Parts) -> Sheet {
    let left = (1.0 - parts.one("tol_E").bare()) * parts.one("kept_E").bare();
    let detector = Range::within(parts.one("U5"), parts.one("tol_U").bare());
    let supervisor = Range::within(parts.one("U4"), parts.one("tol_U").bare());
    // Warning at the least, stop at the most; current, time, what was bought.
    let own = parts.range("warn_own").least - parts.one("stop_own");
    // Behind two diodes at the warning, ahead of a regulator at the stop.
    let diodes = parts.range("V_D").most.times(2.0);
    let five = detector.least - diodes - (supervisor.most + parts.one("V_drop"));
    let all = [(own, "I_own", "t_own", "C2 on a microbit"), (five, "I_5 while failing", "t_5", "C2")];
    type Of = (Quantity, &'static str, &'static str, &'static str);
    let window = |of: &Of| Range::exactly(of.0);
    let ideal = |of: &Of| Range::exactly(parts.one(of.1) * parts.one(of.2) / of.0);
    let buy = |of: &Of| Range::exactly(ideal(of).most.times(1.0 / left));
    let lasts = |of: &Of| Range::exactly(parts.one(of.3).times(left) * of.0 / parts.one(of.1));
    let times = |of: &Of| Range::exactly(lasts(of).least / parts.one(of.2));
    let row = |figure: &dyn Fn(&Of) -> Range| all.iter().map(figure).collect::<Vec<_>>();
    let mut sheet = Sheet::new(["chip that watches its own 3.3 V", "power-fail input on 5 V"]);
    sheet.row("from warning to stop, dV", row(&window), Must::Told);
    sheet.row("C = I t / dV", row(&ideal), Must::Told);
    sheet.row("to buy: with its tolerance, at the end of its life", row(&buy), Must::Told);
    sheet.row("what the stated capacitor lasts at that end", row(&lasts), Must::Told);
    sheet.row("of the time needed", row(&times), Must::AtLeast(Quantity::number(1.1)));
    sheet
}
