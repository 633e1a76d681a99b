//! What a logger is told of its lines: read, written, read back.

use super::client::{Client, Fault};
use super::failure;
use super::transport::Transport;
use crate::{Error, Result};
use halfglass_protocol::config::{Config, ConfigFault};
use halfglass_protocol::message::{Refusal, Reply, Request};
use halfglass_protocol::record::Totals;
use std::time::{Duration, Instant};

/// While the button is not held the logger is asked again this often.
const ASK_EVERY: Duration = Duration::from_millis(250);

/// The configuration in force.
///
/// # Errors
/// The logger was lost, or does not know the question.
pub fn read<T: Transport>(client: &mut Client<T>) -> Result<Config> {
    client.ask(&Request::Config, config_of).map_err(|fault| lost(&fault, "nothing was changed"))
}

/// What it has counted so far.
///
/// # Errors
/// As [`read`].
pub fn totals<T: Transport>(client: &mut Client<T>) -> Result<Totals> {
    let totals = client.ask(&Request::Status, |reply| match reply {
        Reply::Status(status) => Some(status.totals),
        _ => None,
    });
    totals.map_err(|fault| lost(&fault, "nothing was changed"))
}

/// Writes a configuration; `wait` for the button to be held. `not_held` is told once that it is not.
///
/// # Errors
/// The button was not held in time, the logger found a fault, its flash cannot be written, or it was lost: the message
/// says in which state it is.
pub fn write<T: Transport>(
    client: &mut Client<T>,
    config: &Config,
    wait: Duration,
    not_held: &mut dyn FnMut(),
) -> Result<()> {
    let give_up = Instant::now() + wait;
    let mut told = false;
    loop {
        let done =
            client.ask(&Request::SetConfig(*config), |reply| matches!(reply, Reply::Done).then_some(()));
        let fault = match done {
            Ok(()) => return check(client, config),
            Err(fault) => fault,
        };
        match fault {
            Fault::Refused(Refusal::HoldButton) if Instant::now() + ASK_EVERY <= give_up => {
                if !std::mem::replace(&mut told, true) {
                    not_held();
                }
                std::thread::sleep(ASK_EVERY);
            }
            Fault::Refused(refusal) => return Err(declined(refusal, wait)),
            // It may have heard and done it, and only the answer is missing.
            fault => {
                return check(client, config).map_err(|_| {
                    lost(&fault, "whether the new configuration was written is not known: it is the old one or the new one")
                });
            }
        }
    }
}

/// What is in force must be what was written.
fn check<T: Transport>(client: &mut Client<T>, config: &Config) -> Result<()> {
    let now = client
        .ask(&Request::Config, config_of)
        .map_err(|fault| lost(&fault, "the new configuration was written, but could not be read back"))?;
    if now == *config {
        return Ok(());
    }
    Err(Error::no_logger(
        "the logger's configuration is not the one that was written",
        "Somebody else may be setting it up, or its flash is failing: run this again, and look at its health in\n\
         `halfglass report`.",
    ))
}

fn config_of(reply: &Reply<'_>) -> Option<Config> {
    match reply {
        Reply::Config(config) => Some(*config),
        _ => None,
    }
}

fn lost(fault: &Fault, state: &str) -> Error {
    let advice = match fault {
        Fault::NotUnderstood | Fault::Refused(Refusal::Unknown) => {
            "Halfglass on this computer and the logger's firmware differ in age: update the older one."
        }
        _ => "Check the logger's power and the cable, then run this again: it shows what is in force.",
    };
    Error::no_logger(format!("the logger was lost ({}); {state}", failure::in_short(fault)), advice)
}

fn declined(refusal: Refusal, wait: Duration) -> Error {
    match refusal {
        Refusal::HoldButton => Error::input(
            format!(
                "the button at the logger was not held within {} s, so nothing was changed",
                wait.as_secs()
            ),
            "Hold the button at the logger, keep it held, and run this again; --wait gives more time to get there.\n\
             Only somebody at the logger may change what it counts.",
        ),
        Refusal::Config(fault) => faulty(fault),
        Refusal::Flash => Error::input(
            "the logger could not write its flash; the old configuration is still in force, and totals go on",
            "Run this again. If it stays so, its flash is worn: pull it (`halfglass pull`) and exchange it.",
        ),
        Refusal::NotReady => Error::input(
            "the logger is not ready: its supply is not good yet; nothing was changed",
            "Check its feed, wait some seconds, and run this again.",
        ),
        refusal => Error::input(
            format!("the logger declined: {}; nothing was changed", failure::refused(refusal)),
            "Update the logger's firmware, or Halfglass on this computer.",
        ),
    }
}

/// A configuration that no logger takes, with its remedy.
#[must_use]
pub fn faulty(fault: ConfigFault) -> Error {
    let (what, advice) = match fault {
        ConfigFault::Heartbeat => {
            ("the heartbeat lies outside 1 to 60 s", "Give another: --heartbeat 10 is the usual.")
        }
        ConfigFault::Idle => {
            ("the idle interval lies outside 10 to 800 s", "Give another: --idle 600 is the usual.")
        }
        ConfigFault::Radar => (
            "a logger has room for two radars, and a line belongs to a third",
            "Give this logger the lines of two radars at most, in ship.toml or by naming them.",
        ),
        ConfigFault::Filter => (
            "a debounce or hold time lies outside 1 to 5000 ms",
            "Give another with --line: contact,50ms and pulsed,200ms are usual.",
        ),
        ConfigFault::Twice => (
            "two inputs have the same role for one radar",
            "Give each role one input, in the radar's `lines` in ship.toml.",
        ),
    };
    Error::input(format!("{what}; nothing was changed"), advice)
}
