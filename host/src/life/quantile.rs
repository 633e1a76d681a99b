//! Quantiles of distributions, from `statrs`, which panics at arguments that are checked here.

use super::why::{Why, confidence, positive};
use statrs::distribution::{ChiSquared, ContinuousCDF, Gamma, Normal, StudentsT};

/// How many standard deviations to either side hold this share of a normal distribution.
pub(super) fn normal_two_sided(share: f64) -> Result<f64, Why> {
    Ok(Normal::standard().inverse_cdf((1.0 + confidence(share)?) / 2.0))
}

/// The same of Student's t with so many degrees of freedom.
pub(super) fn student_two_sided(share: f64, freedom: f64) -> Result<f64, Why> {
    let share = confidence(share)?;
    let student = StudentsT::new(0.0, 1.0, freedom)
        .map_err(|_| Why::NotPositive { what: "the degrees of freedom", value: freedom })?;
    Ok(student.inverse_cdf((1.0 + share) / 2.0))
}

/// The value below which a chi-square with so many degrees of freedom lies with this probability.
pub(super) fn chi_square(probability: f64, freedom: f64) -> Result<f64, Why> {
    Ok(chi_squared(freedom)?.inverse_cdf(confidence(probability)?))
}

/// The probability that a chi-square with so many degrees of freedom lies below a value.
pub(super) fn chi_square_below(value: f64, freedom: f64) -> Result<f64, Why> {
    Ok(chi_squared(freedom)?.cdf(value))
}

fn chi_squared(freedom: f64) -> Result<ChiSquared, Why> {
    let freedom = positive("the degrees of freedom", freedom)?;
    ChiSquared::new(freedom).map_err(|_| Why::NotPositive { what: "the degrees of freedom", value: freedom })
}

/// The value below which a gamma variable of this shape and rate 1 lies with this probability.
pub(super) fn gamma(probability: f64, shape: f64) -> Result<f64, Why> {
    let shape = positive("the shape", shape)?;
    let gamma = Gamma::new(shape, 1.0).map_err(|_| Why::NotPositive { what: "the shape", value: shape })?;
    Ok(gamma.inverse_cdf(confidence(probability)?))
}

/// The probability of a standard normal variable beyond `z` on either side.
pub(super) fn normal_beyond(z: f64) -> f64 {
    2.0 * Normal::standard().sf(z.abs())
}
