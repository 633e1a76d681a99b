//! The steps of a renewal, in working order. The cautions are those of the design's section on safety, every one; what is
//! beyond them is common practice, no source, and gives way to the set's manual.

use halfglass_protocol::config::Role;

/// What is renewed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// What ages by transmitting.
    Magnetron,
    /// What ages by turning.
    Motor,
    /// Anything else.
    Other,
}

/// What is to be done.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task {
    pub(super) kind: Kind,
    /// Someone must go to the scanner.
    pub(super) aloft: bool,
    /// Whose hours the radar's counter counts.
    pub(super) role: Role,
    /// The set's warm-up as entered in ship.toml.
    pub(super) warm_up_s: Option<u16>,
}

/// Steps under one heading.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Section {
    pub(super) title: &'static str,
    /// A warning that stands before its steps.
    pub(super) caution: Option<String>,
    pub(super) steps: Vec<Step>,
}

/// One thing to do and to tick off.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Step {
    pub(super) text: String,
    /// What is to be written down beside it.
    pub(super) blanks: Vec<&'static str>,
}

/// For what may lie beside one.
const NEAR_A_MAGNETRON: &str = "If there is a magnetron near: it is a strong magnet, keep watches, steel tools, pacemakers and \
                                compasses away. Some hold beryllium oxide: never break the ceramic.";

fn step(text: &str, blanks: &[&'static str]) -> Step {
    Step { text: text.to_owned(), blanks: blanks.to_vec() }
}

fn steps(texts: &[&str]) -> Vec<Step> {
    texts.iter().map(|text| step(text, &[])).collect()
}

/// All of it.
pub(super) fn sections(task: &Task) -> Vec<Section> {
    let mut all = vec![ready(task), permits(task), before(task), isolate(task)];
    all.extend(climb(task));
    all.push(high_voltage(task));
    all.push(renewal(task));
    all.push(cover(task));
    all.push(restoring());
    all.push(restore());
    all.push(prove(task));
    all.push(record(task));
    all
}

fn section(title: &'static str, caution: Option<&str>, steps: Vec<Step>) -> Section {
    Section { title, caution: caution.map(str::to_owned), steps }
}

fn ready(task: &Task) -> Section {
    let mut all = vec![
        step("The set's own manual is at hand, the right one for this set.", &["Manual and pages"]),
        step(
            "The spare is the type that the manual names; label and serial read and compared.",
            &["Type", "Serial"],
        ),
        step("Its packing is whole, nothing rattles, no crack, no corrosion.", &[]),
    ];
    match task.kind {
        Kind::Magnetron => all.extend([
            step(
                "Tools that do not attract: the tube is a strong magnet. Keep it as far from steel and from other magnets as \
                 its packing does until it is put in.",
                &[],
            ),
            step("A new gasket or seal for the waveguide, if the manual asks for one.", &["Part number"]),
        ]),
        Kind::Motor => all.extend([
            step("The new motor turns freely by hand; lubricant as the manual says.", &["Lubricant"]),
            step("A way to lift and lower its weight without anyone under it.", &["Weight, kg"]),
        ]),
        Kind::Other => {}
    }
    all.extend([
        step("A voltage tester fit for the voltages inside, with a source to prove it on.", &["Rated for"]),
        step("The approved discharge stick, its lead and clamp whole.", &[]),
        step("Torque spanner; cover gasket and sealant as the manual says.", &["Gasket"]),
        step("All tools counted and written down.", &["Tools out"]),
    ]);
    section("Have ready", None, all)
}

fn permits(task: &Task) -> Section {
    let mut all = vec![
        step("Permit for electrical isolation.", &["No."]),
        step("A second person, who knows how to cut the power and what to do after a shock.", &["Name"]),
    ];
    if task.aloft {
        all.extend([
            step("Permit to work aloft.", &["No."]),
            step("Harness, tool lanyards and rescue plan looked over and agreed.", &[]),
            step("Weather limit agreed; the wind now is below it.", &["Limit, kn", "Now, kn"]),
        ]);
    }
    all.push(step(
        "Leave of the terminal or port, if it asks for one; everyone concerned has been talked to.",
        &["From"],
    ));
    section("Permits", None, all)
}

fn before(task: &Task) -> Section {
    let mut all = vec![step(
        "While the set still runs: copy its hour counters, to the last digit.",
        &["Transmit, h", "Standby, h", "Motor, h"],
    )];
    if task.kind == Kind::Magnetron {
        all.push(step(
            "Tube current at the longest pulse, and the performance monitor's figure, with range and pulse.",
            &["Current", "Monitor", "At"],
        ));
    }
    all.push(step(
        "Settings that could be lost are copied (tuning, timing, heading alignment, sectors).",
        &[],
    ));
    section("Before switching off", None, all)
}

fn isolate(task: &Task) -> Section {
    let mut all = steps(&[
        "Tell the bridge and the terminal. The other means of looking out are agreed.",
        "Set to standby.",
    ]);
    all.extend([
        step(
            "Isolate EVERY supply at the distribution board: scanner motor, transceiver, standby feed.",
            &["Breakers"],
        ),
        step("Lock and tag each of them, and BOTH displays.", &["Lock and tag nos."]),
    ]);
    let reach = if task.aloft {
        "Silence and lock out the other radar, and any aerial whose field reaches the worker."
    } else {
        "If anyone can come into a beam during this work: silence and lock out the other radar, and any aerial whose field \
         reaches the worker."
    };
    all.push(step(reach, &["Which"]));
    let caution =
        "Halfglass's isolated line is never proof of isolation. Only a lock, a tag and a tester are.";
    section("Isolate", Some(caution), all)
}

fn climb(task: &Task) -> Option<Section> {
    let all = vec![
        step(
            "Permits in hand, second person there, harness on, tools on lanyards, rescue plan ready, wind below its limit.",
            &[],
        ),
        step("Open the scanner's own safety switch.", &[]),
        step("Secure the antenna against the wind before reaching past it.", &[]),
    ];
    let caution = "Nobody climbs before every box above is ticked.";
    task.aloft.then(|| section("Going aloft", Some(caution), all))
}

fn high_voltage(task: &Task) -> Section {
    let mut all = vec![
        step("Wait the time that the set's manual states.", &["Manual says, min", "Off at", "Opened at"]),
        step("Prove the tester.", &[]),
        step("Prove dead: every terminal that can be live, against earth and against each other.", &["By"]),
        step("Prove the tester again.", &[]),
        step("Discharge with the approved stick, and leave it on where the manual says so.", &[]),
    ];
    if task.kind == Kind::Magnetron {
        all.push(step("Let the tube cool.", &[]));
    }
    section("Make safe at the unit", Some("High voltage stays after switch-off."), all)
}

fn renewal(task: &Task) -> Section {
    let torque = &["Manual says, Nm"];
    match task.kind {
        Kind::Magnetron => {
            let caution = "The magnetron is a strong magnet: keep watches, steel tools, pacemakers and compasses away. Some hold \
                           beryllium oxide: never break the ceramic; dispose of it as the maker states.";
            let mut all = steps(&[
                "Photograph or sketch how the leads run and how far they stay from metal.",
                "Take the heater and high-voltage leads off by their ends, not by their wires; mark them.",
                "Undo the fixings evenly, a little each, the tube held; draw it straight out. Steel pulls at it.",
                "Close the open waveguide at once against dirt and lost screws.",
                "Pack and label the old tube: serial, last hours, why it came out. It stays a strong magnet.",
                "Mating faces clean and whole, new gasket in, the new tube straight in without a knock.",
            ]);
            all.push(step("Tighten evenly and crosswise.", torque));
            all.extend(steps(&[
                "Leads back as photographed: same run, same distance from metal, no strain, no pinch.",
                "The second person has looked at every joint.",
            ]));
            section("Renew: the magnetron", Some(caution), all)
        }
        Kind::Motor => {
            let caution = "The antenna can turn in the wind and drive the gearbox: it stays secured until the work is closed.";
            let mut all = steps(&[
                "Mark the leads and their terminals, photograph them: two exchanged, and it turns the other way.",
                "Take the weight of the motor before its last fixing is undone.",
                "Look at coupling or belt, gearbox, seals, bearings and oil while it is open.",
                "Pack and label the old motor: serial, last hours, why it came out.",
                "Mating faces clean, coupling aligned, lubricant as the manual says.",
            ]);
            all.push(step("Tighten evenly and crosswise.", torque));
            all.extend(steps(&[
                "Leads back as marked, glands tight, no lead near what turns.",
                "Turned by hand through a whole turn, it runs freely. Then secure the antenna again.",
            ]));
            section("Renew: the motor", Some(caution), all)
        }
        Kind::Other => {
            let mut all = steps(&[
                "Photograph or sketch how it is fixed and wired; mark the leads.",
                "Take it out as the manual says. Pack and label it: serial, last hours, why it came out.",
                "Put the new one in as the manual says.",
            ]);
            all.push(step("Fixings tight.", torque));
            all.extend(steps(&[
                "Leads back as photographed.",
                "The second person has looked at every joint.",
            ]));
            let tube = task.role == Role::Transmit;
            section("Renew: the part", tube.then_some(NEAR_A_MAGNETRON), all)
        }
    }
}

fn cover(task: &Task) -> Section {
    let mut all = steps(&[
        "Nothing lies inside: no tool, no screw, no rag.",
        "Gasket and its groove clean and whole, or a new gasket; drain holes and drying agent as the manual says.",
    ]);
    all.push(step(
        "Seal and close the cover as the manual says, evenly and crosswise; no lead under its edge.",
        &["Manual says, Nm"],
    ));
    if task.aloft {
        all.push(step("Last thing aloft: the antenna is freed, nothing lies in its way, the scanner's own switch is closed.", &[]));
    }
    section("Cover and gasket", None, all)
}

fn restoring() -> Section {
    let all = vec![
        step("People down and clear.", &[]),
        step("Covers and waveguide closed.", &[]),
        step("Tools counted: as many as went out.", &["Tools back"]),
        step("Permits closed.", &["At"]),
        step("Transmission is allowed here: by the port, the terminal and the bridge.", &["By"]),
    ];
    section("Before restoring", Some("Every one of these before any lock comes off."), all)
}

fn restore() -> Section {
    let all = vec![
        step("Locks and tags off, each by the one who put it on; supplies on.", &["At"]),
        step("The other radar, the aerials and both displays given back to the bridge.", &[]),
    ];
    section("Restore", None, all)
}

fn prove(task: &Task) -> Section {
    let warm_up = task.warm_up_s.map_or_else(
        || "Standby at least as long as the manual's warm-up.".to_owned(),
        |warm_up_s| format!("Standby at least as long as the manual's warm-up: ship.toml has {warm_up_s} s."),
    );
    match task.kind {
        Kind::Magnetron => {
            let all = vec![
                step(&warm_up, &["Manual says, new tube, min", "Stood, min"]),
                step(
                    "Transmit on the shortest pulse first; steady current, no arcing, no trips.",
                    &["Current", "Min"],
                ),
                step("Then the middle pulses, one after the other.", &["Current", "Min"]),
                step(
                    "Then the longest pulse. If it arcs or trips: back to the shorter one, and give it time.",
                    &["Current", "Manual says"],
                ),
                step(
                    "Tuning: set and checked as the manual says; it holds from the shortest to the longest range.",
                    &["Tuning"],
                ),
                step(
                    "Performance monitor, beside the figure recorded when the set was installed.",
                    &["At installation", "Now", "Allowed"],
                ),
            ];
            section("Run up and prove, from short to long pulse", None, all)
        }
        Kind::Motor => {
            let all = vec![
                step(&warm_up, &[]),
                step("It turns, the right way round.", &[]),
                step("Turns a minute, without and then with wind.", &["Manual says", "Now"]),
                step("No knock, no growl, no heat after half an hour.", &[]),
                step("Heading line and bearings checked against a mark that is known.", &["Error, degrees"]),
                step(
                    "Performance monitor, beside the figure recorded when the set was installed.",
                    &["At installation", "Now"],
                ),
            ];
            section("Run up and prove", None, all)
        }
        Kind::Other => {
            let all = vec![
                step(&warm_up, &[]),
                step("It does what the manual says, on the shortest and then on longer pulses.", &[]),
                step(
                    "Performance monitor, beside the figure recorded when the set was installed.",
                    &["At installation", "Now"],
                ),
            ];
            section("Run up and prove", None, all)
        }
    }
}

fn record(task: &Task) -> Section {
    let all = vec![
        step(
            &format!(
                "Note the last figure of the radar's own {} counter, then set it to zero, as the manual says.",
                task.role.name()
            ),
            &["Last figure, h", "Shows now, h", "At (UTC)"],
        ),
        step(
            "If it cannot be zeroed or was not: write `--counter-zeroed no` below and leave out `--counter-after`.",
            &[],
        ),
        step("Record the fitting with the command below, while this card is still in your hand.", &[]),
        step("If the new part had run before: its hours stand in `--hours-at-fit`.", &["Hours"]),
        step("Pull the logger, then look that no new finding stands against this renewal.", &[]),
        step("Order the next spare. The old part goes where the maker and the office say.", &["Order no."]),
    ];
    section("Record", None, all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(task: &Task) -> String {
        let all = sections(task);
        let step = |step: &Step| format!("{} {}", step.text, step.blanks.join(" "));
        all.iter()
            .map(|section| {
                let steps: Vec<String> = section.steps.iter().map(step).collect();
                format!(
                    "{} {} {}\n",
                    section.title,
                    section.caution.clone().unwrap_or_default(),
                    steps.join("\n")
                )
            })
            .collect()
    }

    fn task(kind: Kind, aloft: bool) -> Task {
        let role = if kind == Kind::Motor { Role::Motor } else { Role::Transmit };
        Task { kind, aloft, role, warm_up_s: Some(180) }
    }

    /// Where each of these words first stands; in this order.
    fn in_order(text: &str, words: &[&str]) {
        let mut from = 0;
        for word in words {
            let at = text[from..]
                .find(word)
                .unwrap_or_else(|| panic!("`{word}` not behind the one before\n{text}"));
            from += at;
        }
    }

    /// The order is that of the design's section on safety.
    #[test]
    fn every_caution_stands_on_the_card_of_a_magnetron_aloft_in_working_order() {
        in_order(
            &words(&task(Kind::Magnetron, true)),
            &[
                "Tell the bridge and the terminal",
                "Set to standby",
                "Isolate EVERY supply at the distribution board: scanner motor, transceiver, standby feed",
                "Lock and tag",
                "BOTH displays",
                "Silence and lock out the other radar",
                "any aerial whose field reaches the worker",
                "second person",
                "harness",
                "lanyards",
                "rescue plan",
                "Open the scanner's own safety switch",
                "Secure the antenna against the wind",
                "High voltage stays after switch-off",
                "Wait the time that the set's manual states",
                "Prove the tester",
                "Prove dead",
                "Prove the tester again",
                "Discharge with the approved stick",
                "Let the tube cool",
                "strong magnet",
                "watches, steel tools, pacemakers and compasses",
                "beryllium oxide: never break the ceramic; dispose of it as the maker states",
                "Seal and close the cover as the manual says",
                "People down",
                "Covers and waveguide closed",
                "Tools counted",
                "Permits closed",
                "Transmission is allowed here",
                "shortest pulse first",
                "longest pulse",
                "Tuning",
                "recorded when the set was installed",
                "set it to zero",
            ],
        );
        assert!(words(&task(Kind::Magnetron, true)).contains("never proof of isolation"));
        assert!(words(&task(Kind::Magnetron, true)).contains("Weather limit"));
    }

    #[test]
    fn a_motor_has_no_tube_and_work_below_has_no_climb() {
        let motor = words(&task(Kind::Motor, true));
        assert!(
            !motor.contains("beryllium") && !motor.contains("tube cool") && motor.contains("right way round")
        );
        in_order(&motor, &["Secure the antenna", "High voltage stays", "the motor", "People down"]);
        let below = words(&task(Kind::Magnetron, false));
        assert!(!below.contains("harness") && !below.contains("Going aloft") && below.contains("Prove dead"));
        let other = words(&task(Kind::Other, false));
        assert!(other.contains("Renew: the part") && !other.contains("beryllium"));
    }
}
