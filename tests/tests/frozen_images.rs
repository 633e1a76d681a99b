//! Flash images of every released format must read as on the day they were frozen: totals, configuration, records; and a logger
//! must be able to go on from them. If this fails, loggers in the field would lose what they hold: give the format a new version
//! that also reads the old one, and freeze images of it beside these.

use halfglass_firmware::planted::{Mistake, plant};
use halfglass_tests::frozen::{Chip, folder};
use serde_json::Value;

fn load(chip: Chip) -> (Vec<u8>, Value) {
    let path = folder().join(chip.name());
    let read = |extension: &str| {
        let path = path.with_extension(extension);
        std::fs::read(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
    };
    let facts = serde_json::from_slice(&read("json")).expect("JSON");
    (read("bin"), facts)
}

/// One test, because a mistake is planted in the whole process.
#[test]
fn frozen_images_read_as_ever() {
    for chip in Chip::ALL {
        let (image, facts) = load(chip);
        let read = chip.facts(&image).unwrap_or_else(|fault| panic!("{}: {fault}", chip.name()));
        assert_eq!(read, facts, "{}", chip.name());
        // The image holds what there is to hold, so that little can change unseen.
        for kind in ["base", "span", "session", "anchor", "run", "coalesced", "config"] {
            assert!(facts["records"]["kinds"][kind].as_u64() > Some(0), "{}: no {kind}", chip.name());
        }
        // An update may give the history pages that were free; what stands in the others stays.
        let grown = chip
            .facts_with_more_history(&image, 4)
            .unwrap_or_else(|fault| panic!("{}: {fault}", chip.name()));
        for what in ["totals", "config", "records"] {
            assert_eq!(grown[what], facts[what], "{}, history grown: {what}", chip.name());
        }
        let totals = &facts["totals"];
        assert!(totals["drop_outs"][0].as_u64() > Some(0) && totals["short_warm_ups"][0].as_u64() > Some(0));
    }
    // A changed check of words is a changed format, and is seen.
    plant(Some(Mistake::CountsOnes));
    for chip in Chip::ALL {
        let (image, facts) = load(chip);
        let read = std::panic::catch_unwind(|| chip.facts(&image));
        assert!(
            !matches!(read, Ok(Ok(read)) if read == facts),
            "{}: a changed format went unseen",
            chip.name()
        );
    }
    plant(None);
}
