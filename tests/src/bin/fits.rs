//! How many Weibull fits this machine makes in a second, on invented lives.
//!
//! Writes the lives, the rates and what was fitted as JSON, so that `tests/oracles/fits.py` does the same with other people's
//! libraries. `cargo xtask bench life` runs both.

use halfglass::life::{Life, weibull};
use serde_json::{Value, json};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Each kind is fitted over and over for at least so long.
const AT_LEAST: Duration = Duration::from_millis(500);

/// Data sets of each kind.
const SETS: usize = 40;

struct Kind {
    name: &'static str,
    lives: usize,
    /// Some were taken out alive.
    censored: bool,
    /// Some were old when first watched.
    late: bool,
}

const KINDS: [Kind; 4] = [
    Kind { name: "20 lives, all failed", lives: 20, censored: false, late: false },
    Kind { name: "20 lives, some taken out alive", lives: 20, censored: true, late: false },
    Kind { name: "20 lives, some entered late too", lives: 20, censored: true, late: true },
    Kind { name: "200 lives, some taken out alive", lives: 200, censored: true, late: false },
];

fn main() {
    let kinds: Vec<Value> = KINDS.iter().map(measure).collect();
    println!("{}", json!({ "kinds": kinds }));
}

fn measure(kind: &Kind) -> Value {
    let mut dice = fastrand::Rng::with_seed(20);
    let mut sets = Vec::new();
    let mut fitted = Vec::new();
    while sets.len() < SETS {
        let lives = invent(kind, &mut dice);
        // A handful of failures may leave the shape open; then there is nothing to compare.
        if let Ok(fit) = weibull::fit(&lives) {
            fitted.push([fit.weibull.eta_h(), fit.weibull.beta()]);
            sets.push(lives);
        }
    }
    let begun = Instant::now();
    let mut fits = 0_u64;
    while begun.elapsed() < AT_LEAST {
        for lives in &sets {
            let fit = black_box(weibull::fit(black_box(lives)));
            fits += u64::from(fit.is_ok());
        }
    }
    let fits_per_s = fits as f64 / begun.elapsed().as_secs_f64();
    let row = |life: &Life| json!([life.entered_h, life.left_h, life.failed]);
    let sets: Vec<Vec<Value>> = sets.iter().map(|lives| lives.iter().map(row).collect()).collect();
    json!({ "kind": kind.name, "fits_per_s": fits_per_s, "fitted": fitted, "sets": sets })
}

fn invent(kind: &Kind, dice: &mut fastrand::Rng) -> Vec<Life> {
    let (eta_h, beta) = (3_000.0 + 9_000.0 * dice.f64(), 0.8 + 3.2 * dice.f64());
    let mut lives = Vec::with_capacity(kind.lives);
    while lives.len() < kind.lives {
        let age_h = eta_h * (-(1.0 - dice.f64()).ln()).powf(1.0 / beta);
        let taken_out_h = if kind.censored { eta_h * (0.3 + 1.3 * dice.f64()) } else { f64::INFINITY };
        let entered_h = if kind.late && dice.bool() { 0.8 * eta_h * dice.f64() } else { 0.0 };
        let left_h = age_h.min(taken_out_h);
        if left_h > entered_h {
            lives.push(Life { entered_h, left_h, failed: age_h <= taken_out_h });
        }
    }
    lives
}
