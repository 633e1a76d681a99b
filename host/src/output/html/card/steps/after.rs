//! What comes after: restored, run up, proved, recorded.

use super::{Kind, Section, Task, section, step};

pub(super) fn restoring() -> Section {
    let all = vec![
        step("People down and clear.", &[]),
        step("Covers and waveguide closed.", &[]),
        step("Tools counted: as many as went out.", &["Tools back"]),
        step("Permits closed.", &["At"]),
        step("Transmission is allowed here: by the port, the terminal and the bridge.", &["By"]),
    ];
    section("Before restoring", Some("Every one of these before any lock comes off."), all)
}

pub(super) fn restore() -> Section {
    let all = vec![
        step("Locks and tags off, each by the one who put it on; supplies on.", &["At"]),
        step("The other radar, the aerials and both displays given back to the bridge.", &[]),
    ];
    section("Restore", None, all)
}

pub(super) fn prove(task: &Task) -> Section {
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

pub(super) fn record(task: &Task) -> Section {
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
