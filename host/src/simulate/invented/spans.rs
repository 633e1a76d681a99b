//! Stretches of time in milliseconds, `from` included and `to` not: sorted, apart from each other.

/// From, to.
pub(super) type Span = (i64, i64);

/// Takes `hole` out of every stretch. What is left shorter than `least_ms` goes too.
pub(super) fn without(spans: &[Span], hole: Span, least_ms: i64) -> Vec<Span> {
    let pieces = |&(from, to): &Span| [(from, to.min(hole.0)), (from.max(hole.1), to)];
    spans.iter().flat_map(pieces).filter(|(from, to)| to - from >= least_ms).collect()
}

/// The part of every stretch that lies within one of `frame`.
pub(super) fn within(spans: &[Span], frame: &[Span], least_ms: i64) -> Vec<Span> {
    let pieces = |&(from, to): &Span| {
        frame.iter().map(move |&(lo, hi)| (from.max(lo), to.min(hi))).collect::<Vec<_>>()
    };
    spans.iter().flat_map(pieces).filter(|(from, to)| to - from >= least_ms).collect()
}

/// How long it lasted in all between two instants.
pub(super) fn lasted_ms(spans: &[Span], from_ms: i64, to_ms: i64) -> i64 {
    spans.iter().map(|&(from, to)| (to.min(to_ms) - from.max(from_ms)).max(0)).sum()
}

/// Whether the instant lies in one of them.
pub(super) fn holds(spans: &[Span], at_ms: i64) -> bool {
    spans.iter().any(|&(from, to)| (from..to).contains(&at_ms))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holes_frames_and_sums() {
        let spans = [(0, 10), (20, 30)];
        assert_eq!(without(&spans, (5, 25), 1), [(0, 5), (25, 30)]);
        assert_eq!(without(&spans, (9, 29), 2), [(0, 9)]);
        assert_eq!(within(&spans, &[(5, 6), (8, 22)], 1), [(5, 6), (8, 10), (20, 22)]);
        assert_eq!(lasted_ms(&spans, 5, 25), 10);
        assert!(holds(&spans, 20) && !holds(&spans, 10));
    }
}
