//! One file per subcommand: it reads what it needs, calls the pure rooms, prints the answer.

pub mod add;
pub mod card;
pub mod completions;
pub mod demo;
mod door;
pub mod due;
pub mod feed;
mod gather;
pub mod handover;
pub mod import;
pub mod init;
pub mod month_end;
pub mod plan;
pub mod pull;
pub mod reconcile;
pub mod report;
pub mod schema;
pub mod setup;
pub mod show;
pub mod simulate;
pub mod watch;

/// How a command ended when it did not fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// All is well: exit code 0.
    Fine,
    /// Something wants attention, and the caller asked to be told by exit code 1.
    Findings,
}
