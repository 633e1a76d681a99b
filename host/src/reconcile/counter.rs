//! One counter of one radar: what was read from it, what was recorded about it, and what can have happened in between.

use super::events::{Event, From, Owed, Possible};
use super::facts::When;
use super::finding::FactId;
use super::log::{Mark, Watch};
use super::moves::{Law, Moves};
use super::priors;
use super::slips::Origins;
use halfglass_protocol::config::Role;

/// Milliseconds in a day.
const DAY_MS: i64 = 86_400_000;
/// A fitting and a reading closer than this may have come in either order, in milliseconds.
const SAME_TIME_MS: i64 = 1_800_000;

/// A figure of the counter.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    /// When.
    pub(super) at: When,
    /// The same, looked up in the log.
    pub(super) mark: Mark,
    /// What was written, in hours.
    pub(super) hours: f64,
    /// From which figures a slip can have made it.
    pub(super) origins: Origins,
    /// Which fact says so.
    pub(super) fact: FactId,
    /// It comes from a fitting's record: before (`-1`) or after (`1`) the zeroing; `0`: a reading.
    pub(super) side: i8,
    /// A figure of another counter that may stand here in its place.
    pub(super) swaps: Vec<Swap>,
    /// Where the other radar's counter stood, if the figure can be of it: at least and at most.
    pub(super) other_radar_h: Option<(f64, f64)>,
}

/// Another counter's reading of the same day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Swap {
    /// Which counter.
    pub(super) counter: usize,
    /// Which of its figures.
    pub(super) seen: usize,
    /// What is written there.
    pub(super) hours: f64,
    /// How likely, before the figures are seen, half of it: the partner carries the other half.
    pub(super) log_prior: f64,
}

/// A fitting that concerns the counter.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    /// Its number.
    pub(super) id: i64,
    /// It is said to have been zeroed.
    pub(super) zeroed: bool,
    /// When it is said to have been zeroed, or would have been.
    pub(super) at: When,
    /// Which of the counter's figures it noted itself: before the zeroing and after it.
    pub(super) own: (Option<usize>, Option<usize>),
}

/// How likely one instant comes before another, if each lies anywhere in its bounds.
fn comes_before(a: When, b: When) -> f64 {
    let (a_lo, a_hi) = (0.0, (a.hi_ms - a.lo_ms) as f64);
    let (b_lo, b_hi) = ((b.lo_ms - a.lo_ms) as f64, (b.hi_ms - a.lo_ms) as f64);
    if a_hi <= b_lo {
        return 1.0;
    }
    if b_hi <= a_lo {
        return 0.0;
    }
    if a_hi - a_lo < 1.0 {
        return (b_hi / (b_hi - b_lo)).clamp(0.0, 1.0);
    }
    // The integral of the chance that `a` is earlier than an instant, over the bounds of `b`.
    let until = |at: f64| {
        let inside = at.clamp(a_lo, a_hi);
        inside * inside / 2.0 + a_hi * (at - a_hi).max(0.0)
    };
    (until(b_hi) - until(b_lo)) / (a_hi * (b_hi - b_lo).max(1.0))
}

/// One counter.
#[derive(Debug)]
pub(super) struct Counter<'a> {
    /// The radar's log.
    pub(super) watch: &'a Watch<'a>,
    /// Whose hours it counts.
    pub(super) role: Role,
    /// What it resolves.
    pub(super) step_h: f64,
    /// The logger hangs on the radar's supply.
    pub(super) fed: bool,
    /// The laws it may follow, with the logarithms of their chances.
    pub(super) laws: Vec<(Law, f64)>,
    /// Its figures, by time.
    pub(super) seen: Vec<Seen>,
    /// Its fittings, by time.
    pub(super) fits: Vec<Fit>,
    /// How much likelier (a logarithm) an exchange is in the stretch before each figure, by what other counters say.
    pub(super) exchange_bias: Vec<f64>,
    /// The same for running while the logger was dark.
    pub(super) dark_bias: Vec<f64>,
}

impl Counter<'_> {
    /// How much of a fitting lies in the stretch from figure `j` to figure `i`, 0 to 1.
    pub(super) fn share_of(&self, fit: &Fit, j: usize, i: usize) -> f64 {
        let (before, after) = fit.own;
        if before.is_none() && after == Some(0) {
            // The counter's first figure is the one after the zeroing: the fitting lies before all stretches.
            return 0.0;
        }
        if before.is_some() || after.is_some() {
            let starts_by = before.or(after.and_then(|at| at.checked_sub(1))).is_none_or(|at| j <= at);
            let ends_by = after.or(before.map(|at| at + 1)).is_none_or(|at| i >= at);
            return f64::from(u8::from(starts_by && ends_by));
        }
        let when = When { lo_ms: fit.at.lo_ms - SAME_TIME_MS, hi_ms: fit.at.hi_ms + SAME_TIME_MS };
        (comes_before(self.seen[j].at, when) - comes_before(self.seen[i].at, when)).clamp(0.0, 1.0)
    }

    /// What can have happened from figure `j` to figure `i`; the recorded course first. None of them is impossible.
    pub(super) fn possibilities(&self, j: usize, i: usize, moves: &Moves) -> Vec<Possible> {
        let mut all = Vec::new();
        let whole: Vec<(usize, f64)> = self
            .fits
            .iter()
            .enumerate()
            .map(|(at, fit)| (at, self.share_of(fit, j, i)))
            .filter(|(_, share)| *share > 0.01)
            .collect();
        let open = whole.iter().map(|(_, share)| 1.0 - share).fold(0.0, f64::max);
        let inside: Vec<usize> = whole.iter().map(|(at, _)| *at).collect();
        let unsure: Vec<&(usize, f64)> = whole.iter().filter(|(_, share)| *share < 0.99).collect();
        if let [(at, share)] = unsure[..] {
            self.beside_a_figure((*at, *share), &inside, j, i, &mut all);
        } else if open > 0.01 {
            // Each of them may as well lie in the neighbouring stretch.
            let surely: Vec<usize> =
                whole.iter().filter(|(_, share)| *share >= 0.99).map(|(at, _)| *at).collect();
            self.recorded(&inside, j, i, (1.0 - open).max(0.01).ln(), &mut all);
            self.recorded(&surely, j, i, open.ln(), &mut all);
        } else {
            self.recorded(&inside, j, i, 0.0, &mut all);
        }
        self.misdated_from_outside(&inside, j, i, &mut all);
        if moves.may_zero {
            let log_prior = (priors::ZEROED_PER_YEAR * moves.years).min(0.5).ln();
            let from = From::ZeroAnywhere;
            all.push(Possible { event: Event::Zeroed, log_prior, from, dark: true, owed: (None, None) });
        }
        let bias = self.exchange_bias.get(j + 1..=i).unwrap_or(&[]);
        let bias = bias.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let power = if moves.may_exchange { 1.0 } else { priors::EXCHANGED_UNDER_POWER };
        let odds = (priors::EXCHANGED_PER_YEAR * moves.years * power).min(0.5).ln()
            + if bias.is_finite() { bias } else { 0.0 };
        // From odds to a chance, safe for any odds.
        let log_prior = -(-odds).exp().ln_1p();
        all.push(Possible {
            event: Event::Exchanged,
            log_prior,
            from: From::Anything,
            dark: true,
            owed: (None, None),
        });
        if self.fed && moves.dark_h() > 1.0 {
            let bias = self.dark_bias.get(j + 1..=i).unwrap_or(&[]);
            let bias = bias.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let odds = (priors::RAN_IN_DARK_PER_YEAR * moves.years).min(0.5).ln()
                + if bias.is_finite() { bias } else { 0.0 };
            let log_prior = -(-odds).exp().ln_1p();
            if let Some(first) = all.first() {
                let from = first.from.clone();
                all.push(Possible {
                    event: Event::RanInDark,
                    log_prior,
                    from,
                    dark: true,
                    owed: (None, None),
                });
            }
        }
        all
    }

    /// The recorded course with a fitting of which it is not sure that it lies in this stretch: before, in or behind it.
    fn beside_a_figure(
        &self,
        (at, share): (usize, f64),
        inside: &[usize],
        j: usize,
        i: usize,
        all: &mut Vec<Possible>,
    ) {
        let without: Vec<usize> = inside.iter().copied().filter(|other| *other != at).collect();
        let fit = &self.fits[at];
        let when = When { lo_ms: fit.at.lo_ms - SAME_TIME_MS, hi_ms: fit.at.hi_ms + SAME_TIME_MS };
        let before = 1.0 - comes_before(self.seen[j].at, when);
        let behind = (1.0 - share - before).max(0.0);
        let pending = Some(Owed::Pending(at));
        let earlier = if before > 0.01 { pending } else { None };
        let mut add = |inside: &[usize], chance: f64, owed: (Option<Owed>, Option<Owed>)| {
            let mut some = Vec::new();
            self.recorded(inside, j, i, chance.max(1e-3).ln(), &mut some);
            // One thing is owed at a time.
            some.retain(|possible| {
                (owed.0.is_none() || possible.owed.0.is_none())
                    && (owed.1.is_none() || possible.owed.1.is_none())
            });
            for possible in &mut some {
                possible.owed = (owed.0.or(possible.owed.0), owed.1.or(possible.owed.1));
            }
            all.append(&mut some);
        };
        if before > 0.01 {
            add(&without, 1.0, (None, None));
        }
        add(inside, share / (share + behind), (earlier, None));
        if behind > 0.01 {
            add(&without, behind / (share + behind), (earlier, pending));
        }
    }

    /// The recorded course with these fittings, and the courses in which one of the records is wrong.
    fn recorded(&self, inside: &[usize], j: usize, i: usize, log_weight: f64, all: &mut Vec<Possible>) {
        let dark = !self.fed;
        let zeroed = |at: &&usize| self.fits[**at].zeroed;
        let last = inside.iter().rev().find(zeroed);
        let from_zero = |at: usize| From::Zero(Box::new(self.since(self.fits[at].at, j, i)));
        let keeps: f64 = inside
            .iter()
            .map(|at| {
                if self.fits[*at].zeroed {
                    1.0 - priors::NOT_ZEROED - priors::MISDATED
                } else {
                    1.0 - priors::CONTRADICTED
                }
            })
            .map(f64::ln)
            .sum();
        let base = last.map_or(From::Figure, |at| from_zero(*at));
        all.push(Possible {
            event: Event::AsRecorded,
            log_prior: log_weight + keeps,
            from: base,
            dark,
            owed: (None, None),
        });
        if let Some(last) = last {
            let before = inside.iter().rev().filter(zeroed).nth(1);
            let from = || before.map_or(From::Figure, |at| from_zero(*at));
            let log_prior = log_weight + priors::NOT_ZEROED.ln();
            all.push(Possible {
                event: Event::NotZeroed(*last),
                log_prior,
                from: from(),
                dark,
                owed: (None, None),
            });
            let (share, window) = self.misdating_window(&self.fits[*last], j, i);
            if let Some((earliest, latest)) = window {
                let log_prior = log_weight + (priors::MISDATED * share.max(0.05)).ln();
                let from = self.between(earliest, latest, j, i);
                all.push(Possible {
                    event: Event::MisdatedHere(*last),
                    log_prior,
                    from,
                    dark,
                    owed: (None, None),
                });
            }
            if share < 0.95 {
                let event = Event::MisdatedAway(*last);
                let owed = (None, Some(Owed::Late(*last)));
                let log_prior = log_weight + (priors::MISDATED * (1.0 - share) / 2.0).ln();
                all.push(Possible { event, log_prior, from: from(), dark, owed });
                let owed = (Some(Owed::Early(*last)), None);
                all.push(Possible { event, log_prior: log_weight, from: from(), dark, owed });
            }
        }
        for at in inside.iter().filter(|at| !self.fits[**at].zeroed && last.is_none_or(|last| *at > last)) {
            let log_prior = log_weight + priors::CONTRADICTED.ln();
            all.push(Possible {
                event: Event::Contradicted(*at),
                log_prior,
                from: from_zero(*at),
                dark,
                owed: (None, None),
            });
        }
    }

    /// Zeroings whose fitting is recorded outside, at most seven days away.
    fn misdated_from_outside(&self, inside: &[usize], j: usize, i: usize, all: &mut Vec<Possible>) {
        for (at, fit) in self.fits.iter().enumerate().filter(|(at, fit)| fit.zeroed && !inside.contains(at)) {
            let (share, window) = self.misdating_window(fit, j, i);
            let Some((earliest, latest)) = window else { continue };
            let is_later = fit.at.best_ms() >= self.seen[i].at.best_ms();
            let (log_prior, owed) = if is_later {
                ((priors::MISDATED * share).ln(), (None, Some(Owed::Early(at))))
            } else {
                (0.0, (Some(Owed::Late(at)), None))
            };
            let from = self.between(earliest, latest, j, i);
            all.push(Possible { event: Event::MisdatedHere(at), log_prior, from, dark: !self.fed, owed });
        }
    }

    /// Whether what is owed may still be owed after the stretch from figure `j` to figure `i`.
    pub(super) fn may_wait(&self, owed: Owed, j: usize, i: usize) -> bool {
        match owed {
            Owed::Early(at) => self.fits.get(at).is_some_and(|fit| self.share_of(fit, j, i) < 0.5),
            Owed::Late(at) => self.may_be_late(at, i),
            Owed::Pending(_) => false,
        }
    }

    /// Whether figure `i` still lies within the days in which a late zeroing is looked for.
    pub(super) fn may_be_late(&self, fit: usize, i: usize) -> bool {
        let reach_ms = (priors::MISDATED_DAYS * DAY_MS as f64) as i64;
        self.fits.get(fit).is_some_and(|fit| self.seen[i].at.lo_ms <= fit.at.hi_ms + reach_ms)
    }

    /// How much of the fourteen days around a fitting lies in the stretch, and from when to when.
    fn misdating_window(&self, fit: &Fit, j: usize, i: usize) -> (f64, Option<(i64, i64)>) {
        let reach_ms = (priors::MISDATED_DAYS * DAY_MS as f64) as i64;
        let (from_ms, to_ms) = (fit.at.lo_ms - reach_ms, fit.at.hi_ms + reach_ms);
        let inside_from = from_ms.max(self.seen[j].at.best_ms());
        let inside_to = to_ms.min(self.seen[i].at.best_ms());
        if inside_to <= inside_from {
            return (0.0, None);
        }
        ((inside_to - inside_from) as f64 / (to_ms - from_ms) as f64, Some((inside_from, inside_to)))
    }

    fn between(&self, earliest_ms: i64, latest_ms: i64, j: usize, i: usize) -> From {
        let at = |ms: i64| When { lo_ms: ms, hi_ms: ms };
        From::ZeroBetween(
            Box::new(self.since(at(earliest_ms), j, i)),
            Box::new(self.since(at(latest_ms), j, i)),
        )
    }

    /// What can have moved from an instant inside the stretch to its end.
    fn since(&self, at: When, j: usize, i: usize) -> Moves {
        let (from, to) = (self.seen[j].at, self.seen[i].at);
        let at = When {
            lo_ms: at.lo_ms.max(from.lo_ms).min(to.hi_ms),
            hi_ms: at.hi_ms.max(from.lo_ms).min(to.hi_ms),
        };
        Moves::between(self.watch, self.role, &self.laws, &self.watch.mark(at), &self.seen[i].mark)
    }

    /// What can have moved from the last zeroing recorded between figures `j` and `i` to the latter; `None`: none is.
    pub(super) fn since_zeroing(&self, j: usize, i: usize) -> Option<Moves> {
        let inside = |fit: &&Fit| fit.zeroed && self.share_of(fit, j, i) > 0.5;
        self.fits.iter().rfind(inside).map(|fit| self.since(fit.at, j, i))
    }

    /// The line's total at the last zeroing recorded between figures `j` and `i`.
    pub(super) fn total_at_zeroing(&self, role: Role, j: usize, i: usize) -> Option<(f64, f64)> {
        let inside = |fit: &&Fit| fit.zeroed && self.share_of(fit, j, i) > 0.5;
        let fit = self.fits.iter().rfind(inside)?;
        self.watch.total_at(role, &self.watch.mark(fit.at))
    }

    /// What can have moved from figure `j` to figure `i`.
    pub(super) fn moves(&self, j: usize, i: usize) -> Moves {
        Moves::between(self.watch, self.role, &self.laws, &self.seen[j].mark, &self.seen[i].mark)
    }
}
