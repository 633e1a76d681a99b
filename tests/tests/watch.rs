//! `halfglass watch` through the built program: at the emulated board, whose pins are driven meanwhile, and at a simulated
//! logger whose cable is pulled.
//!
//! The emulated board needs qemu-system-arm: `cargo xtask setup` installs it or says how.

use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use halfglass_tests::qemu::desk::Desk;
use halfglass_tests::qemu::life::Life;
use halfglass_tests::running::{Plugged, Running};
use halfglass_tests::schema;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::File;
use std::io::Read;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use xtask::firmware::Firmware;

const NAMES: [&str; 5] = ["supply", "heater", "transmit", "motor", "isolated"];

/// A switch that was worked is seen within this.
const SEEN_WITHIN: Duration = Duration::from_millis(1_500);

fn firmware() -> PathBuf {
    Firmware::Microbit.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build microbit`): {fault:#}")
    })
}

#[test]
fn switches_worked_at_the_board_are_seen_at_once_and_proven() {
    let firmware = firmware();
    let place = Place::with_ship(SHIP);
    let (mut desk, port) = Desk::running(&firmware, &Life::new(DEVICE), 0);
    let mut watch = Running::start(&place.path(""), &["--ship", "ship", "watch", "--port", &port, "--prove"]);
    watch.wait_for(&["Logger 3f9c11d2a07be458 on", "firmware 0.1.0"]);
    watch.wait_for(&["the isolated line is never proof of isolation"]);
    watch.wait_for(&["S-band isolated (input 4): off (switch closed); total 0:00:00.0 h, 0 starts"]);
    let mut worst = Duration::ZERO;
    for (line, name) in NAMES.iter().enumerate() {
        for (levels, state) in [(1 << line, ": on"), (0, ": off")] {
            if levels == 0 && line + 1 == NAMES.len() {
                // All were seen on and off: the watch has ended by itself.
                break;
            }
            let at = Instant::now();
            desk.drive_running(levels);
            let (seen, _) = watch.wait_for(&[&format!("S-band {name} (input {line})"), state]);
            worst = worst.max(seen - at);
        }
    }
    println!("{}the longest that a switch took to be seen: {worst:?}", watch.said);
    assert!(worst < SEEN_WITHIN, "{worst:?}");
    // Everything is proven: it ends by itself.
    assert_eq!(watch.end(), 0, "{}", watch.said);
    assert!(watch.said.contains("Every line (5) was seen on and off."), "{}", watch.said);

    desk.drive_running(0);

    // For programs, for three seconds, with one line worked: the others are unproven.
    let json = ["--ship", "ship", "watch", "--port", &port, "--prove", "--json", "--for", "3"];
    let mut watch = Running::start(&place.path(""), &json);
    let parsed = |line: &str| serde_json::from_str::<serde_json::Value>(line).unwrap();
    let begin = parsed(&watch.wait_for(&["begin"]).1);
    assert!(begin["caution"].as_str().unwrap().contains("never proof of isolation"), "{begin}");
    assert_eq!(begin["lines"][2]["starts"], 1, "{begin}");
    desk.drive_running(0b100);
    let change = parsed(&watch.wait_for(&["change"]).1);
    assert_eq!((change["line"].as_str(), change["on"].as_bool()), (Some("transmit"), Some(true)), "{change}");
    assert_eq!((change["radar"].as_str(), change["starts"].as_i64()), (Some("S-band"), Some(2)), "{change}");
    let end = parsed(&watch.wait_for(&["\"end\""]).1);
    let unproven: Vec<_> =
        end["unproven"].as_array().unwrap().iter().map(|line| line["line"].as_str().unwrap()).collect();
    assert_eq!(unproven, ["supply", "heater", "motor", "isolated"], "{end}");
    assert_eq!(watch.end(), 1, "{}", watch.said);
    // Every line is as its schema says, and the schema does not let everything pass.
    let rules = place.run(&["schema", "watch"]).fine().json();
    for line in watch.said.lines() {
        let mut event = parsed(line);
        schema::check(&rules, &event).unwrap_or_else(|fault| panic!("{fault}\n{line}"));
        event["event"] = "none such".into();
        assert!(schema::check(&rules, &event).is_err(), "{line}");
    }
}

#[test]
fn a_logger_that_goes_away_and_comes_back_is_told_calmly_and_watched_on() {
    let place = Place::with_ship(SHIP);
    let mut logger = Plugged::new(&place.path(""));
    let port = logger.port().to_owned();
    let mut watch = Running::start(&place.path(""), &["--ship", "ship", "watch", "--port", &port]);
    watch.wait_for(&["isolated (input 4)"]);
    let simulation = logger.pull_cable();
    watch.wait_for(&["the logger is away: the connection broke", "looking for it"]);
    // A switch is worked while nobody looks.
    logger.drive(0b1);
    std::thread::sleep(Duration::from_secs(2));
    logger.plug_again(simulation);
    watch.wait_for(&["the logger is back, on"]);
    watch.wait_for(&["S-band supply (input 0)"]);
    watch.wait_for(&["S-band heater (input 1): off"]);
    logger.drive(0b11);
    watch.wait_for(&["S-band heater (input 1): on"]);
    watch.interrupt();
    assert_eq!(watch.end(), 0, "{}", watch.said);
    assert!(watch.said.trim_end().ends_with("end of the watch"), "{}", watch.said);
    assert!(!watch.said.contains("panicked"));
}

#[test]
fn a_watch_that_ends_while_the_logger_is_away_says_so() {
    let place = Place::with_ship(SHIP);
    let mut logger = Plugged::new(&place.path(""));
    let port = logger.port().to_owned();
    let mut watch =
        Running::start(&place.path(""), &["--ship", "ship", "watch", "--port", &port, "--for", "4"]);
    watch.wait_for(&["isolated (input 4)"]);
    let began = Instant::now();
    logger.pull_cable();
    assert_eq!(watch.end(), 3, "{}", watch.said);
    assert!(began.elapsed() < Duration::from_secs(8), "every wait has a deadline: {:?}", began.elapsed());
}

/// Accounting rule 7: transmit implies heater. The lines are wired crosswise.
#[test]
fn lines_that_contradict_each_other_are_named_with_their_inputs() {
    let place = Place::with_ship(SHIP);
    let logger = Plugged::new(&place.path(""));
    let mut watch = Running::start(&place.path(""), &["--ship", "ship", "watch", "--port", logger.port()]);
    watch.wait_for(&["isolated (input 4)"]);
    logger.drive(0b101);
    watch
        .wait_for(&["check: S-band: transmit on while heater off: check wiring and sense of inputs 2 and 1"]);
    logger.drive(0b111);
    watch.wait_for(&["no longer: S-band: transmit on while heater off"]);
    watch.interrupt();
    assert_eq!(watch.end(), 0, "{}", watch.said);
}

#[test]
fn without_a_ship_folder_the_logger_s_own_names_serve() {
    let place = Place::empty();
    let logger = Plugged::new(&place.path(""));
    let mut watch =
        Running::start(&place.path(""), &["watch", "--port", logger.port(), "--for", "1", "--prove"]);
    watch.wait_for(&["There is no ship folder here"]);
    assert_eq!(watch.end(), 1, "{}", watch.said);
    for words in ["  transmit (input 2): off; total", "Still to prove: supply (input 0) on; heater"] {
        assert!(watch.said.contains(words), "{words}: {}", watch.said);
    }
}

/// On a terminal: one table, drawn again in its place.
#[test]
fn on_a_terminal_the_table_is_drawn_in_place() {
    let place = Place::with_ship(SHIP);
    let logger = Plugged::new(&place.path(""));
    let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&screen).and_then(|()| unlockpt(&screen)).unwrap();
    let name = ptsname(&screen, Vec::new()).unwrap().into_string().unwrap();
    let terminal = File::options().read(true).write(true).open(name).unwrap();
    tcsetwinsize(&terminal, Winsize { ws_row: 40, ws_col: 110, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
    let mut command = Command::new(halfglass());
    command.args(["--ship", "ship", "watch", "--port", logger.port(), "--for", "3", "--prove"]);
    command.current_dir(place.path("")).env("TERM", "xterm").stdin(Stdio::null());
    command.stderr(terminal.try_clone().unwrap());
    let mut child = command.stdout(terminal).spawn().unwrap();
    // The command keeps its own ends of the terminal: reading would never end.
    drop(command);
    std::thread::sleep(Duration::from_millis(1_500));
    logger.drive(0b1);
    let mut shown = Vec::new();
    // Reading fails when the other end is closed.
    let _ = File::from(screen).read_to_end(&mut shown);
    let shown = String::from_utf8_lossy(&shown);
    assert_eq!(child.wait().unwrap().code(), Some(1), "{shown}");
    assert!(shown.contains("never proof of isolation") && shown.contains("Ctrl-C ends."), "{shown}");
    assert!(shown.matches("Last change").count() > 3 && shown.contains("\u{1b}["), "{shown:?}");
    let last = &shown[shown.rfind("Last change").unwrap()..];
    let supply = last.lines().find(|line| line.contains("supply")).unwrap();
    assert!(supply.contains(" on ") && supply.contains("S-band"), "{last}");
    assert!(last.contains("Still to prove: S-band heater (input 1) on;"), "{last}");
}

#[test]
fn no_logger_is_said_at_once() {
    let place = Place::with_ship(SHIP);
    place.ship(&["watch", "--port", "/dev/ttyACM77"]).fails(3, &["there is no port /dev/ttyACM77"]);
}
