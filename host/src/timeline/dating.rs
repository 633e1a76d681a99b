//! From the logger's uptime to UTC, as an interval.
//!
//! ```text
//!  session 1        dark     session 2       dark    session 3
//!  |---a1------|           |-----------|            |----a2----|     a1, a2: anchors
//!       exact ->|           floats between the end of 1 and the start of 3: its length is exact
//! ```
//! In a session with an anchor, an instant lies at the anchor's UTC plus the uptime between, give or take the
//! anchor's uncertainty and the clock's drift. Across a power cut only an order remains: at least the powered time
//! passed, so an earlier anchor bounds an instant from below and a later one from above.

use super::DRIFT;
use halfglass_protocol::record::Anchor;

/// Stands for 'no bound': an instant far before or behind anything that is asked, safe to add to.
const FAR_MS: i64 = i64::MAX / 4;

/// When something was: surely not before `lo_ms`, surely not after `hi_ms` (UTC, milliseconds since 1970).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct When {
    /// Not before.
    pub lo_ms: i64,
    /// Not after.
    pub hi_ms: i64,
}

impl When {
    /// The middle; the known bound if there is only one.
    #[must_use]
    pub fn best_ms(self) -> i64 {
        match (self.is_open_below(), self.hi_ms >= FAR_MS) {
            (false, false) => self.lo_ms + (self.hi_ms - self.lo_ms) / 2,
            (true, _) => self.hi_ms,
            (false, true) => self.lo_ms,
        }
    }

    /// Nothing bounds it from below.
    #[must_use]
    pub fn is_open_below(self) -> bool {
        self.lo_ms <= -FAR_MS
    }
}

/// Dates instants of one logger.
#[derive(Clone, Debug)]
pub struct Dating {
    anchors: Vec<Anchor>,
    now_ms: i64,
}

impl Dating {
    /// By these anchors; nothing recorded is younger than `now_ms`.
    #[must_use]
    pub fn new(anchors: &[Anchor], now_ms: i64) -> Dating {
        Dating { anchors: anchors.to_vec(), now_ms }
    }

    /// Whether there is an anchor at all.
    #[must_use]
    pub fn is_anchored(&self) -> bool {
        !self.anchors.is_empty()
    }

    /// The anchors.
    #[must_use]
    pub fn anchors(&self) -> &[Anchor] {
        &self.anchors
    }

    /// When the logger's uptime was this, in this session. Where anchors contradict each other, none is
    /// preferred: the interval covers what either says.
    #[must_use]
    pub fn when(&self, session: u32, uptime_tenths: u64) -> When {
        let mut lo_ms = -FAR_MS;
        let mut hi_ms = self.now_ms;
        for anchor in &self.anchors {
            let utc_ms = i64::try_from(anchor.utc_ms).unwrap_or(FAR_MS);
            let (from_ms, to_ms) =
                (utc_ms - i64::from(anchor.uncertainty_ms), utc_ms + i64::from(anchor.uncertainty_ms));
            let after = uptime_tenths >= anchor.uptime_tenths;
            let (least_ms, most_ms) = powered_ms(uptime_tenths.abs_diff(anchor.uptime_tenths));
            if anchor.session == session && after {
                lo_ms = lo_ms.max(from_ms + least_ms);
                hi_ms = hi_ms.min(to_ms + most_ms);
            } else if anchor.session == session {
                lo_ms = lo_ms.max(from_ms - most_ms);
                hi_ms = hi_ms.min(to_ms - least_ms);
            } else if anchor.session < session {
                lo_ms = lo_ms.max(from_ms + least_ms);
            } else {
                hi_ms = hi_ms.min(to_ms - least_ms);
            }
        }
        When { lo_ms: lo_ms.min(hi_ms), hi_ms: hi_ms.max(lo_ms) }
    }

    /// Pairs of neighbouring anchors that cannot both be true: by how much, in milliseconds, at least.
    #[must_use]
    pub fn contradictions(&self) -> Vec<(Anchor, Anchor, i64)> {
        let mut found = Vec::new();
        for pair in self.anchors.windows(2) {
            let [a, b] = pair else { continue };
            let alone = Dating { anchors: vec![*a], now_ms: FAR_MS };
            let by_a = alone.when(b.session, b.uptime_tenths);
            let utc_ms = i64::try_from(b.utc_ms).unwrap_or(FAR_MS);
            let (from_ms, to_ms) =
                (utc_ms - i64::from(b.uncertainty_ms), utc_ms + i64::from(b.uncertainty_ms));
            let apart_ms = (by_a.lo_ms - to_ms).max(from_ms - by_a.hi_ms);
            if apart_ms > 0 {
                found.push((*a, *b, apart_ms));
            }
        }
        found
    }
}

/// Real milliseconds in so many tenths of the logger's clock, at least and at most. In whole numbers: a ship of ten years asks
/// for this some million times.
fn powered_ms(tenths: u64) -> (i64, i64) {
    // One part in so many, which `DRIFT` is.
    const ONE_IN: u64 = (1.0 / DRIFT) as u64;
    let ms = tenths.saturating_mul(100);
    let off_ms = ms.div_ceil(ONE_IN);
    let at = |ms: u64| i64::try_from(ms).unwrap_or(FAR_MS);
    (at(ms - off_ms), at(ms.saturating_add(off_ms)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::record::ClockSource;

    const HOUR: u64 = 36_000;
    const HOUR_MS: i64 = 3_600_000;

    fn anchor(session: u32, uptime_tenths: u64, utc_ms: u64) -> Anchor {
        Anchor { session, uptime_tenths, utc_ms, uncertainty_ms: 1_000, source: ClockSource::Host }
    }

    /// By hand: 100 ppm of 12,345 tenths (1,234,500 ms) are 123.45 ms.
    #[test]
    fn drift_is_rounded_outwards() {
        assert_eq!(powered_ms(12_345), (1_234_500 - 124, 1_234_500 + 124));
        assert_eq!(powered_ms(0), (0, 0));
        assert_eq!(powered_ms(10_000_000), (999_900_000, 1_000_100_000));
    }

    /// By hand: 10 h after an anchor is 36,000 s, give or take 1 s and 100 ppm of it, 3.6 s.
    #[test]
    fn within_a_session_drift_and_uncertainty_add() {
        let dating = Dating::new(&[anchor(1, 0, 0)], 1_000 * HOUR_MS);
        let when = dating.when(1, 10 * HOUR);
        assert_eq!((when.lo_ms, when.hi_ms), (36_000_000 - 4_600, 36_000_000 + 4_600));
        assert_eq!(when.best_ms(), 36_000_000);
    }

    /// By hand: session 2 is 2 h long and lies between an anchor at hour 10 (session 1 ran 1 h more) and one at
    /// hour 100 (session 3 had run 5 h): so it begins between hours 11 and 93.
    #[test]
    fn a_session_without_an_anchor_floats() {
        let dating = Dating::new(
            &[anchor(1, 10 * HOUR, 36_000_000), anchor(3, 18 * HOUR, 360_000_000)],
            1_000 * HOUR_MS,
        );
        let start = dating.when(2, 11 * HOUR);
        let near = |ms: i64, hours: i64| (ms - hours * HOUR_MS).abs() < 10_000;
        assert!(near(start.lo_ms, 11) && near(start.hi_ms, 93), "{start:?}");
        let end = dating.when(2, 13 * HOUR);
        assert!(near(end.lo_ms, 13) && near(end.hi_ms, 95), "{end:?}");
    }

    #[test]
    fn contradicting_anchors_widen_and_are_named() {
        // Ten hours of uptime, but a year of UTC: one of the two is wrong.
        let year_ms = 8_760 * HOUR_MS;
        let anchors = [anchor(1, 0, 0), anchor(1, 10 * HOUR, year_ms as u64)];
        let dating = Dating::new(&anchors, 2 * year_ms);
        assert_eq!(dating.contradictions().len(), 1);
        let when = dating.when(1, 5 * HOUR);
        assert!(when.lo_ms < 6 * HOUR_MS && when.hi_ms > year_ms - 6 * HOUR_MS, "{when:?}");
        let sound = [anchor(1, 0, 0), anchor(1, 10 * HOUR, 36_000_000), anchor(2, 10 * HOUR, 90_000_000)];
        assert!(Dating::new(&sound, year_ms).contradictions().is_empty());
    }
}
