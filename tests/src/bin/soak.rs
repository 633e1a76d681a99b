//! Lives thousands of hours on the emulated board, killed over and over: `cargo xtask soak`.

use clap::Parser;
use halfglass_tests::command::DEVICE;
use halfglass_tests::qemu::soak::{Kill, LOST_PER_KILL_TENTHS, Outcome, Wanted, run};
use std::process::ExitCode;
use std::time::Instant;
use xtask::firmware::Firmware;

/// Lives so many transmit hours on the emulated board under fast-forward, killed so many times, its flash carried over.
#[derive(Parser)]
#[command(name = "soak")]
struct Arguments {
    /// Hours with transmit on
    #[arg(long, default_value_t = 100.0)]
    hours: f64,
    /// Power cuts
    #[arg(long, default_value_t = 20)]
    cuts: u32,
    /// Decides everything that is left to chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let firmware = match Firmware::Microbit.build() {
        Ok(firmware) => firmware,
        Err(fault) => {
            eprintln!("error: the board's firmware does not build; nothing was run: {fault:#}");
            return ExitCode::from(2);
        }
    };
    // A copy: a later build must not exchange the firmware in the middle of a life.
    let kept = tempfile::tempdir().and_then(|folder| {
        let copy = folder.path().join("firmware");
        std::fs::copy(&firmware, &copy).map(|_| (folder, copy))
    });
    let (_folder, firmware) = match kept {
        Ok(kept) => kept,
        Err(fault) => {
            eprintln!("error: {} could not be copied; nothing was run: {fault}", firmware.display());
            return ExitCode::from(2);
        }
    };
    let began = Instant::now();
    let wanted = Wanted { transmit_h: arguments.hours, kills: arguments.cuts, seed: arguments.seed };
    let progress = |outcome: &Outcome| {
        let kills: u32 = outcome.kills.iter().sum();
        eprintln!(
            "{kills} of {} kills, {:.0} of {:.0} transmit hours, {:.0} s, {} wrong",
            wanted.kills,
            outcome.transmit_h(),
            wanted.transmit_h,
            began.elapsed().as_secs_f64(),
            outcome.wrong.len()
        );
    };
    let outcome = run(&firmware, DEVICE, wanted, &progress);
    tell(&outcome, wanted.seed, began.elapsed().as_secs_f64());
    if outcome.wrong.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn tell(outcome: &Outcome, seed: u64, wall_s: f64) {
    let s = |tenths: u64| tenths as f64 / 10.0;
    println!("| what | figure |\n|---|---:|\n| seed | {seed} |");
    println!("| emulated hours | {:.1} |", outcome.powered_h());
    println!("| of them transmit hours | {:.1} |", outcome.transmit_h());
    println!("| kills | {} |", outcome.kills.iter().sum::<u32>());
    for kill in Kill::ALL {
        println!("| of them {} | {} |", kill.name(), outcome.kills[kill as usize]);
    }
    for (line, name) in ["supply", "heater", "transmit", "motor", "isolated"].iter().enumerate() {
        let runs = outcome.life.starts[line];
        println!("| lost by {name}, {runs} runs, s | {:.1} |", s(outcome.lost_tenths[line]));
    }
    println!("| sum of losses, all lines, s | {:.1} |", s(outcome.lost_tenths.iter().sum()));
    println!("| of it by kills, s | {:.1} |", s(outcome.by_kills_tenths));
    let bound = s(LOST_PER_KILL_TENTHS);
    println!(
        "| worst single loss, one line by one kill, s | {:.1} (at most {bound:.1}) |",
        s(outcome.worst_tenths)
    );
    println!("| gains, and losses beyond the bound | {} |", outcome.wrong.len());
    println!("| emulated hours per second of ours | {:.1} |", outcome.powered_h() / wall_s);
    for wrong in &outcome.wrong {
        println!("\n{wrong}");
    }
}
