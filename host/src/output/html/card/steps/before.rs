//! What comes before a hand is laid on the part: made ready, allowed, isolated, proved dead.

use super::{Kind, Section, Task, section, step, steps};

pub(super) fn ready(task: &Task) -> Section {
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

pub(super) fn permits(task: &Task) -> Section {
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

pub(super) fn running(task: &Task) -> Section {
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

pub(super) fn isolate(task: &Task) -> Section {
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

pub(super) fn climb(task: &Task) -> Option<Section> {
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

pub(super) fn high_voltage(task: &Task) -> Section {
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
