//! The hours of each part as fitted now: the tightest bounds that log, readings and fittings leave together.
//!
//! The true hours at each instant are unknowns; every source bounds the difference of two of them. The logger bounds
//! how far they moved from one instant to another. Readings of one box bound them against the box's own zero, which is
//! one more unknown, or the moment of fitting itself where the counter was zeroed for it:
//!
//! ```text
//!   zero of the box ---- reading 1 ---- reading 2                counter:  reading - zero, a step wide
//!        |                   |              |
//!     fitting  ---------- instant ------ instant ------ now      log:      what the line moved, dark time on top
//! ```
//! The shortest path through such differences is the tightest upper bound, and the longest the lower.

use super::chain::{Edge, shown};
use super::counter::Fit;
use super::counters::Told;
use super::events::{Event, Scale};
use super::extract::Draft;
use super::facts::{Facts, Fitting, Radar, When};
use super::finding::{FactId, Interval, Kind, PartHours};
use super::isolations;
use super::log::{Growth, Watch};
use super::moves::{Fault, Law, Moves};
use super::priors;
use halfglass_protocol::config::Role;

/// What is less likely than this does not widen a figure.
const NEGLIGIBLE: f64 = 0.003;
/// A fault of the line that is less likely than this does not widen a figure: it is a sum over many stretches.
const FAULT_NEGLIGIBLE: f64 = 0.01;
/// A counter whose own line is less likely than this to drive it bounds nothing.
const LAWFUL: f64 = 0.9;
/// How far the written time of a reading may be off before it would be noticed, in hours.
const TIME_OFF_H: f64 = 0.6;

/// `x[to] - x[from]` lies between `low` and `high`.
struct Bound {
    from: usize,
    to: usize,
    low: f64,
    high: f64,
}

/// The parts of one radar.
pub(super) fn parts(
    facts: &Facts,
    at: usize,
    watch: &Watch,
    told: &[Told],
    drafts: &[Draft],
) -> Vec<PartHours> {
    let radar = &facts.radars[at];
    let mut parts = Vec::new();
    for part in &radar.parts {
        let fittings = radar.fittings.iter().filter(|fitting| fitting.part == part.name);
        let Some(fitting) = fittings.max_by_key(|fitting| (fitting.at.best_ms(), fitting.id)) else {
            parts.push(PartHours {
                part: part.name.clone(),
                serial: None,
                fitted: None,
                fitted_within: None,
                hours: None,
                why_not: Some("no fitting is recorded".to_owned()),
            });
            continue;
        };
        let own = told
            .iter()
            .find(|one| one.radar == at && one.stranger.is_none() && one.counter.role == part.ages_by);
        let zero_at = fitting.zeroed_at.unwrap_or(fitting.at);
        let fit = fitted(radar, fitting, own);
        let is_fault = |draft: &&Draft| {
            let kind = matches!(draft.kind, Kind::LineDead | Kind::LineStuck | Kind::LineIntermittent);
            kind && draft.radar == at && draft.line == Some(part.ages_by)
        };
        let faults = drafts.iter().filter(is_fault).collect();
        let since = Since { watch, role: part.ages_by, fed: radar.fed_from_radar, fit, faults };
        let Some(mut run) = since.run(own, (fitting.id, zero_at), facts.as_of_ms) else {
            parts.push(PartHours {
                part: part.name.clone(),
                serial: Some(fitting.serial.clone()),
                fitted: Some(fitting.at),
                fitted_within: Some(fit),
                hours: None,
                why_not: Some(
                    "neither its line's log nor readings tell of the time since it was put in".to_owned(),
                ),
            });
            continue;
        };
        if drafts
            .iter()
            .any(|draft| draft.radar == at && draft.kind == Kind::Wiring && concerns(draft, part.ages_by))
        {
            // Which line is which is not known: any of them may be the part's.
            for role in [Role::Heater, Role::Transmit, Role::Motor] {
                let moved = since.growth(fit, When { lo_ms: facts.as_of_ms, hi_ms: facts.as_of_ms }, role);
                run.low = run.low.min(moved.logged.low);
                run.high = run.high.max(moved.logged.high + moved.dark_h + moved.unseen_h);
            }
        }
        let before_h = fitting.hours_at_fit_h.unwrap_or(0.0);
        let hours =
            Interval { low: before_h + run.low, best: before_h + run.best, high: before_h + run.high };
        parts.push(PartHours {
            part: part.name.clone(),
            serial: Some(fitting.serial.clone()),
            fitted: Some(fitting.at),
            fitted_within: Some(fit),
            hours: Some(hours),
            why_not: None,
        });
    }
    parts
}

/// Lines that wiring may have exchanged with a role: a radar's running lines.
fn concerns(draft: &Draft, role: Role) -> bool {
    draft.line == Some(role)
        || matches!(
            (draft.line, role),
            (Some(Role::Transmit | Role::Heater | Role::Motor), Role::Transmit | Role::Heater | Role::Motor)
        )
}

/// When a part was put in. The recorded time stands where an isolation or the counter confirms it; elsewhere it may be
/// off by as much as records are.
fn fitted(radar: &Radar, fitting: &Fitting, own: Option<&Told>) -> When {
    let reach_ms = (priors::MISDATED_DAYS * 86_400_000.0) as i64;
    let off = own.map_or(0.0, |own| misdated(own, fitting.id));
    let same_work = |span| isolations::near(fitting.at, span, isolations::SAME_WORK_MS);
    let isolated = radar.log.wired[4] && radar.log.isolated.iter().any(same_work);
    let told = own.is_some_and(|own| {
        own.counter.fits.iter().any(|fit| fit.id == fitting.id && fit.zeroed) && !own.counter.seen.is_empty()
    });
    if (isolated || told) && off < NEGLIGIBLE {
        return fitting.at;
    }
    When { lo_ms: fitting.at.lo_ms - reach_ms, hi_ms: fitting.at.hi_ms + reach_ms }
}

struct Since<'a> {
    watch: &'a Watch<'a>,
    role: Role,
    fed: bool,
    fit: When,
    /// Faults of the line that were found.
    faults: Vec<&'a Draft>,
}

impl Since<'_> {
    /// Hours run since the fitting. `None`: nothing tells of them.
    fn run(&self, told: Option<&Told>, fitting: (i64, When), as_of_ms: i64) -> Option<Interval> {
        let now = When { lo_ms: as_of_ms, hi_ms: as_of_ms };
        // Unknowns by time: the fitting, the instants of sound readings, now; then the zeros of boxes.
        let sound: Vec<Sound> = told.map(sound_figures).unwrap_or_default();
        let mut instants: Vec<(When, Option<usize>)> = vec![(self.fit, None), (now, None)];
        if let Some(told) = told {
            instants.extend(sound.iter().map(|figure| (told.counter.seen[figure.k].at, Some(figure.k))));
        }
        // A fault of the line widens its own time only: so its ends are instants too, numbered from the far end.
        for (n, draft) in self.faults.iter().enumerate() {
            for (side, at_ms) in [draft.from_ms, draft.to_ms].into_iter().enumerate() {
                if self.fit.hi_ms < at_ms && at_ms < as_of_ms {
                    let number = usize::MAX - 2 * n - side;
                    instants.push((When { lo_ms: at_ms, hi_ms: at_ms }, Some(number)));
                }
            }
        }
        instants.sort_by_key(|(when, figure)| (when.best_ms(), figure.map_or(-1, |k| k as i64)));
        let place = |figure: Option<usize>, is_now: bool| {
            let is = |(when, at): &(When, Option<usize>)| {
                *at == figure && (figure.is_some() || (*when == now) == is_now)
            };
            instants.iter().position(is).unwrap_or(0)
        };
        let (fit_at, now_at) = (place(None, false), place(None, true));
        let fit_at = if self.fit == now {
            instants.iter().position(|(_, at)| at.is_none()).unwrap_or(0)
        } else {
            fit_at
        };
        let mut bounds = Vec::new();
        let mut faulty = false;
        for at in 1..instants.len() {
            faulty |= self.log_bound(told, &instants, at - 1, at, &mut bounds);
        }
        if !faulty {
            for at in 0..instants.len() {
                if at != now_at && at < now_at {
                    self.log_bound(None, &instants, at, now_at, &mut bounds);
                }
                if at > fit_at && at != now_at {
                    self.log_bound(None, &instants, fit_at, at, &mut bounds);
                }
            }
        }
        let mut unknowns = instants.len();
        let mut best_by_counter = None;
        if let Some(told) = told {
            let mut zero = None;
            let mut before: Option<usize> = None;
            for &Sound { k, scale, swap } in &sound {
                let carried = zero.is_some() && before.is_some_and(|j| carries(told, j, k));
                let started = before.is_some_and(|j| starts_at(told, j, k, fitting.0));
                before = Some(k);
                let box_zero = zero.filter(|_| carried).unwrap_or_else(|| {
                    unknowns += 1;
                    unknowns - 1
                });
                zero = Some(box_zero);
                if started {
                    let apart = self.growth(self.fit, fitting.1, self.role);
                    let reach_h = apart.logged.high + apart.unseen_h + TIME_OFF_H;
                    bounds.push(Bound { from: fit_at, to: box_zero, low: -TIME_OFF_H, high: reach_h });
                }
                let figure = shown(&told.counter, k, scale, swap);
                let slack_h = TIME_OFF_H + told.counter.step_h;
                let (low, high) = (figure.hours - slack_h, figure.hours + figure.width_h + slack_h);
                bounds.push(Bound { from: box_zero, to: place(Some(k), false), low, high });
                if bounds.iter().any(|bound| bound.from == fit_at && bound.to == box_zero) {
                    let since = self.growth(told.counter.seen[k].at, now, self.role);
                    best_by_counter = Some(
                        figure.hours
                            + figure.width_h / 2.0
                            + since.logged.best
                            + self.watch.rate(self.role) * since.unseen_h,
                    );
                }
            }
        }
        if best_by_counter.is_none() && !self.watch.has(self.role) {
            return None;
        }
        let logged = self.growth(self.fit, now, self.role);
        let rate = self.watch.rate(self.role);
        // Likeliest, it was put in when it is said to have been: in the middle of what is possible.
        let fit_ms = self.fit.best_ms();
        let likely = self.growth(When { lo_ms: fit_ms, hi_ms: fit_ms }, now, self.role);
        let dark_h = if self.fed { 0.0 } else { likely.dark_h };
        let best_by_log = likely.logged.best + rate * (likely.unseen_h + dark_h);
        let unsure = faulty || likely.dark_h > 2.0 || likely.unseen_h > 24.0;
        let best = best_by_counter.filter(|_| unsure).unwrap_or(best_by_log);
        let (low, high) = solve(unknowns, &bounds, fit_at, now_at).unwrap_or_else(|| {
            // The sources cannot all be right, and no history says which is wrong: what any of them says is possible.
            let counter = best_by_counter.unwrap_or(best_by_log);
            let high = (logged.logged.high + logged.dark_h + logged.unseen_h).max(counter + 2.0);
            (logged.logged.low.min(counter - 2.0).max(0.0), high)
        });
        let (low, high) = (low.max(0.0), high.max(low.max(0.0)));
        Some(Interval { low, best: best.clamp(low, high), high })
    }

    fn growth(&self, from: When, to: When, role: Role) -> Growth {
        self.watch.growth(role, &self.watch.mark(from), &self.watch.mark(to))
    }

    /// Bounds the movement between two instants by the log. Whether a fault of the line widens it.
    fn log_bound(
        &self,
        told: Option<&Told>,
        instants: &[(When, Option<usize>)],
        a: usize,
        b: usize,
        bounds: &mut Vec<Bound>,
    ) -> bool {
        let (from, to) = (instants[a].0, instants[b].0);
        let moves = Moves::between(self.watch, self.role, &[], &self.watch.mark(from), &self.watch.mark(to));
        let (mut low, mut high) = moves.range(Law::Own, Fault::None, true);
        if from.hi_ms > to.lo_ms {
            // Which of the two came first is not sure.
            let at = |ms: i64| self.watch.mark(When { lo_ms: ms, hi_ms: ms });
            let back = Moves::between(self.watch, self.role, &[], &at(to.lo_ms), &at(from.hi_ms));
            low = -back.range(Law::Own, Fault::None, true).1;
        }
        let (mut under, mut over) = told.map_or((0.0, 0.0), |told| fault_shares(told, from, to));
        for draft in self.faults.iter().filter(|d| d.from_ms < to.hi_ms && from.lo_ms < d.to_ms) {
            if draft.kind == Kind::LineStuck { over = 1.0 } else { under = 1.0 }
        }
        // Where nothing speaks for a fault or against it, its prior is no reason to doubt the log.
        let (under_open, over_open) = (
            FAULT_NEGLIGIBLE + 3.0 * priors::UNDER_PER_YEAR * moves.years,
            FAULT_NEGLIGIBLE + 3.0 * priors::OVER_PER_YEAR * moves.years,
        );
        if under > under_open {
            high = high.max(moves.range(Law::Own, Fault::Under, true).1);
        }
        if over > over_open {
            low = low.min(moves.range(Law::Own, Fault::Over, true).0);
        }
        let faulty = under > under_open || over > over_open;
        bounds.push(Bound { from: a, to: b, low, high });
        faulty
    }
}

/// How likely the line saw too little, or too much, somewhere between two instants.
fn fault_shares(told: &Told, from: When, to: When) -> (f64, f64) {
    let seen = &told.counter.seen;
    let (mut under, mut over) = (0.0, 0.0);
    for edge in &told.histories.edges {
        let (Some((j, _)), true) = (edge.from, edge.to.0 < seen.len()) else { continue };
        if seen[j].at.lo_ms > to.hi_ms || seen[edge.to.0].at.hi_ms < from.lo_ms {
            continue;
        }
        match told.histories.fault_on(edge) {
            Fault::Under => under += edge.share,
            Fault::Over => over += edge.share,
            Fault::None => {}
        }
    }
    (under, over)
}

/// A figure that is surely sound, and how it reads.
#[derive(Clone, Copy)]
struct Sound {
    k: usize,
    scale: Scale,
    swap: Option<usize>,
}

/// The figures that are surely sound, by time. Which law the counter follows may stay open where two lines move alike,
/// for then it makes no difference.
fn sound_figures(told: &Told) -> Vec<Sound> {
    let best = told.histories.best.iter().filter_map(|at| told.histories.edges.get(*at));
    let on_path: Vec<(usize, usize)> = best.map(|edge| edge.to).collect();
    let mut sound = Vec::new();
    for (k, states) in told.histories.states.iter().enumerate().take(told.counter.seen.len()) {
        let state = on_path.iter().find(|(at, _)| *at == k).and_then(|(_, state)| states.get(*state));
        let (scale, swap) = state.map_or((Scale::Hours, None), |state| (state.scale, state.swap));
        let (mut share, mut lawful) = (0.0, 0.0);
        for edge in told.histories.leading_to(k..=k) {
            let Some(at) = states.get(edge.to.1).filter(|at| (at.scale, at.swap) == (scale, swap)) else {
                continue;
            };
            share += edge.share;
            if told.counter.laws[at.law].0 == Law::Own {
                lawful += edge.share;
            }
        }
        let settled = share;
        if (scale, swap) == (Scale::Hours, None) {
            let passed = |edge: &&Edge| edge.aside.iter().any(|(at, why)| *at == k && why.is_sound());
            share += told.histories.covering(k).filter(passed).map(|edge| edge.share).sum::<f64>();
        }
        if share > 1.0 - NEGLIGIBLE && (settled < NEGLIGIBLE || lawful > LAWFUL * settled) {
            sound.push(Sound { k, scale, swap });
        }
    }
    sound
}

/// How likely nothing moved the box's zero from figure `j` to figure `i` but what is recorded.
fn undisturbed(told: &Told, j: usize, i: usize) -> f64 {
    let quiet = |edge: &&Edge| matches!(edge.event, Event::AsRecorded | Event::RanInDark);
    let gap = |gap| told.histories.covering(gap).filter(quiet).map(|edge| edge.share).sum::<f64>();
    (j + 1..=i).map(gap).fold(1.0, f64::min)
}

/// Whether the box surely counted on from figure `j` to figure `i`, hour for hour.
fn carries(told: &Told, j: usize, i: usize) -> bool {
    let zeroed = told.counter.fits.iter().any(|fit| fit.zeroed && told.counter.share_of(fit, j, i) > 0.01);
    !zeroed && undisturbed(told, j, i) > 1.0 - NEGLIGIBLE
}

/// Whether the box at figure `i` surely counts from zero since this fitting, which lies behind figure `j`.
fn starts_at(told: &Told, j: usize, i: usize, fitting: i64) -> bool {
    let inside = |fit: &&Fit| fit.zeroed && told.counter.share_of(fit, j, i) > 0.99;
    let last = told.counter.fits.iter().rfind(inside);
    last.is_some_and(|fit| fit.id == fitting) && undisturbed(told, j, i) > 1.0 - NEGLIGIBLE
}

/// How likely a zeroing was done on another day than its fitting's.
fn misdated(told: &Told, fitting: i64) -> f64 {
    let concerns = |edge: &&Edge| match edge.event {
        Event::MisdatedHere(at) | Event::MisdatedAway(at) => {
            told.counter.fits.get(at).is_some_and(|fit| fit.id == fitting)
        }
        _ => edge.aside.iter().any(|(k, why)| {
            why.other_day > 0.1 * why.sum() && told.counter.seen[*k].fact == FactId::Fitting(fitting)
        }),
    };
    told.histories.edges.iter().filter(concerns).map(|edge| edge.share).sum()
}

/// The tightest bounds on `x[to] - x[from]`. `None`: the bounds contradict each other.
fn solve(unknowns: usize, bounds: &[Bound], from: usize, to: usize) -> Option<(f64, f64)> {
    let high = shortest(unknowns, bounds, from)?[to];
    let low = -shortest(unknowns, bounds, to)?[from];
    (low <= high + 1e-6).then_some((low, high.max(low)))
}

/// Shortest distances from one unknown to all. `None`: there is a negative cycle.
fn shortest(unknowns: usize, bounds: &[Bound], from: usize) -> Option<Vec<f64>> {
    let mut distance = vec![f64::INFINITY; unknowns];
    distance[from] = 0.0;
    for _ in 0..=unknowns {
        let mut changed = false;
        for bound in bounds {
            for (a, b, length) in [(bound.from, bound.to, bound.high), (bound.to, bound.from, -bound.low)] {
                if distance[a] + length < distance[b] - 1e-9 {
                    distance[b] = distance[a] + length;
                    changed = true;
                }
            }
        }
        if !changed {
            return Some(distance);
        }
    }
    None
}
