//! Where a watch is shown: drawn again and again on a terminal, line by line elsewhere.

use super::seen::Seen;
use crate::output::screen::Screen;
use crate::output::watch::{Event, checklist, json, line, screen};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};

/// One of three ways to show a watch.
pub(super) struct Show {
    logger: String,
    way: Way,
    prove: bool,
    /// Whoever read this has gone.
    gone: bool,
}

enum Way {
    /// Drawn in place.
    Terminal(ProgressBar),
    Lines,
    Json,
}

impl Show {
    pub(super) fn new(logger: String, json: bool, prove: bool) -> Show {
        let way = if json {
            Way::Json
        } else if std::io::stdout().is_terminal() {
            let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stdout());
            if let Ok(style) = ProgressStyle::with_template("{msg}") {
                bar.set_style(style);
            }
            Way::Terminal(bar)
        } else {
            Way::Lines
        };
        Show { logger, way, prove, gone: false }
    }

    /// What stands above it all. A program finds the caution in the first line.
    pub(super) fn head(&mut self, text: &str) {
        match &self.way {
            Way::Terminal(_) => self.print(&format!("{text}\nCtrl-C ends.\n")),
            Way::Lines => self.print(text),
            Way::Json => {}
        }
    }

    /// What has happened. On a terminal the table says most of it; what it cannot say stays above it.
    pub(super) fn events(&mut self, events: &[Event], at_ms: i64) {
        for event in events {
            match &self.way {
                Way::Terminal(bar) => {
                    let in_table = matches!(
                        event,
                        Event::Begin(_) | Event::Change(_) | Event::Breach(_) | Event::Starting
                    );
                    if !in_table {
                        let text = line(event, at_ms);
                        bar.println(text);
                    }
                }
                Way::Lines => self.print(&line(event, at_ms)),
                Way::Json => self.print(&json(&self.logger, event, at_ms)),
            }
        }
    }

    /// How it stands now.
    pub(super) fn screen(&mut self, seen: &Seen, away: Option<&Event>, at_ms: i64) {
        if let Way::Terminal(bar) = &self.way {
            let away = match away {
                Some(Event::Starting) => Some("The logger answers and waits for its supply to be good."),
                Some(_) => Some("The logger is away; looking for it. What it counted is safe in it."),
                None => None,
            };
            let (breaches, on) = (seen.breaches(), Screen::of_stdout());
            bar.set_message(screen(&seen.lines, &breaches, self.prove, away, at_ms, on));
        }
    }

    /// The end, by itself or by Ctrl-C.
    pub(super) fn end(&mut self, seen: &Seen, event: &Event, at_ms: i64, interrupted: bool) {
        match &self.way {
            // The terminal has put its ^C behind the table: what was drawn stays, and nothing is drawn over it.
            Way::Terminal(bar) if interrupted => {
                bar.set_draw_target(ProgressDrawTarget::hidden());
                self.print("");
            }
            Way::Terminal(bar) => bar.abandon(),
            Way::Lines => {
                self.print(&line(event, at_ms));
                if self.prove {
                    self.print(&format!("\n{}", checklist(&seen.lines, Screen::of_stdout())));
                }
            }
            Way::Json => self.print(&json(&self.logger, event, at_ms)),
        }
    }

    /// Nobody reads any more: a pipe was closed.
    pub(super) fn is_gone(&self) -> bool {
        self.gone
    }

    fn print(&mut self, text: &str) {
        let mut out = std::io::stdout().lock();
        let written = writeln!(out, "{text}").and_then(|()| out.flush());
        match written {
            Err(error) if error.kind() == ErrorKind::BrokenPipe => self.gone = true,
            Err(error) if !self.gone => {
                eprintln!("halfglass: the watch cannot be written ({error}); it ends");
                self.gone = true;
            }
            _ => {}
        }
    }
}
