//! Whether what was measured of a part's state has moved since the part was put in: a line through figures taken at like settings.
//!
//! Three things are looked at:
//! - **the trend**: the line's slope, and whether its limits leave out 0;
//! - **how far it has come**: the newest figure beside the first one, as a share of it, where the figure falls as a part wears;
//! - **whether that is of consequence**: many figures show the slightest fall, and a tube may fall a little all its life. A trend
//!   for the worse warns only if the line comes down to the stated share before the part's own limit falls, looked at no further
//!   ahead than the figures reach back; on a scale without a zero, if it has come down further than one figure can be off.
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
    /// On which day the part's own limit falls, likeliest; `None`: that is not known.
    pub until_day: Option<f64>,
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
    /// On which day the line comes down to the stated share of the first figure, or did; `None`: not before the part's own limit
    /// falls, or further ahead than the figures reach back.
    pub down_day: Option<f64>,
    /// The trend is for the worse, and of consequence.
    pub tells: bool,
    /// No more than the stated share is left.
    pub low: bool,
}

impl Trend {
    /// It wants attention.
    #[must_use]
    pub fn warns(&self) -> bool {
        self.tells || self.low
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
    let worse = way == Way::Falling && ask.wears != Wears::Unknown;
    let fallen = line.as_ref().ok().map(|(line, _)| line).filter(|_| worse);
    let down_day = fallen.filter(|_| left_share.is_some()).and_then(|line| down_day(line, &points, ask));
    let beyond = fallen.filter(|_| ask.wears == Wears::FallsOnScale);
    let tells =
        down_day.is_some() || beyond.is_some_and(|line| beyond_one_figure(line, &points, ask.confidence));
    Ok(Some(Trend {
        points: points.len(),
        first,
        newest,
        left_share,
        line,
        way,
        worse,
        down_day,
        tells,
        low: left_share.is_some_and(|left| left <= ask.left_share),
    }))
}

/// The first day and the last one.
fn ends(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    points.first().zip(points.last()).map(|((first, _), (last, _))| (*first, *last))
}

fn down_day(line: &Line, points: &[(f64, f64)], ask: &Ask<'_>) -> Option<f64> {
    let ((first_day, last_day), (_, first)) = (ends(points)?, points.first()?);
    let reach_day = last_day + (last_day - first_day);
    let until_day = ask.until_day.map_or(reach_day, |until_day| until_day.clamp(last_day, reach_day));
    // By the height at the end and the slope: the line falls.
    let down_day = last_day + (ask.left_share * first - line.at(last_day)) / line.slope;
    (down_day <= until_day).then_some(down_day)
}

/// Whether the line's end lies below where a single figure could have lain at its beginning, and by more than figures were read to:
/// the least that two of them differ.
fn beyond_one_figure(line: &Line, points: &[(f64, f64)], confidence: f64) -> bool {
    let Some((first_day, last_day)) = ends(points) else { return false };
    let mut figures: Vec<f64> = points.iter().map(|(_, figure)| *figure).collect();
    figures.sort_by(f64::total_cmp);
    let steps = figures.windows(2).filter_map(|pair| pair.first().zip(pair.last()).map(|(a, b)| b - a));
    let step = steps.filter(|step| *step > 0.0).fold(f64::INFINITY, f64::min);
    let low = line.point_limits(first_day, confidence).map_or(f64::NEG_INFINITY, |limits| limits.low);
    line.at(last_day) < low && line.at(first_day) - line.at(last_day) > step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(points: &[(f64, f64)]) -> Ask<'_> {
        Ask { points, wears: Wears::Falls, confidence: 0.95, left_share: 0.5, until_day: None }
    }

    fn told(ask: &Ask<'_>) -> Trend {
        trend(ask).unwrap().unwrap()
    }

    /// By hand: a line without scatter.
    #[test]
    fn a_fall_is_worse_a_rise_is_not_and_of_unknown_figures_neither() {
        let falling = [(0.0, 8.0), (10.0, 7.0), (20.0, 6.0)];
        let fell = told(&ask(&falling));
        assert!(fell.worse && !fell.low);
        assert_eq!((fell.way, fell.left_share), (Way::Falling, Some(0.75)));
        assert!((fell.line.unwrap().0.slope + 0.1).abs() < 1e-12);
        let rising: Vec<_> = falling.iter().map(|(day, figure)| (-day, *figure)).collect();
        assert_eq!((told(&ask(&rising)).way, told(&ask(&rising)).warns()), (Way::Rising, false));
        let unknown = told(&Ask { wears: Wears::Unknown, ..ask(&falling) });
        assert_eq!((unknown.way, unknown.warns(), unknown.left_share), (Way::Falling, false, None));
        let scale = told(&Ask { wears: Wears::FallsOnScale, ..ask(&falling) });
        assert_eq!((scale.worse, scale.left_share), (true, None));
    }

    /// By hand: 8 mA, and 0.1 less each day: half is left on day 40. After 25 days the figures reach to day 50, after 15 to day 30.
    #[test]
    fn a_trend_tells_if_half_is_used_up_in_sight_and_before_the_limit_falls() {
        let until = |last: u32| -> Vec<(f64, f64)> {
            (0..=last).map(|day| (f64::from(day), 8.0 - 0.1 * f64::from(day))).collect()
        };
        let says = |last, until_day| {
            let trend = told(&Ask { until_day, ..ask(&until(last)) });
            assert!(trend.worse);
            (trend.warns(), trend.down_day.map(f64::round))
        };
        assert_eq!(says(25, None), (true, Some(40.0)));
        assert_eq!(says(15, None), (false, None), "so far ahead nobody can look");
        assert_eq!(says(25, Some(45.0)), (true, Some(40.0)));
        assert_eq!(says(25, Some(35.0)), (false, None), "the tube is renewed before");
        assert_eq!(says(25, Some(-9.0)), (false, None), "its limit is passed: nothing is ahead");
    }

    /// By hand: a fall of 0.5 dB beyond scatter, where single figures scatter by 1 dB, says nothing yet; one of 4 dB does.
    #[test]
    fn decibels_tell_when_they_have_come_down_further_than_one_figure_can_be_off() {
        let falling = |by: f64| -> Vec<(f64, f64)> {
            (0..40).map(|day| (f64::from(day), -by * f64::from(day) / 39.0 + f64::from(day % 2))).collect()
        };
        let scale = |points: &[(f64, f64)]| {
            let trend = told(&Ask { wears: Wears::FallsOnScale, ..ask(points) });
            (trend.worse, trend.warns())
        };
        assert_eq!([scale(&falling(0.7)), scale(&falling(4.0))], [(true, false), (true, true)]);
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
