//! Whether what was measured of a part's state has moved since the part was put in: a line through figures taken at like settings.
//!
//! Two things are looked at, each by itself:
//! - **the trend**: the line's slope, and whether its limits leave out 0;
//! - **how far it has come**: the newest figure beside the first one, as a share of it, where the figure falls as a part wears.
//!
//! It is a witness of its own, beside the hours and never mixed into them.

use super::regression::{self, Line};
use super::{Limits, Why};

/// The way in which a figure moves as the part wears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wears {
    /// It falls, towards 0: half is half.
    Falls,
    /// It falls, on a scale without a natural zero, as decibels are: a share of it means nothing.
    FallsOnScale,
    /// Nobody said.
    Unknown,
}

/// Figures by day since the part was put in, in any order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask<'a> {
    /// Day and figure.
    pub points: &'a [(f64, f64)],
    /// How the figure moves with wear.
    pub wears: Wears,
    /// Of the slope's limits, two-sided.
    pub confidence: f64,
    /// Warn when this share of the first figure is left, or less.
    pub left_share: f64,
}

/// What the trend says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// None is shown: the slope's limits hold 0 between them.
    Level,
    /// It falls.
    Falling,
    /// It rises.
    Rising,
}

/// The answer about one series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// How many figures.
    pub points: usize,
    /// The first figure.
    pub first: f64,
    /// The newest one.
    pub newest: f64,
    /// The newest as a share of the first; only where a share means something.
    pub left_share: Option<f64>,
    /// The line through them, with the limits of its slope per day; or why there is none.
    pub line: Result<(Line, Limits), Why>,
    /// Where it goes.
    pub way: Way,
    /// The trend is for the worse.
    pub worse: bool,
    /// No more than the stated share is left.
    pub low: bool,
}

impl Trend {
    /// It wants attention.
    #[must_use]
    pub fn warns(&self) -> bool {
        self.worse || self.low
    }
}

/// Looks at one series; `None`: nothing was measured.
///
/// # Errors
/// The confidence is not a share.
pub fn trend(ask: &Ask<'_>) -> Result<Option<Trend>, Why> {
    super::why::confidence(ask.confidence)?;
    let mut points = ask.points.to_vec();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(((_, first), (_, newest))) = points.first().copied().zip(points.last().copied()) else {
        return Ok(None);
    };
    let line = regression::line(&points)
        .and_then(|line| line.slope_limits(ask.confidence).map(|limits| (line, limits)));
    let way = match &line {
        Ok((_, limits)) if limits.high < 0.0 => Way::Falling,
        Ok((_, limits)) if limits.low > 0.0 => Way::Rising,
        _ => Way::Level,
    };
    let left_share = (ask.wears == Wears::Falls && first > 0.0).then(|| newest / first);
    Ok(Some(Trend {
        points: points.len(),
        first,
        newest,
        left_share,
        line,
        way,
        worse: way == Way::Falling && ask.wears != Wears::Unknown,
        low: left_share.is_some_and(|left| left <= ask.left_share),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(points: &[(f64, f64)]) -> Ask<'_> {
        Ask { points, wears: Wears::Falls, confidence: 0.95, left_share: 0.5 }
    }

    fn told(ask: &Ask<'_>) -> Trend {
        trend(ask).unwrap().unwrap()
    }

    /// By hand: a line without scatter.
    #[test]
    fn a_fall_is_worse_a_rise_is_not_and_of_unknown_figures_neither() {
        let falling = [(0.0, 8.0), (10.0, 7.0), (20.0, 6.0)];
        let fell = told(&ask(&falling));
        assert!(fell.worse && !fell.low && fell.warns());
        assert_eq!((fell.way, fell.left_share), (Way::Falling, Some(0.75)));
        assert!((fell.line.unwrap().0.slope + 0.1).abs() < 1e-12);
        let rising: Vec<_> = falling.iter().map(|(day, figure)| (-day, *figure)).collect();
        assert_eq!((told(&ask(&rising)).way, told(&ask(&rising)).warns()), (Way::Rising, false));
        let unknown = told(&Ask { wears: Wears::Unknown, ..ask(&falling) });
        assert_eq!((unknown.way, unknown.warns(), unknown.left_share), (Way::Falling, false, None));
        let scale = told(&Ask { wears: Wears::FallsOnScale, ..ask(&falling) });
        assert_eq!((scale.worse, scale.left_share), (true, None));
    }

    #[test]
    fn half_is_low_even_without_a_line() {
        let two = told(&ask(&[(30.0, 4.0), (0.0, 8.0)]));
        assert_eq!((two.line, two.way, two.low, two.worse), (Err(Why::NoLine), Way::Level, true, false));
        assert_eq!(trend(&ask(&[])), Ok(None));
        assert!(trend(&Ask { confidence: 95.0, ..ask(&[]) }).is_err());
    }

    /// By hand: up and down by as much, no trend.
    #[test]
    fn scatter_is_no_trend() {
        let points = [(0.0, 8.0), (1.0, 7.0), (2.0, 8.1), (3.0, 7.1), (4.0, 7.9)];
        assert_eq!((told(&ask(&points)).way, told(&ask(&points)).warns()), (Way::Level, false));
    }
}
