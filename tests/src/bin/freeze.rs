//! Writes images of the flash format as it is now, and what is read from them, into tests/data/frozen.

use halfglass_tests::frozen::{Chip, folder};
use std::process::ExitCode;

fn main() -> ExitCode {
    let folder = folder();
    for chip in Chip::ALL {
        let path = folder.join(chip.name()).with_extension("bin");
        if path.exists() {
            println!("{} is there and stays as it is", path.display());
            continue;
        }
        let image = chip.live();
        let facts = match chip.facts(&image) {
            Ok(facts) => facts,
            Err(fault) => {
                eprintln!("{}: {fault}; nothing was written", chip.name());
                return ExitCode::FAILURE;
            }
        };
        let told = format!("{facts:#}\n");
        let written =
            std::fs::write(&path, &image).and_then(|()| std::fs::write(path.with_extension("json"), told));
        if let Err(fault) = written {
            eprintln!("{}: {fault}", path.display());
            return ExitCode::FAILURE;
        }
        println!("{}: {} bytes", path.display(), image.len());
    }
    ExitCode::SUCCESS
}
