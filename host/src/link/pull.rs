//! The pull: anchor the logger's clock, fix a range, read it, write the dump, import it.

use super::client::{Client, Fault, Patience};
use super::failure;
use super::part::Part;
use super::transport::Transport;
use crate::ship::Folder;
use crate::store::{Imported, Store};
use crate::time;
use crate::wear::Sighting;
use crate::{Error, Result};
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::hello::Hello;
use halfglass_protocol::message::{Refusal, Reply, Request, Status};
use halfglass_protocol::record::ClockSource;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// By how much this computer's clock may be off, in milliseconds: what a computer whose clock is kept right
/// by hand or network is trusted with.
pub const HOST_CLOCK_ERROR_MS: u32 = 1_000;

/// How long one range may take. The slowest line (115,200 bit/s) brings 128 KiB in 12 s; this is many times that.
const RANGE_WAIT: Duration = Duration::from_secs(15 * 60);

/// What happens on the way, for whoever watches.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The logger's clock was set against this computer's.
    Anchored {
        /// By how much the pair may be off.
        uncertainty_ms: u32,
    },
    /// It was not, and why; the pull goes on.
    NotAnchored(String),
    /// Records are about to be read.
    Begin {
        /// How many are wanted.
        records: u32,
        /// How many an earlier, unfinished pull has brought already.
        had: u32,
    },
    /// So many records of the range have come.
    Progress {
        /// Records so far.
        records: u32,
    },
    /// A range is complete, on disk and in the store.
    Done(Pulled),
    /// History was overwritten before it was pulled.
    Overwritten {
        /// How many records.
        records: u32,
    },
    /// An unfinished pull cannot be finished: the logger has overwritten its range.
    PartLost,
}

/// One dump pulled.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulled {
    /// Where the dump is.
    pub path: PathBuf,
    /// What it brought.
    pub imported: Imported,
}

/// How to pull.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// Everything that the logger keeps, not only what is new.
    pub all: bool,
}

/// One pull of one logger.
pub struct Pull<'a, T: Transport> {
    /// The conversation; the greeting is done.
    pub client: &'a mut Client<T>,
    /// What the greeting said.
    pub hello: Hello,
    /// Where it goes.
    pub folder: &'a Folder,
    /// The facts that are there.
    pub store: &'a mut Store,
    /// UTC now, in milliseconds since 1970.
    pub clock: &'a dyn Fn() -> i64,
    /// Whoever watches.
    pub watch: &'a mut dyn FnMut(Event),
}

impl<T: Transport> Pull<'_, T> {
    /// Runs it.
    ///
    /// # Errors
    /// The connection broke or the logger fell silent (what came is kept and the next pull goes on from there);
    /// it contradicts what was pulled before; or the folder cannot be written.
    pub fn run(mut self, options: Options) -> Result<Vec<Pulled>> {
        let dumps = self.folder.dumps_path();
        std::fs::create_dir_all(&dumps).map_err(|error| Error::file("make", &dumps, &error))?;
        self.anchor()?;
        let mut pulled = Vec::new();
        if let Some(part) = Part::resume(&dumps, self.hello.device_id)? {
            pulled.extend(self.finish_part(part)?);
        }
        let have = if options.all { 0 } else { self.store.records_end(self.hello.device_id)? };
        let (from, to, oldest) = self.fix(have)?;
        if oldest > have && have > 0 {
            (self.watch)(Event::Overwritten { records: oldest - have });
        }
        let Hello { device_id, firmware_version, lines, .. } = self.hello;
        let part = Part::begin(&dumps, Header { device_id, firmware_version, lines, from, to })?;
        match self.read_range(part)? {
            Some(done) => pulled.push(done),
            None => {
                return Err(Error::no_logger(
                    "the logger overwrote its oldest history while it was being read; nothing was lost but time",
                    "Pull again.",
                ));
            }
        }
        Ok(pulled)
    }

    fn anchor(&mut self) -> Result<()> {
        // Three questions measure the way there and back; an anchor must be right to well within a second.
        let mut trip = Duration::ZERO;
        let mut status = Status::default();
        for _ in 0..3 {
            let asked = Instant::now();
            status = self.ask(&Request::Status, |reply| match *reply {
                Reply::Status(status) => Some(status),
                _ => None,
            })?;
            trip = trip.max(asked.elapsed());
        }
        if let Some(last) = self.store.last_anchor(self.hello.device_id)?
            && let Ok(last_ms) = i64::try_from(last.utc_ms)
            && (self.clock)() < last_ms - i64::from(last.uncertainty_ms)
        {
            (self.watch)(Event::NotAnchored(format!(
                "this computer's clock says {} UTC, but the pull before was at {} UTC: set the clock right and pull again",
                time::minute((self.clock)()),
                time::minute(last_ms)
            )));
            return Ok(());
        }
        self.store.keep_sighting(self.hello.device_id, &Sighting::of((self.clock)(), &status))?;
        // The logger takes the anchor somewhere between sending and answering: the whole trip, not half of
        // it, bounds that from the time of sending.
        let trip_ms = u32::try_from(trip.as_millis()).unwrap_or(u32::MAX);
        let uncertainty_ms = HOST_CLOCK_ERROR_MS.saturating_add(trip_ms).saturating_add(1);
        let tries = self.client.patience.tries;
        for attempt in 0..tries {
            // Each try says its own time: a repeated frame would say an old one.
            let utc_ms = u64::try_from((self.clock)()).unwrap_or(0);
            let request = Request::Anchor { utc_ms, uncertainty_ms, source: ClockSource::Host };
            let mut take = |reply: &Reply<'_>| matches!(reply, Reply::Anchored { .. }).then_some(());
            let event = match self.client.ask_once(&request, 1, &mut take) {
                Ok(()) => Event::Anchored { uncertainty_ms },
                Err(Fault::Refused(Refusal::NotReady)) if attempt + 1 < tries => {
                    std::thread::sleep(Duration::from_millis(500));
                    continue;
                }
                // The try before was heard though its answer was not.
                Err(Fault::Refused(Refusal::Wait { .. })) if attempt > 0 => {
                    Event::Anchored { uncertainty_ms }
                }
                Err(Fault::Refused(Refusal::Wait { .. })) => Event::NotAnchored(
                    "its clock was set against a computer's less than a minute ago".to_owned(),
                ),
                Err(Fault::Refused(refusal)) => Event::NotAnchored(failure::refused(refusal)),
                Err(Fault::Silent { .. } | Fault::Garbled { .. }) if attempt + 1 < tries => continue,
                Err(fault) => return Err(failure::lost(&fault, None)),
            };
            (self.watch)(event);
            return Ok(());
        }
        Ok(())
    }

    fn fix(&mut self, have: u32) -> Result<(u32, u32, u32)> {
        let device_id = self.hello.device_id;
        let range = self.client.ask(&Request::Fix { have }, |reply| match *reply {
            Reply::Range { from, to, oldest } => Some((from, to, oldest)),
            _ => None,
        });
        let (from, to, oldest) = match range {
            Err(Fault::Refused(Refusal::OutOfRange { oldest, next })) => (next, next, oldest),
            other => other.map_err(|fault| failure::lost(&fault, None))?,
        };
        if to < have {
            return Err(Error::input(
                format!(
                    "the logger {device_id:016x} has {to} records, but {have} were pulled from it before; \
                     nothing was imported"
                ),
                "Its memory was wiped, or two loggers have the same id. Find out which before going on; \
                 the earlier records are safe in this folder.",
            ));
        }
        if from > to || (from > have && from > oldest) {
            return Err(Error::no_logger(
                format!(
                    "the logger {device_id:016x} offers the records {from} to {to}, which makes no sense"
                ),
                "Pull again; if it stays so, its firmware is faulty: keep the logger as it is and report this.",
            ));
        }
        Ok((from, to, oldest))
    }

    fn finish_part(&mut self, part: Part) -> Result<Option<Pulled>> {
        let done = if self.still_holds(&part)? {
            self.read_range(part)?
        } else {
            part.discard();
            None
        };
        if done.is_none() {
            (self.watch)(Event::PartLost);
        }
        Ok(done)
    }

    /// Whether the logger still has the last record that came, as it came: it may have been wiped in between.
    fn still_holds(&mut self, part: &Part) -> Result<bool> {
        let Some((last, index)) = part.records.last().zip(part.next().checked_sub(1)) else {
            return Ok(true);
        };
        let same = self.client.ask(&Request::Read { from: index, to: part.next() }, |reply| match reply {
            Reply::Records { first, data } if *first == index => Some(data.get(1..) == Some(last.as_slice())),
            _ => None,
        });
        match same {
            Err(Fault::Refused(Refusal::OutOfRange { .. })) => Ok(false),
            other => other.map_err(|fault| failure::lost(&fault, None)),
        }
    }

    /// Reads a range to its end. `None`: the logger no longer has it, and what came is thrown away.
    fn read_range(&mut self, mut part: Part) -> Result<Option<Pulled>> {
        let Header { from, to, .. } = part.header;
        (self.watch)(Event::Begin { records: to - from, had: part.next() - from });
        let give_up = Instant::now() + RANGE_WAIT;
        let mut empty_replies = 0;
        while part.next() < to {
            let next = part.next();
            let answer = self.client.ask(&Request::Read { from: next, to }, |reply| match reply {
                Reply::Records { first, data } if *first == next => Some(data.to_vec()),
                _ => None,
            });
            let data = match answer {
                Ok(data) => data,
                Err(Fault::Refused(Refusal::OutOfRange { .. })) => {
                    part.discard();
                    return Ok(None);
                }
                Err(fault) => return Err(failure::lost(&fault, Some((next - from, to - from)))),
            };
            let count = part.append(&data)?;
            // An answer without a record does not bring the pull on: ask a few times, not for ever.
            empty_replies = if count.unwrap_or(0) == 0 { empty_replies + 1 } else { 0 };
            if empty_replies >= Patience::USUAL.tries || Instant::now() > give_up {
                return Err(failure::lost(&Fault::NotUnderstood, Some((next - from, to - from))));
            }
            (self.watch)(Event::Progress { records: part.next() - from });
        }
        let done = self.keep(part)?;
        (self.watch)(Event::Done(done.clone()));
        Ok(Some(done))
    }

    /// Writes the dump under its name, whole or not at all, then imports it.
    fn keep(&mut self, part: Part) -> Result<Pulled> {
        let dumps = self.folder.dumps_path();
        let mut bytes = Vec::new();
        let mut writer = Writer::new(&part.header, |piece| bytes.extend_from_slice(piece));
        for record in &part.records {
            writer.record(record);
        }
        writer.finish();
        let (name, path) = name_for(&dumps, &part.header, &bytes);
        let failed = |error: &std::io::Error| Error::file("write", &path, error);
        let mut file = tempfile::NamedTempFile::new_in(&dumps).map_err(|error| failed(&error))?;
        file.write_all(&bytes).map_err(|error| failed(&error))?;
        file.as_file().sync_all().map_err(|error| failed(&error))?;
        share_with_group(file.as_file()).map_err(|error| failed(&error))?;
        file.persist(&path).map_err(|error| failed(&error.error))?;
        // The dump is whole on disk: what follows can fail without anything having to be read again.
        part.discard();
        let imported = self.store.import_dump(&bytes, &name).map_err(|error| {
            let advice = format!("{}\nThe dump itself is kept as {}.", error.advice(), path.display());
            Error::input(error.what(), advice)
        })?;
        Ok(Pulled { path, imported })
    }

    fn ask<R>(&mut self, request: &Request, take: impl FnMut(&Reply<'_>) -> Option<R>) -> Result<R> {
        self.client.ask(request, take).map_err(|fault| failure::lost(&fault, None))
    }
}

/// A dump's name. Another dump of the same range, with other bytes, is evidence and never written over.
fn name_for(dumps: &Path, header: &Header, bytes: &[u8]) -> (String, PathBuf) {
    let stem = format!("{:016x}-{}-{}", header.device_id, header.from, header.to);
    let mut name = format!("{stem}.hgd");
    let mut number = 1;
    loop {
        let path = dumps.join(&name);
        match std::fs::read(&path) {
            Ok(other) if other != bytes => number += 1,
            _ => return (name, path),
        }
        name = format!("{stem}-{number}.hgd");
    }
}

/// A temporary file is private; a dump is for everyone who may read the folder.
#[cfg(unix)]
fn share_with_group(file: &std::fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn share_with_group(_file: &std::fs::File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
#[path = "pull_tests.rs"]
mod tests;
