//! The steps of a renewal, in working order. The cautions are those of the design's section on safety, every one; what is
//! beyond them is common practice, no source, and gives way to the set's manual.

mod after;
mod before;
mod work;

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

fn step(text: &str, blanks: &[&'static str]) -> Step {
    Step { text: text.to_owned(), blanks: blanks.to_vec() }
}

fn steps(texts: &[&str]) -> Vec<Step> {
    texts.iter().map(|text| step(text, &[])).collect()
}

/// All of it.
pub(super) fn sections(task: &Task) -> Vec<Section> {
    let mut all =
        vec![before::ready(task), before::permits(task), before::running(task), before::isolate(task)];
    all.extend(before::climb(task));
    all.push(before::high_voltage(task));
    all.push(work::renewal(task));
    all.push(work::cover(task));
    all.push(after::restoring());
    all.push(after::restore());
    all.push(after::prove(task));
    all.push(after::record(task));
    all
}

fn section(title: &'static str, caution: Option<&str>, steps: Vec<Step>) -> Section {
    Section { title, caution: caution.map(str::to_owned), steps }
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
        assert!(
            other.contains("Renew: the part") && other.contains("If there is a magnetron near"),
            "{other}"
        );
        let fan = words(&Task { role: Role::Supply, ..task(Kind::Other, false) });
        assert!(!fan.contains("beryllium"), "{fan}");
    }
}
