//! The cable of a simulated pull: the client that `halfglass pull` uses, the requests that it sends, bytes in memory.

use super::simulation::Simulation;
use crate::link::client::{Client, Fault, Patience};
use crate::link::pull::HOST_CLOCK_ERROR_MS;
use crate::link::transport::Transport;
use crate::{Error, Result};
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::message::{Refusal, Reply, Request, Status};
use halfglass_protocol::record::ClockSource;
use halfglass_sim::rig::Rig;
use std::io;
use std::time::Duration;

/// What a pull says of its clock: as `halfglass pull` does over a cable that costs no time.
const UNCERTAINTY_MS: u32 = HOST_CLOCK_ERROR_MS + 1;

/// An answer in memory is there at once or never.
const PATIENCE: Patience = Patience { reply: Duration::from_millis(1), tries: 2, wait_max: Duration::ZERO };

/// What one pull brought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pulled {
    /// When, in milliseconds since 1970, UTC.
    pub at_ms: i64,
    /// Which records.
    pub header: Header,
    /// The oldest record that the logger still kept.
    pub oldest: u32,
    /// The dump.
    pub dump: Vec<u8>,
    /// What the logger said of itself behind the pull.
    pub status: Status,
}

impl Pulled {
    /// The name that `halfglass pull` gives to the dump's file.
    #[must_use]
    pub fn file_name(&self) -> String {
        let Header { device_id, from, to, .. } = self.header;
        format!("{device_id:016x}-{from}-{to}.hgd")
    }
}

/// Bytes between a host and a simulated logger, in memory; the logger's clock stands still meanwhile.
pub struct Cable<'a> {
    rig: &'a mut dyn Rig,
    answers: Vec<u8>,
}

impl<'a> Cable<'a> {
    /// A cable to this logger.
    pub fn to(simulation: &'a mut Simulation) -> Cable<'a> {
        simulation.reach();
        Cable { rig: simulation.rig(), answers: Vec::new() }
    }
}

impl Transport for Cable<'_> {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.rig.receive(bytes, &mut self.answers);
        Ok(())
    }

    fn receive(&mut self, buffer: &mut [u8], _wait: Duration) -> io::Result<usize> {
        let count = self.answers.len().min(buffer.len());
        for (slot, byte) in buffer.iter_mut().zip(self.answers.drain(..count)) {
            *slot = byte;
        }
        Ok(count)
    }
}

/// Pulls what a host lacks that has the records below `have`; 0 asks for everything.
pub(super) fn pull(rig: &mut dyn Rig, at_ms: i64, have: u32) -> Result<Pulled> {
    let mut client = Client::new(Cable { rig, answers: Vec::new() }, PATIENCE);
    let hello = client.hello().map_err(|fault| faulty("the greeting", &fault))?;
    let utc_ms = u64::try_from(at_ms).unwrap_or(0);
    let anchor = Request::Anchor { utc_ms, uncertainty_ms: UNCERTAINTY_MS, source: ClockSource::Host };
    match client.ask(&anchor, |reply| matches!(reply, Reply::Anchored { .. }).then_some(())) {
        // Pulls less than a minute apart share one anchor.
        Ok(()) | Err(Fault::Refused(Refusal::Wait { .. })) => {}
        Err(fault) => return Err(faulty("the anchor", &fault)),
    }
    let range = client.ask(&Request::Fix { have }, |reply| match *reply {
        Reply::Range { from, to, oldest } => Some((from, to, oldest)),
        _ => None,
    });
    let (from, to, oldest) = range.map_err(|fault| faulty("the range", &fault))?;
    let header = Header {
        device_id: hello.device_id,
        firmware_version: hello.firmware_version,
        lines: hello.lines,
        from,
        to,
    };
    let mut dump = Vec::new();
    let mut writer = Writer::new(&header, |piece| dump.extend_from_slice(piece));
    let mut next = from;
    while next < to {
        let answer = client.ask(&Request::Read { from: next, to }, |reply| match reply {
            Reply::Records { first, data } if *first == next => Some(data.to_vec()),
            _ => None,
        });
        let data = answer.map_err(|fault| faulty("the records", &fault))?;
        let before = next;
        let mut rest = data.as_slice();
        while let Some((len, after)) = rest.split_first()
            && let Some((record, after)) = after.split_at_checked(usize::from(*len))
            && next < to
        {
            writer.record(record);
            next += 1;
            rest = after;
        }
        if next == before {
            return Err(faulty("the records", &Fault::NotUnderstood));
        }
    }
    writer.finish();
    let status = client.ask(&Request::Status, |reply| match reply {
        Reply::Status(status) => Some(*status),
        _ => None,
    });
    let status = status.map_err(|fault| faulty("the health figures", &fault))?;
    Ok(Pulled { at_ms, header, oldest, dump, status })
}

fn faulty(what: &str, fault: &Fault) -> Error {
    Error::input(
        format!("the simulated logger did not give {what} ({fault:?}); no dump was written"),
        "This is a fault in Halfglass: please report it, with the lines.csv.",
    )
}
