//! Published and recomputed optima, and the policy's own logic.

use super::*;
use crate::life::Life;
use crate::life::weibull::fit;

fn lives(eta_h: f64, beta: f64) -> Weibull {
    Weibull::new(eta_h, beta).unwrap()
}

fn near(got: f64, expected: f64, relative: f64) {
    assert!((got - expected).abs() <= relative * expected.abs(), "{got} for {expected}");
}

/// Source: a public reliability wiki's example (1 : 5, η 1000 h, β 2.5), solved outside (scipy 1.17.1); relife 3.0.0 gives
/// 493.04673 h, reliability 0.9.0 gives 493.185 h from a grid of 10,000 points.
#[test]
fn published_example() {
    let optimum = optimum(&lives(1_000.0, 2.5), Costs::new(1.0, 5.0)).unwrap();
    near(optimum.age_h.unwrap(), 493.046_957_6, 1e-6);
    near(optimum.cost_per_h, 0.003_462_042_74, 1e-6);
    near(optimum.age_h.unwrap(), 493.046_73, 1e-6);
    near(optimum.age_h.unwrap(), 493.185, 1e-3);
    assert!(optimum.cost_per_h < optimum.unplanned_cost_per_h);
}

/// Source: the closed form at shape 2, x √π erf x − (1 − e^−x²) = planned / (failed − planned), solved outside (scipy 1.17.1).
#[test]
fn closed_form_at_shape_two() {
    for (failed, age_h, cost_per_h) in
        [(3.0, 0.7379139, 2.951655), (5.0, 0.5106552, 4.085242), (10.0, 0.3364512, 6.056121)]
    {
        let optimum = optimum(&lives(1.0, 2.0), Costs::new(1.0, failed)).unwrap();
        near(optimum.age_h.unwrap(), age_h, 1e-6);
        near(optimum.cost_per_h, cost_per_h, 1e-6);
    }
}

/// Source: solved outside (scipy 1.17.1); relife 3.0.0 agrees.
#[test]
fn hours_as_of_a_tube() {
    let optimum = optimum(&lives(12_000.0, 3.0), Costs::new(1.0, 10.0)).unwrap();
    near(optimum.age_h.unwrap(), 4_589.466_37, 1e-7);
    near(optimum.cost_per_h, 3.291_125_25e-4, 1e-7);
}

/// Source: relife's documentation, 'Basics', and relife 3.0.0: power transformers in years, 3 : 11, at 4 % a year and none.
#[test]
fn discounted() {
    let transformers = lives(1.0 / 0.0122785, 3.465_973_96);
    let age = |discount_per_h| {
        let costs = Costs { planned: 3.0, failed: 11.0, discount_per_h };
        optimum(&transformers, costs).unwrap().age_h.unwrap()
    };
    near(age(0.04), 59.1975, 1e-4);
    near(age(0.0), 47.5319, 1e-4);
    near(age(1e-12), age(0.0), 1e-9);
}

/// Source: Barlow and Proschan's minimal repair, η (planned / (mending (β − 1)))^(1/β), evaluated outside.
#[test]
fn mended_in_between() {
    let optimum = optimum_with_mending(&lives(1_000.0, 2.5), 1.0, 5.0).unwrap();
    near(optimum.age_h.unwrap(), 446.6584, 1e-6);
    near(optimum.cost_per_h, 0.003_731_412, 1e-6);
    assert_eq!(optimum_with_mending(&lives(1_000.0, 1.0), 1.0, 5.0).unwrap().age_h, None);
}

/// Source: Barlow and Proschan (from memory): without wear, never.
#[test]
fn without_wear_never() {
    for beta in [0.3, 0.99, 1.0] {
        for discount_per_h in [0.0, 1e-4] {
            let costs = Costs { planned: 1.0, failed: 1_000.0, discount_per_h };
            let optimum = optimum(&lives(1_000.0, beta), costs).unwrap();
            assert_eq!(optimum.age_h, None);
            assert_eq!(optimum.cost_per_h, optimum.unplanned_cost_per_h);
        }
    }
    // So little wear that no part would live to the age.
    assert_eq!(optimum(&lives(1_000.0, 1.001), Costs::new(1.0, 1.5)).unwrap().age_h, None);
}

/// No age tried costs less than the one that is called cheapest.
#[test]
fn no_age_costs_less() {
    for beta in [1.05, 1.3, 2.0, 3.7, 12.0, 80.0] {
        for failed in [1.1, 2.0, 10.0, 1e4] {
            for discount_per_h in [0.0, 2e-4] {
                let (lives, costs) = (lives(3_000.0, beta), Costs { planned: 1.0, failed, discount_per_h });
                let best = optimum(&lives, costs).unwrap();
                for percent in 1..600 {
                    let age_h = 3_000.0 * f64::from(percent) / 100.0;
                    let cost_per_h = cost_per_h(&lives, costs, age_h).unwrap();
                    assert!(
                        best.cost_per_h <= cost_per_h * (1.0 + 1e-12),
                        "{beta} {costs:?} {age_h}: {best:?}"
                    );
                }
            }
        }
    }
}

/// The rule of integration against the closed form that holds without a discount: next to none is as good as none.
#[test]
fn the_integral_is_exact() {
    for beta in [0.4, 1.1, 2.5, 9.0, 40.0] {
        let lives = lives(1_000.0, beta);
        for age_h in [1.0, 300.0, 2_000.0, 20_000.0] {
            near(Cycle::of(&lives, age_h, 1e-18).hours_h, lives.mean_until_h(age_h), 1e-9);
        }
    }
}

fn wearing(count: u32) -> Vec<Life> {
    let truth = lives(8_000.0, 3.0);
    (0..count).map(|at| Life::failed_at(truth.b_life_h((f64::from(at) + 0.5) / f64::from(count)))).collect()
}

#[test]
fn no_advice_from_fewer_than_five_failures() {
    let mut few = wearing(4);
    few.extend([Life::alive_at(9_000.0); 40]);
    let fitted = fit(&few).unwrap();
    assert_eq!(advise(&fitted, Costs::new(1.0, 5.0), 0.9), Err(Why::TooFewFailures { have: 4, need: 5 }));
    let fitted = fit(&wearing(5)).unwrap();
    assert!(advise(&fitted, Costs::new(1.0, 5.0), 0.9).is_ok());
}

/// The error carried through to the age is what the age varies by when the figures are varied by theirs.
#[test]
fn limits_follow_the_fit() {
    let fitted = fit(&wearing(30)).unwrap();
    let costs = Costs::new(1.0, 6.0);
    let advice = advise(&fitted, costs, 0.9).unwrap();
    assert!(advice.wear_shown);
    let (eta_h, beta) = (fitted.weibull.eta_h(), fitted.weibull.beta());
    let ln_age = |eta_h, beta| optimum(&lives(eta_h, beta), costs).unwrap().age_h.unwrap().ln();
    let (h, k) = (1e-3 * eta_h, 1e-3);
    let by_eta = (ln_age(eta_h + h, beta) - ln_age(eta_h - h, beta)) / (2.0 * h);
    let by_beta = (ln_age(eta_h, beta + k) - ln_age(eta_h, beta - k)) / (2.0 * k);
    let var = (by_eta * fitted.eta_se_h()).powi(2)
        + (by_beta * fitted.beta_se()).powi(2)
        + 2.0 * by_eta * by_beta * fitted.eta_beta_covariance_h();
    let limits = advice.age_limits_h.unwrap();
    // 1.644853627 standard deviations hold 90 % of a normal distribution (common tables).
    near((limits.high / limits.low).ln(), 2.0 * 1.644_853_627 * var.sqrt(), 1e-4);
}

#[test]
fn wear_that_is_not_shown_leaves_the_age_open() {
    let truth = lives(8_000.0, 1.2);
    let few: Vec<Life> =
        (0..6).map(|at| Life::failed_at(truth.b_life_h((f64::from(at) + 0.5) / 6.0))).collect();
    let advice = advise(&fit(&few).unwrap(), Costs::new(1.0, 20.0), 0.9).unwrap();
    assert!(!advice.wear_shown);
    assert_eq!(advice.age_limits_h.unwrap().high, f64::INFINITY);
}

#[test]
fn impossible_costs_are_refused() {
    let lives = lives(1_000.0, 2.0);
    for (planned, failed) in [(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
        assert!(optimum(&lives, Costs::new(planned, failed)).is_err(), "{planned} {failed}");
    }
    let discount_per_h = -0.1;
    assert!(optimum(&lives, Costs { planned: 1.0, failed: 2.0, discount_per_h }).is_err());
    assert!(cost_per_h(&lives, Costs::new(1.0, 2.0), 0.0).is_err());
}
