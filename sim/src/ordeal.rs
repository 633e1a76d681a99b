//! A logger put on an image that nobody wrote: it must start, answer and go on, whatever stands there.

use crate::bench::board;
use crate::bounded::Bounded;
use crate::flash::Flash;
use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::state::Watch;
use halfglass_firmware::ports::{Layout, Region, Sample};
use halfglass_firmware::{Link, Logger, provision};
use halfglass_protocol::config::Config;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Reply, Request, Status};
use halfglass_protocol::record::{ClockSource, Record, Totals};
use std::collections::BTreeMap;

const LINES: usize = 8;

/// The most tenths that one word can say.
const WORD_TENTHS: u64 = (1 << 13) - 1;

/// The most tenths that a page's head can say: 40 bits.
pub const HEAD_TENTHS: u64 = (1 << 40) - 1;

/// Replies that a pull reads at most: an image may claim billions of records.
const REPLIES: u32 = 2_000;

/// Bytes that one erase erases in [`SMALL`].
pub const SMALL_ERASE: usize = 512;

/// Small rings, so that an image is quickly made and soon turns.
pub const SMALL: Layout = Layout {
    journal: Region { start: 0, page_len: 512, pages: 4 },
    history: Region { start: 2_048, page_len: 1_024, pages: 3 },
    config: Region { start: 5_120, page_len: 512, pages: 2 },
};

/// Length of an image of [`SMALL`].
pub const SMALL_LEN: usize = 6_144;

/// What must hold for an image.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// What uptime and every on-time may be at most when they are first shown.
    pub most_tenths: u64,
    /// What may be wanted of the records.
    pub records: Records,
}

/// How far records can be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Records {
    /// Each is whole or lost, and stays what it was shown as.
    Stay,
    /// Pages were moved, so that the next to be overwritten need not be the oldest: each is whole or lost.
    Moved,
    /// Behind a CRC that was made to match anything may stand, and indexes need not be in order: a pull may get rubbish or be refused.
    Forged,
}

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// Totals as they were first shown.
    pub totals: Totals,
    /// The most flash operations that one call took.
    pub operations_most: u64,
    /// What they may have been at most.
    pub operations_limit: u64,
    /// Records that the first pull got, and those of them that were lost.
    pub records: (usize, usize),
    /// The configuration was the one in the image.
    pub config: Option<Config>,
}

/// Cells in the pages of a region, whatever their heads take.
fn cells(region: Region, granule: usize) -> u64 {
    u64::from(region.page_len) / granule as u64
}

/// What the words of a journal can add to a head at most: every cell of every page a word that says the most.
#[must_use]
pub fn words_tenths(layout: &Layout, granule: usize) -> u64 {
    cells(layout.journal, granule) * u64::from(layout.journal.pages) * WORD_TENTHS
}

/// The most flash operations that one call may take: for each page of each region, a look at every other page, a head,
/// and every cell, eight times over.
#[must_use]
pub fn operations_limit(layout: &Layout, granule: usize) -> u64 {
    let of = |region: Region| {
        let pages = u64::from(region.pages);
        8 * pages * (pages + 64 + cells(region, granule))
    };
    of(layout.journal) + of(layout.history) + of(layout.config)
}

type Chip<const G: usize, const P: usize> = Bounded<Flash<G, P>>;

/// Puts a logger on this image, four sessions in a row.
///
/// # Errors
/// Something that must hold for every image does not.
///
/// # Panics
/// The firmware panics, or asks the flash without end.
pub fn undergo<const G: usize, const P: usize>(
    image: &[u8],
    layout: &Layout,
    bounds: Bounds,
) -> Result<Told, String> {
    let limit = operations_limit(layout, G);
    let flash = Bounded::new(Flash::<G, P>::from_image(image, 1), limit);
    // First session: whatever stands there.
    let mut desk = Desk::<G, P>::power_on(flash, layout, bounds);
    desk.run_until(3_000)?;
    let status = desk.status()?;
    at_most(&status.totals, bounds.most_tenths + 30)?;
    let first = desk.pull()?;
    let lost = first.values().filter(|record| record.is_empty()).count();
    let told = Told {
        totals: status.totals,
        operations_limit: limit,
        records: (first.len(), lost),
        config: Some(*desk.logger.config()),
        operations_most: 0,
    };
    desk.run_until(65_000)?;
    // Second session: what was committed in the first is there, what was pulled has not changed.
    let (flash, committed) = desk.power_off();
    let mut desk = Desk::<G, P>::power_on(survives(flash, layout, &committed)?, layout, bounds);
    desk.run_until(3_000)?;
    let status = desk.status()?;
    if status.totals.session.wrapping_sub(committed.session).cast_signed() <= 0 {
        return Err(format!("session {} after session {}", status.totals.session, committed.session));
    }
    for (index, record) in desk.pull()? {
        if bounds.records == Records::Stay && first.get(&index).is_some_and(|before| *before != record) {
            return Err(format!("record {index} was {:?} and is {record:?}", first[&index]));
        }
    }
    desk.run_until(65_000)?;
    let (flash, committed) = desk.power_off();
    // A configuration is written and counts from the next session on.
    let mut flash = survives(flash, layout, &committed)?;
    let config = Config { heartbeat_s: 7, idle_s: 77, ..Config::as_in_guide() };
    flash.begin();
    provision(&mut flash, layout, &config).map_err(|fault| format!("provisioning: {fault:?}"))?;
    for session in 3..=4 {
        let mut desk = Desk::<G, P>::power_on(flash, layout, bounds);
        if *desk.logger.config() != config {
            return Err(format!("session {session}: configuration is {:?}", desk.logger.config()));
        }
        desk.run_until(65_000)?;
        desk.pull()?;
        let (cut, committed) = desk.power_off();
        flash = survives(cut, layout, &committed)?;
    }
    if let Some(violation) = flash.flash.violations.first() {
        return Err(format!("the chip's rules: {violation:?}"));
    }
    Ok(Told { operations_most: flash.most, ..told })
}

fn at_most(totals: &Totals, most_tenths: u64) -> Result<(), String> {
    let figures = totals.on_tenths.iter().chain([&totals.uptime_tenths]);
    match figures.max().filter(|most| **most > most_tenths) {
        Some(_) => Err(format!("totals {totals:?} beyond {most_tenths} tenths")),
        None => Ok(()),
    }
}

/// What was committed before power went must be what the next mount reads.
fn survives<const G: usize, const P: usize>(
    mut flash: Chip<G, P>,
    layout: &Layout,
    committed: &Totals,
) -> Result<Chip<G, P>, String> {
    flash.flash.power_on(None);
    flash.begin();
    let watch = Watch::from_config(&Config::as_in_guide());
    let read = Journal::<LINES>::mount(&mut flash, layout.journal, watch).state().totals;
    // Drop-outs and warm-ups depend on the configuration, which is not looked for here.
    let figures = |totals: &Totals| (totals.uptime_tenths, totals.on_tenths, totals.starts, totals.session);
    if figures(&read) == figures(committed) {
        Ok(flash)
    } else {
        Err(format!("committed {committed:?}, after the cut {read:?}"))
    }
}

/// A logger under power, every call of it counted.
struct Desk<const G: usize, const P: usize> {
    logger: Logger<Chip<G, P>, LINES>,
    now_ms: u64,
    bounds: Bounds,
}

impl<const G: usize, const P: usize> Desk<G, P> {
    fn power_on(mut flash: Chip<G, P>, layout: &Layout, bounds: Bounds) -> Self {
        flash.begin();
        let mut desk = Self { logger: Logger::start(flash, *layout, board(1), 0), now_ms: 0, bounds };
        desk.look();
        desk
    }

    fn look(&mut self) {
        self.logger.flash().begin();
        self.logger.sample(self.sample());
    }

    /// Every line with an even number is on.
    fn sample(&self) -> Sample {
        Sample { now_ms: self.now_ms, held_until_ms: self.now_ms, levels: 0b0101_0101, pulses: 0 }
    }

    fn run_until(&mut self, until_ms: u64) -> Result<(), String> {
        loop {
            let wake_ms = self.logger.next_wake_ms();
            if wake_ms <= self.now_ms {
                return Err(format!("at {} ms it wants to be woken at {wake_ms} ms", self.now_ms));
            }
            if wake_ms > until_ms {
                break;
            }
            self.now_ms = wake_ms;
            self.look();
        }
        self.now_ms = until_ms;
        self.look();
        Ok(())
    }

    /// Commits what is known, and takes power away.
    fn power_off(mut self) -> (Chip<G, P>, Totals) {
        self.logger.flash().begin();
        self.logger.power_fail(self.sample());
        let totals = self.logger.totals();
        (self.logger.into_flash(), totals)
    }

    fn ask<T>(&mut self, request: &Request, read: impl FnOnce(Reply<'_>) -> Option<T>) -> Result<T, String> {
        let mut body = [0; frame::BODY_MAX];
        let mut bytes = [0; FRAME_MAX];
        let bytes = message::encode(1, request, &mut body)
            .and_then(|body| frame::encode(Channel::Request, body, &mut bytes))
            .ok_or("a request that does not fit a frame")?;
        self.look();
        self.logger.flash().begin();
        let now_ms = self.now_ms;
        let (mut link, mut decoder) = (Link::new(), Decoder::<FRAME_MAX>::new());
        for byte in bytes {
            let answer = self.logger.receive(&mut link, *byte, now_ms, false).unwrap_or_default();
            for byte in answer {
                if let Some((Channel::Reply, body)) = decoder.push(*byte) {
                    let reply = message::decode::<Reply<'_>>(body).and_then(|(_, reply)| reply);
                    return reply
                        .and_then(read)
                        .ok_or_else(|| format!("no fit answer to {request:?}: {reply:?}"));
                }
            }
        }
        Err(format!("no answer to {request:?}"))
    }

    fn status(&mut self) -> Result<Status, String> {
        self.ask(&Request::Status, |reply| match reply {
            Reply::Status(status) => Some(status),
            _ => None,
        })
    }

    /// Anchor, fix, and every record that a host would read: whole, of a later version, or lost.
    fn pull(&mut self) -> Result<BTreeMap<u32, Vec<u8>>, String> {
        let anchor =
            Request::Anchor { utc_ms: 1_767_225_600_000, uncertainty_ms: 5, source: ClockSource::Host };
        self.ask(&anchor, |reply| matches!(reply, Reply::Anchored { .. }).then_some(()))?;
        let (from, to) = self.ask(&Request::Fix { have: 0 }, |reply| match reply {
            Reply::Range { from, to, .. } => Some((from, to)),
            _ => None,
        })?;
        let mut records = BTreeMap::new();
        let mut next = from;
        for _ in 0..REPLIES {
            if next >= to {
                break;
            }
            let forged = self.bounds.records == Records::Forged;
            let got = self.ask(&Request::Read { from: next, to }, |reply| match reply {
                Reply::Records { first, data } if first == next && !data.is_empty() => Some(data.to_vec()),
                _ if forged => Some(Vec::new()),
                _ => None,
            })?;
            if got.is_empty() {
                break;
            }
            let mut rest = got.as_slice();
            while let Some((len, after)) = rest.split_first() {
                let (record, after) =
                    after.split_at_checked(usize::from(*len)).ok_or("a record cut short")?;
                let fit = self.bounds.records == Records::Forged
                    || record.is_empty()
                    || Record::is_of_later_version(record)
                    || Record::decode(record).is_some();
                if !fit || next >= to {
                    return Err(format!("record {next} of {from}..{to} is {record:?}"));
                }
                records.insert(next, record.to_vec());
                next += 1;
                rest = after;
            }
        }
        Ok(records)
    }
}
