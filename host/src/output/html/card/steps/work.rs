//! The renewal itself. Common practice, no source; the set's manual is right where it says otherwise.

use super::{Kind, Section, Task, section, step, steps};
use halfglass_protocol::config::Role;

/// For what may lie beside one.
const NEAR_A_MAGNETRON: &str = "If there is a magnetron near: it is a strong magnet, keep watches, steel tools, pacemakers and \
                                compasses away. Some hold beryllium oxide: never break the ceramic.";

pub(super) fn renewal(task: &Task) -> Section {
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

pub(super) fn cover(task: &Task) -> Section {
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
