//! Drop-outs and short warm-ups per 100 transmit hours, and whether they have become more frequent of late.

use super::facts::{Log, Point};
use super::finding::Rate;

/// The last so many transmit hours are 'of late'.
const RECENT_H: f64 = 500.0;
/// Where transmit stands in a point.
const TRANSMIT: usize = 2;

/// The rate of what `count` picks out. `None`: transmit is not watched, or under one hour of it was seen.
pub(super) fn rate(log: &Log, count: impl Fn(&Point) -> u32) -> Option<Rate> {
    let (first, last) = (log.points.first()?, log.points.last()?);
    let whole_h = last.on_h[TRANSMIT] - first.on_h[TRANSMIT];
    if !log.wired[TRANSMIT] || whole_h < 1.0 {
        return None;
    }
    let events = count(last).saturating_sub(count(first));
    let recent_from = log.points.iter().rfind(|p| last.on_h[TRANSMIT] - p.on_h[TRANSMIT] >= RECENT_H);
    let recent_from = recent_from.unwrap_or(first);
    let recent_h = (last.on_h[TRANSMIT] - recent_from.on_h[TRANSMIT]).max(f64::MIN_POSITIVE);
    let recent = count(last).saturating_sub(count(recent_from));
    Some(Rate {
        per_100_h: f64::from(events) / whole_h * 100.0,
        recent_per_100_h: f64::from(recent) / recent_h * 100.0,
        chance_of_rise: at_least(recent, events, (recent_h / whole_h).min(1.0)),
    })
}

/// The chance that at least `recent` of `events` fall into a share of the time, if they come evenly: binomial.
fn at_least(recent: u32, events: u32, share: f64) -> f64 {
    if recent == 0 || share >= 1.0 {
        return 1.0;
    }
    // From the logarithm of (1 - share)^events upwards, so that many events do not underflow.
    let mut log_chance = f64::from(events) * (1.0 - share).ln();
    let mut below = 0.0;
    for k in 0..recent {
        below += log_chance.exp();
        log_chance += (f64::from(events - k) / f64::from(k + 1)).ln() + (share / (1.0 - share)).ln();
    }
    (1.0 - below).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of 3 events, at least 2 in a half: (3 + 1) / 8. scipy 1.17.1 `binom.sf(4, 20, 0.1)` = 0.0431745.
    #[test]
    fn binomial_tails() {
        assert!((at_least(2, 3, 0.5) - 0.5).abs() < 1e-12);
        assert!((at_least(5, 20, 0.1) - 0.043_174_5).abs() < 1e-6);
        assert_eq!(at_least(0, 20, 0.1), 1.0);
    }
}
