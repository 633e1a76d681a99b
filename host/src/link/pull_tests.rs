use super::*;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Health, Status};
use halfglass_protocol::record::{Anchor, RECORD_MAX, Record, Span, Totals};
use std::collections::VecDeque;
use std::io;

const DEVICE: u64 = 0x3f9c_11d2_a07b_e458;
const NOW_MS: i64 = 1_772_352_000_000;

/// A logger that exists only as its answers, behind a cable that can misbehave.
struct FakeLogger {
    history: Vec<Vec<u8>>,
    oldest: u32,
    anchored: Vec<(u64, u32)>,
    decoder: Decoder<FRAME_MAX>,
    out: VecDeque<u8>,
    answers: usize,
    /// Every so many answers one is lost, the next one garbled; 0: never.
    bad_every: usize,
    /// The cable is pulled after so many answers.
    pulled_after: usize,
}

impl FakeLogger {
    fn new(records: usize) -> FakeLogger {
        let mut history = vec![encoded(&Record::Base(Totals::default()))];
        for n in 1..records {
            history.push(encoded(&Record::Span(Span { uptime_tenths: n as u32, ..Span::default() })));
        }
        FakeLogger {
            history,
            oldest: 0,
            anchored: Vec::new(),
            decoder: Decoder::new(),
            out: VecDeque::new(),
            answers: 0,
            bad_every: 0,
            pulled_after: usize::MAX,
        }
    }

    fn hello(&self) -> Hello {
        Hello {
            protocol_version: 1,
            device_id: DEVICE,
            firmware_version: [0, 1, 0],
            lines: 8,
            session: 1,
            uptime_s: 0,
            debounce_min_ms: 0,
            hold_min_ms: 0,
        }
    }

    fn answer(&mut self, channel: Channel, body: &[u8]) -> Vec<u8> {
        let mut out = [0; FRAME_MAX];
        if channel == Channel::HelloAsk {
            return frame::encode(Channel::HelloAnswer, &self.hello().encode(), &mut out).unwrap().to_vec();
        }
        let (tag, request) = message::decode::<Request>(body).unwrap();
        let end = self.history.len() as u32;
        let mut data = Vec::new();
        let reply = match request.unwrap() {
            Request::Status => {
                let totals = Totals { uptime_tenths: u64::from(end), session: 3, ..Totals::default() };
                let health = Health { journal_turns: end, journal_pages: 64, faults: 2, ..Health::default() };
                Reply::Status(Status { totals, health, ..Status::default() })
            }
            Request::Anchor { utc_ms, uncertainty_ms, source } => {
                self.anchored.push((utc_ms, uncertainty_ms));
                let anchor = Anchor { session: 1, uptime_tenths: 0, utc_ms, uncertainty_ms, source };
                self.history.push(encoded(&Record::Anchor(anchor)));
                Reply::Anchored { session: 1, uptime_tenths: 0 }
            }
            Request::Fix { have } => {
                Reply::Range { from: have.saturating_sub(3).max(self.oldest), to: end, oldest: self.oldest }
            }
            Request::Read { from, .. } if from < self.oldest => {
                Reply::Refused(Refusal::OutOfRange { oldest: self.oldest, next: end })
            }
            Request::Read { from, to } => {
                for record in self.history[from as usize..to as usize].iter().take(5) {
                    data.push(record.len() as u8);
                    data.extend(record);
                }
                Reply::Records { first: from, data: &data }
            }
            _ => Reply::Refused(Refusal::Unknown),
        };
        let mut body = [0; frame::BODY_MAX];
        let body = message::encode(tag, &reply, &mut body).unwrap();
        frame::encode(Channel::Reply, body, &mut out).unwrap().to_vec()
    }
}

fn encoded(record: &Record) -> Vec<u8> {
    let mut buffer = [0; RECORD_MAX];
    record.encode(&mut buffer).unwrap().to_vec()
}

impl Transport for &mut FakeLogger {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        for byte in bytes {
            let asked = self.decoder.push(*byte).map(|(channel, body)| (channel, body.to_vec()));
            let Some((channel, body)) = asked else { continue };
            self.answers += 1;
            let mut answer = self.answer(channel, &body);
            match self.answers.checked_rem(self.bad_every) {
                Some(0) => answer.clear(),
                Some(1) => answer[5] ^= 1,
                _ => {}
            }
            self.out.extend(answer);
        }
        Ok(())
    }

    fn receive(&mut self, buffer: &mut [u8], _wait: Duration) -> io::Result<usize> {
        if self.answers > self.pulled_after {
            return Err(io::ErrorKind::BrokenPipe.into());
        }
        let count = self.out.len().min(buffer.len());
        for (slot, byte) in buffer.iter_mut().zip(self.out.drain(..count)) {
            *slot = byte;
        }
        Ok(count)
    }
}

struct Ship {
    _dir: tempfile::TempDir,
    folder: Folder,
    store: Store,
}

impl Ship {
    fn new() -> Ship {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::init(dir.path()).unwrap();
        let store = Store::open(&folder.store_path()).unwrap();
        Ship { _dir: dir, folder, store }
    }

    fn pull(&mut self, logger: &mut FakeLogger, all: bool) -> (Result<Vec<Pulled>>, Vec<Event>) {
        let hello = logger.hello();
        let patience = Patience { reply: Duration::from_millis(5), tries: 5, wait_max: Duration::ZERO };
        let mut client = Client::new(logger, patience);
        let mut events = Vec::new();
        let outcome = Pull {
            client: &mut client,
            hello,
            folder: &self.folder,
            store: &mut self.store,
            clock: &|| NOW_MS,
            watch: &mut |event| events.push(event),
        }
        .run(Options { all });
        (outcome, events)
    }

    fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.dumps_path()).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

#[test]
fn a_pull_anchors_reads_writes_and_imports() {
    let mut ship = Ship::new();
    let mut logger = FakeLogger::new(23);
    let (outcome, events) = ship.pull(&mut logger, false);
    let pulled = outcome.unwrap();
    // 23 records and the anchor that this pull appended.
    assert_eq!((pulled.len(), pulled[0].imported.records_new), (1, 24));
    assert_eq!(logger.anchored.len(), 1);
    assert!(logger.anchored[0].1 > HOST_CLOCK_ERROR_MS);
    assert!(matches!(events[0], Event::Anchored { .. }));
    assert_eq!(ship.files(), ["3f9c11d2a07be458-0-24.hgd"]);
    assert_eq!(ship.store.records(DEVICE).unwrap().len(), 24);
    // The second pull asks from where the first ended; the page's beginning comes again and is known.
    let (outcome, _) = ship.pull(&mut logger, false);
    assert_eq!(outcome.unwrap()[0].imported.records_new, 1);
    // All of it again: the same bytes as far as they go, one anchor more.
    let (outcome, _) = ship.pull(&mut logger, true);
    assert_eq!(outcome.unwrap()[0].imported.header.from, 0);
}

/// A dump does not hold how worn the flash is: the pull asks, and keeps what was said by its time.
#[test]
fn a_pull_keeps_what_the_logger_says_of_its_flash() {
    let mut ship = Ship::new();
    let mut logger = FakeLogger::new(23);
    ship.pull(&mut logger, false).0.unwrap();
    let kept = ship.store.sightings(DEVICE, i64::MAX).unwrap();
    assert_eq!((kept.len(), kept[0].at_ms, kept[0].session), (1, NOW_MS, 3));
    assert_eq!((kept[0].uptime_tenths, kept[0].health.journal_turns, kept[0].health.faults), (23, 23, 2));
    assert_eq!(ship.store.sightings(DEVICE, NOW_MS - 1).unwrap(), [], "it was not known before");
    assert_eq!(ship.store.sightings(DEVICE + 1, i64::MAX).unwrap(), [], "it is another's");
    // It is kept even if the cable is pulled before any record has come.
    let mut ship = Ship::new();
    logger.pulled_after = logger.answers + 5;
    ship.pull(&mut logger, false).0.unwrap_err();
    assert_eq!(ship.store.sightings(DEVICE, i64::MAX).unwrap().len(), 1);
}

#[test]
fn lost_and_garbled_frames_are_asked_for_again() {
    let (mut clean, mut noisy) = (Ship::new(), Ship::new());
    clean.pull(&mut FakeLogger::new(60), false).0.unwrap();
    let mut logger = FakeLogger { bad_every: 3, ..FakeLogger::new(60) };
    noisy.pull(&mut logger, false).0.unwrap();
    // Byte for byte the same, unless an anchor went in twice.
    let records = |ship: &Ship| ship.store.records(DEVICE).unwrap()[..60].to_vec();
    assert_eq!(records(&clean), records(&noisy));
}

#[test]
fn a_cable_pulled_at_any_moment_leaves_a_state_from_which_the_next_pull_goes_on() {
    for pulled_after in 0..20 {
        let mut ship = Ship::new();
        let mut logger = FakeLogger { pulled_after, ..FakeLogger::new(60) };
        let (outcome, _) = ship.pull(&mut logger, false);
        let Err(error) = outcome else {
            assert!(pulled_after >= 17, "{pulled_after}");
            continue;
        };
        assert_eq!(error.exit_code(), 3, "{error}");
        assert!(error.what().contains("the connection broke"), "{error}");
        assert!(ship.store.records(DEVICE).unwrap().is_empty(), "{pulled_after}: nothing half-imported");
        logger.pulled_after = usize::MAX;
        logger.out.clear();
        let asked = logger.answers;
        let (outcome, events) = ship.pull(&mut logger, false);
        let last = outcome.unwrap().pop().unwrap();
        assert_eq!(last.imported.header.to as usize, logger.history.len());
        assert_eq!(ship.store.records(DEVICE).unwrap().len(), logger.history.len());
        assert!(!ship.files().iter().any(|name| name.ends_with(".part")), "{:?}", ship.files());
        // What had come before the cable was pulled was not asked for again.
        let had = events.iter().find_map(|event| match event {
            Event::Begin { had, .. } => Some(*had),
            _ => None,
        });
        assert_eq!(had.unwrap() > 0, pulled_after > 5, "{pulled_after} {had:?}");
        assert!(logger.answers > asked);
    }
}

#[test]
fn a_range_that_the_logger_no_longer_has_is_given_up_and_a_new_one_read() {
    let mut ship = Ship::new();
    let mut logger = FakeLogger { pulled_after: 8, ..FakeLogger::new(60) };
    ship.pull(&mut logger, false).0.unwrap_err();
    logger.pulled_after = usize::MAX;
    logger.out.clear();
    logger.oldest = 40;
    let (outcome, events) = ship.pull(&mut logger, false);
    assert_eq!(outcome.unwrap()[0].imported.header.from, 40);
    assert!(events.contains(&Event::PartLost), "{events:?}");
}

#[test]
fn an_unfinished_pull_is_not_finished_with_another_history() {
    let mut ship = Ship::new();
    ship.pull(&mut FakeLogger { pulled_after: 8, ..FakeLogger::new(60) }, false).0.unwrap_err();
    let mut wiped = FakeLogger::new(60);
    for record in &mut wiped.history[1..] {
        *record = encoded(&Record::RunsSkipped { runs: 9 });
    }
    let (outcome, events) = ship.pull(&mut wiped, false);
    outcome.unwrap();
    assert!(events.contains(&Event::PartLost), "{events:?}");
    let records = ship.store.records(DEVICE).unwrap();
    assert!(records[1..60].iter().all(|(_, record)| *record == Record::RunsSkipped { runs: 9 }));
}

#[test]
fn a_contradicting_pull_is_kept_beside_the_dump_that_it_contradicts() {
    let mut ship = Ship::new();
    ship.pull(&mut FakeLogger::new(60), false).0.unwrap();
    let mut other = FakeLogger::new(60);
    other.history[30] = encoded(&Record::RunsSkipped { runs: 9 });
    let error = ship.pull(&mut other, true).0.unwrap_err();
    assert!(error.what().contains("contradicts") && error.advice().contains("0-61-2.hgd"), "{error}");
    assert_eq!(ship.files(), ["3f9c11d2a07be458-0-61-2.hgd", "3f9c11d2a07be458-0-61.hgd"]);
    assert_eq!(ship.store.records(DEVICE).unwrap().len(), 61);
}

#[test]
fn a_wiped_logger_is_told_from_one_that_has_nothing_new() {
    let mut ship = Ship::new();
    ship.pull(&mut FakeLogger::new(60), false).0.unwrap();
    let error = ship.pull(&mut FakeLogger::new(10), false).0.unwrap_err();
    assert!(error.what().contains("has 11 records, but 61 were pulled"), "{error}");
    assert_eq!(ship.store.records(DEVICE).unwrap().len(), 61);
}
