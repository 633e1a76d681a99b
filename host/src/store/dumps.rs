//! Dumps and their records.

use super::Store;
use crate::{Error, Result};
use halfglass_protocol::dump::{Dump, Fault, Header};
use halfglass_protocol::record::{Anchor, Record};
use rusqlite::{OptionalExtension, params};

/// What an import brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Imported {
    /// Whose records, and which.
    pub header: Header,
    /// Records that were not known before.
    pub records_new: u32,
    /// Records, new or not, of a kind that this program does not know: a later version has added it.
    pub not_known: u32,
    /// This very dump was here already.
    pub known: bool,
}

/// A logger's records.
#[derive(Clone, Debug, Default)]
pub struct Records {
    /// By index. Indices may be missing.
    pub known: Vec<(u32, Record)>,
    /// The indices of those of a kind that a later version has added, in order.
    pub later: Vec<u32>,
}

impl Store {
    /// Imports a dump: all of it or nothing. `name` is its file's name, for messages.
    ///
    /// # Errors
    /// It is no sound dump, or it contradicts a record that is here already.
    pub fn import_dump(&mut self, bytes: &[u8], name: &str) -> Result<Imported> {
        let dump = read_dump(bytes, name)?;
        let header = dump.header;
        let is_later = |(_, record): &(u32, &[u8])| Record::is_of_later_version(record);
        let not_known = dump.raw_records().filter(is_later).count() as u32;
        let device = format!("{:016x}", header.device_id);
        let failed = self.sql("write");
        let change = self.db.transaction().map_err(&failed)?;
        let known: Option<i64> = change
            .query_row(
                "SELECT id FROM dumps WHERE device = ?1 AND from_index = ?2 AND to_index = ?3 AND bytes = ?4",
                params![device, header.from, header.to, bytes],
                |row| row.get(0),
            )
            .optional()
            .map_err(&failed)?;
        if known.is_some() {
            return Ok(Imported { header, records_new: 0, not_known, known: true });
        }
        let [major, minor, patch] = header.firmware_version;
        change
            .execute(
                "INSERT INTO dumps (device, from_index, to_index, firmware, lines, name, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    device,
                    header.from,
                    header.to,
                    format!("{major}.{minor}.{patch}"),
                    header.lines,
                    name,
                    bytes
                ],
            )
            .map_err(&failed)?;
        let dump_id = change.last_insert_rowid();
        let mut records_new = 0;
        {
            let mut find = change
                .prepare("SELECT bytes FROM records WHERE device = ?1 AND record_index = ?2")
                .map_err(&failed)?;
            let mut add = change
                .prepare("INSERT INTO records (device, record_index, dump, bytes) VALUES (?1, ?2, ?3, ?4)")
                .map_err(&failed)?;
            for (index, record) in dump.raw_records() {
                if record.is_empty() {
                    continue;
                }
                let before: Option<Vec<u8>> =
                    find.query_row(params![device, index], |row| row.get(0)).optional().map_err(&failed)?;
                match before {
                    Some(before) if before == record => {}
                    Some(before) => return Err(contradiction(name, &device, index, &before, record)),
                    None => {
                        add.execute(params![device, index, dump_id, record]).map_err(&failed)?;
                        records_new += 1;
                    }
                }
            }
        }
        change.commit().map_err(&failed)?;
        Ok(Imported { header, records_new, not_known, known: false })
    }

    /// One past the highest index that any dump of this logger reaches; 0 if there is none.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn records_end(&self, device_id: u64) -> Result<u32> {
        self.db
            .query_row(
                "SELECT coalesce(max(to_index), 0) FROM dumps WHERE device = ?1",
                [format!("{device_id:016x}")],
                |row| row.get(0),
            )
            .map_err(self.sql("read"))
    }

    /// All records of a logger, by index. Indices may be missing.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn records(&self, device_id: u64) -> Result<Vec<(u32, Record)>> {
        Ok(self.records_and_later(device_id)?.known)
    }

    /// The same, and which are of a kind that this program does not know.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn records_and_later(&self, device_id: u64) -> Result<Records> {
        let failed = self.sql("read");
        let mut find = self
            .db
            .prepare("SELECT record_index, bytes FROM records WHERE device = ?1 ORDER BY record_index")
            .map_err(&failed)?;
        let rows = find
            .query_map([format!("{device_id:016x}")], |row| {
                Ok((row.get::<_, u32>(0)?, row.get::<_, Vec<u8>>(1)?))
            })
            .map_err(&failed)?;
        let mut records = Records::default();
        for row in rows {
            let (index, bytes) = row.map_err(&failed)?;
            // Kinds are only ever added.
            if Record::is_of_later_version(&bytes) {
                records.later.push(index);
                continue;
            }
            let record = Record::decode(&bytes).ok_or_else(|| {
                Error::input(
                    format!("record {index} of logger {device_id:016x} in {} cannot be read", self.path.display()),
                    "The database is damaged: put back a copy, or move it away and import the files in `dumps` again.",
                )
            })?;
            records.known.push((index, record));
        }
        Ok(records)
    }

    /// The newest anchor of a logger, by index.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn last_anchor(&self, device_id: u64) -> Result<Option<Anchor>> {
        let records = self.records(device_id)?;
        Ok(records.into_iter().rev().find_map(|(_, record)| match record {
            Record::Anchor(anchor) => Some(anchor),
            _ => None,
        }))
    }

    /// The loggers of which there are dumps, with how many dumps and records, and the range's end.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn loggers(&self) -> Result<Vec<(String, u32, u32)>> {
        let failed = self.sql("read");
        let mut find = self
            .db
            .prepare(
                "SELECT device, count(*), (SELECT count(*) FROM records WHERE records.device = dumps.device)
                 FROM dumps GROUP BY device ORDER BY device",
            )
            .map_err(&failed)?;
        let rows = find.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).map_err(&failed)?;
        rows.collect::<std::result::Result<_, _>>().map_err(&failed)
    }
}

/// Verifies a dump and says in plain words what is wrong with it.
///
/// # Errors
/// It is no sound dump.
pub fn read_dump<'a>(bytes: &'a [u8], name: &str) -> Result<Dump<'a>> {
    const AGAIN: &str =
        "Copy the file again from where it came, or pull the logger again: it keeps its history.";
    Dump::read(bytes).map_err(|fault| {
        let (what, advice) = match fault {
            Fault::NotADump => (
                "is not a dump: it does not begin as a dump does".to_owned(),
                "Dumps are written by `halfglass pull` and `halfglass simulate` and end in .hgd.",
            ),
            Fault::Version(version) => (
                format!("is a dump of format {version}, which this program does not know"),
                "Install a newer Halfglass, or check that the file is not damaged.",
            ),
            Fault::Truncated { len, records, of } if of > 0 => (
                format!("is cut short: it ends after {len} bytes, with {records} of {of} records whole"),
                AGAIN,
            ),
            Fault::Truncated { len, .. } => (format!("is cut short: it ends after {len} bytes"), AGAIN),
            Fault::Check => ("is damaged: its check sum does not match, so some byte was changed".to_owned(), AGAIN),
            Fault::Record { index } => (
                format!("holds something at record {index} that this program cannot read, though its check sum matches"),
                "It was written by a newer or faulty program: install a newer Halfglass.",
            ),
            Fault::Rest { bytes } => (format!("has {bytes} bytes too many behind its end"), AGAIN),
        };
        Error::input(format!("{name} {what}; nothing was imported"), advice)
    })
}

fn contradiction(name: &str, device: &str, index: u32, before: &[u8], now: &[u8]) -> Error {
    let show = |bytes: &[u8]| match Record::decode(bytes) {
        Some(Record::Base(totals)) => format!("a base at {} h of uptime", totals.uptime_tenths / 36_000),
        Some(Record::Span(span)) => format!("a span of {} s", span.uptime_tenths / 10),
        Some(Record::Session(session)) => format!("the start of session {}", session.session),
        Some(Record::Anchor(anchor)) => {
            format!("an anchor at {}", crate::time::minute(i64::try_from(anchor.utc_ms).unwrap_or(i64::MAX)))
        }
        Some(Record::Run(run)) => format!("a run of line {}", run.line),
        Some(Record::Config(_)) => "a configuration".to_owned(),
        Some(_) => "an event".to_owned(),
        None => "something unreadable".to_owned(),
    };
    Error::input(
        format!(
            "{name} contradicts what is here already: record {index} of logger {device} is {} there but {} here; \
             nothing was imported",
            show(now),
            show(before)
        ),
        "A record never changes, so either two loggers have the same id or this logger's memory was wiped and \
         it began to count anew. Find out which before going on; keep both files.",
    )
}
