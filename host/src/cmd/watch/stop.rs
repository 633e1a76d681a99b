//! Ctrl-C asks for a clean end: what was seen is still said, and the exit code is that of the watch.

use crate::{Error, Result};
use signal_hook::consts::SIGINT;
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The exit code of a program that Ctrl-C ended, as shells tell it.
const INTERRUPTED: i32 = 130;

/// Whether an end was asked for.
pub(super) struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Listens for Ctrl-C; a second one ends the program at once.
    ///
    /// # Errors
    /// The system gives no such signal.
    pub(super) fn on_interrupt() -> Result<Stop> {
        let asked = Arc::new(AtomicBool::new(false));
        // In this order: the second signal finds the flag set and ends the program, the first one sets it.
        let set = flag::register_conditional_shutdown(SIGINT, INTERRUPTED, Arc::clone(&asked))
            .and_then(|_| flag::register(SIGINT, Arc::clone(&asked)));
        set.map_err(|error| {
            Error::input(
                format!("Ctrl-C cannot be listened for ({error}); nothing was watched"),
                "Try again.",
            )
        })?;
        Ok(Stop(asked))
    }

    /// An end was asked for.
    pub(super) fn asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
