use super::*;
use halfglass_protocol::record::Totals;

/// Five contacts of one radar on inputs 0 to 4, as in the guide.
fn wired() -> Vec<Wired> {
    let roles = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor, Role::Isolated];
    (0..)
        .zip(roles)
        .map(|(input, role)| Wired { input, radar: None, group: 0, role, filter_ms: 50 })
        .collect()
}

fn status(session: u32, on: u8, starts: [u32; 5]) -> Status {
    let mut totals = Totals { session, ..Totals::default() };
    totals.starts[..5].copy_from_slice(&starts);
    Status { on, totals, ..Status::default() }
}

/// What happened, in short: a change as `transmit+` or `transmit-`, a blink as `transmit*1`.
fn short(events: &[Event]) -> Vec<String> {
    let told = |event: &Event| match event {
        Event::Begin(lines) => format!("begin {}", lines.len()),
        Event::Change(line) => {
            format!("{}{}", line.role.name(), if line.on == Some(true) { "+" } else { "-" })
        }
        Event::Blink(line, times) => format!("{}*{times}", line.role.name()),
        Event::Breach(what) => format!("breach {what}"),
        Event::BreachOver(what) => format!("over {what}"),
        Event::Restarted { session } => format!("session {session}"),
        other => format!("{other:?}"),
    };
    events.iter().map(told).collect()
}

#[test]
fn changes_are_told_once_and_prove_their_line() {
    let mut seen = Seen::new(&wired());
    assert_eq!(short(&seen.take(&status(1, 0b1, [1, 0, 0, 0, 0]), 0)), ["begin 5"]);
    assert!(seen.take(&status(1, 0b1, [1, 0, 0, 0, 0]), 200).is_empty());
    assert_eq!(short(&seen.take(&status(1, 0b11, [1, 1, 0, 0, 0]), 400)), ["heater+"]);
    assert_eq!(short(&seen.take(&status(1, 0, [1, 1, 0, 0, 0]), 600)), ["supply-", "heater-"]);
    let unproven: Vec<_> = seen.unproven().iter().map(|line| line.role.name()).collect();
    assert_eq!(unproven, ["transmit", "motor", "isolated"]);
    assert_eq!(seen.lines[1].changed_ms, Some(600));
}

#[test]
fn what_went_on_and_off_between_two_looks_is_told_by_the_starts_but_proves_nothing() {
    let mut seen = Seen::new(&wired());
    seen.take(&status(1, 0b1, [4, 0, 0, 0, 0]), 0);
    // Off and on again unseen, twice; transmit on and off again unseen, once.
    assert_eq!(short(&seen.take(&status(1, 0b1, [6, 0, 1, 0, 0]), 200)), ["supply*2", "transmit*1"]);
    assert!(!seen.lines[0].seen_off && !seen.lines[2].seen_on);
    // A start that is told later than its state is no blink.
    assert_eq!(short(&seen.take(&status(1, 0b11, [6, 0, 1, 0, 0]), 400)), ["heater+"]);
    assert!(seen.take(&status(1, 0b11, [6, 1, 1, 0, 0]), 600).is_empty());
}

#[test]
fn a_restart_is_no_blink_of_the_lines_found_on() {
    let mut seen = Seen::new(&wired());
    seen.take(&status(1, 0b1, [1, 0, 0, 0, 0]), 0);
    seen.lose();
    assert_eq!(seen.lines[0].on, None);
    let events = seen.take(&status(2, 0b1, [2, 0, 0, 0, 0]), 5_000);
    assert_eq!(short(&events), ["session 2", "begin 5"]);
    assert_eq!(seen.lines[0].changed_ms, None);
    // Away without a restart: what it did meanwhile shows in its state and its starts, with the time of the return.
    seen.lose();
    let events = seen.take(&status(2, 0b10, [4, 1, 0, 0, 0]), 9_000);
    assert_eq!(short(&events), ["begin 5"]);
    let changed: Vec<_> = seen.lines.iter().map(|line| line.changed_ms).collect();
    assert_eq!(changed, [Some(9_000), Some(9_000), None, None, None]);
}

/// Rule 7, and the times after which it counts: debounce and a second, 10 s where the motor is concerned.
#[test]
fn contradictions_are_told_when_they_last_and_when_they_end() {
    let mut seen = Seen::new(&wired());
    seen.take(&status(1, 0b1, [0; 5]), 0);
    // Transmit without heater and motor.
    assert_eq!(short(&seen.take(&status(1, 0b101, [0; 5]), 1_000)), ["transmit+"]);
    assert!(seen.take(&status(1, 0b101, [0; 5]), 2_050).is_empty());
    let heater = "transmit on while heater off: check wiring and sense of inputs 2 and 1";
    assert_eq!(short(&seen.take(&status(1, 0b101, [0; 5]), 2_051)), [format!("breach {heater}")]);
    assert!(seen.take(&status(1, 0b101, [0; 5]), 11_000).is_empty());
    let motor = "transmit on while motor off: check wiring and sense of inputs 2 and 3";
    assert_eq!(short(&seen.take(&status(1, 0b101, [0; 5]), 11_001)), [format!("breach {motor}")]);
    assert_eq!(seen.breaches(), [heater, motor]);
    let events = short(&seen.take(&status(1, 0b111, [0; 5]), 12_000));
    assert_eq!(events, ["heater+".to_owned(), format!("over {heater}")]);
    // Everything off, transmit a look later than the rest: no contradiction.
    let events = short(&seen.take(&status(1, 0b100, [0; 5]), 13_000));
    assert!(!events.iter().any(|event| event.starts_with("breach")), "{events:?}");
    assert!(short(&seen.take(&status(1, 0, [0; 5]), 13_200)).contains(&format!("over {motor}")));
    assert!(seen.breaches().is_empty());
}

/// The scanner turns and its switch looks open: the isolated line's sense is the wrong way round.
#[test]
fn a_turning_motor_and_an_open_switch_contradict() {
    let mut seen = Seen::new(&wired());
    for at_ms in [0, 10_000] {
        seen.take(&status(1, 0b11001, [0; 5]), at_ms);
    }
    let events = short(&seen.take(&status(1, 0b11001, [0; 5]), 10_001));
    let expected =
        "breach motor on while isolated on (its switch open): check wiring and sense of inputs 3 and 4";
    assert_eq!(events, [expected]);
}

/// Two radars at one logger do not contradict each other, and an absent line contradicts nothing.
#[test]
fn only_lines_of_one_radar_contradict() {
    let mut lines = wired();
    lines[2].group = 1;
    let mut seen = Seen::new(&lines);
    seen.take(&status(1, 0b101, [0; 5]), 0);
    assert!(seen.take(&status(1, 0b101, [0; 5]), 60_000).is_empty());
}
