//! Lives under unequal stress: the same shape for all, and a scale whose logarithm changes evenly with the stress.
//!
//! ln of a life is μ₀ + μ₁·stress + σ·(an extreme value), so at each stress lives follow a Weibull distribution of shape 1/σ and
//! scale e^(μ₀ + μ₁·stress). The stress is any figure that was different for different parts: a temperature, the share of
//! their hours spent in one mode.
//!
//! The likelihood is climbed in γ = 1/σ, −μ₀/σ and −μ₁/σ, in which it has one top only where no life entered late.

use super::{Weibull, around, fit as fit_alike};
use crate::life::quantile::normal_two_sided;
use crate::life::{Life, Limits, Why};

const CLIMBS_MAX: usize = 200;

type Three = [f64; 3];

/// Lives by stress, and how well they are known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stressed {
    /// μ₀: ln of the scale in hours at stress 0.
    pub intercept: f64,
    /// μ₁: what a unit of stress adds to ln of the scale. Negative where stress shortens lives.
    pub per_unit: f64,
    /// σ: one over the shape.
    pub sigma: f64,
    /// Standard error of μ₀.
    pub intercept_se: f64,
    /// Standard error of μ₁.
    pub per_unit_se: f64,
    /// Standard error of σ.
    pub sigma_se: f64,
    /// The logarithm of the greatest likelihood.
    pub log_likelihood: f64,
}

impl Stressed {
    /// The distribution of lives at a stress.
    ///
    /// # Errors
    /// The stress is so far out that no scale can be given.
    pub fn at(&self, stress: f64) -> Result<Weibull, Why> {
        Weibull::new((self.intercept + self.per_unit * stress).exp(), 1.0 / self.sigma)
    }

    /// Limits of μ₁. Where they hold 0 between them, no effect of the stress is shown.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn per_unit_limits(&self, confidence: f64) -> Result<Limits, Why> {
        let reach = normal_two_sided(confidence)? * self.per_unit_se;
        Ok(Limits { low: self.per_unit - reach, high: self.per_unit + reach })
    }

    /// Limits of σ, taken on the logarithmic scale.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn sigma_limits(&self, confidence: f64) -> Result<Limits, Why> {
        around(self.sigma, (self.sigma_se / self.sigma).powi(2), confidence)
    }
}

/// Fits lives and the stress that each was lived under.
///
/// # Errors
/// An impossible life, too few failures, a stress that was the same for all failures, or data that leave the figures open.
pub fn fit(lives: &[(Life, f64)]) -> Result<Stressed, Why> {
    let alike: Vec<Life> = lives.iter().map(|(life, _)| *life).collect();
    let start = fit_alike(&alike)?;
    let failed = || lives.iter().filter(|(life, _)| life.failed);
    let differ = failed().any(|(_, stress)| failed().next().is_some_and(|(_, first)| stress != first));
    if !differ || lives.iter().any(|(_, stress)| !stress.is_finite()) {
        return Err(Why::SameStress);
    }
    let count = lives.len() as f64;
    let middle = lives.iter().map(|(_, stress)| stress).sum::<f64>() / count;
    let spread = (lives.iter().map(|(_, stress)| (stress - middle).powi(2)).sum::<f64>() / count).sqrt();
    // From the scale of the fit without stress, and in the stress's own spread: figures near 1, whatever the units.
    let ln_unit = start.weibull.eta_h().ln();
    let seen: Vec<Seen> =
        lives.iter().map(|(life, stress)| Seen::of(life, (stress - middle) / spread, ln_unit)).collect();
    let (top, matrix) = climb(&seen, [0.0, 0.0, start.weibull.beta()])?;
    let [a, b, gamma] = top;
    let inverse = Cholesky::of(&matrix).ok_or(Why::NoShape)?;
    let se = |by: Three| dot(&by, &inverse.solve(&by)).sqrt();
    let offset = middle / spread;
    let failures_ln: f64 = failed().map(|(life, _)| life.left_h.ln()).sum();
    Ok(Stressed {
        intercept: ln_unit - a / gamma + b / gamma * offset,
        per_unit: -b / (gamma * spread),
        sigma: 1.0 / gamma,
        intercept_se: se([-1.0 / gamma, offset / gamma, (a - b * offset) / (gamma * gamma)]),
        per_unit_se: se([0.0, -1.0 / (gamma * spread), b / (gamma * gamma * spread)]),
        sigma_se: se([0.0, 0.0, -1.0 / (gamma * gamma)]),
        log_likelihood: Slope::at(&seen, &top).value - failures_ln,
    })
}

/// One life: 1, stress and ln of the age, at leaving and, if it was late, at entry.
struct Seen {
    left: Three,
    entered: Option<Three>,
    failed: bool,
}

impl Seen {
    fn of(life: &Life, stress: f64, ln_unit: f64) -> Seen {
        let entered = (life.entered_h > 0.0).then(|| [1.0, stress, life.entered_h.ln() - ln_unit]);
        Seen { left: [1.0, stress, life.left_h.ln() - ln_unit], entered, failed: life.failed }
    }
}

/// The likelihood's logarithm (of ln of the ages), its gradient, and its curvature downwards.
struct Slope {
    value: f64,
    gradient: Three,
    curvature: [Three; 3],
}

impl Slope {
    fn at(seen: &[Seen], place: &Three) -> Slope {
        let mut slope = Slope { value: 0.0, gradient: [0.0; 3], curvature: [[0.0; 3]; 3] };
        for life in seen {
            if life.failed {
                slope.value += place[2].ln() + dot(place, &life.left);
                add(&mut slope.gradient, 1.0, &life.left);
                slope.gradient[2] += 1.0 / place[2];
                slope.curvature[2][2] += 1.0 / (place[2] * place[2]);
            }
            slope.lived(&life.left, -dot(place, &life.left).exp());
            if let Some(entered) = &life.entered {
                slope.lived(entered, dot(place, entered).exp());
            }
        }
        slope
    }

    /// Adds a cumulative hazard, negative at leaving.
    fn lived(&mut self, at: &Three, hazard: f64) {
        self.value += hazard;
        add(&mut self.gradient, hazard, at);
        for (row, by) in self.curvature.iter_mut().zip(at) {
            add(row, -hazard * by, at);
        }
    }
}

/// The top, and the curvature there. Newton's steps, shortened (Levenberg's way) where they would not lead up.
fn climb(seen: &[Seen], start: Three) -> Result<(Three, [Three; 3]), Why> {
    let mut place = start;
    let mut here = Slope::at(seen, &place);
    let mut brake = 0.0;
    for _ in 0..CLIMBS_MAX {
        let mut matrix = here.curvature;
        for (at, row) in matrix.iter_mut().enumerate() {
            row[at] += brake * (1.0 + here.curvature[at][at].abs());
        }
        let step = Cholesky::of(&matrix).map(|matrix| matrix.solve(&here.gradient));
        // What the step would gain if the likelihood were a parabola, doubled.
        let gain = step.map(|step| dot(&step, &here.gradient));
        if brake == 0.0 && gain.is_some_and(|gain| gain < 1e-22 * here.value.abs().max(1.0)) {
            return Ok((place, here.curvature));
        }
        let next = step.map(|step| [place[0] + step[0], place[1] + step[1], place[2] + step[2]]);
        let there = next.filter(|next| next[2] > 0.0).map(|next| (next, Slope::at(seen, &next)));
        match there {
            Some((next, slope)) if slope.value >= here.value => {
                (place, here) = (next, slope);
                brake = if brake < 1e-4 { 0.0 } else { brake / 10.0 };
            }
            // So near the top that the likelihood's own rounding hides the gain.
            Some(_) if gain.is_some_and(|gain| brake == 0.0 && gain < 1e-12) => {
                return Ok((place, here.curvature));
            }
            _ => brake = (brake * 10.0).max(1e-4),
        }
    }
    Err(Why::NoSpread)
}

fn dot(a: &Three, b: &Three) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn add(to: &mut Three, times: f64, what: &Three) {
    for (to, what) in to.iter_mut().zip(what) {
        *to += times * what;
    }
}

/// The lower root of a symmetric, positive matrix.
struct Cholesky([Three; 3]);

impl Cholesky {
    /// `None`: the matrix is not positive.
    fn of(matrix: &[Three; 3]) -> Option<Cholesky> {
        let mut root = [[0.0; 3]; 3];
        for row in 0..3 {
            for column in 0..=row {
                let rest =
                    matrix[row][column] - (0..column).map(|at| root[row][at] * root[column][at]).sum::<f64>();
                if row == column {
                    if rest.is_nan() || rest <= 0.0 {
                        return None;
                    }
                    root[row][row] = rest.sqrt();
                } else {
                    root[row][column] = rest / root[column][column];
                }
            }
        }
        Some(Cholesky(root))
    }

    fn solve(&self, right: &Three) -> Three {
        let root = &self.0;
        let mut x = *right;
        for row in 0..3 {
            let known: f64 = (0..row).map(|at| root[row][at] * x[at]).sum();
            x[row] = (x[row] - known) / root[row][row];
        }
        for row in (0..3).rev() {
            let known: f64 = (row + 1..3).map(|at| root[at][row] * x[at]).sum();
            x[row] = (x[row] - known) / root[row][row];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ages at even shares of a Weibull distribution at each stress: the figures that made them come back, nearly.
    #[test]
    fn figures_that_made_the_lives_come_back() {
        let mut lives = Vec::new();
        for stress in [20.0_f64, 30.0, 45.0] {
            let scale_h = (10.0 - 0.04 * stress).exp();
            let truth = Weibull::new(scale_h, 2.5).unwrap();
            for at in 0..200 {
                let age_h = truth.b_life_h((f64::from(at) + 0.5) / 200.0);
                let (left_h, failed) = (age_h.min(scale_h), age_h <= scale_h);
                lives.push((Life { entered_h: 0.0, left_h, failed }, stress));
            }
        }
        let found = fit(&lives).unwrap();
        assert!((found.per_unit + 0.04).abs() < 2e-4, "{found:?}");
        assert!((found.at(0.0).unwrap().eta_h().ln() - 10.0).abs() < 0.02, "{found:?}");
        assert!((found.at(0.0).unwrap().beta() / 2.5 - 1.0).abs() < 0.02, "{found:?}");
        let limits = found.per_unit_limits(0.9).unwrap();
        assert!(limits.low < -0.04 && -0.04 < limits.high && limits.high < 0.0);
    }

    /// A stress that does nothing: what the fit without it says.
    #[test]
    fn without_effect_it_is_the_plain_fit() {
        let ages_h = [300.0, 450.0, 700.0, 820.0, 1_100.0];
        let late = |age_h: f64| Life::failed_at(age_h).entered_at(age_h / 3.0);
        let lives: Vec<(Life, f64)> =
            ages_h.iter().flat_map(|age_h| [(late(*age_h), -1.0), (late(*age_h), 1.0)]).collect();
        let plain = fit_alike(&lives.iter().map(|(life, _)| *life).collect::<Vec<_>>()).unwrap();
        let found = fit(&lives).unwrap();
        assert!(found.per_unit.abs() < 1e-9);
        assert!((found.intercept - plain.weibull.eta_h().ln()).abs() < 1e-9);
        assert!((found.sigma * plain.weibull.beta() - 1.0).abs() < 1e-9);
        assert!((found.log_likelihood - plain.log_likelihood).abs() < 1e-9);
        assert!((found.intercept_se * plain.weibull.eta_h() / plain.eta_se_h() - 1.0).abs() < 1e-9);
        assert!(
            (found.sigma_limits(0.9).unwrap().low * plain.beta_limits(0.9).unwrap().high - 1.0).abs() < 1e-9
        );
    }

    #[test]
    fn what_cannot_be_told_is_said() {
        let two = |stress| [(Life::failed_at(10.0), 1.0), (Life::failed_at(20.0), stress)];
        assert_eq!(fit(&two(1.0)), Err(Why::SameStress));
        assert_eq!(fit(&two(f64::NAN)), Err(Why::SameStress));
        // Two points determine a line exactly: no spread is left.
        assert_eq!(fit(&two(2.0)), Err(Why::NoSpread));
        assert!(matches!(fit(&[(Life::failed_at(10.0), 1.0)]), Err(Why::TooFewFailures { .. })));
    }
}
