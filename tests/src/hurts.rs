//! What is not a power cut: a page that wears out, a bit that rots.

use crate::cuts::{LINES, watch};
use crate::model::Model;
use halfglass_firmware::journal::word::Word;
use halfglass_firmware::journal::{Findings, Journal};
use halfglass_firmware::ports::Region;
use halfglass_sim::flash::{Cut, ERASE_TEARS, EraseTear, Flash, WORD_TEARS, WordTear};

const PAGES: u16 = 8;
const PAGE: usize = 1_024;
const REGION: Region = Region { start: 0, page_len: PAGE as u32, pages: PAGES };

type Chip = Flash<4, PAGE>;

fn start(flash: &mut Chip) -> Journal<LINES> {
    flash.power_on(None);
    let mut journal = Journal::mount(flash, REGION, watch());
    journal.recover(flash).expect("at least one good page");
    journal
}

fn write(
    flash: &mut Chip,
    journal: &mut Journal<LINES>,
    model: &mut Model,
    words: usize,
) -> Result<(), String> {
    for at in 0..words {
        let word = Word::hold((at / 7 % 16) as u8, 100);
        journal.commit(flash, word).map_err(|dead| format!("word {at}: {dead:?}"))?;
        journal.prepare(flash);
        model.commit(word);
    }
    Ok(())
}

/// Pages stop erasing and programming, one after the other, at random moments. All goes on; the pages are reported; nothing is
/// lost over a reset.
///
/// # Errors
/// What went wrong.
pub fn stuck_pages(seed: u64) -> Result<(), String> {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut flash = Chip::new(usize::from(PAGES), seed);
    let mut model = Model::new();
    let mut journal = start(&mut flash);
    for failed in 1..=4u16 {
        write(&mut flash, &mut journal, &mut model, random.usize(1..700))?;
        let retired = journal.retired_pages();
        if random.bool() {
            // The page in use: the next word shows it.
            flash.make_stuck(usize::from(journal.page()));
            write(&mut flash, &mut journal, &mut model, 1)?;
            if journal.retired_pages() != retired + 1 {
                return Err("the page in use failed and was not retired".into());
            }
        } else {
            flash.make_stuck(usize::from((u16::from(random.u8(..)) + failed) % PAGES));
        }
        // Long enough to come to the bad page, whichever it is.
        write(&mut flash, &mut journal, &mut model, 4_000)?;
        journal = start(&mut flash);
        model.session();
        if let Some(difference) = model.differs(&journal.state().totals, LINES) {
            return Err(format!("after {failed} bad pages: {difference}"));
        }
    }
    if journal.retired_pages() == 0 {
        return Err("no page was reported as retired".into());
    }
    match flash.violations.first() {
        Some(violation) => Err(format!("{violation:?}")),
        None => Ok(()),
    }
}

/// A page refuses a word, and power goes while the next page is begun for it; the torn head flickers. Whatever it reads like
/// at later mounts, what was shown stays.
///
/// # Errors
/// What went wrong.
pub fn refusal_then_cut(seed: u64) -> Result<(), String> {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut flash = Chip::new(usize::from(PAGES), seed);
    let mut model = Model::new();
    let mut journal = start(&mut flash);
    write(&mut flash, &mut journal, &mut model, 2_000 + random.usize(0..200))?;
    flash.refuse_next_program();
    // The refused word, an erase, the head's 19 words and its sequence word, then the word again.
    let at = 17 + random.u64(0..6);
    let cut = Cut {
        at,
        among_erases: false,
        word: WordTear::AllButOne,
        erase: EraseTear::ZerosToOnes,
        flicker: true,
    };
    flash.power_on(Some(cut));
    let word = Word::hold(0b11, 100);
    let allowed = cut_word(&mut flash, &mut journal, model, word);
    stays(&mut flash, &allowed)
}

/// A word is cut, and then the recovery at its first writes; both flicker. What is shown then stays.
///
/// # Errors
/// What went wrong.
pub fn cut_and_cut_again(seed: u64) -> Result<(), String> {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut flash = Chip::new(usize::from(PAGES), seed);
    let mut model = Model::new();
    let mut journal = start(&mut flash);
    write(&mut flash, &mut journal, &mut model, 20)?;
    // Half of the words are hardly begun, half of the first burns are half done: that is where a mixture could arise.
    let tears = [
        if seed & 1 == 0 { WordTear::Nothing } else { *random.choice(&WORD_TEARS).expect("some") },
        if seed & 2 == 0 { WordTear::Subset } else { *random.choice(&WORD_TEARS).expect("some") },
        *random.choice(&WORD_TEARS).expect("some"),
    ];
    let cut = |at, word| Cut { at, among_erases: false, word, erase: EraseTear::Nothing, flicker: true };
    flash.power_on(Some(cut(0, tears[0])));
    // Few zeros, so that its count has zeros where a burnt cell's has ones.
    let word = Word::hold(0b1111, 8_191);
    let allowed = cut_word(&mut flash, &mut journal, model, word);
    for (at, tear) in [(0, tears[1]), (1, tears[2])] {
        flash.power_on(Some(cut(at, tear)));
        let mut journal = Journal::<LINES>::mount(&mut flash, REGION, watch());
        let _ = journal.recover(&mut flash);
    }
    stays(&mut flash, &allowed)
}

/// A page's first word is cut, so that the mount writes the page again, and its erase is cut in turn, twice; some of these leave the
/// sequence word whole above a body of rubbish. That is no damage, and none of the rubbish counts.
///
/// # Errors
/// What went wrong.
pub fn page_begun_again(seed: u64) -> Result<(), String> {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut flash = Chip::new(usize::from(PAGES), seed);
    let mut model = Model::new();
    let mut journal = start(&mut flash);
    let word = Word::hold(0b0110, 100);
    // Up to the commit that begins a page; its first word is the last operation.
    let first_word = loop {
        write(&mut flash, &mut journal, &mut model, 1)?;
        let mut probe = flash.clone();
        probe.power_on(None);
        journal.clone().commit(&mut probe, word).map_err(|dead| format!("commit says {dead:?}"))?;
        if probe.operations() > 1 {
            break probe.operations() - 1;
        }
    };
    let flicker = random.bool();
    let cut = |at, among_erases, erase| Cut { at, among_erases, word: WordTear::Nothing, erase, flicker };
    flash.power_on(Some(cut(first_word, false, EraseTear::Nothing)));
    let allowed = cut_word(&mut flash, &mut journal, model, word);
    for _ in 0..2 {
        let tear = *random.choice(&ERASE_TEARS).expect("some");
        flash.power_on(Some(cut(0, true, if random.bool() { EraseTear::OnesToZeros } else { tear })));
        let mut journal = Journal::<LINES>::mount(&mut flash, REGION, watch());
        if journal.findings != Findings::default() {
            return Err(format!("a cut taken for damage: {:?}", journal.findings));
        }
        let _ = journal.recover(&mut flash);
    }
    stays(&mut flash, &allowed)
}

/// Commits a word under a cut; the models that are right afterwards.
fn cut_word(flash: &mut Chip, journal: &mut Journal<LINES>, model: Model, word: Word) -> Vec<Model> {
    let (mut low, mut high) = (model.clone(), model);
    high.commit(word);
    low.session();
    high.session();
    if journal.commit(flash, word).is_ok() { vec![high] } else { vec![low, high] }
}

/// One of the models is shown, and stays through further sessions.
fn stays(flash: &mut Chip, allowed: &[Model]) -> Result<(), String> {
    let mut journal = start(flash);
    let shown = journal.state().totals;
    let mut model = allowed
        .iter()
        .find(|model| model.differs(&shown, LINES).is_none())
        .cloned()
        .ok_or_else(|| format!("neither before nor after: {shown:?}"))?;
    for round in 0..6 {
        write(flash, &mut journal, &mut model, 2)?;
        model.session();
        journal = start(flash);
        if let Some(difference) = model.differs(&journal.state().totals, LINES) {
            return Err(format!("shown and then changed (round {round}): {difference}"));
        }
    }
    match flash.violations.first() {
        Some(violation) => Err(format!("{violation:?}")),
        None => Ok(()),
    }
}

/// One bit flips somewhere in the ring while power is off. Totals are those before, or less by words that are reported as
/// lost; a head that is hit is reported and replaced by a replay of the page before.
///
/// # Errors
/// What went wrong.
pub fn rotten_bits(seed: u64) -> Result<(), String> {
    let mut random = fastrand::Rng::with_seed(seed);
    let mut flash = Chip::new(usize::from(PAGES), seed);
    let mut model = Model::new();
    let mut journal = start(&mut flash);
    // The ring has turned, and the newest page is somewhere in its middle.
    write(&mut flash, &mut journal, &mut model, 2_000 + random.usize(0..500))?;
    let before = journal.state().totals;
    let newest = usize::from(journal.page());
    flash.power_off();
    let blank = |cell: &&[u8]| cell.iter().all(|byte| *byte == 0xFF);
    let used = flash.image()[newest * PAGE..(newest + 1) * PAGE].chunks(4).rev().skip_while(blank).count();
    let last_cell = newest * PAGE + (used - 1) * 4;
    let address = if random.bool() {
        // The head of the newest page, its sequence word included.
        newest * PAGE + random.usize(0..80)
    } else {
        random.usize(0..usize::from(PAGES) * PAGE)
    };
    flash.rot(address, random.u8(0..8));
    let journal = start(&mut flash);
    let after = journal.state().totals;
    let lost = journal.findings.words_lost;
    let exact = after.on_tenths == before.on_tenths && after.uptime_tenths == before.uptime_tenths;
    let above = after.uptime_tenths > before.uptime_tenths
        || after.on_tenths.iter().zip(before.on_tenths).any(|(after, before)| *after > before);
    let head_hit = address / PAGE == newest && (4..76).contains(&(address % PAGE));
    let reported = journal.findings.head_invalid.is_some();
    if above {
        return Err(format!("bit at {address:#x}: totals rose from {before:?} to {after:?}"));
    }
    if head_hit && !(reported && exact) {
        return Err(format!("head bit at {address:#x}: reported {reported}, exact {exact}"));
    }
    // The last word's loss cannot be told from a word that was never written; a lost sequence word hides its page.
    let last_word = address / PAGE == newest && address / 4 * 4 == last_cell;
    let sequence_hit = address % PAGE < 4;
    if !exact && lost == 0 && !last_word && !sequence_hit {
        return Err(format!("bit at {address:#x}: {before:?} became {after:?} without a word"));
    }
    Ok(())
}
