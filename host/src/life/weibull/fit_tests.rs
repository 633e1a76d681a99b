//! What the published figures in `tests/tests/life_oracles.rs` do not reach: the odd cases.

use super::*;

fn failed(ages_h: &[f64]) -> Vec<Life> {
    ages_h.iter().copied().map(Life::failed_at).collect()
}

/// Even draws (splitmix64).
fn draws(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Lives of a known distribution, some entered late, some taken out alive.
fn invented(seed: u64, of: Weibull, count: usize) -> Vec<Life> {
    let mut draw = draws(seed);
    let mut lives = Vec::new();
    while lives.len() < count {
        let age_h = of.b_life_h(draw());
        let entered_h = if draw() < 0.4 { draw() * of.eta_h() } else { 0.0 };
        let taken_out_h = of.eta_h() * (0.4 + 1.2 * draw());
        // A part that failed, or was taken out, before anybody watched is never heard of.
        if entered_h < age_h.min(taken_out_h) {
            lives.push(Life { entered_h, left_h: age_h.min(taken_out_h), failed: age_h <= taken_out_h });
        }
    }
    lives
}

/// The likelihood written out again, life by life.
fn log_likelihood(lives: &[Life], of: Weibull) -> f64 {
    lives
        .iter()
        .map(|life| {
            let watched = of.cumulative_hazard(life.left_h) - of.cumulative_hazard(life.entered_h);
            if life.failed { of.hazard_per_h(life.left_h).ln() - watched } else { -watched }
        })
        .sum()
}

/// At a maximum, a step to any side goes down; the curvature there is the inverse of the covariances.
#[test]
fn the_fit_is_a_maximum_and_its_errors_are_the_curvature() {
    for seed in 0..50 {
        let truth = Weibull::new(8_000.0, 0.7 + 0.08 * seed as f64).unwrap();
        let lives = invented(seed, truth, 40);
        let fit = fit(&lives).unwrap();
        let (eta_h, beta) = (fit.weibull.eta_h(), fit.weibull.beta());
        let at = |ln_eta: f64, by_beta: f64| {
            log_likelihood(&lives, Weibull::new(eta_h * ln_eta.exp(), beta + by_beta).unwrap())
        };
        let top = at(0.0, 0.0);
        assert!((top - fit.log_likelihood).abs() < 1e-9 * top.abs(), "seed {seed}");
        for (a, b) in [(1e-4, 0.0), (-1e-4, 0.0), (0.0, 1e-4), (0.0, -1e-4), (1e-4, 1e-4), (-1e-4, 1e-4)] {
            assert!(at(a, b) < top, "seed {seed}: higher at {a} {b}");
        }
        let (h, k) = (1e-3, 1e-3 * beta);
        let ln_eta2 = -(at(h, 0.0) - 2.0 * top + at(-h, 0.0)) / (h * h);
        let beta2 = -(at(0.0, k) - 2.0 * top + at(0.0, -k)) / (k * k);
        let cross = -(at(h, k) - at(h, -k) - at(-h, k) + at(-h, -k)) / (4.0 * h * k);
        let determinant = ln_eta2 * beta2 - cross * cross;
        let expected = [beta2 / determinant, ln_eta2 / determinant, -cross / determinant];
        for (got, expected) in [fit.var_ln_eta, fit.var_beta, fit.cov].into_iter().zip(expected) {
            assert!(
                (got - expected).abs() < 1e-3 * expected.abs() + 1e-7,
                "seed {seed}: {got} for {expected}"
            );
        }
    }
}

/// Limits at 90 % hold the truth nine times in ten, within what 1,000 draws allow, for a fleet's worth of parts.
#[test]
fn limits_hold_the_truth_as_often_as_they_say() {
    let truth = Weibull::new(8_000.0, 2.4).unwrap();
    let mut held = [0; 4];
    for seed in 0..1_000 {
        let fit = fit(&invented(seed, truth, 80)).unwrap();
        let inside = |limits: Limits, truth: f64| usize::from(limits.low <= truth && truth <= limits.high);
        held[0] += inside(fit.eta_limits_h(0.9).unwrap(), truth.eta_h());
        held[1] += inside(fit.beta_limits(0.9).unwrap(), truth.beta());
        held[2] += inside(fit.b_life_limits_h(0.1, 0.9).unwrap(), truth.b_life_h(0.1));
        held[3] += inside(fit.survival_limits(5_000.0, 0.9).unwrap(), truth.survival(5_000.0));
    }
    for held in held {
        assert!((870..=930).contains(&held), "{held} of 1000");
    }
}

/// Who forgets that parts entered late finds them tougher than they are.
#[test]
fn late_entries_matter() {
    let truth = Weibull::new(8_000.0, 1.0).unwrap();
    let mut draw = draws(5);
    let mut lives = Vec::new();
    while lives.len() < 2_000 {
        let (age_h, entered_h) = (truth.b_life_h(draw()), 6_000.0 * draw());
        if entered_h < age_h {
            lives.push(Life::failed_at(age_h).entered_at(entered_h));
        }
    }
    let told = fit(&lives).unwrap().weibull;
    assert!((told.mean_h() / 8_000.0 - 1.0).abs() < 0.05, "{}", told.mean_h());
    let forgotten: Vec<Life> = lives.iter().map(|life| life.entered_at(0.0)).collect();
    assert!(fit(&forgotten).unwrap().weibull.mean_h() > 9_500.0);
}

#[test]
fn hours_or_minutes_make_no_difference() {
    let lives = invented(3, Weibull::new(100.0, 3.0).unwrap(), 30);
    let once = fit(&lives).unwrap();
    for factor in [60.0, 1e-9, 1e12] {
        let scaled: Vec<Life> = lives
            .iter()
            .map(|life| Life { entered_h: life.entered_h * factor, left_h: life.left_h * factor, ..*life })
            .collect();
        let again = fit(&scaled).unwrap();
        assert!((again.weibull.beta() / once.weibull.beta() - 1.0).abs() < 1e-9);
        assert!((again.weibull.eta_h() / once.weibull.eta_h() / factor - 1.0).abs() < 1e-9);
    }
}

#[test]
fn steep_and_flat_shapes_are_found() {
    for beta in [0.05, 0.3, 30.0, 300.0] {
        let truth = Weibull::new(1_000.0, beta).unwrap();
        let ages_h: Vec<f64> = (0..200).map(|at| truth.b_life_h((f64::from(at) + 0.5) / 200.0)).collect();
        let found = fit(&failed(&ages_h)).unwrap().weibull;
        assert!((found.beta() / beta - 1.0).abs() < 0.03, "{} for {beta}", found.beta());
    }
}

#[test]
fn what_cannot_be_told_is_said() {
    assert_eq!(fit(&[]), Err(Why::TooFewFailures { have: 0, need: 2 }));
    let one = [Life::failed_at(10.0), Life::alive_at(20.0)];
    assert_eq!(fit(&one), Err(Why::TooFewFailures { have: 1, need: 2 }));
    assert_eq!(fit(&failed(&[700.0, 700.0])), Err(Why::NoSpread));
    let mut outlived = failed(&[700.0, 700.0]);
    outlived.push(Life::alive_at(650.0));
    assert_eq!(fit(&outlived), Err(Why::NoSpread));
    outlived.push(Life::alive_at(710.0));
    assert!(fit(&outlived).is_ok());
    let old: Vec<Life> =
        [100.0, 1_000.0, 5_000.0].map(|at| Life::failed_at(at * 1.01).entered_at(at)).to_vec();
    assert_eq!(fit(&old), Err(Why::NoShape));
    let same: Vec<Life> = failed(&[900.0, 900.0, 900.0]).iter().map(|life| life.entered_at(300.0)).collect();
    assert_eq!(fit(&same), Err(Why::NoSpread));
}

#[test]
fn impossible_lives_are_named() {
    let impossible = [
        Life::failed_at(0.0),
        Life::failed_at(-5.0),
        Life::failed_at(f64::NAN),
        Life::alive_at(f64::INFINITY),
        Life::failed_at(10.0).entered_at(10.0),
        Life::failed_at(10.0).entered_at(-1.0),
        Life::failed_at(10.0).entered_at(f64::NAN),
    ];
    for life in impossible {
        let why = fit(&[Life::failed_at(3.0), life]).unwrap_err();
        assert!(matches!(why, Why::ImpossibleLife { at: 1, .. }), "{life:?}: {why:?}");
    }
    let said = fit(&[Life::alive_at(-5.0)]).unwrap_err().to_string();
    assert!(said.contains("life number 1 runs from 0 h to -5 h"), "{said}");
    assert_eq!(fit(&failed(&[1.0, 2.0, 3.0])).unwrap().beta_limits(1.0), Err(Why::Confidence(1.0)));
}

/// Whatever lives are given: a fit or a reason, never a figure that is none.
#[test]
fn any_lives_give_figures_or_a_reason() {
    let mut reasons = 0;
    for seed in 0..20_000 {
        let mut draw = draws(seed);
        let count = 1 + (draw() * 8.0) as usize;
        let wild = |draw: f64| 10.0_f64.powf(draw * 40.0 - 20.0);
        let lives: Vec<Life> = (0..count)
            .map(|_| {
                let left_h = if draw() < 0.5 { wild(draw()) } else { (1.0 + 4.0 * draw()).round() };
                let entered_h = if draw() < 0.5 { 0.0 } else { left_h * draw() };
                Life { entered_h, left_h, failed: draw() < 0.6 }
            })
            .collect();
        match fit(&lives) {
            Err(_) => reasons += 1,
            Ok(fit) => {
                let figures = [fit.log_likelihood, fit.eta_se_h(), fit.beta_se()];
                assert!(figures.iter().all(|figure| figure.is_finite()), "seed {seed}: {fit:?}");
                assert!(fit.beta_limits(0.95).unwrap().low > 0.0, "seed {seed}: {fit:?}");
            }
        }
    }
    assert!((1_000..19_000).contains(&reasons), "{reasons}");
}
