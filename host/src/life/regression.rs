//! A straight line through points by least squares: the trend of what was measured at like settings.

use super::quantile::student_two_sided;
use super::{Limits, Why};

/// A line, and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Its height at x = 0.
    pub intercept: f64,
    /// What it gains per unit of x.
    pub slope: f64,
    /// Standard deviation of the intercept.
    pub intercept_sd: f64,
    /// Standard deviation of the slope.
    pub slope_sd: f64,
    /// Standard deviation of the points about it.
    pub residual_sd: f64,
    /// The share of the points' variance that it explains; 1 if they have none.
    pub r_squared: f64,
    points: f64,
    mean_x: f64,
    mean_y: f64,
    sum_xx: f64,
}

/// The line through these points, x and y.
///
/// # Errors
/// Fewer than three points, all at one x, or some not finite.
pub fn line(points: &[(f64, f64)]) -> Result<Line, Why> {
    let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
    if points.len() < 3 || !finite {
        return Err(Why::NoLine);
    }
    let count = points.len() as f64;
    // From the means down: sums of squares of the bare figures would cancel.
    let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / count;
    let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / count;
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y) in points {
        xx += (x - mean_x) * (x - mean_x);
        xy += (x - mean_x) * (y - mean_y);
        yy += (y - mean_y) * (y - mean_y);
    }
    if !(xx > 0.0 && xx.is_finite() && yy.is_finite()) {
        return Err(Why::NoLine);
    }
    let slope = xy / xx;
    let residuals: f64 = points.iter().map(|(x, y)| ((y - mean_y) - slope * (x - mean_x)).powi(2)).sum();
    let residual_sd = (residuals / (count - 2.0)).sqrt();
    Ok(Line {
        intercept: mean_y - slope * mean_x,
        slope,
        intercept_sd: residual_sd * (1.0 / count + mean_x * mean_x / xx).sqrt(),
        slope_sd: residual_sd / xx.sqrt(),
        residual_sd,
        r_squared: if yy > 0.0 { 1.0 - residuals / yy } else { 1.0 },
        points: count,
        mean_x,
        mean_y,
        sum_xx: xx,
    })
}

impl Line {
    /// The line's height.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.mean_y + self.slope * (x - self.mean_x)
    }

    /// Limits of the slope. Where they hold 0 between them, no trend is shown.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn slope_limits(&self, confidence: f64) -> Result<Limits, Why> {
        let reach = self.student(confidence)? * self.slope_sd;
        Ok(Limits { low: self.slope - reach, high: self.slope + reach })
    }

    /// Limits of one further point.
    ///
    /// # Errors
    /// The confidence is not a share.
    pub fn point_limits(&self, x: f64, confidence: f64) -> Result<Limits, Why> {
        let spread = 1.0 + 1.0 / self.points + (x - self.mean_x).powi(2) / self.sum_xx;
        let reach = self.student(confidence)? * self.residual_sd * spread.sqrt();
        Ok(Limits { low: self.at(x) - reach, high: self.at(x) + reach })
    }

    fn student(&self, confidence: f64) -> Result<f64, Why> {
        student_two_sided(confidence, self.points - 2.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_found_exactly() {
        let points: Vec<(f64, f64)> = (0..5).map(|x| (f64::from(x), 7.0 - 2.0 * f64::from(x))).collect();
        let line = line(&points).unwrap();
        assert_eq!((line.intercept, line.slope, line.residual_sd, line.r_squared), (7.0, -2.0, 0.0, 1.0));
        assert_eq!(line.at(10.0), -13.0);
    }

    #[test]
    fn level_points_have_a_level_line() {
        let line = line(&[(1.0, 4.0), (2.0, 4.0), (9.0, 4.0)]).unwrap();
        assert_eq!((line.intercept, line.slope, line.slope_sd, line.r_squared), (4.0, 0.0, 0.0, 1.0));
    }

    #[test]
    fn no_line_is_refused() {
        for points in [
            &[(1.0, 1.0), (2.0, 2.0)][..],
            &[(1.0, 1.0), (1.0, 2.0), (1.0, 3.0)],
            &[(1.0, 1.0), (2.0, f64::NAN), (3.0, 3.0)],
            &[(1e200, 1.0), (-1e200, 2.0), (3.0, 3.0)],
        ] {
            assert_eq!(line(points), Err(Why::NoLine), "{points:?}");
        }
    }
}
