//! As many points of a course as a picture can show.

/// The points of a course that never falls, thinned to at most `most`: the first, the last, and of each upright strip of
/// the picture the last one. A strip is no wider than what the eye tells apart when `most` is a picture's width.
pub(super) fn thin(points: &[(f64, f64)], most: usize) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    if points.len() <= most {
        return points.to_vec();
    }
    let strips = most.saturating_sub(2).max(1) as f64;
    let strip = |x: f64| ((x - first.0) / (last.0 - first.0).max(f64::MIN_POSITIVE) * strips).floor();
    let mut kept = vec![*first];
    for pair in points[1..].windows(2) {
        if strip(pair[0].0) < strip(pair[1].0) {
            kept.push(pair[0]);
        }
    }
    kept.push(*last);
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_course_keeps_its_ends_and_is_never_far_off() {
        let points: Vec<(f64, f64)> =
            (0..36_500).map(|day| (f64::from(day), f64::from(day / 7 * 50 + day % 7))).collect();
        let kept = thin(&points, 400);
        assert!(kept.len() <= 400, "{}", kept.len());
        assert_eq!((kept[0], *kept.last().unwrap()), (points[0], points[36_499]));
        // Within one strip, the course grows by at most this: by hand, 36,500 / 398 days at about 50/7 a day.
        let strip_gain = 36_500.0 / 398.0 * 50.0 / 7.0 + 60.0;
        for (x, y) in &points {
            let next = kept.iter().find(|(at, _)| at >= x).unwrap();
            assert!(next.1 >= *y && next.1 - y <= strip_gain, "{x}: {y} {next:?}");
        }
    }

    #[test]
    fn a_short_one_is_left_alone() {
        assert_eq!(thin(&[(0.0, 1.0), (2.0, 3.0)], 5), [(0.0, 1.0), (2.0, 3.0)]);
        assert!(thin(&[], 5).is_empty());
    }
}
