//! Part lives beside other people's implementations in Python, on random data sets: `tests/oracles/life.py` draws them and
//! says what scipy, lifelines, surpyval and relife make of them, in the versions that `tests/oracles/requirements.txt` pins.
//!
//! This needs python3 with its venv module, and the Python package index the first time. Without them it fails, and says so.

use halfglass::life::age_replacement::{self, Costs};
use halfglass::life::exponential::{Ending, mtbf_at_least_h};
use halfglass::life::power_law::History;
use halfglass::life::weibull::{self, Weibull};
use halfglass::life::{Life, kaplan_meier, regression, spares};
use serde_json::Value;
use std::sync::LazyLock;

static SAID: LazyLock<Value> = LazyLock::new(|| {
    let mut command = xtask::oracles::script("life.py")
        .unwrap_or_else(|fault| panic!("nothing to compare with: {fault:#}"));
    let output = command.output().unwrap_or_else(|fault| panic!("{command:?} could not be started: {fault}"));
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?} ended with {}:\n{errors}", output.status);
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|fault| panic!("{command:?} wrote no JSON: {fault}"))
});

/// The sets of one kind: never none.
fn sets(kind: &str) -> &'static [Value] {
    let sets = SAID[kind].as_array().unwrap_or_else(|| panic!("the script says nothing of {kind}"));
    assert!(!sets.is_empty(), "the script drew no {kind}");
    sets
}

fn figure(of: &Value, name: &str) -> f64 {
    of[name].as_f64().unwrap_or_else(|| panic!("no figure {name} in {of}"))
}

fn pairs(of: &Value) -> Vec<(f64, f64)> {
    let pair = |pair: &Value| (pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap());
    of.as_array().unwrap().iter().map(pair).collect()
}

fn lives(set: &Value) -> Vec<Life> {
    let life = |row: &Value| Life {
        entered_h: row[0].as_f64().unwrap(),
        left_h: row[1].as_f64().unwrap(),
        failed: row[2].as_bool().unwrap(),
    };
    set["lives"].as_array().unwrap().iter().map(life).collect()
}

#[track_caller]
fn near(what: &str, got: f64, expected: f64, relative: f64) {
    assert!((got - expected).abs() <= relative * expected.abs(), "{what}: {got} here, {expected} there");
}

/// Their searches end within a millionth or so of the top.
#[test]
fn weibull_fits() {
    for (kind, libraries) in [
        ("censored", &["lifelines", "surpyval", "relife", "scipy"][..]),
        ("truncated", &["lifelines", "surpyval", "relife"]),
    ] {
        for set in sets(kind) {
            let lives = lives(set);
            assert_eq!(kind == "truncated", lives.iter().any(|life| life.entered_h > 0.0));
            let fit = weibull::fit(&lives).unwrap();
            let seed = &set["seed"];
            for library in libraries {
                let theirs = &set[library];
                near(
                    &format!("{kind} {seed} {library} eta"),
                    fit.weibull.eta_h(),
                    figure(theirs, "eta"),
                    1e-5,
                );
                near(
                    &format!("{kind} {seed} {library} beta"),
                    fit.weibull.beta(),
                    figure(theirs, "beta"),
                    1e-5,
                );
            }
            let theirs = &set["lifelines"];
            let what = |name: &str| format!("{kind} {seed} lifelines {name}");
            near(&what("se of eta"), fit.eta_se_h(), figure(theirs, "eta_se"), 1e-4);
            near(&what("se of beta"), fit.beta_se(), figure(theirs, "beta_se"), 1e-4);
            // The covariance may be near 0: set against the product of the errors.
            let product = fit.eta_se_h() * fit.beta_se();
            let off = (fit.eta_beta_covariance_h() - figure(theirs, "covariance")).abs();
            assert!(off < 1e-4 * product, "{}: off by {off} of {product}", what("covariance"));
            near(&what("likelihood"), fit.log_likelihood, figure(theirs, "log_likelihood"), 1e-9);
        }
    }
}

/// lifelines: the share alive, its limits at 90 %, and how many were at risk, with ties and late entries.
#[test]
fn kaplan_meier_curves() {
    for set in sets("curves") {
        let curve = kaplan_meier::curve(&lives(set)).unwrap();
        let seed = &set["seed"];
        let at_risk = pairs(&set["at_risk"]);
        let theirs = set["steps"].as_array().unwrap();
        let mut compared = 0;
        for row in theirs {
            let row: Vec<f64> =
                row.as_array().unwrap().iter().map(|figure| figure.as_f64().unwrap_or(f64::NAN)).collect();
            let [age_h, survival, low, high] = row[..] else { panic!("{row:?}") };
            assert!((curve.survival(age_h) - survival).abs() < 1e-12, "seed {seed}, {age_h} h");
            let Some(step) = curve.steps.iter().find(|step| step.age_h == age_h) else { continue };
            let there = at_risk.iter().find(|(at_h, _)| *at_h == age_h).map(|(_, count)| *count);
            assert_eq!(Some(step.at_risk as f64), there, "seed {seed}, {age_h} h");
            if survival > 0.0 {
                let limits = step.limits(0.9).unwrap();
                near(&format!("seed {seed}, {age_h} h, low"), limits.low, low, 1e-9);
                near(&format!("seed {seed}, {age_h} h, high"), limits.high, high, 1e-9);
            }
            compared += 1;
        }
        assert_eq!(compared, curve.steps.len(), "seed {seed}");
    }
}

/// scipy's `weibull_min`, and quadrature of its survival.
#[test]
fn distributions() {
    for set in sets("distributions") {
        let of = |name| figure(set, name);
        let lives = Weibull::new(of("eta"), of("beta")).unwrap();
        let (age_h, more_h) = (of("age"), of("more"));
        let what = |name: &str| format!("{name} of {lives:?} at {age_h} h");
        near(&what("survival"), lives.survival(age_h), of("survival"), 1e-10);
        near(&what("conditional"), lives.conditional_survival(age_h, more_h), of("conditional"), 1e-10);
        near(&what("residual"), lives.mean_residual_life_h(age_h), of("residual"), 1e-8);
        near(&what("B10"), lives.b_life_h(0.1), of("b10"), 1e-12);
        near(&what("mean"), lives.mean_h(), of("mean"), 1e-12);
        near(&what("sd"), lives.sd_h(), of("sd"), 1e-9);
    }
}

/// A minimum sought numerically over scipy's quadrature, and relife, whose integration is coarser.
#[test]
fn age_replacements() {
    for set in sets("replacements") {
        let of = |name| figure(set, name);
        let lives = Weibull::new(of("eta"), of("beta")).unwrap();
        let costs = Costs { planned: of("planned"), failed: of("failed"), discount_per_h: of("discount") };
        let optimum = age_replacement::optimum(&lives, costs).unwrap();
        let what = format!("{lives:?} {costs:?}");
        near(&what, optimum.cost_per_h, of("cost"), 1e-9);
        // The cost is flat about its least, so the age is found only to the root of its digits.
        near(&what, optimum.age_h.unwrap(), of("age"), 1e-6);
        near(&what, optimum.age_h.unwrap(), of("relife"), 1e-4);
    }
}

/// scipy's Poisson and chi-square.
#[test]
fn counts() {
    for set in sets("counts") {
        let of = |name| figure(set, name);
        let (mean, share, stock) = (of("mean"), of("share"), set["stock"].as_u64().unwrap());
        assert_eq!(spares::stock(mean, share), Ok(stock), "{set}");
        near("covered", spares::covered(mean, stock).unwrap(), of("covered"), 1e-10);
        let count = set["count"].as_u64().unwrap();
        let limits = spares::mean_limits(count, share).unwrap();
        near("low", limits.low, of("low"), 1e-9);
        near("high", limits.high, of("high"), 1e-9);
        let at_least_h = mtbf_at_least_h(of("hours"), count as usize, share, Ending::Time).unwrap();
        near("hours per failure", at_least_h, of("mtbf_at_least"), 1e-9);
    }
}

/// The formulas by numpy, their probabilities by scipy.
#[test]
fn trends() {
    for set in sets("trends") {
        let times_h: Vec<f64> =
            set["times"].as_array().unwrap().iter().map(|at| at.as_f64().unwrap()).collect();
        let history = History::new(&times_h, figure(set, "end")).unwrap();
        let (laplace, handbook) = (history.laplace(), history.mil_hdbk_189().unwrap());
        near("Laplace", laplace.statistic, figure(set, "laplace"), 1e-9);
        near("Laplace, probability", laplace.probability, figure(set, "laplace_probability"), 1e-8);
        near("MIL-HDBK-189", handbook.statistic, figure(set, "handbook"), 1e-12);
        near("MIL-HDBK-189, probability", handbook.probability, figure(set, "handbook_probability"), 1e-8);
    }
}

/// scipy's `linregress`.
#[test]
fn lines() {
    for set in sets("lines") {
        let line = regression::line(&pairs(&set["points"])).unwrap();
        for (name, got) in [
            ("slope", line.slope),
            ("intercept", line.intercept),
            ("slope_sd", line.slope_sd),
            ("intercept_sd", line.intercept_sd),
            ("r_squared", line.r_squared),
        ] {
            near(name, got, figure(set, name), 1e-9);
        }
        let limits = line.slope_limits(0.9).unwrap();
        let reach = line.slope_sd;
        assert!((limits.low - figure(set, "slope_low")).abs() < 1e-8 * reach, "{set}");
        assert!((limits.high - figure(set, "slope_high")).abs() < 1e-8 * reach, "{set}");
    }
}
