//! On-periods of one line, and arithmetic on them.

/// On-periods, by time, not touching each other; times in hours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    spans: Vec<(f64, f64)>,
    /// Hours before each span.
    before_h: Vec<f64>,
}

impl Track {
    /// Of periods in any order; empty ones vanish, overlapping or touching ones become one.
    #[must_use]
    pub fn new(mut spans: Vec<(f64, f64)>) -> Track {
        spans.retain(|(from, to)| to > from);
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut joined: Vec<(f64, f64)> = Vec::with_capacity(spans.len());
        for (from, to) in spans {
            match joined.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        let mut sum = 0.0;
        let before_h = joined
            .iter()
            .map(|(from, to)| {
                let before = sum;
                sum += to - from;
                before
            })
            .collect();
        Track { spans: joined, before_h }
    }

    /// One period.
    #[must_use]
    pub fn of(from: f64, to: f64) -> Track {
        Track::new(vec![(from, to)])
    }

    /// The periods.
    #[must_use]
    pub fn spans(&self) -> &[(f64, f64)] {
        &self.spans
    }

    /// Hours on until an instant.
    #[must_use]
    pub fn until(&self, at: f64) -> f64 {
        let next = self.spans.partition_point(|(from, _)| *from <= at);
        let Some(last) = next.checked_sub(1) else { return 0.0 };
        self.before_h[last] + self.spans[last].1.min(at) - self.spans[last].0
    }

    /// Hours on between two instants.
    #[must_use]
    pub fn between(&self, from: f64, to: f64) -> f64 {
        self.until(to) - self.until(from)
    }

    /// Whether it is on at an instant.
    #[must_use]
    pub fn is_on(&self, at: f64) -> bool {
        let next = self.spans.partition_point(|(from, _)| *from <= at);
        next > 0 && at < self.spans[next - 1].1
    }

    /// The on-instant nearest to one: itself, or a little inside a neighbouring period.
    #[must_use]
    pub fn nearest_on(&self, at: f64) -> Option<f64> {
        if self.is_on(at) {
            return Some(at);
        }
        let next = self.spans.partition_point(|(from, _)| *from <= at);
        let inside = |span: &(f64, f64)| (0.25 * (span.1 - span.0)).min(0.05);
        let later = self.spans.get(next).map(|span| span.0 + inside(span));
        let earlier =
            next.checked_sub(1).and_then(|last| self.spans.get(last)).map(|span| span.1 - inside(span));
        match (earlier, later) {
            (Some(a), Some(b)) => Some(if at - a < b - at { a } else { b }),
            (a, b) => a.or(b),
        }
    }

    /// On where either is.
    #[must_use]
    pub fn or(&self, other: &Track) -> Track {
        Track::new(self.spans.iter().chain(&other.spans).copied().collect())
    }

    /// On where both are.
    #[must_use]
    pub fn and(&self, other: &Track) -> Track {
        let mut both = Vec::new();
        let (mut i, mut j) = (0, 0);
        while let (Some(a), Some(b)) = (self.spans.get(i), other.spans.get(j)) {
            let (from, to) = (a.0.max(b.0), a.1.min(b.1));
            if to > from {
                both.push((from, to));
            }
            if a.1 < b.1 {
                i += 1;
            } else {
                j += 1;
            }
        }
        Track::new(both)
    }

    /// On where this is and the other is not.
    #[must_use]
    pub fn minus(&self, other: &Track) -> Track {
        let mut left = Vec::new();
        let mut j = 0;
        for (from, to) in &self.spans {
            let mut at = *from;
            while other.spans.get(j).is_some_and(|off| off.1 <= at) {
                j += 1;
            }
            let mut k = j;
            while let Some(off) = other.spans.get(k).filter(|off| off.0 < *to) {
                left.push((at, off.0));
                at = at.max(off.1);
                k += 1;
            }
            left.push((at, *to));
        }
        Track::new(left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arithmetic_by_hand() {
        let a = Track::new(vec![(5.0, 8.0), (0.0, 2.0), (2.0, 3.0)]);
        assert_eq!(a.spans(), [(0.0, 3.0), (5.0, 8.0)]);
        assert_eq!(
            (a.until(-1.0), a.until(2.5), a.until(4.0), a.until(6.0), a.until(9.0)),
            (0., 2.5, 3., 4., 6.)
        );
        let b = Track::new(vec![(1.0, 6.0), (7.0, 7.5)]);
        assert_eq!(a.and(&b).spans(), [(1.0, 3.0), (5.0, 6.0), (7.0, 7.5)]);
        assert_eq!(a.minus(&b).spans(), [(0.0, 1.0), (6.0, 7.0), (7.5, 8.0)]);
        assert_eq!(a.or(&b).spans(), [(0.0, 8.0)]);
        assert_eq!(a.nearest_on(3.2), Some(2.95));
        assert!(a.is_on(0.0) && !a.is_on(3.0));
    }
}
