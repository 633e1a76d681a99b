//! The loop that joins the rooms: a look at the inputs, what is due, what the host asks.

use crate::battery::Heard;
use crate::history::History;
use crate::journal::Journal;
use crate::journal::state::{Watch, bit};
use crate::line::{Edge, Lines};
use crate::link::{Asked, Link};
use crate::ports::{Board, Layout, Sample};
use crate::ring::Dead;
use crate::settings::Settings;
use crate::tally::Tally;
use embedded_storage::nor_flash::NorFlash;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::config::{Config, ConfigFault, Role};
use halfglass_protocol::hello::{Hello, PROTOCOL_VERSION};
use halfglass_protocol::message::{Health, Refusal, Reply, Request, Status};
use halfglass_protocol::record::{Anchor, ClockSource, Damage, Motion, Record, Run, Session, Totals};

/// The firmware's version: major, minor, patch.
pub const FIRMWARE_VERSION: [u8; 3] = [0, 1, 0];

/// Nothing is written until the supply has been good for so long.
const SUPPLY_GOOD_MS: u64 = 2_000;

/// A span is closed after so much uptime.
const SPAN_TENTHS: u64 = 24 * 36_000;

/// Anchors and closed spans on request: one each in so many tenths.
const REQUEST_GAP_TENTHS: u64 = 600;

/// Records of single runs: so many a day, so many at once.
const RUNS_PER_DAY: u64 = 40;

/// Room for records in one reply: the body less tag, variant, index and length.
const REPLY_DATA: usize = 240;

/// The logger.
pub struct Logger<F: NorFlash, const L: usize> {
    flash: F,
    board: Board,
    stores: Stores<L>,
    lines: Lines,
    tally: Tally,
    /// The clock's reading at tick 0.
    started_ms: u64,
    ready: bool,
    /// Lifetime uptime at tick 0; known once ready.
    base_tenths: u64,
    /// The ticks since which lines with kept runs have been on.
    runs: [Option<u64>; LINES_MAX],
    run_credit_tenths: u64,
    run_credit_at: u64,
    runs_skipped: u32,
    coalesced_said: bool,
    retired_said: [u16; 3],
    /// The newest anchor of this session but the board's own clock's.
    last_anchor: Option<Anchor>,
    last_fix: Option<u64>,
}

/// What is in flash.
#[derive(Clone, Debug)]
struct Stores<const L: usize> {
    journal: Journal<L>,
    history: History<L>,
    settings: Settings,
}

/// Why a configuration could not be put into a flash image.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProvisionFault {
    /// The configuration has a fault.
    Config(ConfigFault),
    /// The flash could not be written.
    Flash,
}

/// Writes `config` into a flash image as if it had been set over the wire.
///
/// # Errors
/// The configuration has a fault, or the flash refuses.
pub fn provision<F: NorFlash>(flash: &mut F, layout: &Layout, config: &Config) -> Result<(), ProvisionFault> {
    config.check().map_err(ProvisionFault::Config)?;
    let mut settings = Settings::mount(flash, layout.config, 0);
    settings.recover(flash, 0).map_err(|Dead| ProvisionFault::Flash)?;
    settings.write(flash, config, 0).map_err(|Dead| ProvisionFault::Flash)
}

impl<F: NorFlash, const L: usize> Logger<F, L> {
    /// Reads the three regions; nothing is written until the supply has been good for 2 s from `now_ms` on.
    pub fn start(mut flash: F, layout: Layout, board: Board, now_ms: u64) -> Self {
        let settings = Settings::mount(&mut flash, layout.config, board.debounce_min_ms);
        let config = *settings.config();
        let journal = Journal::mount(&mut flash, layout.journal, Watch::from_config(&config));
        let history = History::mount(&mut flash, layout.history);
        log!(
            info,
            "mounted: totals on page {=u16}, turned {=u32} times, {=u16} words lost; history from record {=u32} to {=u32}",
            journal.ring().page(),
            journal.ring().sequence(),
            journal.findings.words_lost,
            history.oldest_index(),
            history.next_index()
        );
        Self {
            flash,
            board,
            stores: Stores { journal, history, settings },
            lines: Lines::new(&config, 0),
            tally: Tally::new(),
            started_ms: now_ms,
            ready: false,
            base_tenths: 0,
            runs: [None; LINES_MAX],
            run_credit_tenths: SPAN_TENTHS,
            run_credit_at: 0,
            runs_skipped: 0,
            coalesced_said: false,
            retired_said: [0; 3],
            last_anchor: None,
            last_fix: None,
        }
    }

    /// Takes one look at the inputs and does what is due. Call it on every edge and when [`Logger::next_wake_ms`] comes.
    pub fn sample(&mut self, sample: Sample) {
        let sample = self.on_own_clock(sample);
        self.take_in(&sample);
        if !self.ready && sample.now_ms >= SUPPLY_GOOD_MS {
            self.recover();
        }
        if self.ready {
            self.say_what_is_due();
        }
    }

    /// The next instant at which [`Logger::sample`] must be called even if no line moves.
    pub fn next_wake_ms(&self) -> u64 {
        let now_ms = self.lines.last_look_ms();
        let config = self.stores.settings.config();
        let due_ms = if self.ready {
            let due = self.tally.due(u64::from(config.heartbeat_s) * 10, u64::from(config.idle_s) * 10) * 100;
            // Held up by a line in doubt: that line's own time wakes first, this is the fallback.
            if due > now_ms { due } else { now_ms + 100 }
        } else {
            SUPPLY_GOOD_MS
        };
        let edge_ms = self.tally.edge_due().map(|tick| (tick * 100).max(now_ms + 1));
        let wake_ms = [self.lines.wake_ms(), edge_ms].into_iter().flatten().fold(due_ms, u64::min);
        self.started_ms + wake_ms.max(now_ms + 1)
    }

    /// One byte from the host at the port whose `link` it is. Call [`Logger::sample`] first, so that what is answered is of now.
    /// `Some`: a frame to send back at that port, whole. `button`: the presence button is held now.
    pub fn receive<'a>(
        &mut self,
        link: &'a mut Link,
        byte: u8,
        now_ms: u64,
        button: bool,
    ) -> Option<&'a [u8]> {
        let asked = link.push(byte)?;
        let (tag, request) = match asked {
            Asked::Hello => {
                let hello = self.hello();
                return link.hello(&hello);
            }
            Asked::Bad { tag, refusal } => return link.reply(tag, &Reply::Refused(refusal)),
            Asked::Request { tag, request } => (tag, request),
        };
        let now = now_ms.saturating_sub(self.started_ms) / 100;
        match request {
            _ if !self.ready => link.reply(tag, &Reply::Refused(Refusal::NotReady)),
            Request::Read { from, to } => self.send_records(link, tag, from, to),
            _ => {
                let reply = self.answer(request, now, button);
                link.reply(tag, &reply)
            }
        }
    }

    /// Apart from the other answers, so that its buffer and their writing to flash are never on the stack together.
    #[inline(never)]
    fn send_records<'a>(&mut self, link: &'a mut Link, tag: u8, from: u32, to: u32) -> Option<&'a [u8]> {
        let history = &self.stores.history;
        let (oldest, next) = (history.oldest_index(), history.next_index());
        if from < oldest || from >= to || to > next {
            return link.reply(tag, &Reply::Refused(Refusal::OutOfRange { oldest, next }));
        }
        let mut data = [0; REPLY_DATA];
        let used = history.read(&mut self.flash, from, to, &mut data);
        link.reply(tag, &Reply::Records { first: from, data: data.get(..used).unwrap_or(&[]) })
    }

    /// Appends a clock anchor: now it is `utc_ms` (since 1970), give or take `uncertainty_ms`. At most one a minute, whoever
    /// brings it; but one of the board's own battery clock makes nobody else wait, and how seldom it comes is the board's care.
    /// False: not now; nothing was written.
    pub fn anchor(&mut self, now_ms: u64, utc_ms: u64, uncertainty_ms: u32, source: ClockSource) -> bool {
        let now = now_ms.saturating_sub(self.started_ms) / 100;
        let request = Request::Anchor { utc_ms, uncertainty_ms, source };
        let before = self.last_anchor;
        let anchored = self.ready && matches!(self.answer(request, now, false), Reply::Anchored { .. });
        if source == ClockSource::Battery {
            self.last_anchor = before;
        }
        anchored
    }

    /// The newest time of this session that the host or the ship has told: what a battery clock may be set by.
    pub fn heard(&self) -> Option<Heard> {
        let anchor = self.last_anchor.filter(|anchor| anchor.source != ClockSource::Battery)?;
        let tick = anchor.uptime_tenths.saturating_sub(self.base_tenths);
        let at_ms = tick.saturating_mul(100).saturating_add(self.started_ms);
        Some(Heard { at_ms, utc_ms: anchor.utc_ms, uncertainty_ms: anchor.uncertainty_ms })
    }

    /// Appends that the ship's way is this since `since_ms`. Whoever calls it keeps it seldom.
    pub fn way(&mut self, since_ms: u64, motion: Motion) {
        if self.ready {
            let uptime_tenths = self.base_tenths + since_ms.saturating_sub(self.started_ms) / 100;
            self.put(&Record::Way { uptime_tenths, motion });
        }
    }

    /// Power is about to fail: commits what is known, without an erase.
    pub fn power_fail(&mut self, sample: Sample) {
        let sample = self.on_own_clock(sample);
        self.take_in(&sample);
        if self.ready {
            let Self { tally, stores, flash, .. } = self;
            tally.flush(&mut |word| stores.journal.commit_last(flash, word));
        }
    }

    /// Totals up to the last look; the last moments may not be in flash yet.
    pub fn totals(&self) -> Totals {
        self.stores.journal.preview(self.tally.unsaid()).totals
    }

    /// The configuration in force.
    pub fn config(&self) -> &Config {
        self.stores.settings.config()
    }

    /// The lines that are on.
    pub fn on(&self) -> u8 {
        self.tally.mask()
    }

    /// The flash, for looking at.
    pub fn flash(&mut self) -> &mut F {
        &mut self.flash
    }

    /// Gives the flash back, as a power cut would leave it.
    pub fn into_flash(self) -> F {
        self.flash
    }

    fn on_own_clock(&self, sample: Sample) -> Sample {
        Sample {
            now_ms: sample.now_ms.saturating_sub(self.started_ms),
            held_until_ms: sample.held_until_ms.saturating_sub(self.started_ms),
            ..sample
        }
    }

    /// Lines and tally up to this look.
    fn take_in(&mut self, sample: &Sample) {
        let Self { lines, tally, runs, stores, flash, .. } = self;
        let config = *stores.settings.config();
        let mut ended: [Option<(u64, u64)>; LINES_MAX] = [None; LINES_MAX];
        lines.look(sample, |edge| {
            let tick = tally.edge(edge);
            note_run(&config, edge, tick, runs, &mut ended);
        });
        let horizon = lines.horizon_ms() / 100;
        tally.advance(horizon, &mut |word| {
            // Totals go on in memory if the flash is dead; health says so.
            if let Err(Dead) = stores.journal.commit(flash, word) {
                log!(error, "the flash takes no more totals: they go on in memory alone");
            }
        });
        if self.ready {
            for (line, run) in ended.into_iter().enumerate() {
                if let Some((from, to)) = run {
                    self.keep_run(line, from, to);
                }
            }
        }
    }

    /// Believes the flash, and begins the session there.
    fn recover(&mut self) {
        let Self { stores, flash, .. } = self;
        let findings = stores.journal.findings;
        let config_lost = stores.settings.lost;
        let first = stores.journal.ring().sequence() == 0;
        // A store that cannot be written goes on in memory; health says so.
        let _ = stores.journal.recover(flash);
        let totals = stores.journal.state().totals;
        let history_head = stores.history.head_invalid;
        let blank = stores.history.ring().sequence() == 0;
        let _ = stores.history.recover(flash, &totals);
        let _ = stores.settings.recover(flash, totals.uptime_tenths);
        self.base_tenths = totals.uptime_tenths;
        self.ready = true;

        if blank {
            self.put(&Record::Config(*self.config()));
        }
        self.close_span();
        let filter_tenths = (self.lines.filter_max_ms() / 100) as u32;
        let heartbeat_tenths = u32::from(self.config().heartbeat_s) * 10;
        let lost_max_tenths = if first { 0 } else { heartbeat_tenths + filter_tenths + 2 };
        let session = Session {
            session: totals.session,
            uptime_tenths: totals.uptime_tenths,
            cause: self.board.cause,
            found_on: self.tally.mask(),
            lost_max_tenths,
            usb_only: self.board.usb_only,
        };
        log!(
            info,
            "session {=u32} begins after {=u64} tenths of uptime, lines {=u8:08b}",
            session.session,
            session.uptime_tenths,
            session.found_on
        );
        self.put(&Record::Session(session));
        if let Some(page) = findings.head_invalid {
            self.put(&Record::Damage(Damage::HeadInvalid { region: 0, page }));
        }
        if let Some(page) = history_head {
            self.put(&Record::Damage(Damage::HeadInvalid { region: 1, page }));
        }
        if findings.words_lost > 0 {
            self.put(&Record::Damage(Damage::WordsLost { words: findings.words_lost }));
        }
        if config_lost {
            log!(warn, "the configuration was lost: set it again");
            self.put(&Record::Damage(Damage::ConfigLost));
        }
        self.flush();
        // The start is always merged: that is not for want of credit.
        self.tally.coalesced = 0;
    }

    fn say_what_is_due(&mut self) {
        let config = *self.config();
        let due = self.tally.due(u64::from(config.heartbeat_s) * 10, u64::from(config.idle_s) * 10);
        if self.lines.horizon_ms() / 100 >= due {
            self.flush();
        }
        let uptime_tenths = self.stores.journal.state().totals.uptime_tenths;
        if uptime_tenths.saturating_sub(self.stores.history.totals().uptime_tenths) >= SPAN_TENTHS {
            self.close_span();
        }
        // Asked at every look: no session need last a day.
        self.stores.settings.refresh(&mut self.flash, uptime_tenths);
        if self.tally.coalesced != 0 && !self.coalesced_said {
            let said = self.base_tenths + self.tally.said();
            let lines = core::mem::take(&mut self.tally.coalesced);
            self.coalesced_said = true;
            self.put(&Record::Coalesced { uptime_tenths: said, lines });
        }
        self.say_retired();
        self.stores.journal.prepare(&mut self.flash);
    }

    fn say_retired(&mut self) {
        let Stores { journal, history, settings } = &self.stores;
        let now =
            [journal.ring(), history.ring(), settings.ring()].map(|ring| (ring.retired_pages(), ring.page()));
        for (region, (retired, page)) in (0..).zip(now) {
            let Some(said) = self.retired_said.get_mut(usize::from(region)) else { continue };
            if retired > *said {
                *said = retired;
                log!(warn, "page {=u16} of region {=u8} failed and is retired", page, region);
                self.put(&Record::Damage(Damage::PageRetired { region, page }));
            }
        }
    }

    /// Commits everything that is known.
    fn flush(&mut self) {
        let Self { tally, stores, flash, .. } = self;
        tally.flush(&mut |word| {
            let _ = stores.journal.commit(flash, word);
        });
    }

    /// Closes the span: the history then adds up to the journal.
    fn close_span(&mut self) {
        let growth = self.stores.history.growth(&self.stores.journal.state().totals);
        if growth != halfglass_protocol::record::Span::default() {
            self.put(&Record::Span(growth));
        }
        if self.runs_skipped > 0 {
            let runs = core::mem::take(&mut self.runs_skipped);
            self.put(&Record::RunsSkipped { runs });
        }
        self.coalesced_said = false;
    }

    fn put(&mut self, record: &Record) {
        let totals = self.stores.journal.state().totals;
        let config = *self.config();
        let Stores { history, .. } = &mut self.stores;
        // Every page of history says which lines it is about.
        if let Ok(true) = history.append(&mut self.flash, record, &totals) {
            let _ = history.append(&mut self.flash, &Record::Config(config), &totals);
        }
    }

    fn keep_run(&mut self, line: usize, from: u64, to: u64) {
        let earned = to.saturating_sub(self.run_credit_at);
        self.run_credit_at = self.run_credit_at.max(to);
        self.run_credit_tenths = self.run_credit_tenths.saturating_add(earned).min(SPAN_TENTHS);
        match (self.run_credit_tenths.checked_sub(SPAN_TENTHS / RUNS_PER_DAY), u8::try_from(line)) {
            (Some(rest), Ok(line)) => {
                self.run_credit_tenths = rest;
                let from_tenths = self.base_tenths + from;
                self.put(&Record::Run(Run { line, from_tenths, on_tenths: to.saturating_sub(from) }));
            }
            _ => self.runs_skipped = self.runs_skipped.saturating_add(1),
        }
    }

    fn hello(&self) -> Hello {
        let totals = self.totals();
        Hello {
            protocol_version: PROTOCOL_VERSION,
            device_id: self.board.device_id,
            firmware_version: FIRMWARE_VERSION,
            lines: L as u8,
            session: totals.session,
            uptime_s: u32::try_from(totals.uptime_tenths / 10).unwrap_or(u32::MAX),
            debounce_min_ms: self.board.debounce_min_ms,
            hold_min_ms: self.board.hold_min_ms,
        }
    }

    /// Carries out a request that came at tick `now`.
    #[inline(never)]
    fn answer(&mut self, request: Request, now: u64, button: bool) -> Reply<'static> {
        match request {
            Request::Status => Reply::Status(self.status()),
            Request::Config => Reply::Config(*self.config()),
            Request::Anchor { utc_ms, uncertainty_ms, source } => {
                let last =
                    self.last_anchor.map(|anchor| anchor.uptime_tenths.saturating_sub(self.base_tenths));
                if let Some(wait) = too_soon(last, now) {
                    return Reply::Refused(wait);
                }
                self.flush();
                let session = self.stores.journal.state().totals.session;
                // On the tick grid the instant lies up to a tenth before now.
                let uptime_tenths = self.base_tenths + now;
                let uncertainty_ms = uncertainty_ms.saturating_add(100);
                let anchor = Anchor { session, uptime_tenths, utc_ms, uncertainty_ms, source };
                self.put(&Record::Anchor(anchor));
                self.last_anchor = Some(anchor);
                Reply::Anchored { session, uptime_tenths }
            }
            Request::Fix { have } => {
                if too_soon(self.last_fix, now).is_none() {
                    self.flush();
                    self.close_span();
                    self.last_fix = Some(now);
                }
                let history = &self.stores.history;
                let (to, oldest) = (history.next_index(), history.oldest_index());
                let from = history.page_start(&mut self.flash, have.min(to));
                Reply::Range { from, to, oldest }
            }
            // Answered by `send_records`.
            Request::Read { .. } => Reply::Refused(Refusal::Unknown),
            Request::SetConfig(config) => self.set_config(&config, button),
        }
    }

    fn set_config(&mut self, config: &Config, button: bool) -> Reply<'static> {
        if !button {
            log!(warn, "configuration refused: the button is not held");
            return Reply::Refused(Refusal::HoldButton);
        }
        if let Err(fault) = config.check() {
            return Reply::Refused(Refusal::Config(fault));
        }
        self.flush();
        self.close_span();
        let uptime_tenths = self.stores.journal.state().totals.uptime_tenths;
        if self.stores.settings.write(&mut self.flash, config, uptime_tenths).is_err() {
            return Reply::Refused(Refusal::Flash);
        }
        log!(info, "configuration replaced");
        self.put(&Record::Config(*config));
        let changed = self.lines.reconfigure(config);
        self.tally.drop_lines(changed);
        self.flush();
        self.stores.journal.set_watch(Watch::from_config(config));
        for (line, run) in self.runs.iter_mut().enumerate() {
            if changed & bit(line) != 0 {
                *run = None;
            }
        }
        Reply::Done
    }

    fn status(&self) -> Status {
        let Stores { journal, history, settings } = &self.stores;
        Status {
            totals: self.totals(),
            on: self.tally.mask(),
            next_index: history.next_index(),
            oldest_index: history.oldest_index(),
            health: Health {
                journal_turns: journal.ring().sequence(),
                journal_pages: journal.ring().pages(),
                journal_retired: journal.ring().retired_pages(),
                history_turns: history.ring().sequence(),
                history_pages: history.ring().pages(),
                history_retired: history.ring().retired_pages() + settings.ring().retired_pages(),
                words_lost: journal.findings.words_lost,
                write_faults: journal.write_faults.saturating_add(history.write_faults),
                faults: self.board.faults,
            },
        }
    }
}

fn too_soon(last: Option<u64>, now: u64) -> Option<Refusal> {
    let gone = now.saturating_sub(last?);
    let left = REQUEST_GAP_TENTHS.checked_sub(gone).filter(|left| *left > 0)?;
    Some(Refusal::Wait { seconds: (left / 10 + 1) as u16 })
}

/// Keeps track of the runs of lines whose runs are kept one by one.
fn note_run(
    config: &Config,
    edge: Edge,
    tick: u64,
    runs: &mut [Option<u64>; LINES_MAX],
    ended: &mut [Option<(u64, u64)>; LINES_MAX],
) {
    let kept =
        config.lines.get(edge.line).is_some_and(|line| matches!(line.role, Role::Supply | Role::Isolated));
    let (Some(run), Some(ended)) = (runs.get_mut(edge.line), ended.get_mut(edge.line)) else { return };
    if kept && bit(edge.line) != 0 {
        if edge.on {
            *run = Some(tick);
        } else if let Some(from) = run.take() {
            *ended = Some((from, tick));
        }
    }
}
