//! Images of each released flash format, and what must be read from them for ever.
//!
//! `cargo run -p halfglass-tests --bin freeze` writes those of the format as it is now into tests/data/frozen, each with its facts
//! beside it. An image that is there is never written again: a changed format gets a new version, and both stay readable.

use crate::asking::{ask, pull_all};
use halfglass_firmware::journal::Journal;
use halfglass_firmware::journal::state::Watch;
use halfglass_firmware::ports::{Layout, Region};
use halfglass_firmware::{Logger, provision};
use halfglass_protocol::config::{Config, Kind};
use halfglass_protocol::crc32;
use halfglass_protocol::message::{Reply, Request};
use halfglass_protocol::record::{ClockSource, Record};
use halfglass_sim::bench::{Powered, board};
use halfglass_sim::flash::{Cut, EraseTear, Flash, WordTear};
use halfglass_sim::ordeal::{Bounds, Records, undergo};
use serde_json::{Value, json};
use std::path::PathBuf;

/// The version of the flash format that this firmware writes.
pub const VERSION: u32 = 1;

/// Flash chips whose format is frozen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chip {
    /// Granules of 4 bytes, erases of 1 KiB: the nRF51's map with small rings.
    Granule4,
    /// Granules of 8 bytes with error correction, erases of 2 KiB.
    Granule8,
    /// Granules of 16 bytes with error correction, erases of 2 KiB.
    Granule16,
}

const fn layout(erase: u32, history: u32) -> Layout {
    Layout {
        journal: Region { start: 0, page_len: erase, pages: 4 },
        history: Region { start: 4 * erase, page_len: history, pages: 3 },
        config: Region { start: 4 * erase + 3 * history, page_len: erase, pages: 2 },
    }
}

impl Chip {
    /// All of them.
    pub const ALL: [Chip; 3] = [Chip::Granule4, Chip::Granule8, Chip::Granule16];

    /// The name of its files.
    #[must_use]
    pub fn name(self) -> String {
        let granule = match self {
            Chip::Granule4 => 4,
            Chip::Granule8 => 8,
            Chip::Granule16 => 16,
        };
        format!("v{VERSION}-granule{granule}")
    }

    /// Its flash map.
    #[must_use]
    pub const fn layout(self) -> Layout {
        match self {
            Chip::Granule4 => layout(1_024, 2_048),
            Chip::Granule8 | Chip::Granule16 => layout(2_048, 2_048),
        }
    }

    /// The image that a logger leaves after a life in which everything happens, cuts included.
    #[must_use]
    pub fn live(self) -> Vec<u8> {
        match self {
            Chip::Granule4 => live::<4, 1_024>(self.layout()),
            Chip::Granule8 => live::<8, 2_048>(self.layout()),
            Chip::Granule16 => live::<16, 2_048>(self.layout()),
        }
    }

    /// What this firmware reads from an image.
    ///
    /// # Errors
    /// The image does not stand up to being lived on.
    pub fn facts(self, image: &[u8]) -> Result<Value, String> {
        self.facts_in(image, self.layout())
    }

    /// The same once an update has given the history so many pages more, blank ones, behind those that it had.
    ///
    /// # Errors
    /// The image does not stand up to being lived on.
    pub fn facts_with_more_history(self, image: &[u8], pages: u16) -> Result<Value, String> {
        let Layout { journal, mut history, mut config } = self.layout();
        let more = history.page_len * u32::from(pages);
        let mut grown = image.to_vec();
        let behind = config.start as usize..config.start as usize;
        grown.splice(behind, std::iter::repeat_n(0xFF, more as usize));
        history.pages += pages;
        config.start += more;
        self.facts_in(&grown, Layout { journal, history, config })
    }

    fn facts_in(self, image: &[u8], layout: Layout) -> Result<Value, String> {
        match self {
            Chip::Granule4 => facts::<4, 1_024>(image, layout),
            Chip::Granule8 => facts::<8, 2_048>(image, layout),
            Chip::Granule16 => facts::<16, 2_048>(image, layout),
        }
    }
}

/// Where frozen images are.
#[must_use]
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data/frozen")
}

/// Edges, heartbeats, idle time, chatter that is merged, drop-outs, pulls, a new configuration, torn words and a torn erase. It ends in a
/// word that was torn.
fn live<const G: usize, const P: usize>(layout: Layout) -> Vec<u8> {
    let end = layout.config.start + layout.config.page_len * u32::from(layout.config.pages);
    let mut flash = Flash::<G, P>::new(end as usize / P, 1);
    let mut config = Config::as_in_guide();
    config.warm_up_s = [180, 0];
    config.lines[0].kind = Kind::Contact { debounce_ms: 20 };
    provision(&mut flash, &layout, &config).expect("a good flash");
    let mut random = fastrand::Rng::with_seed(1);
    for session in 0..40u64 {
        flash.power_on(None);
        let mut bench = Powered::<_, 8>::on(flash, layout, board(1), 0b0000_0001);
        for _ in 0..12 {
            bench.run_until(bench.now_ms() + random.u64(300..900_000));
            bench.set_levels(random.u8(0..32));
        }
        if session % 6 == 1 {
            drop_out(&mut bench);
            chatter(&mut bench);
        }
        if session % 5 == 2 {
            let utc_ms = 1_767_225_600_000 + session * 86_400_000;
            let anchor = Request::Anchor { utc_ms, uncertainty_ms: 20, source: ClockSource::Host };
            assert!(ask(&mut bench, &anchor, false, |reply| matches!(reply, Reply::Anchored { .. })));
            pull_all(&mut bench);
        }
        if session == 14 {
            config.warm_up_s = [240, 0];
            assert!(ask(&mut bench, &Request::SetConfig(config), true, |reply| reply == Reply::Done));
        }
        // Power goes in a word or in an erase.
        let among_erases = session % 4 == 0;
        let (word, erase) = (WordTear::AllButOne, EraseTear::DirtyEighth);
        bench.set_levels(0b0000_1011);
        let cut = Cut { at: 2, among_erases, word, erase, flicker: false };
        bench.logger.flash().power_on(Some(cut));
        while !bench.logger.flash().is_off() {
            bench.run_until(bench.now_ms() + 10_000);
        }
        flash = bench.logger.into_flash();
    }
    flash.image().to_vec()
}

/// Transmit is lost for three seconds while the heater stays on.
fn drop_out<F: embedded_storage::nor_flash::NorFlash>(bench: &mut Powered<F, 8>) {
    for (after_ms, levels) in
        [(1_000, 0b0011), (200_000, 0b0111), (60_000, 0b0011), (3_000, 0b0111), (20_000, 0b0111)]
    {
        bench.run_until(bench.now_ms() + after_ms);
        bench.set_levels(levels);
    }
}

/// More edges than the flash is sized for.
fn chatter<F: embedded_storage::nor_flash::NorFlash>(bench: &mut Powered<F, 8>) {
    for turn in 0..1_500u16 {
        bench.run_until(bench.now_ms() + 250);
        bench.set_levels(if turn % 2 == 0 { 0b0000_0111 } else { 0b0000_1111 });
    }
}

fn facts<const G: usize, const P: usize>(image: &[u8], layout: Layout) -> Result<Value, String> {
    let flash = || {
        let mut flash = Flash::<G, P>::from_image(image, 1);
        flash.power_on(None);
        flash
    };
    let logger = Logger::<_, 8>::start(flash(), layout, board(1), 0);
    let config = *logger.config();
    let mut mounted = flash();
    let journal = Journal::<8>::mount(&mut mounted, layout.journal, Watch::from_config(&config));
    let totals = journal.state().totals;
    let mut bench = Powered::<_, 8>::on(flash(), layout, board(1), 0);
    bench.run_until(2_000);
    // What the start itself has added begins with its session record.
    let records = pull_all(&mut bench);
    let is_start = |bytes: &[u8]| matches!(Record::decode(bytes), Some(Record::Session(it)) if it.session > totals.session);
    let start = records.iter().find(|(_, bytes)| is_start(bytes)).map(|(index, _)| *index);
    // Before it stands the span that closes the last session, which the image does not hold.
    let to = start.and_then(|index| index.checked_sub(1)).ok_or("the start left no session record")?;
    let frozen: Vec<_> = records.range(..to).collect();
    let mut running = crc32::Running::default();
    let mut kinds = std::collections::BTreeMap::<&str, u32>::new();
    for (index, bytes) in &frozen {
        running.update(&index.to_le_bytes());
        running.update(bytes);
        *kinds.entry(Record::decode(bytes).map_or("lost", |record| kind(&record))).or_default() += 1;
    }
    let bounds = Bounds { most_tenths: totals.uptime_tenths, records: Records::Stay };
    undergo::<G, P>(image, &layout, bounds)?;
    Ok(json!({
        "format": VERSION,
        "granule_bytes": G,
        "erase_bytes": P,
        "regions": {
            "journal": region(layout.journal),
            "history": region(layout.history),
            "config": region(layout.config),
        },
        "totals": {
            "uptime_tenths": totals.uptime_tenths,
            "on_tenths": totals.on_tenths,
            "starts": totals.starts,
            "drop_outs": totals.drop_outs,
            "short_warm_ups": totals.short_warm_ups,
            "session": totals.session,
        },
        "config": {
            "heartbeat_s": config.heartbeat_s,
            "idle_s": config.idle_s,
            "warm_up_s": config.warm_up_s,
            "lines": config.lines.map(|line| {
                let (kind, filter_ms) = match line.kind {
                    Kind::Contact { debounce_ms } => ("contact", debounce_ms),
                    Kind::Pulsed { hold_ms } => ("pulsed", hold_ms),
                };
                json!([line.role.name(), line.radar, kind, filter_ms, line.active_low])
            }),
        },
        "records": {
            "from": frozen.first().map(|(index, _)| **index),
            "to": to,
            "kinds": kinds,
            "crc32": format!("{:08x}", running.finish()),
        },
    }))
}

fn region(region: Region) -> Value {
    json!({ "start": region.start, "page_bytes": region.page_len, "pages": region.pages })
}

const fn kind(record: &Record) -> &'static str {
    match record {
        Record::Base(_) => "base",
        Record::Span(_) => "span",
        Record::Session(_) => "session",
        Record::Anchor(_) => "anchor",
        Record::Run(_) => "run",
        Record::Coalesced { .. } => "coalesced",
        Record::RunsSkipped { .. } => "runs skipped",
        Record::Damage(_) => "damage",
        Record::Config(_) => "config",
        Record::Way { .. } => "way",
    }
}
