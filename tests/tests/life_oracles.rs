//! Part lives against published figures, each with its source. The data and where they come from: `tests/data/lives`.
//! 'Recomputed' figures were computed outside the project, with the packages and versions named.

use halfglass::life::exponential::{self, Ending};
use halfglass::life::power_law::History;
use halfglass::life::weibull::{self, Fit, stressed};
use halfglass::life::{Life, kaplan_meier, regression};
use std::path::Path;

/// The rows of a data file, without its heading.
fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/lives").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    let number = |cell: &str| cell.parse().unwrap_or_else(|fault| panic!("{name}: {cell}: {fault}"));
    text.lines().skip(1).map(|line| line.split(',').map(number).collect()).collect()
}

fn column(name: &str) -> Vec<f64> {
    rows(name).into_iter().map(|row| row[0]).collect()
}

/// Lives from rows of age and whether it failed.
fn lives(name: &str) -> Vec<Life> {
    let life = |row: Vec<f64>| Life { entered_h: 0.0, left_h: row[0], failed: row[1] == 1.0 };
    rows(name).into_iter().map(life).collect()
}

#[track_caller]
fn near(got: f64, expected: f64, relative: f64) {
    assert!((got - expected).abs() <= relative * expected.abs(), "{got} for {expected}");
}

#[track_caller]
fn within(got: f64, expected: f64, absolute: f64) {
    assert!((got - expected).abs() <= absolute, "{got} for {expected}");
}

#[track_caller]
fn fits(fit: &Fit, eta_h: f64, beta: f64, relative: f64) {
    near(fit.weibull.eta_h(), eta_h, relative);
    near(fit.weibull.beta(), beta, relative);
}

/// Source: NIST/SEMATECH e-Handbook 8.4.1.3, ten failures and ten survivors of a 500 h test.
/// Recomputed to more digits: scipy 1.17.1, lifelines 0.30.3, reliability 0.9.0, surpyval 0.25, which agree.
#[test]
fn nist_weibull_example() {
    let fit = weibull::fit(&lives("nist_apr413_weibull.csv")).unwrap();
    assert_eq!((fit.lives, fit.failures), (20, 10));
    near(fit.weibull.eta_h(), 606.5280, 1e-5);
    within(fit.weibull.beta(), 1.7208, 5e-5);
    within(fit.weibull.mean_h(), 540.737, 1e-3);
    within(fit.weibull.sd_h(), 323.806, 1e-3);
    within(fit.aic(), 154.27, 5e-3);
    fits(&fit, 606.52756, 1.72079726, 1e-6);
    near(fit.log_likelihood, -75.13461816, 1e-6);
    near(fit.aic(), 154.26924, 1e-6);
    near(fit.weibull.b_life_h(0.1), 164.0224, 1e-6);
}

/// Recomputed: lifelines 0.30.3 and reliability 0.9.0 (errors), reliability 0.9.0 (limits on the logarithmic scale; lifelines
/// takes them on the linear one, 361.71 to 851.35 for the scale).
#[test]
fn nist_weibull_example_errors() {
    let fit = weibull::fit(&lives("nist_apr413_weibull.csv")).unwrap();
    near(fit.eta_se_h(), 124.9106, 1e-4);
    near(fit.beta_se(), 0.502151, 1e-4);
    near(fit.eta_beta_covariance_h(), -28.3136, 1e-4);
    let (eta_h, beta) = (fit.eta_limits_h(0.95).unwrap(), fit.beta_limits(0.95).unwrap());
    near(eta_h.low, 405.089, 1e-4);
    near(eta_h.high, 908.135, 1e-4);
    near(beta.low, 0.97127, 1e-4);
    near(beta.high, 3.04875, 1e-4);
    for (share, low_h, high_h) in [(0.1, 83.8751, 320.755), (0.5, 340.207, 706.248)] {
        let limits = fit.b_life_limits_h(share, 0.95).unwrap();
        near(limits.low, low_h, 1e-4);
        near(limits.high, high_h, 1e-4);
    }
}

/// Recomputed: scipy 1.17.1, the survival and its quadrature.
#[test]
fn nist_weibull_example_what_is_left() {
    let lives = weibull::fit(&lives("nist_apr413_weibull.csv")).unwrap().weibull;
    near(lives.conditional_survival(400.0, 600.0), 0.1532648, 1e-6);
    near(lives.conditional_survival(400.0, 200.0), 0.6107810, 1e-6);
    near(lives.mean_residual_life_h(400.0), 330.8142, 1e-6);
}

/// Recomputed: lifelines 0.30.3. Twenty parts, one less at each failure.
#[test]
fn nist_example_share_alive() {
    let curve = kaplan_meier::curve(&lives("nist_apr413_weibull.csv")).unwrap();
    assert_eq!(curve.steps.len(), 10);
    for (at, step) in (1..).zip(&curve.steps) {
        within(step.survival, 1.0 - 0.05 * f64::from(at), 1e-15);
    }
    within(curve.survival(500.0), 0.5, 1e-15);
}

/// Source: remission times under 6-mercaptopurine (Freireich and others, 1963; in many textbooks). Recomputed: lifelines 0.30.3.
#[test]
fn remissions() {
    let lives = lives("remission_6mp.csv");
    let curve = kaplan_meier::curve(&lives).unwrap();
    for (age, survival) in [
        (6.0, 0.8571),
        (7.0, 0.8067),
        (10.0, 0.7529),
        (13.0, 0.6902),
        (16.0, 0.6275),
        (22.0, 0.5378),
        (23.0, 0.4482),
    ] {
        within(curve.survival(age), survival, 5e-5);
    }
    assert_eq!(curve.median_h(), Some(23.0));
    let fit = weibull::fit(&lives).unwrap();
    fits(&fit, 33.7652, 1.353732, 1e-4);
    near(fit.log_likelihood, -41.65868, 1e-4);
    let run = lives.iter().map(|life| life.left_h).sum();
    assert_eq!(run, 359.0);
    near(exponential::mtbf_h(run, fit.failures).unwrap().unwrap(), 359.0 / 9.0, 1e-15);
}

/// Source: motor insulation at four temperatures (Nelson and Hahn, 1972). Recomputed: lifelines 0.30.3, `WeibullAFTFitter`; the
/// same figures stand in Venables and Ripley (from memory).
#[test]
fn motorettes_by_temperature() {
    let seen: Vec<(Life, f64)> = rows("motorettes.csv")
        .into_iter()
        .map(|row| (Life { entered_h: 0.0, left_h: row[1], failed: row[2] == 1.0 }, row[0]))
        .collect();
    let found = stressed::fit(&seen).unwrap();
    near(found.intercept, 16.318526, 1e-4);
    near(found.intercept_se, 0.622962, 1e-4);
    near(found.per_unit, -0.045307, 1e-4);
    near(found.per_unit_se, 0.003186, 2e-4);
    near(found.sigma, 0.334324, 1e-4);
    near(found.log_likelihood, -147.36506, 1e-4);
    for (stress, eta_h, beta) in
        [(170.0, 5066.607, 2.87807), (190.0, 2107.071, 1.68718), (220.0, 549.594, 8.99564)]
    {
        let at: Vec<Life> = seen.iter().filter(|(_, at)| *at == stress).map(|(life, _)| *life).collect();
        fits(&weibull::fit(&at).unwrap(), eta_h, beta, 1e-4);
    }
}

/// Source: SAE Technical Paper 1999-01-3220, ten failures among twenty-one survivors. Recomputed: reliability 0.9.0.
#[test]
fn failures_among_many_survivors() {
    let fit = weibull::fit(&lives("automotive.csv")).unwrap();
    assert_eq!((fit.failures, fit.lives), (10, 31));
    fits(&fit, 134_651.1, 1.154425, 1e-4);
    near(fit.log_likelihood, -128.97383, 1e-4);
}

/// Source: Modarres and others, Reliability Engineering and Risk Analysis, example 2.31. Recomputed: reliability 0.9.0.
#[test]
fn a_hundred_failures() {
    let lives: Vec<Life> = column("mileage.csv").into_iter().map(Life::failed_at).collect();
    let fit = weibull::fit(&lives).unwrap();
    assert_eq!(fit.failures, 100);
    fits(&fit, 33_555.225, 3.137122, 1e-5);
    near(fit.log_likelihood, -1066.20218, 1e-5);
}

/// Source: relife's documentation, 'Basics', and relife 3.0.0: power transformers, most of them old when first watched.
#[test]
fn late_entries() {
    let life = |row: Vec<f64>| Life { entered_h: row[2], left_h: row[0], failed: row[1] == 1.0 };
    let lives: Vec<Life> = rows("power_transformer.csv").into_iter().map(life).collect();
    let fit = weibull::fit(&lives).unwrap();
    assert_eq!((fit.lives, fit.failures), (1650, 318));
    near(fit.weibull.beta(), 3.46597396, 1e-5);
    near(1.0 / fit.weibull.eta_h(), 0.0122785, 1e-5);
}

/// Source: Proschan 1963, gaps between failures of an air conditioner. Recomputed: scipy 1.17.1 (chi-square).
#[test]
fn air_conditioner() {
    let gaps_h = column("aircondit.csv");
    let run_h: f64 = gaps_h.iter().sum();
    assert_eq!((gaps_h.len(), run_h), (12, 1297.0));
    near(exponential::mtbf_h(run_h, 12).unwrap().unwrap(), 108.0833, 1e-5);
    let limits = exponential::mtbf_limits_h(run_h, 12, 0.95, Ending::Failure).unwrap();
    near(limits.low, 65.898, 1e-5);
    near(limits.high, 209.174, 1e-5);
}

/// Source: NIST/SEMATECH e-Handbook 8.4.5.2, its R script: ten failures in 1500 h.
#[test]
fn nist_power_law() {
    let history = History::new(&column("nist_apr452_powerlaw.csv"), 1500.0).unwrap();
    let law = history.modified();
    near(law.growth(), 0.516494, 1e-5);
    near(law.a, 0.2913003, 1e-5);
    near(law.b, 0.483506, 1e-5);
    near(history.mtbf_now_h(), 310.234, 1e-5);
    let limits = history.mtbf_now_limits_h(0.8).unwrap();
    near(limits.low, 157.7138, 1e-5);
    near(limits.high, 548.5566, 1e-5);
}

/// Recomputed: surpyval 0.25, `CrowAMSAA` (whose alpha is the hours by which one failure is expected); the tests by formula.
#[test]
fn nist_power_law_most_likely_and_tests() {
    let history = History::new(&column("nist_apr452_powerlaw.csv"), 1500.0).unwrap();
    let law = history.most_likely();
    within(law.b, 0.5372288660, 1e-8);
    near(law.a.powf(-1.0 / law.b), 20.63893, 1e-6);
    near(history.laplace().statistic, -1.326949, 1e-6);
    near(history.mil_hdbk_189().unwrap().statistic, 37.22808, 1e-6);
}

/// Source: MIL-HDBK-189 (1981), appendix C, as in a public benchmark test that names it: 27 failures in 300 h.
#[test]
fn mil_hdbk_189() {
    let history = History::new(&column("milhdbk189_1981_appC.csv"), 300.0).unwrap();
    let law = history.most_likely();
    near(law.b, 0.71633926, 1e-7);
    near(history.modified().b, 0.68980818, 1e-7);
    near(law.a, 0.45384186, 1e-7);
    near(law.rate_per_h(300.0), 0.06447053, 1e-7);
    near(1.0 / law.rate_per_h(300.0), 15.510962, 1e-7);
}

/// Source: NIST Statistical Reference Datasets, Norris, certified values.
#[test]
fn nist_norris() {
    let points: Vec<(f64, f64)> = rows("norris.csv").into_iter().map(|row| (row[0], row[1])).collect();
    assert_eq!(points.len(), 36);
    let line = regression::line(&points).unwrap();
    near(line.intercept, -0.262323073774029, 1e-10);
    near(line.intercept_sd, 0.232818234301152, 1e-10);
    near(line.slope, 1.00211681802045, 1e-10);
    near(line.slope_sd, 0.429796848199937e-3, 1e-10);
    near(line.residual_sd, 0.884796396144373, 1e-10);
    near(line.r_squared, 0.999993745883712, 1e-10);
}
