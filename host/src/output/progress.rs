//! A bar on a terminal, plain lines elsewhere.

use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;

/// Progress of one pull.
#[derive(Default)]
pub struct Progress {
    bar: Option<ProgressBar>,
}

impl Progress {
    /// Nothing to show yet.
    #[must_use]
    pub fn new() -> Progress {
        Progress::default()
    }

    /// So many are to come, and so many are here already.
    pub fn begin(&mut self, total: u32, had: u32) {
        if !std::io::stderr().is_terminal() {
            return;
        }
        let bar = ProgressBar::new(u64::from(total)).with_position(u64::from(had));
        if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} records, {eta} to go") {
            bar.set_style(style);
        }
        self.bar = Some(bar);
    }

    /// So many are here.
    pub fn at(&mut self, count: u32) {
        if let Some(bar) = &self.bar {
            bar.set_position(u64::from(count));
        }
    }

    /// All are here.
    pub fn end(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }

    /// A line that stays.
    pub fn say(&self, line: &str) {
        match &self.bar {
            Some(bar) => bar.suspend(|| println!("{line}")),
            None => println!("{line}"),
        }
    }
}
