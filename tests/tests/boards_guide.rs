//! The boards guide against arithmetic: every computed table follows from the parts that it states, the drawing has the same parts,
//! the measured table is what is measured, and the cautions are all there.

use fastrand::Rng;
use halfglass_tests::edges::{aliasing, cases, measure::measure};
use halfglass_tests::pages::{Browser, Scheme};
use halfglass_tests::wiring::parts::{Parts, cells};
use halfglass_tests::wiring::sheet::Sheet;
use halfglass_tests::wiring::sheets;
use std::collections::BTreeMap;
use std::f64::consts::{PI, SQRT_2};
use std::path::Path;

fn read(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn guide() -> (String, Parts) {
    let guide = read("boards/README.md");
    let parts = Parts::read(&guide).unwrap_or_else(|error| panic!("boards/README.md: {error}"));
    (guide, parts)
}

/// `cargo run -p halfglass-tests --bin wiring` prints what the tables must be.
#[test]
fn figures_follow_from_the_parts() {
    let (guide, parts) = guide();
    let sheets = sheets(&parts);
    let misses: Vec<String> = sheets.iter().flat_map(Sheet::misses).collect();
    assert!(misses.is_empty(), "these parts do not do:\n{}", misses.join("\n"));
    for sheet in sheets {
        assert!(guide.contains(&sheet.text()), "the guide lacks, or has otherwise:\n{}", sheet.text());
    }
}

/// A worse part is noticed: the requirements are no decoration.
#[test]
fn parts_that_do_not_do_are_told() {
    let (guide, _) = guide();
    for (good, bad, row) in [
        ("| 3.3 kΩ, 0.6 W |", "| 5.6 kΩ, 0.6 W |", "wetting current"),
        ("| 3.9 kΩ, 0.6 W |", "| 6.8 kΩ, 0.6 W |", "through the LED"),
        ("| rail: across the LED | 680 Ω |", "| rail: across the LED | 1.5 kΩ |", "read as off"),
        ("| 2 × 39 kΩ, 2 W |", "| 2 × 15 kΩ, 2 W |", "heat of each"),
        ("| AC: filter | 1 nF |", "| AC: filter | 47 nF |", "the filter and the opto"),
        ("| contact: filter | 10 nF |", "| contact: filter | 100 nF |", "to the logger's input"),
        ("time-lag | 500 mA |", "time-lag | 250 mA |", "current"),
        ("| hold-up | 22,000 µF, 6.3 V |", "| hold-up | 10,000 µF, 6.3 V |", "of the time needed"),
        ("| 750 Ω, 0.6 W |", "| 390 Ω, 0.6 W |", "drawn from the talker"),
        ("| 750 Ω, 0.6 W |", "| 1.2 kΩ, 0.6 W |", "through the LED"),
        ("sets it | 200 ms |", "sets it | 150 ms |", "longest wait"),
        ("clock's wires | 4.7 kΩ |", "clock's wires | 1 kΩ |", "must take"),
        ("clock's wires | 4.7 kΩ |", "clock's wires | 22 kΩ |", "rises within"),
    ] {
        assert!(guide.contains(good), "{good}");
        let parts = Parts::read(&guide.replace(good, bad)).expect("readable");
        let misses: Vec<String> = sheets(&parts).iter().flat_map(Sheet::misses).collect();
        assert!(misses.iter().any(|miss| miss.contains(row)), "{bad} is let through: {misses:?}");
    }
}

/// A value anywhere between a design input's least and most, or within a part's tolerance.
struct Draw<'a> {
    parts: &'a Parts,
    random: Rng,
}

impl Draw<'_> {
    fn input(&mut self, sign: &str) -> f64 {
        let range = self.parts.range(sign);
        range.least.value + self.random.f64() * (range.most.value - range.least.value)
    }

    fn part(&mut self, sign: &str, tolerance: &str) -> f64 {
        let share = self.parts.one(tolerance).bare();
        self.parts.one(sign).value * (1.0 + share * (2.0 * self.random.f64() - 1.0))
    }
}

/// The cell of a row of the guide's computed tables, its figures in base units; a range has two.
fn stated(guide: &str, column: &str, row: &str) -> Vec<f64> {
    let mut at = None;
    for line in guide.lines() {
        let cells = cells(line);
        match cells.first() {
            None => at = None,
            Some(&"") => at = cells.iter().position(|cell| *cell == column),
            Some(name) if *name == row => {
                if let Some(cell) = at.and_then(|at| cells.get(at)) {
                    let (least, most) = cell.split_once(" to ").unwrap_or((cell, cell));
                    let unit = most.split_once(' ').map_or("", |(_, unit)| unit);
                    let least =
                        if least.contains(' ') { least.to_owned() } else { format!("{least} {unit}") };
                    let figure = |text: &str| {
                        text.trim().parse().map(|q: halfglass_tests::wiring::quantity::Quantity| q.value)
                    };
                    return [least.as_str(), most].map(|text| figure(text).expect("a figure")).to_vec();
                }
            }
            Some(_) => {}
        }
    }
    panic!("the guide states no '{row}' for '{column}'")
}

/// Three digits are printed.
const DIGITS: f64 = 0.006;

fn within(value: f64, stated: &[f64], told: &str) {
    let (least, most) = (stated[0] * (1.0 - DIGITS), stated[1] * (1.0 + DIGITS));
    assert!((least..=most).contains(&value), "{told}: {value} is not within {stated:?}");
}

/// Values drawn between all corners, the circuits reckoned anew by Kirchhoff's laws: nothing lies outside what is stated.
#[test]
fn no_draw_lies_outside_what_is_stated() {
    let (guide, parts) = guide();
    let mut draw = Draw { parts: &parts, random: Rng::with_seed(1) };
    for _ in 0..20_000 {
        for (column, supply, series, shunt) in [
            ("contact", "V_wet", "R11", "R12"),
            ("24 V DC", "V_24", "R21", "R22"),
            ("12 V DC", "V_12", "R21 at 12 V", "R22"),
        ] {
            let (volts, led) = (draw.input(supply), draw.input("V_led"));
            let line = (volts - led) / draw.part(series, "tol_R");
            within(line, &stated(&guide, column, "current through the line"), column);
            let lit = line - led / draw.part(shunt, "tol_R");
            within(lit, &stated(&guide, column, "through the LED"), column);
            let needs = (draw.input("V_logic") - draw.input("V_sat")) / draw.part("R13", "tol_R");
            let margin = lit * parts.one("CTR").bare() * parts.one("kept").bare() / needs;
            let least =
                stated(&guide, column, "times what the pull-up needs, at half the least transfer ratio")[0];
            assert!(margin >= least * (1.0 - DIGITS), "{column}: {margin} of {least}");
        }
    }
}

/// The same for a talker of either strength: as much as it must be heard at, and as much as must be lived with.
#[test]
fn no_talker_draws_more_than_is_stated() {
    let (guide, parts) = guide();
    let mut draw = Draw { parts: &parts, random: Rng::with_seed(3) };
    let column = "IEC 61162-1";
    for _ in 0..20_000 {
        let (led, series) = (draw.input("V_led"), draw.part("R51 on a pico", "tol_R"));
        let least = (parts.range("V_talk").least.value - led) / series;
        within(least, &stated(&guide, column, "drawn from the talker at its least"), column);
        let lit = (draw.input("V_talk") - led) / series;
        within(lit, &stated(&guide, column, "through the LED"), column);
        let needs = (draw.input("V_logic") - draw.input("V_sat")) / draw.part("R53 on a pico", "tol_R");
        let margin = lit * parts.one("ratio").bare() * parts.one("kept").bare() / needs;
        let stated =
            stated(&guide, column, "times what the pull-up needs, at half the least transfer ratio")[0];
        assert!(margin >= stated * (1.0 - DIGITS), "{margin} of {stated}");
    }
}

/// Half a cycle of alternating current in steps of a microsecond: the LED a fixed drop with its shunt beside it, the filter discharged by
/// what the output draws beyond the pull-up and charged by the pull-up. The pulse at the inverter is never shorter than the shortest
/// stated less what the filter is said to need.
#[test]
fn pulses_are_as_long_as_stated() {
    let (guide, parts) = guide();
    for (volts, hertz, series) in
        [("V_115", 400.0, "R41 at 115 V"), ("V_230", 50.0, "R41"), ("V_230", 60.0, "R41")]
    {
        let column = format!("{} V, {hertz} Hz", &volts[2..]);
        let shortest_s = stated(&guide, &column, "shortest pulse")[0];
        let times = stated(&guide, &column, "times what the filter and the opto need")[0];
        let needed_s = shortest_s / times;
        let mut draw = Draw { parts: &parts, random: Rng::with_seed(2) };
        let mut least_s = f64::MAX;
        for round in 0..300 {
            // The worst corner itself first.
            let worst = round == 0;
            let mut at = |sign: &str, low: bool| {
                let range = parts.range(sign);
                let end = if low { range.least } else { range.most };
                if worst { end.value } else { draw.input(sign) }
            };
            let (crest, led) = (at(volts, true) * SQRT_2, at("V_led", false));
            let (logic, on) = (at("V_logic", false), parts.one("V_sat").value);
            let share = parts.one("tol_R").bare();
            let mut near = |sign: &str, off: f64, tolerance: &str| {
                if worst { parts.one(sign).value * (1.0 + off) } else { draw.part(sign, tolerance) }
            };
            let both = 2.0 * near(series, share, "tol_R");
            let (shunt, pull_up) = (near("R42", -share, "tol_R"), near("R43", -share, "tol_R"));
            let farads = near("C41", parts.one("tol_C").bare(), "tol_C");
            let ratio = parts.one("CTR").bare() * parts.one("kept").bare();
            let hertz = hertz * (1.0 + parts.one("stray").bare());
            let (mut output, mut low_s, step_s) = (logic, 0.0, 1e-6);
            let mut t_s = 0.0;
            while t_s < 0.5 / hertz {
                let line = (crest * (2.0 * PI * hertz * t_s).sin() - led) / both;
                let lit = (line - led / shunt).max(0.0);
                let charge = (logic - output) / pull_up - lit * ratio;
                output = (output + charge / farads * step_s).clamp(on, logic);
                // Well below any lower threshold of the Schmitt trigger.
                if output <= on + 0.2 {
                    low_s += step_s;
                }
                t_s += step_s;
            }
            least_s = least_s.min(low_s);
        }
        println!(
            "{column}: {:.0} us, stated {:.0} us of which {:.0} us go",
            least_s * 1e6,
            shortest_s * 1e6,
            needed_s * 1e6
        );
        assert!(
            least_s >= shortest_s - needed_s,
            "{column}: {least_s} s of {shortest_s} s less {needed_s} s"
        );
    }
}

/// C = I t / dV, by letting a worn capacitor of the stated value run down in steps of ten microseconds.
#[test]
fn the_hold_up_capacitor_lasts() {
    let (guide, parts) = guide();
    let left = (1.0 - parts.one("tol_E").bare()) * parts.one("kept_E").bare();
    for (column, capacitor, current, time) in [
        ("chip that watches its own 3.3 V", "C2 on a microbit", "I_own", "t_own"),
        ("power-fail input on 5 V", "C2", "I_5 while failing", "t_5"),
    ] {
        let window = stated(&guide, column, "from warning to stop, dV")[0];
        let (mut fallen, mut lasted_s) = (0.0, 0.0);
        while fallen < window {
            fallen += parts.one(current).value / (parts.one(capacitor).value * left) * 1e-5;
            lasted_s += 1e-5;
        }
        within(lasted_s, &stated(&guide, column, "what the stated capacitor lasts at that end"), column);
        assert!(lasted_s > parts.one(time).value, "{column}");
    }
}

/// The same parts with the same values in the drawing, and none that the guide does not state.
#[test]
fn the_drawing_has_the_guides_parts() {
    let (_, parts) = guide();
    let drawing = read("boards/schematic.svg");
    let mut drawn = BTreeMap::new();
    for piece in drawing.split("data-part=\"").skip(1) {
        let (sign, rest) = piece.split_once('"').expect("a closed attribute");
        let value = rest.split_once('>').and_then(|(_, text)| text.split_once('<')).expect("a closed text").0;
        assert_eq!(drawn.insert(sign, value), None, "{sign} is drawn twice");
    }
    for (sign, value) in &drawn {
        let stated = parts.texts().get(*sign).unwrap_or_else(|| panic!("the guide has no {sign}"));
        let short = stated.split(", ").next().unwrap_or(stated);
        assert!(
            value == stated || *value == short,
            "{sign} is {value} in the drawing, {stated} in the guide"
        );
    }
    let stated: Vec<&str> = parts.texts().keys().map(String::as_str).collect();
    for sign in &stated {
        // What another voltage or another board takes instead is not drawn beside it.
        let variant = sign.contains(" at ") || sign.contains(" on ");
        assert!(variant || drawing.contains(&format!(">{sign}</text>")), "{sign} is not drawn");
        let valued = sign.starts_with(['R', 'C', 'F']) && !variant;
        assert!(!valued || drawn.contains_key(sign), "{sign} is drawn without its value");
    }
    for sign in
        drawing.split("class=\"part").skip(1).filter_map(|piece| piece.split_once('>')?.1.split_once('<'))
    {
        assert!(stated.contains(&sign.0.trim()), "{} is drawn and not in the guide", sign.0);
    }
    assert!(drawing.contains("<title ") && drawing.contains("<desc "), "text alternatives");
}

/// By day, by night and on paper: no two texts overlap, none leaves the drawing, and each stands out from its ground by 4.5 to 1
/// (WCAG 2.2, success criterion 1.4.3).
#[test]
fn the_drawing_is_legible() {
    const COMPLAINTS: &str = r#"(() => {
        const svg = document.documentElement, found = [];
        const light = (colour) => {
            const [r, g, b] = colour.match(/[0-9.]+/g).map((part) => part / 255)
                .map((part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4);
            return 0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05;
        };
        const ground = light(getComputedStyle(document.querySelector('rect.ground')).fill);
        const texts = [...document.querySelectorAll('text')].map((text) => [text.textContent, text.getBBox(), text]);
        if (texts.length < 50) found.push(`only ${texts.length} texts`);
        const view = svg.viewBox.baseVal;
        texts.forEach(([name, box, text], at) => {
            const own = light(getComputedStyle(text).fill);
            const ratio = Math.max(own, ground) / Math.min(own, ground);
            if (ratio < 4.5) found.push(`${name}: contrast ${ratio}`);
            if (box.x < 0 || box.y < 0 || box.x + box.width > view.width || box.y + box.height > view.height)
                found.push(`${name}: outside`);
            for (const [other, its] of texts.slice(at + 1))
                if (box.x < its.x + its.width && its.x < box.x + box.width
                    && box.y + 3 < its.y + its.height && its.y + 3 < box.y + box.height)
                    found.push(`${name} overlaps ${other}`);
        });
        return found;
    })()"#;
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../boards/schematic.svg");
    let file = file.canonicalize().expect("the drawing");
    let mut browser = Browser::start();
    for (scheme, media) in [(Scheme::Light, "screen"), (Scheme::Dark, "screen"), (Scheme::Dark, "print")] {
        let mut page = browser.open(&file, scheme, 1_500);
        page.media(media, scheme);
        assert_eq!(page.eval(COMPLAINTS), serde_json::json!([]), "{scheme:?}, {media}");
    }
}

/// `cargo run --release -p halfglass-tests --bin edges` prints these tables.
#[test]
fn edges_are_as_measured() {
    let (guide, _) = guide();
    let mut table = vec![cases::head()];
    table.extend(cases::cases(500).iter().map(|case| cases::row(case, &measure(case, 1))));
    let table = table.join("\n");
    assert!(guide.contains(&table), "measured now:\n{table}");
    assert!(guide.contains(&aliasing::table()), "measured now:\n{}", aliasing::table());
}

fn plain(text: &str) -> String {
    text.replace("**", "").replace('*', "").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What the README says before wiring and before going aloft, the guide says too, ahead of everything else.
#[test]
fn the_cautions_come_first() {
    let (guide, _) = guide();
    let readme = read("README.md");
    let (before, _) = guide.split_once("## Which lines").expect("what follows the cautions");
    let before = plain(before);
    let (_, aloft) = readme.split_once("## Before anyone goes aloft").expect("the README's cautions");
    let (aloft, _) = aloft.split_once("\n## ").expect("their end");
    for sentence in plain(aloft).split(". ").skip(2) {
        let told = sentence.trim_end_matches('.').to_lowercase();
        assert!(before.to_lowercase().contains(&told), "not among the guide's cautions: {sentence}");
    }
    for needed in [
        "leave of the maker, the class society or the flag",
        "Never inside a high-voltage compartment",
        "Spare or auxiliary contacts by preference",
        "fused at the tap",
        "Reinforced isolation from the radar and from USB",
        "never proof of isolation",
        "it does not authorise",
    ] {
        assert!(before.contains(needed), "not among the guide's cautions: {needed}");
    }
}

/// The inputs of the boards as their code has them.
#[test]
fn the_pins_are_the_codes() {
    let (guide, _) = guide();
    for (code, name) in [
        ("boards/nrf/src/microbit.rs", "GPIO"),
        ("boards/nrf/src/nrf52840.rs", "GPIO, port 0"),
        ("boards/pico/src/inputs.rs", "GPIO"),
    ] {
        let code = read(code);
        let pins = code
            .split_once("PINS: [u8; 8] = [")
            .and_then(|(_, rest)| rest.split_once(']'))
            .expect("the pins")
            .0;
        let button = code.split_once("BUTTON: usize = ").and_then(|(_, rest)| rest.split_once(';'));
        let button = button.expect("the button").0;
        let row = format!("| {name} | {} | {button}, low while held |", pins.replace(", ", " | "));
        assert!(guide.contains(&row), "{row}");
    }
    // And the clock chip's on the pico.
    let code = read("boards/pico/src/i2c.rs");
    let pin = |name: &str| {
        let pin =
            code.split_once(&format!("const {name}: usize = ")).and_then(|(_, rest)| rest.split_once(';'));
        pin.expect("the pin").0.to_owned()
    };
    let row = format!("| to | GPIO {} | GPIO {} |", pin("SDA"), pin("SCL"));
    assert!(guide.contains(&row), "{row}");
}
