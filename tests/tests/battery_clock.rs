//! A clock with a battery beside the real firmware: when it is read, who sets it, and how far it is believed as the years go by.

use halfglass::timeline::Timeline;
use halfglass_firmware::battery::{Chip, DRIFT_PPM, Keeper, NOTE_LEN, Reading};
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{Anchor, ClockSource, Record};
use halfglass_sim::bench::{LAYOUT, LAYOUT_PAGES, Powered, board};
use halfglass_sim::flash::Flash;
use halfglass_tests::asking::{ask, pull_all};

/// When the first power comes: 1 March 2027, 08:00 UTC.
const BEGIN_MS: u64 = 1_803_888_000_000;
const DAY_MS: u64 = 86_400_000;

/// A chip that keeps what it is told and runs wrong.
struct Fake {
    /// True time, in milliseconds since 1970.
    now_ms: u64,
    ppm: f64,
    /// What it was set to, and when.
    set: Option<(Reading, u64)>,
    reads: u32,
    sets: u32,
    /// Nobody is there.
    missing: bool,
}

impl Fake {
    fn new(ppm: f64) -> Fake {
        Fake { now_ms: BEGIN_MS, ppm, set: None, reads: 0, sets: 0, missing: false }
    }
}

impl Chip for Fake {
    fn read(&mut self) -> Option<Reading> {
        self.reads += 1;
        let (to, at_ms) = self.set.filter(|_| !self.missing)?;
        let gone_s = (self.now_ms - at_ms) as f64 / 1_000.0 * (1.0 + self.ppm * 1e-6);
        Some(Reading { utc_s: to.utc_s + gone_s as u64, ..to })
    }

    fn set(&mut self, to: &Reading) -> bool {
        self.sets += 1;
        self.set = Some((*to, self.now_ms));
        true
    }
}

/// A ship's logger with its clock; its crystal is right.
struct Ship {
    board: Powered<Flash<4, 1_024>, 8>,
    keeper: Keeper,
    chip: Fake,
    powered_at_ms: u64,
}

impl Ship {
    fn new(ppm: f64) -> Ship {
        let mut flash = Flash::<4, 1_024>::new(LAYOUT_PAGES, 1);
        flash.power_on(None);
        Ship {
            board: Powered::on(flash, LAYOUT, board(1), 0),
            keeper: Keeper::new(),
            chip: Fake::new(ppm),
            powered_at_ms: BEGIN_MS,
        }
    }

    /// Power goes for so long.
    fn away(self, ms: u64) -> Ship {
        let Ship { board: before, mut chip, .. } = self;
        let mut flash = before.logger.into_flash();
        flash.power_on(None);
        chip.now_ms += ms;
        let powered_at_ms = chip.now_ms;
        Ship { board: Powered::on(flash, LAYOUT, board(1), 0), keeper: Keeper::new(), chip, powered_at_ms }
    }

    /// Runs for so long, the loop turning every `turn_ms`.
    fn run(&mut self, ms: u64, turn_ms: u64) {
        for _ in 0..ms / turn_ms {
            self.board.run_until(self.board.now_ms() + turn_ms);
            let now_ms = self.board.now_ms();
            self.chip.now_ms = self.powered_at_ms + now_ms;
            self.keeper.tend(&mut self.board.logger, &mut self.chip, now_ms);
        }
    }

    /// Somebody tells the time, off by so much, over the wire; the loop turns.
    fn tell(&mut self, off_ms: i64, uncertainty_ms: u32, source: ClockSource) {
        let utc_ms = self.chip.now_ms.checked_add_signed(off_ms).unwrap();
        let request = Request::Anchor { utc_ms, uncertainty_ms, source };
        ask(&mut self.board, &request, false, |reply| {
            assert!(matches!(reply, Reply::Anchored { .. }), "{reply:?}");
        });
        self.run(4_000, 4_000);
    }

    /// The anchors that the clock has brought.
    fn said(&mut self) -> Vec<Anchor> {
        let records: Vec<(u32, Record)> = pull_all(&mut self.board)
            .into_iter()
            .map(|(index, bytes)| (index, Record::decode(&bytes).expect("a sound record")))
            .collect();
        let anchors = Timeline::build(&records).anchors;
        anchors.into_iter().filter(|anchor| anchor.source == ClockSource::Battery).collect()
    }
}

/// Set once, then read every day of half a year; at the clock's worst every anchor still holds the truth, and none claims much more
/// than that needs.
#[test]
fn a_day_and_a_day_it_is_read_and_its_bound_grows() {
    for ppm in [f64::from(DRIFT_PPM), -f64::from(DRIFT_PPM)] {
        let mut ship = Ship::new(ppm);
        ship.run(10_000, 1_000);
        ship.tell(0, 1_000, ClockSource::Host);
        ship.run(182 * DAY_MS, 60_000);
        let anchors = ship.said();
        assert_eq!((anchors.len(), ship.chip.sets), (182, 1));
        for anchor in &anchors {
            let off_ms = anchor.utc_ms as i64 - (BEGIN_MS + 100 * anchor.uptime_tenths) as i64;
            assert!(off_ms.unsigned_abs() <= u64::from(anchor.uncertainty_ms), "{off_ms}: {anchor:?}");
        }
        let (first, last) = (anchors[0], anchors[181]);
        // By hand: 20 millionths of 181 days are 312.8 s.
        let grown_ms = last.uncertainty_ms - first.uncertainty_ms;
        assert!((312_000..313_500).contains(&grown_ms), "{grown_ms}");
        assert!(first.uncertainty_ms < 6_000, "{first:?}");
    }
}

/// A clock that runs further off than its chip can is not covered: or the test above could not fail.
#[test]
fn a_worse_clock_would_be_seen() {
    let mut ship = Ship::new(1.5 * f64::from(DRIFT_PPM));
    ship.run(10_000, 1_000);
    ship.tell(0, 1_000, ClockSource::Host);
    ship.run(60 * DAY_MS, 60_000);
    let last = *ship.said().last().unwrap();
    let off_ms = last.utc_ms.abs_diff(BEGIN_MS + 100 * last.uptime_tenths);
    assert!(off_ms > u64::from(last.uncertainty_ms), "{off_ms}: {last:?}");
}

/// A better time sets it, a worse one does not; one that contradicts it does, since whoever stands at the logger can look at a watch. Not
/// twice a day, and never by a time that claims to be the clock's own.
#[test]
fn who_sets_it() {
    let mut ship = Ship::new(0.0);
    ship.run(10_000, 1_000);
    ship.tell(0, 300_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 0, "five minutes either way is nothing to keep");
    ship.run(120_000, 4_000);
    ship.tell(0, 20_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 1);
    ship.run(120_000, 4_000);
    ship.tell(0, 1_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 1, "not twice a day");
    let mut ship = ship.away(2 * 3_600_000);
    ship.run(10_000, 1_000);
    ship.tell(0, 1_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 1, "nor in another session");
    ship.run(2 * DAY_MS, 60_000);
    ship.tell(0, 60_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 1, "a minute is worse than what the clock knows");
    ship.run(120_000, 4_000);
    ship.tell(0, 1_000, ClockSource::Battery);
    assert_eq!(ship.chip.sets, 1, "nobody but the board speaks for the clock");
    ship.run(120_000, 4_000);
    ship.tell(0, 1_000, ClockSource::Ship);
    assert_eq!(ship.chip.sets, 2, "the ship's time is as good as a host's");
    ship.run(2 * DAY_MS, 60_000);
    ship.tell(600_000, 60_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 3, "ten minutes apart");
    ship.run(2 * DAY_MS, 60_000);
    ship.tell(-40 * 365 * DAY_MS as i64, 1_000, ClockSource::Host);
    assert_eq!(ship.chip.sets, 3, "no year of this firmware");
}

/// It speaks when the session begins, makes no host wait, and is asked again in an hour where it said nothing.
#[test]
fn when_it_is_asked() {
    let mut ship = Ship::new(3.0);
    ship.chip.missing = true;
    ship.run(DAY_MS, 10_000);
    assert_eq!((ship.chip.reads, ship.said().len()), (24, 0));
    ship.chip.missing = false;
    ship.tell(0, 1_000, ClockSource::Host);
    let mut ship = ship.away(30 * DAY_MS);
    let reads = ship.chip.reads;
    ship.run(4_000, 1_000);
    let said = ship.said();
    assert_eq!((ship.chip.reads - reads, said.len()), (1, 1));
    assert!(said[0].utc_ms.abs_diff(ship.powered_at_ms) < 15_000, "{said:?}");
    ship.tell(0, 1_000, ClockSource::Host);
}

/// A note that was not left by this firmware is none: blank, worn, or another's.
#[test]
fn a_note_is_ours_or_none() {
    let mut random = fastrand::Rng::with_seed(20_261_126);
    let mut believed = 0;
    for round in 0..2_000 {
        let mut ship = Ship::new(0.0);
        let mut note = [[0; NOTE_LEN], [0xFF; NOTE_LEN]][round % 2];
        if round > 1 {
            random.fill(&mut note);
        }
        ship.chip.set = Some((Reading { utc_s: BEGIN_MS / 1_000, note }, BEGIN_MS));
        ship.run(10_000, 5_000);
        let said = ship.said().len();
        assert!(round > 1 || said == 0, "{note:?}");
        believed += said;
    }
    // One in 65,536 by chance, and of those only one that lies in the past.
    assert_eq!(believed, 0);
}
