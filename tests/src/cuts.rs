//! Cuts power at every program and every erase of a journal's life, and again during the recovery.

use crate::model::{HEATER, Model, TRANSMIT, WARM_UP_TENTHS};
use halfglass_firmware::journal::state::Watch;
use halfglass_firmware::journal::word::{Kind, Word};
use halfglass_firmware::journal::{Findings, Journal};
use halfglass_firmware::ports::Region;
use halfglass_protocol::RADARS_MAX;
use halfglass_sim::flash::{Cut, ERASE_TEARS, Flash, Operation, WORD_TEARS};
use std::collections::BTreeMap;

/// Lines of the journals under test.
pub const LINES: usize = 4;

/// What to run.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// The suite's name, for replaying.
    pub suite: &'static str,
    /// What asks the program for this effort.
    pub flag: &'static str,
    /// Decides words, tears and flicker.
    pub seed: u64,
    /// How many words are committed.
    pub commits: usize,
    /// A cut is tried at every n-th commit, and at each operation of every n-th commit that begins a page or erases.
    pub every: usize,
    /// At how many operations of a first recovery it is cut in turn; beyond that depth at one each.
    pub recoveries: usize,
    /// Stop at the first violation.
    pub first_only: bool,
    /// Power goes cleanly (between two words) after about so many commits.
    pub session_commits: usize,
    /// How often a recovery is cut in turn.
    pub depth: u32,
    /// What was torn reads differently each time.
    pub flicker: bool,
    /// Replay only this case, and tell it step by step.
    pub only: Option<u64>,
}

impl Plan {
    /// The command that tells one case step by step.
    #[must_use]
    pub fn replay(&self, number: u64) -> String {
        let (flag, suite, seed) = (self.flag, self.suite, self.seed);
        format!(
            "cargo run --release -p halfglass-tests --bin cuts -- {flag}--suite {suite:?} --seed {seed} --case {number}"
        )
    }
}

/// Where a cut fell.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Which kind of word or operation.
    pub what: &'static str,
    /// Where in the page.
    pub position: &'static str,
    /// How it was torn.
    pub tear: String,
    /// 0: in a commit; n: in the n-th recovery in a row.
    pub depth: u32,
}

/// What came of it.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// Cuts made, all depths counted.
    pub cuts: u64,
    /// How often each place was hit.
    pub hits: BTreeMap<Place, u64>,
    /// The first violations, each with the case that shows it.
    pub violations: Vec<String>,
}

struct Case<'a, const G: usize, const P: usize> {
    plan: &'a Plan,
    region: Region,
    random: fastrand::Rng,
    number: u64,
    outcome: Outcome,
}

/// One radar's heater and transmit line are watched for drop-outs and short warm-ups.
#[must_use]
pub fn watch() -> [Watch; RADARS_MAX] {
    let mut watch = [Watch::default(); RADARS_MAX];
    watch[0] = Watch { heater: 1 << HEATER, transmit: 1 << TRANSMIT, warm_up_tenths: WARM_UP_TENTHS as u16 };
    watch
}

/// Words as a busy radar would cause them: mostly heartbeats, some edges, now and then a merged stretch.
fn next_word(random: &mut fastrand::Rng, before: &mut u8) -> Word {
    let kind = match random.u8(0..20) {
        0 => Kind::Blend,
        1 => Kind::Starts,
        _ => Kind::Hold,
    };
    let mask = if random.u8(0..3) == 0 { *before ^ 1 << random.u8(0..LINES as u8) } else { *before };
    let tenths = match random.u8(0..8) {
        0 => 0,
        1 => random.u16(0..6_000),
        2 => random.u16(0..100),
        _ => 100,
    };
    *before = mask;
    let tenths = if kind == Kind::Starts { tenths % 30 } else { tenths };
    Word { kind, mask, tenths, index: 0 }
}

/// Runs a plan on a journal of so many pages.
#[must_use]
pub fn run<const G: usize, const P: usize>(plan: &Plan, pages: u16) -> Outcome {
    let region = Region { start: 0, page_len: P as u32, pages };
    let mut flash = Flash::<G, P>::new(usize::from(pages), plan.seed);
    let mut words = fastrand::Rng::with_seed(plan.seed ^ 0x5EED);
    let mut case: Case<'_, G, P> = Case {
        plan,
        region,
        random: fastrand::Rng::with_seed(plan.seed ^ 0xC0FFEE),
        number: 0,
        outcome: Outcome::default(),
    };
    let mut model = Model::new();
    let mut mask = 0;
    flash.power_on(None);
    let mut journal = Journal::<LINES>::mount(&mut flash, region, watch());
    journal.recover(&mut flash).expect("a good flash");
    let mut left = plan.session_commits;
    let mut pages_begun = 0;
    for commit in 0..plan.commits {
        if left == 0 {
            left = plan.session_commits / 2 + words.usize(0..=plan.session_commits);
            model.session();
            mask = 0;
            if commit % plan.every < plan.every.min(8) {
                case.cut_recovery(&flash, &model);
            }
            journal = Journal::mount(&mut flash, region, watch());
            journal.recover(&mut flash).expect("a good flash");
        }
        left -= 1;
        let word = next_word(&mut words, &mut mask);
        let before = model.clone();
        model.commit(word);
        let (flash_before, journal_before) = (flash.clone(), journal.clone());
        flash.power_on(None);
        journal.commit(&mut flash, word).expect("a good flash");
        journal.prepare(&mut flash);
        let operations = flash.operations();
        let due = if operations > 1 {
            pages_begun += 1;
            pages_begun % plan.every == 0 || plan.every < 10
        } else {
            commit % plan.every == 0
        };
        if due {
            for at in 0..operations {
                case.cut_commit(&flash_before, &journal_before, word, at, &before, &model);
            }
        }
        if plan.first_only && !case.outcome.violations.is_empty() {
            break;
        }
        if let Some(difference) = model.differs(&journal.state().totals, LINES) {
            case.outcome.violations.push(format!("without any cut, commit {commit}: {difference}"));
            break;
        }
    }
    if let Some(violation) = flash.violations.first() {
        case.outcome.violations.push(format!("without any cut: {violation:?}"));
    }
    case.outcome
}

impl<const G: usize, const P: usize> Case<'_, G, P> {
    /// The next case's number, if it is to be run.
    fn begin(&mut self) -> Option<u64> {
        self.number += 1;
        // Each case has its own randomness, so that it can be replayed alone.
        self.random = fastrand::Rng::with_seed(self.plan.seed ^ self.number << 20);
        match self.plan.only {
            Some(only) if only != self.number => None,
            _ => Some(self.number),
        }
    }

    fn cut_commit(
        &mut self,
        flash: &Flash<G, P>,
        journal: &Journal<LINES>,
        word: Word,
        at: u64,
        before: &Model,
        after: &Model,
    ) {
        for (word_tear, erase_tear) in WORD_TEARS.into_iter().zip(ERASE_TEARS) {
            let Some(number) = self.begin() else { continue };
            let mut flash = flash.clone();
            let mut journal = journal.clone();
            let flicker = self.plan.flicker;
            let cut = Cut { at, among_erases: false, word: word_tear, erase: erase_tear, flicker };
            flash.power_on(Some(cut));
            let acknowledged = journal.commit(&mut flash, word).is_ok();
            if acknowledged {
                journal.prepare(&mut flash);
            }
            self.hit(&flash, cut, 0);
            let (mut low, mut high) = (before.clone(), after.clone());
            low.session();
            high.session();
            let allowed = if acknowledged { vec![high] } else { vec![low, high] };
            self.survive(number, flash, &allowed, 1);
        }
    }

    fn cut_recovery(&mut self, flash: &Flash<G, P>, model: &Model) {
        let Some(number) = self.begin() else { return };
        self.survive(number, flash.clone(), std::slice::from_ref(model), 1);
    }

    fn hit(&mut self, flash: &Flash<G, P>, cut: Cut, depth: u32) {
        let Some(operation) = flash.hit else { return };
        let tear = match operation {
            Operation::Erase(_) => format!("erase {:?}", cut.erase),
            Operation::Program(..) => format!("{:?}", cut.word),
        };
        self.outcome.cuts += 1;
        let (what, position) = describe::<G, P>(operation);
        *self.outcome.hits.entry(Place { what, position, tear, depth }).or_default() += 1;
    }

    /// Mounts and recovers, with further cuts as the plan says; then the state must be an allowed one and stay.
    fn survive(&mut self, number: u64, mut flash: Flash<G, P>, allowed: &[Model], depth: u32) {
        if depth <= self.plan.depth {
            // How many operations the recovery takes, on a copy.
            let mut probe = flash.clone();
            probe.power_on(None);
            let mut journal = Journal::<LINES>::mount(&mut probe, self.region, watch());
            if self.tell() {
                let (page, findings) = (journal.page(), journal.findings);
                eprintln!(
                    "depth {depth}: page {page}, {findings:?}; mount shows {:?}",
                    journal.state().totals
                );
                let heads = probe.image().chunks(P).map(|page| page[..32].to_vec());
                heads.for_each(|head| eprintln!("  head {head:02x?}"));
            }
            let _ = journal.recover(&mut probe);
            let operations = probe.operations();
            let mut cuts: Vec<u64> = (0..operations).collect();
            self.random.shuffle(&mut cuts);
            cuts.truncate(if depth == 1 { self.plan.recoveries } else { 1 });
            for at in cuts {
                let mut flash = flash.clone();
                let cut = Cut {
                    at,
                    among_erases: false,
                    word: WORD_TEARS[self.random.usize(0..WORD_TEARS.len())],
                    erase: ERASE_TEARS[self.random.usize(0..ERASE_TEARS.len())],
                    flicker: self.plan.flicker,
                };
                flash.power_on(Some(cut));
                let mut journal = Journal::<LINES>::mount(&mut flash, self.region, watch());
                let _ = journal.recover(&mut flash);
                if self.tell() {
                    eprintln!("depth {depth}: cut {cut:?} hits {:?}", flash.hit);
                }
                self.hit(&flash, cut, depth);
                self.survive(number, flash, allowed, depth + 1);
            }
        }
        if let Err(violation) = self.check(&mut flash, allowed)
            && self.outcome.violations.len() < 20
        {
            let told = format!("case {number} depth {depth}: {violation}\n    {}", self.plan.replay(number));
            self.outcome.violations.push(told);
        }
    }

    fn tell(&self) -> bool {
        self.plan.only.is_some()
    }

    fn check(&mut self, flash: &mut Flash<G, P>, allowed: &[Model]) -> Result<(), String> {
        flash.power_on(None);
        let mut journal = Journal::<LINES>::mount(flash, self.region, watch());
        if self.tell() {
            tell_page::<G, P>(flash, journal.page());
        }
        if journal.findings != Findings::default() {
            return Err(format!("a cut taken for damage: {:?}", journal.findings));
        }
        journal.recover(flash).map_err(|dead| format!("recovery says {dead:?}"))?;
        let shown = journal.state().totals;
        if self.tell() {
            eprintln!("shown {shown:?}");
        }
        let Some(model) = allowed.iter().find(|model| model.differs(&shown, LINES).is_none()) else {
            let all: Vec<_> = allowed.iter().filter_map(|model| model.differs(&shown, LINES)).collect();
            return Err(format!("after recovery: {}", all.join("; or ")));
        };
        // What was shown stays, whatever the torn cells read like next time.
        let mut model = model.clone();
        let mut session = shown.session;
        for round in 0..3 {
            if round > 0 {
                let word = Word::hold(0b0110, 100 + round);
                journal.commit(flash, word).map_err(|dead| format!("commit says {dead:?}"))?;
                model.commit(word);
                model.session();
            }
            flash.power_on(None);
            journal = Journal::mount(flash, self.region, watch());
            journal.recover(flash).map_err(|dead| format!("recovery says {dead:?}"))?;
            let totals = journal.state().totals;
            if self.tell() {
                eprintln!("round {round}: {totals:?}");
            }
            if let Some(difference) = model.differs(&totals, LINES) {
                return Err(format!("shown and then changed (round {round}): {difference}"));
            }
            if journal.findings != Findings::default() {
                return Err(format!("a cut taken for damage: {:?}", journal.findings));
            }
            if totals.session <= session {
                return Err(format!("session {} after session {session}", totals.session));
            }
            session = totals.session;
        }
        match flash.violations.first() {
            Some(violation) => Err(format!("{violation:?}")),
            None => Ok(()),
        }
    }
}

/// The words of a page as they stand.
fn tell_page<const G: usize, const P: usize>(flash: &Flash<G, P>, page: u16) {
    let start = usize::from(page) * P;
    for (at, cell) in flash.image()[start..start + P].chunks(G).enumerate().skip(body_start::<G>() / G) {
        let word = cell.first_chunk::<4>().map_or(0, |word| u32::from_le_bytes(*word));
        if cell.iter().any(|byte| *byte != 0xFF) {
            let (kind, mask, tenths) = (word >> 30, word >> 22 & 0xFF, word >> 9 & 0x1FFF);
            let (index, zeros, check) = (word >> 5 & 0xF, 27 - (word >> 5).count_ones(), word & 0x1F);
            eprintln!(
                "  {at:4}: {word:08x} kind {kind} mask {mask:02x} tenths {tenths} index {index} zeros {zeros} of {check}"
            );
        }
    }
}

fn describe<const G: usize, const P: usize>(operation: Operation) -> (&'static str, &'static str) {
    let (address, word) = match operation {
        Operation::Erase(_) => return ("erase", "page"),
        Operation::Program(address, word) => (address as usize % P, word),
    };
    let body = body_start::<G>();
    let position = match address {
        0 => "first",
        at if at < body => "head",
        at if at == body => "body first",
        at if at + 3 * G >= P => "body last",
        _ => "body",
    };
    let what = match (address, word) {
        (0, _) => "sequence",
        (at, _) if at < body => "head",
        // All zeros in flash with error correction, else a word that starts no lines.
        (_, 0 | 0x8000_001A) => "burnt gap",
        (_, word) => match word >> 30 {
            0 => "hold",
            1 => "blend",
            2 => "starts",
            _ => "resume",
        },
    };
    (what, position)
}

/// Sequence granule, then 8 bytes of retired pages, the snapshot (31 bytes and 8 a line) and 4 of CRC, padded.
const fn body_start<const G: usize>() -> usize {
    G + (8 + 31 + 8 * LINES + 4).div_ceil(G) * G
}
