//! `halfglass setup` through the built program: at the emulated board, whose button is held or not, and at a simulated
//! logger that nobody stands at.
//!
//! The emulated board needs qemu-system-arm: `cargo xtask setup` installs it or says how.

use halfglass::link::client::{Client, Patience};
use halfglass::link::{Transport, ports, setting};
use halfglass_firmware::provision;
use halfglass_protocol::config::{Config, Kind, Line, Role};
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use halfglass_tests::command::{DEVICE, Place, SHIP, halfglass};
use halfglass_tests::qemu::desk::Desk;
use halfglass_tests::qemu::life::Life;
use halfglass_tests::running::{Plugged, Running};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read, Write};
use std::process::Command;
use std::time::Duration;
use xtask::firmware::Firmware;

/// What is wired otherwise than the guide has it.
const LINES: [&str; 4] = ["--line", "motor=pulsed", "--line", "isolated=contact,100ms,low"];

fn ship() -> String {
    SHIP.replace("fed_from_radar = true", "fed_from_radar = true\nwarm_up_s = 180")
}

/// What the logger is to be told, by hand.
fn expected() -> Config {
    let mut config = Config::as_in_guide();
    config.lines[3].kind = Kind::Pulsed { hold_ms: 200 };
    config.lines[4] =
        Line { kind: Kind::Contact { debounce_ms: 100 }, active_low: true, ..Line::contact(Role::Isolated) };
    config.warm_up_s = [180, 0];
    config
}

#[test]
fn a_board_is_set_up_while_its_button_is_held_and_never_otherwise() {
    let firmware = Firmware::Microbit.build().unwrap_or_else(|fault| {
        panic!("the board's firmware does not build (run `cargo xtask build microbit`): {fault:#}")
    });
    let place = Place::with_ship(&ship());
    let (mut desk, port) = Desk::running(&firmware, &Life::new(DEVICE), 0b1);
    // Read by itself, past the command.
    let in_force = || {
        let mut client = ports::connect(&port).unwrap().client;
        (setting::read(&mut client).unwrap(), setting::totals(&mut client).unwrap())
    };
    let setup = [&["setup", "--port", &port][..], &LINES].concat();

    // A look, without writing.
    let run = place.ship(&[&setup[..], &["--dry-run"]].concat());
    println!("{}", run.out);
    run.fine().says(&["motor=pulsed,200ms", "warm-up of S-band", "180 s", "Dry run: nothing was written."]);
    assert_eq!(in_force().0, Config::as_in_guide());

    // Nobody at the button.
    let run = place.ship(&[&setup[..], &["--yes", "--wait", "1"]].concat());
    run.fails(
        2,
        &["the button at the logger was not held within 1 s, so nothing was changed", "Hold the button"],
    );
    assert!(run.out.contains("The button is not held."), "{}", run.out);
    assert_eq!(in_force().0, Config::as_in_guide());

    // Somebody gets there in time.
    let before = in_force().1;
    assert!(before.on_tenths[0] > 0, "{before:?}");
    let args = [&["--ship", "ship"], &setup[..], &["--yes", "--wait", "20"]].concat();
    let mut setting_up = Running::start(&place.path(""), &args);
    setting_up.wait_for(&["The button is not held."]);
    desk.button(true);
    setting_up.wait_for(&["Done: written, read back, and the same."]);
    assert_eq!(setting_up.end(), 0, "{}", setting_up.said);
    println!("{}", setting_up.said);
    let (config, after) = in_force();
    assert_eq!(config, expected());
    // What was counted is still there, and the supply has gone on.
    assert!(after.on_tenths[0] > before.on_tenths[0], "{before:?} {after:?}");
    assert_eq!((after.starts[0], after.session), (1, before.session));
    desk.button(false);

    // Once more: it is so already, and the kinds that nothing is said of stay.
    let run = place.ship(&["setup", "S-band", "--port", &port]);
    run.fine().says(&["motor=pulsed,200ms", "set up like this already; nothing was written"]);
    // It outlives the power.
    let (_desk, port) = Desk::running(&firmware, &desk.cut(), 0);
    let mut client = ports::connect(&port).unwrap().client;
    assert_eq!(setting::read(&mut client).unwrap(), expected());
}

/// The real firmware behind bytes in memory; the button is held or not, and answers may be lost.
struct Wire {
    board: Box<Powered<Flash<4, 1_024>, 8>>,
    button: bool,
    /// Answers still to be lost.
    lose: u32,
    out: VecDeque<u8>,
}

impl Wire {
    fn new(button: bool, lose: u32) -> Wire {
        let mut flash = Flash::new(LAYOUT_PAGES, 1);
        provision(&mut flash, &LAYOUT, &Config::as_in_guide()).unwrap();
        flash.power_on(None);
        let mut board = Box::new(Powered::on(flash, LAYOUT, board(DEVICE), 0));
        board.run_until(3_000);
        Wire { board, button, lose, out: VecDeque::new() }
    }
}

impl Transport for &mut Wire {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut answer = Vec::new();
        self.board.receive(bytes, self.button, &mut answer);
        if self.lose > 0 {
            self.lose -= 1;
        } else {
            self.out.extend(answer);
        }
        Ok(())
    }

    fn receive(&mut self, buffer: &mut [u8], _wait: Duration) -> io::Result<usize> {
        let count = self.out.len().min(buffer.len());
        for (slot, byte) in buffer.iter_mut().zip(self.out.drain(..count)) {
            *slot = byte;
        }
        Ok(count)
    }
}

const QUICK: Patience = Patience { reply: Duration::from_millis(5), tries: 2, wait_max: Duration::ZERO };

#[test]
fn the_logger_itself_refuses_what_is_faulty_and_what_nobody_holds_the_button_for() {
    let write = |wire: &mut Wire, config: &Config| {
        let mut told = 0;
        let wait = Duration::from_millis(600);
        let outcome = setting::write(&mut Client::new(wire, QUICK), config, wait, &mut || told += 1);
        (outcome, told)
    };
    let mut wire = Wire::new(false, 0);
    let (outcome, told) = write(&mut wire, &expected());
    assert!(outcome.unwrap_err().what().contains("was not held within 0 s, so nothing was changed"));
    assert_eq!((told, wire.board.logger.config()), (1, &Config::as_in_guide()));

    let mut wire = Wire::new(true, 0);
    let faulty = Config { heartbeat_s: 0, ..expected() };
    let error = write(&mut wire, &faulty).0.unwrap_err();
    assert!(error.what().contains("heartbeat lies outside 1 to 60 s; nothing was changed"), "{error}");
    assert_eq!(wire.board.logger.config(), &Config::as_in_guide());

    let (outcome, told) = write(&mut wire, &expected());
    outcome.unwrap();
    assert_eq!((told, wire.board.logger.config()), (0, &expected()));
}

#[test]
fn answers_that_are_lost_leave_no_doubt_of_what_is_in_force() {
    for lose in 0..5 {
        let mut wire = Wire::new(true, lose);
        let wait = Duration::from_secs(1);
        let outcome = setting::write(&mut Client::new(&mut wire, QUICK), &expected(), wait, &mut || {});
        // Two tries to write, two to read back.
        match outcome {
            Ok(()) => assert!(lose < 4, "{lose}"),
            Err(error) => {
                assert!(lose >= 4, "{lose}: {error}");
                assert!(
                    error.what().contains("whether the new configuration was written is not known"),
                    "{error}"
                );
                assert_eq!(error.exit_code(), 3);
            }
        }
        assert_eq!(wire.board.logger.config(), &expected());
    }
}

#[test]
fn what_does_not_fit_is_refused_before_the_button() {
    let place = Place::with_ship(&ship());
    let logger = Plugged::new(&place.path(""));
    let setup = |more: &[&str]| place.ship(&[&["setup", "--port", logger.port()][..], more].concat());
    setup(&["W-band"]).fails(2, &["no radar `W-band`", "`S-band`"]);
    setup(&["--line", "motor=60000ms", "--yes"]).fails(2, &["debounce or hold time lies outside"]);
    setup(&["--line", "moter=low"]).fails(2, &["`moter` is no line"]);
    setup(&["--heartbeat", "90"]).fails(2, &["heartbeat lies outside 1 to 60 s", "--heartbeat 10"]);
    // Nothing prompts unless a terminal is there.
    setup(&["--line", "motor=pulsed"]).fails(2, &["no terminal to ask at; nothing was changed", "--yes"]);
    setup(&["--line", "motor=pulsed", "--yes", "--wait", "1"])
        .fails(2, &["the button at the logger was not held"]);

    // Another logger than ship.toml has.
    place.write("ship/ship.toml", ship().replace("3f9c11d2a07be458", "51d07a2c9be8f346"));
    let other = [
        "gives the radar `S-band` the logger 51d07a2c9be8f346, but 3f9c11d2a07be458 answers",
        "halfglass add logger",
    ];
    setup(&["--dry-run"]).fails(2, &other);
    // The exchange is recorded: now it fits.
    let add =
        ["add", "logger", "--at", "2026-03-02T10:00Z", "--radar", "S-band", "--logger", "3f9c11d2a07be458"];
    place.ship(&[&add[..], &["--reason", "USB socket torn off"]].concat()).fine();
    setup(&["--dry-run"]).fine().says(&["Dry run: nothing was written."]);

    // Without a warm-up, and on an input that is none of the guide's.
    place.write("ship/ship.toml", SHIP.replace("motor = 3", "motor = 6"));
    setup(&["--dry-run"]).fine().says(&["ship.toml has no warm_up_s", "input 6", "motor=contact,50ms,high"]);
    place.ship(&["setup", "--port", "/dev/ttyACM77"]).fails(3, &["there is no port /dev/ttyACM77"]);
}

/// At a terminal it asks, and anything but y writes nothing.
#[test]
fn a_terminal_is_asked() {
    let place = Place::with_ship(&ship());
    let logger = Plugged::new(&place.path(""));
    for (answer, code, says) in [("n\n", 0, "Nothing was written."), ("y\n", 2, "was not held within 1 s")] {
        let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&screen).and_then(|()| unlockpt(&screen)).unwrap();
        let name = ptsname(&screen, Vec::new()).unwrap().into_string().unwrap();
        let terminal = File::options().read(true).write(true).open(name).unwrap();
        let mut command = Command::new(halfglass());
        command.args(["--ship", "ship", "setup", "--port", logger.port(), "--wait", "1"]);
        command.current_dir(place.path("")).stdin(terminal.try_clone().unwrap());
        command.stderr(terminal.try_clone().unwrap());
        let mut child = command.stdout(terminal).spawn().unwrap();
        // The command keeps its own ends of the terminal: reading would never end.
        drop(command);
        let mut screen = File::from(screen);
        screen.write_all(answer.as_bytes()).unwrap();
        let mut shown = Vec::new();
        // Reading fails when the other end is closed.
        let _ = screen.read_to_end(&mut shown);
        let shown = String::from_utf8_lossy(&shown);
        assert_eq!(child.wait().unwrap().code(), Some(code), "{shown}");
        assert!(shown.contains("Hold the button at the logger, type y and press Enter"), "{shown}");
        assert!(shown.contains(says), "{shown}");
    }
}
