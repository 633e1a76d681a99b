//! A logger that is looked at again and again, and that may go away and come back meanwhile.

use super::client::{Fault, Patience};
use super::failure;
use super::ports::{self, Found};
use halfglass_protocol::message::{Refusal, Reply, Request, Status};
use std::time::{Duration, Instant};

/// A look is answered in milliseconds or not at all: after a second and a half of silence the logger counts as lost.
const PATIENCE: Patience = Patience { reply: Duration::from_millis(500), tries: 3, wait_max: Duration::ZERO };

/// While it is lost it is looked for this often.
const SEARCH_EVERY: Duration = Duration::from_secs(1);

/// What one look brought.
#[derive(Debug)]
pub enum Look {
    /// How it stands.
    Status(Status),
    /// It answers and is not ready yet: its supply has not been good for long enough.
    Starting,
    /// It was there until now, and is not any more: why.
    Lost(String),
    /// Still not there.
    Away,
    /// Another logger answers where it was.
    Another {
        /// The other's id.
        device_id: u64,
    },
    /// There again.
    Back {
        /// The port's name, which may be another than before.
        port: String,
    },
}

/// One logger, by its id.
pub struct Live {
    named: Option<String>,
    device_id: u64,
    found: Option<Found>,
    search_at: Instant,
}

impl Live {
    /// Goes on with a logger that has greeted. `named`: the port that the user named; without it a logger that comes back
    /// on another port is found there.
    #[must_use]
    pub fn new(mut found: Found, named: Option<String>) -> Live {
        found.client.patience = PATIENCE;
        let device_id = found.hello.device_id;
        Live { named, device_id, found: Some(found), search_at: Instant::now() }
    }

    /// Looks once. Ends within seconds, whatever the logger does.
    pub fn look(&mut self) -> Look {
        let Some(found) = &mut self.found else { return self.search() };
        let status = found.client.ask(&Request::Status, |reply| match reply {
            Reply::Status(status) => Some(*status),
            _ => None,
        });
        match status {
            Ok(status) => Look::Status(status),
            Err(Fault::Refused(Refusal::NotReady)) => Look::Starting,
            Err(fault) => {
                // Closed, so that the port can go away and come back.
                self.found = None;
                self.search_at = Instant::now() + SEARCH_EVERY;
                Look::Lost(failure::in_short(&fault))
            }
        }
    }

    fn search(&mut self) -> Look {
        if Instant::now() < self.search_at {
            return Look::Away;
        }
        let found = match &self.named {
            Some(port) => ports::connect_again(port).map(|found| vec![found]),
            None => ports::discover(&mut |_| {}),
        };
        self.search_at = Instant::now() + SEARCH_EVERY;
        let mut found = found.unwrap_or_default();
        let Some(at) = found.iter().position(|found| found.hello.device_id == self.device_id) else {
            return match found.first() {
                Some(other) => Look::Another { device_id: other.hello.device_id },
                None => Look::Away,
            };
        };
        let mut found = found.swap_remove(at);
        found.client.patience = PATIENCE;
        let port = found.port.clone();
        self.found = Some(found);
        Look::Back { port }
    }
}
