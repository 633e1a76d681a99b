//! How a pull can end badly, in words: what happened, what became of what had come, what to do.

use super::client::Fault;
use crate::Error;
use halfglass_protocol::message::Refusal;

/// Says how the conversation ended, and what became of what had come.
pub(super) fn lost(fault: &Fault, so_far: Option<(u32, u32)>) -> Error {
    let (state, again) = match so_far {
        Some((had, of)) => (
            format!("after {had} of {of} records; they are kept, nothing is half-imported"),
            "The next pull goes on from there.",
        ),
        None => ("before any record was read; nothing was changed here".to_owned(), "Then pull again."),
    };
    match fault {
        Fault::Broken(error) => Error::no_logger(
            format!("the connection broke {state} ({error})"),
            format!("The cable was pulled or the logger lost its power: plug it in firmly. {again}"),
        ),
        Fault::Silent { waited } => Error::no_logger(
            format!("the logger stopped answering {state} (waited {:.0} s)", waited.as_secs_f64()),
            format!("Check the logger's power and the cable. {again}"),
        ),
        Fault::Garbled { bytes, .. } => Error::no_logger(
            format!("the logger's answers arrive garbled {state} ({bytes} bytes, no sound frame)"),
            format!("Use a shorter or better cable, away from the transmitter. {again}"),
        ),
        Fault::Refused(refusal) => Error::no_logger(
            format!("the logger declined {state}: {}", refused(*refusal)),
            format!("{again} If it stays so, keep the logger as it is and report this."),
        ),
        Fault::NotUnderstood => Error::no_logger(
            format!("the logger's answer could not be understood {state}"),
            format!("Install a newer Halfglass on this computer. {again}"),
        ),
    }
}

/// Why a logger does not answer any more, in a few words.
pub(super) fn in_short(fault: &Fault) -> String {
    match fault {
        Fault::Broken(error) => format!("the connection broke ({error})"),
        Fault::Silent { waited } => format!("no answer for {:.1} s", waited.as_secs_f64()),
        Fault::Garbled { bytes, .. } => format!("its answers arrive garbled ({bytes} bytes, no sound frame)"),
        Fault::Refused(refusal) => format!("it declined: {}", refused(*refusal)),
        Fault::NotUnderstood => "its answer could not be understood".to_owned(),
    }
}

pub(super) fn refused(refusal: Refusal) -> String {
    match refusal {
        Refusal::Unknown => "its firmware does not know this request".to_owned(),
        Refusal::Malformed => "it could not make sense of this request".to_owned(),
        Refusal::Wait { seconds } => format!("it asks to wait {seconds} s"),
        Refusal::HoldButton => "the button at the logger must be held".to_owned(),
        Refusal::OutOfRange { oldest, next } => format!("it keeps the records {oldest} to {next}"),
        Refusal::Flash => "it could not write its flash memory".to_owned(),
        Refusal::Config(_) => "the configuration has a fault".to_owned(),
        Refusal::NotReady => "it is not ready to write: its supply is not good yet".to_owned(),
    }
}
