//! The host's side of a life: it pulls what is new, and adds up what it got.

use super::run::Fault;
use crate::asking::ask;
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::message::{Reply, Request, Status};
use halfglass_protocol::record::{ClockSource, Record, Totals};
use halfglass_sim::bench::Powered;
use std::collections::BTreeMap;

/// What a host has pulled so far.
#[derive(Debug, Default)]
pub struct Pulled {
    /// The next index that it lacks.
    have: u32,
    /// Bases and spans, added up.
    sum: Option<Totals>,
    /// The records of the page in which the last pull ended: they come again, and must be the same.
    last_page: BTreeMap<u32, Vec<u8>>,
    /// Records that were overwritten before they could be pulled.
    pub gap_records: u64,
    /// Records pulled.
    pub records: u64,
    /// Records by which the logger says that edges were merged.
    pub coalesced: u64,
    /// Days that the history reached back, at the last pull.
    pub retention_days: f64,
}

impl Pulled {
    /// Pulls all that is new: anchor, fix, read.
    ///
    /// # Errors
    /// A record is lost, has changed, or the records do not add up to the totals.
    pub fn pull<F: NorFlash>(&mut self, board: &mut Powered<F, 8>, utc_ms: u64) -> Result<(), Fault> {
        let anchor = Request::Anchor { utc_ms, uncertainty_ms: 50, source: ClockSource::Host };
        let anchored = ask(board, &anchor, false, |reply| matches!(reply, Reply::Anchored { .. }));
        let range = ask(board, &Request::Fix { have: self.have }, false, |reply| match reply {
            Reply::Range { from, to, oldest } => Some((from, to, oldest)),
            _ => None,
        });
        let (true, Some((from, to, oldest))) = (anchored, range) else {
            return Err("a pull was refused".into());
        };
        if from > self.have {
            self.gap_records += u64::from(from - self.have);
            self.sum = None;
        }
        for (index, bytes) in read(board, from, to)? {
            self.take(index, bytes, from)?;
        }
        self.last_page.retain(|index, _| *index >= from);
        self.have = to;
        let status = ask(board, &Request::Status, false, status).ok_or("no status")?;
        // The sum knows nothing of what happened since the fix, which is the same instant.
        if self.sum != Some(status.totals) {
            return Err(format!("records add up to {:?}, totals are {:?}", self.sum, status.totals));
        }
        let first = read(board, oldest, oldest + 1)?;
        match first.first().and_then(|(_, bytes)| Record::decode(bytes)) {
            Some(Record::Base(base)) => {
                self.retention_days = (status.totals.uptime_tenths - base.uptime_tenths) as f64 / 864_000.0;
            }
            other => return Err(format!("the oldest record is {other:?}")),
        }
        Ok(())
    }

    fn take(&mut self, index: u32, bytes: Vec<u8>, from: u32) -> Result<(), Fault> {
        if index < self.have {
            return match self.last_page.get(&index) {
                Some(before) if *before != bytes => Err(format!("record {index} has changed")),
                // Of the first page of a pull that began further back than the last one did.
                _ => Ok(()),
            };
        }
        self.records += 1;
        let record = Record::decode(&bytes).ok_or_else(|| format!("record {index} is lost"))?;
        let sum = self.sum.get_or_insert_default();
        match record {
            Record::Base(totals) if index == from && from > 0 => *sum = totals,
            Record::Base(totals) => {
                let expected = Totals { session: totals.session, ..*sum };
                if totals != expected {
                    return Err(format!("base {index} is {totals:?}, the spans before say {expected:?}"));
                }
                *sum = totals;
            }
            Record::Span(span) => sum.add(&span),
            Record::Session(session) => sum.session = session.session,
            Record::Coalesced { .. } => self.coalesced += 1,
            Record::Damage(damage) => return Err(format!("record {index}: {damage:?}")),
            Record::Anchor(_)
            | Record::Run(_)
            | Record::RunsSkipped { .. }
            | Record::Config(_)
            | Record::Way { .. } => {}
        }
        self.last_page.insert(index, bytes);
        Ok(())
    }
}

fn status(reply: Reply<'_>) -> Option<Status> {
    match reply {
        Reply::Status(status) => Some(status),
        _ => None,
    }
}

fn read<F: NorFlash>(board: &mut Powered<F, 8>, from: u32, to: u32) -> Result<Vec<(u32, Vec<u8>)>, Fault> {
    let mut records = Vec::new();
    let mut next = from;
    while next < to {
        let got = ask(board, &Request::Read { from: next, to }, false, |reply| match reply {
            Reply::Records { first, data } if first == next => Some(data.to_vec()),
            _ => None,
        });
        let got = got.filter(|got| !got.is_empty()).ok_or_else(|| format!("no record {next}"))?;
        let mut rest = got.as_slice();
        while let Some((len, after)) = rest.split_first() {
            let (record, after) = after.split_at(usize::from(*len));
            records.push((next, record.to_vec()));
            next += 1;
            rest = after;
        }
    }
    Ok(records)
}
