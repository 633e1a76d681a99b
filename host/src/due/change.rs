//! Whether the use of a line changed: to another level at one time, or little by little.
//!
//! Weekly means are cut in two at every week; the best cut is judged by the difference of its sides over what that
//! difference would be by chance. Chance is measured with the usage's own memory (the long-run variance with Bartlett's
//! weights), since a passage of three weeks is no change of trade. See Andrews, "Tests for parameter instability and
//! structural change with unknown change point", Econometrica 61 (1993), for such a test.

use super::usage::Day;

/// Weeks that must lie on either side of a cut.
const SIDE_WEEKS: usize = 4;

/// How far the memory of usage is looked at, in weeks.
const MEMORY_WEEKS: usize = 4;

/// Half the square of the difference in deviations at which a change is as likely as none. By Andrews' table 1 (one
/// parameter, 15 % trimmed), the square is over 8.85 in one case of twenty without a change.
const EVEN_ODDS: f64 = 4.4;

/// Less likely than this, it is not told.
const TOLD: f64 = 0.5;

/// A change of use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Change {
    /// Days of history since.
    pub(super) days_since: usize,
    /// When the first of them began.
    pub(super) since_ms: i64,
    /// Hours a day before and since.
    pub(super) before_h: f64,
    pub(super) since_h: f64,
    /// It came little by little.
    pub(super) gradual: bool,
    /// How likely it is no chance.
    pub(super) probability: f64,
}

impl Change {
    /// Whether it is worth a sentence.
    pub(super) fn is_told(&self) -> bool {
        self.probability >= TOLD
    }
}

/// The likeliest change. `None`: the history is too short to show one.
pub(super) fn find(days: &[Day]) -> Option<Change> {
    // From the end: what does not fill a week is the oldest.
    let mut weeks: Vec<f64> =
        days.rchunks_exact(7).map(|week| week.iter().map(|day| day.on_h).sum::<f64>() / 7.0).collect();
    weeks.reverse();
    let count = weeks.len();
    if count < 2 * SIDE_WEEKS + 2 {
        return None;
    }
    let total: f64 = weeks.iter().sum();
    let mut sum: f64 = weeks.iter().take(SIDE_WEEKS).sum();
    let mut best = (0.0, SIDE_WEEKS, 0.0, 0.0);
    for cut in SIDE_WEEKS..=count - SIDE_WEEKS {
        let (before, since) = (sum / cut as f64, (total - sum) / (count - cut) as f64);
        let explained = (since - before).powi(2) * (cut * (count - cut)) as f64 / count as f64;
        if explained > best.0 {
            best = (explained, cut, before, since);
        }
        sum += weeks.get(cut).copied().unwrap_or(0.0);
    }
    let (explained, cut, before_h, since_h) = best;
    let residual = |at: usize, week: f64| week - if at < cut { before_h } else { since_h };
    let residuals: Vec<f64> = weeks.iter().enumerate().map(|(at, week)| residual(at, *week)).collect();
    let variance = long_run_variance(&residuals).max(0.01);
    let probability = 1.0 / (1.0 + (EVEN_ODDS - explained / variance / 2.0).exp());
    let days_since = 7 * (count - cut);
    Some(Change {
        days_since,
        since_ms: days.get(days.len() - days_since)?.start_ms,
        before_h,
        since_h,
        gradual: explained_by_slope(&weeks) > explained,
        probability,
    })
}

/// The variance of a mean of many weeks, times their number.
pub(super) fn long_run_variance(residuals: &[f64]) -> f64 {
    let count = residuals.len() as f64;
    let with = |lag: usize| {
        residuals.iter().zip(residuals.iter().skip(lag)).map(|(a, b)| a * b).sum::<f64>() / count
    };
    let own = with(0);
    let memory: f64 =
        (1..=MEMORY_WEEKS).map(|lag| 2.0 * (1.0 - lag as f64 / (MEMORY_WEEKS + 1) as f64) * with(lag)).sum();
    // Passages and stays in turn can make it less than that of the weeks alone; but that is not to be leant on.
    (own + memory).max(0.5 * own)
}

/// What a straight line through the weeks explains of their squares.
fn explained_by_slope(weeks: &[f64]) -> f64 {
    let middle = (weeks.len() - 1) as f64 / 2.0;
    let mean = weeks.iter().sum::<f64>() / weeks.len() as f64;
    let (mut over, mut under) = (0.0, 0.0);
    for (at, week) in weeks.iter().enumerate() {
        let x = at as f64 - middle;
        over += x * (week - mean);
        under += x * x;
    }
    if under > 0.0 { over * over / under } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::dice::Dice;
    use super::*;

    fn days(count: usize, on_h: impl FnMut(usize) -> f64) -> Vec<Day> {
        let mut on_h = on_h;
        (0..count).map(|at| Day { start_ms: at as i64 * 86_400_000, on_h: on_h(at), starts: 1.0 }).collect()
    }

    /// Passages of 9 days at `sea_h`, stays of 3 at 1 h.
    fn trade(at: usize, sea_h: f64) -> f64 {
        if at % 12 < 9 { sea_h } else { 1.0 }
    }

    #[test]
    fn a_step_is_seen_with_its_day_and_levels() {
        let mut dice = Dice(3);
        let usage = days(364, |at| trade(at, if at < 252 { 10.0 } else { 20.0 }) + dice.share());
        let found = find(&usage).unwrap();
        assert!(found.probability > 0.95 && !found.gradual, "{found:?}");
        // Day 252 is the first of the new level; the cut falls on a week.
        assert!((91..=133).contains(&found.days_since), "{found:?}");
        assert!((found.before_h - 8.25).abs() < 1.0 && (found.since_h - 15.75).abs() < 1.5, "{found:?}");
    }

    #[test]
    fn a_slow_rise_is_told_from_a_step() {
        let mut dice = Dice(3);
        let usage = days(364, |at| trade(at, 8.0 + 14.0 * at as f64 / 364.0) + dice.share());
        let found = find(&usage).unwrap();
        assert!(found.probability > 0.9 && found.gradual && found.since_h > found.before_h, "{found:?}");
    }

    /// Without a change, one is taken for likely in about as few cases as the table says: 5 %, and the random voyages here
    /// have a longer memory than the table's weeks.
    #[test]
    fn voyages_alone_are_no_change() {
        let mut told = 0;
        for seed in 0..300 {
            let mut dice = Dice(seed);
            let mut usage = Vec::new();
            while usage.len() < 364 {
                let (sea, port) = (4 + dice.below(14), 2 + dice.below(6));
                usage.extend((0..sea).map(|_| 16.0));
                usage.extend((0..port).map(|_| 1.0));
            }
            told += u32::from(find(&days(364, |at| usage[at])).unwrap().is_told());
        }
        assert!(told < 45, "{told} of 300");
        assert!(find(&days(60, |_| 5.0)).is_none(), "too short");
        assert!(find(&days(364, |_| 5.0)).unwrap().probability < 0.1, "even use");
    }
}
