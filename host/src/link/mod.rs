//! The way to a logger: which port, a client whose every wait has a deadline, the pull, a logger watched.

pub mod client;
mod failure;
pub mod live;
pub mod part;
pub mod ports;
pub mod pull;
pub mod setting;
pub mod transport;

pub use client::Client;
pub use transport::Transport;
