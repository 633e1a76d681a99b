//! The way to a logger: which port, a client whose every wait has a deadline, and the pull.

pub mod client;
mod failure;
pub mod part;
pub mod ports;
pub mod pull;
pub mod transport;

pub use client::Client;
pub use transport::Transport;
