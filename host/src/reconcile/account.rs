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

use super::bounds::{Bound, solve};
use super::chain::shown;
use super::counters::Told;
use super::draft::{Draft, Whose};
use super::facts::{Facts, Fitting, Point, Radar, When, place};
use super::finding::{Interval, Kind, PartHours};
use super::isolations;
use super::log::{Growth, Mark, Watch, is_steady};
use super::merge::rests_on;
use super::moves::{Fault, Law, Moves};
use super::priors;
use super::sound::{Faults, NEGLIGIBLE, Sound, carries, misdated, sound_figures, starts_at};
use crate::timeline::hours_between;
use halfglass_protocol::config::Role;

/// A fault of the line that is less likely than this does not widen a figure: it is a sum over many stretches.
const FAULT_NEGLIGIBLE: f64 = 0.01;
/// How far the written time of a reading may be off before it would be noticed, in hours.
const TIME_OFF_H: f64 = 0.6;

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
        let moved = drafts.iter().any(|draft| {
            draft.radar == at && draft.kind == Kind::FittingMisdated && rests_on(draft, fitting.id)
        });
        let fit = fitted(radar, fitting, own, moved);
        let is_fault = |draft: &&Draft| {
            let kind = matches!(draft.kind, Kind::LineDead | Kind::LineStuck | Kind::LineIntermittent);
            kind && draft.radar == at && draft.line == Some(part.ages_by)
        };
        let faults = drafts.iter().filter(is_fault).map(|draft| reach(watch, draft)).collect();
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
            let lines = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor];
            for role in lines.into_iter().filter(|role| watch.has(*role)) {
                let moved = since.growth(fit, exactly(facts.as_of_ms), role);
                run.low = run.low.min(moved.logged.low);
                run.high = run.high.max(moved.logged.high + moved.dark_h + moved.unseen_h);
            }
        }
        // Whoever's clock is off, if nobody proves the logger's: the hours hold what either says.
        let reported =
            drafts.iter().filter(|draft| draft.radar == at && draft.probability >= super::REPORTED);
        let doubted = reported.filter_map(|draft| draft.ratio);
        for (ratio, _) in doubted.filter(|(_, whose)| *whose != Whose::Counter) {
            (run.low, run.high) = (run.low.min(run.low * ratio), run.high.max(run.high * ratio));
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
        || matches!((draft.line, role), (Some(_), Role::Supply | Role::Transmit | Role::Heater | Role::Motor))
}

/// When a part was put in. The recorded time stands where an isolation or the counter confirms it; elsewhere it may be
/// off by as much as records are.
fn fitted(radar: &Radar, fitting: &Fitting, own: Option<&Told>, moved: bool) -> When {
    let reach_ms = (priors::MISDATED_DAYS * 86_400_000.0) as i64;
    let off = own.map_or(0.0, |own| misdated(own, fitting.id));
    let same_work = |span| isolations::near(fitting.at, span, isolations::SAME_WORK_MS);
    let isolated = radar.log.wired[4] && radar.log.isolated.iter().any(same_work);
    let told = own.is_some_and(|own| {
        own.counter.fits.iter().any(|fit| fit.id == fitting.id && fit.zeroed) && !own.counter.seen.is_empty()
    });
    if (isolated || told) && off < NEGLIGIBLE && !moved {
        return fitting.at;
    }
    When { lo_ms: fitting.at.lo_ms - reach_ms, hi_ms: fitting.at.hi_ms + reach_ms }
}

/// An intermittent line may have come and gone for so long before and after it was seen to, in milliseconds.
const INTERMITTENT_MS: i64 = 28 * 86_400_000;

/// When a fault of a line may have been: lines contradict each other only now and then, so it can be longer than is
/// seen, for as long as the line looks the same.
fn reach(watch: &Watch, draft: &Draft) -> (Kind, i64, i64) {
    let alike = |before: &Point, after: &Point| {
        let Some(own) = draft.line.and_then(place) else { return false };
        let moved_h = after.on_h[own] - before.on_h[own];
        if draft.kind == Kind::LineStuck { is_steady(before, after, own) } else { moved_h < 0.02 }
    };
    let (mut from_ms, mut to_ms) = (draft.from_ms, draft.to_ms);
    if draft.kind == Kind::LineIntermittent {
        return (draft.kind, from_ms - INTERMITTENT_MS, to_ms + INTERMITTENT_MS);
    }
    // The first and the last day are parts of a day.
    for (before, after) in watch.before(draft.from_ms) {
        from_ms = from_ms.min(before.at.lo_ms);
        if !alike(before, after) {
            break;
        }
    }
    for (before, after) in watch.after(draft.to_ms) {
        to_ms = to_ms.max(after.at.hi_ms);
        if !alike(before, after) {
            break;
        }
    }
    (draft.kind, from_ms, to_ms)
}

struct Since<'a> {
    watch: &'a Watch<'a>,
    role: Role,
    fed: bool,
    fit: When,
    /// Faults of the line that were found: kind, from and to.
    faults: Vec<(Kind, i64, i64)>,
}

/// What an instant is.
#[derive(Clone, Copy, PartialEq)]
enum Is {
    Fitting,
    Now,
    /// A sound figure of the counter: which.
    Figure(usize),
    /// An end of a fault of the line, numbered.
    FaultEnd(i64),
}

impl Is {
    /// Which of two instants at one time stands first.
    fn order(self) -> i64 {
        match self {
            Is::Fitting | Is::Now => -1,
            Is::Figure(k) => k as i64,
            Is::FaultEnd(number) => -1 - number,
        }
    }
}

/// An instant at which the hours are an unknown.
struct Instant {
    is: Is,
    mark: Mark,
}

/// What the counter adds to the log.
#[derive(Default)]
struct Counted {
    bounds: Vec<Bound>,
    /// The boxes that sound figures are of; their zeros are unknowns.
    boxes: usize,
    /// The likeliest hours by the last figure that counts from the fitting's zeroing.
    best: Option<f64>,
}

impl Since<'_> {
    /// Hours run since the fitting. `None`: nothing tells of them.
    fn run(&self, told: Option<&Told>, fitting: (i64, When), as_of_ms: i64) -> Option<Interval> {
        let now = self.watch.mark(exactly(as_of_ms));
        let sound = told.map(sound_figures).unwrap_or_default();
        let instants = self.instants(told, &sound, &now);
        let place = |is: Is| instants.iter().position(|instant| instant.is == is).unwrap_or(0);
        let (fit_at, now_at) = (place(Is::Fitting), place(Is::Now));
        let (mut bounds, faulty) = self.logged(told, &instants, fit_at, now_at);
        let counted = told.map(|told| self.counted(told, &sound, &instants, (fit_at, fitting), &now));
        let counted = counted.unwrap_or_default();
        if counted.best.is_none() && !self.watch.has(self.role) {
            return None;
        }
        let by_log_bounds = bounds.len();
        bounds.extend(counted.bounds);
        let logged = self.watch.growth(self.role, &instants[fit_at].mark, &now);
        let rate = self.watch.rate(self.role);
        // Likeliest, it was put in when it is said to have been: in the middle of what is possible.
        let likely = self.watch.growth(self.role, &self.watch.mark(exactly(self.fit.best_ms())), &now);
        let dark_h = if self.fed { 0.0 } else { likely.dark_h };
        let best_by_log = likely.logged.best + rate * (likely.unseen_h + dark_h);
        let unsure = faulty || likely.dark_h > 2.0 || likely.unseen_h > 24.0;
        let best = counted.best.filter(|_| unsure).unwrap_or(best_by_log);
        let unknowns = instants.len() + counted.boxes;
        let (low, high) = solve(unknowns, &bounds, fit_at, now_at).unwrap_or_else(|| {
            // The sources cannot all be right, and no history says which is wrong: what any of them says is possible.
            let counter = counted.best.unwrap_or(best_by_log);
            let high = (logged.logged.high + logged.dark_h + logged.unseen_h).max(counter + 2.0);
            let either = (logged.logged.low.min(counter - 2.0).max(0.0), high);
            let by_log = solve(unknowns, &bounds[..by_log_bounds], fit_at, now_at);
            for bound in &mut bounds[..by_log_bounds] {
                let elapsed_h =
                    hours_between(instants[bound.from].mark.at.lo_ms, instants[bound.to].mark.at.hi_ms);
                (bound.low, bound.high) = (bound.low.min(0.0), elapsed_h);
            }
            let by_counter = solve(unknowns, &bounds, fit_at, now_at);
            let each = [by_log, by_counter]
                .into_iter()
                .flatten()
                .filter(|(low, high)| low.is_finite() && high.is_finite());
            each.fold(either, |all, one| (all.0.min(one.0), all.1.max(one.1)))
        });
        let (low, high) = (low.max(0.0), high.max(low.max(0.0)));
        Some(Interval { low, best: best.clamp(low, high), high })
    }

    /// The unknowns by time: the fitting, sound readings, ends of faults (a fault widens its own time only), now.
    fn instants(&self, told: Option<&Told>, sound: &[Sound], now: &Mark) -> Vec<Instant> {
        let mut instants = vec![
            Instant { is: Is::Fitting, mark: self.watch.mark(self.fit) },
            Instant { is: Is::Now, mark: now.clone() },
        ];
        if let Some(told) = told {
            let figure = |Sound { k, .. }: &Sound| Instant {
                is: Is::Figure(*k),
                mark: told.counter.seen[*k].mark.clone(),
            };
            instants.extend(sound.iter().map(figure));
        }
        let ends = self.faults.iter().flat_map(|(_, from_ms, to_ms)| [*from_ms, *to_ms]);
        for (number, at_ms) in (0..).zip(ends) {
            if self.fit.hi_ms < at_ms && at_ms < now.at.lo_ms {
                instants.push(Instant { is: Is::FaultEnd(number), mark: self.watch.mark(exactly(at_ms)) });
            }
        }
        instants.sort_by_key(|instant| (instant.mark.at.best_ms(), instant.is.order()));
        instants
    }

    /// What the log says of each stretch, and, if no fault widens any, from the fitting on and up to now. Whether one does.
    fn logged(
        &self,
        told: Option<&Told>,
        instants: &[Instant],
        fit_at: usize,
        now_at: usize,
    ) -> (Vec<Bound>, bool) {
        let shares = told.map(Faults::new);
        let mut bounds = Vec::with_capacity(3 * instants.len());
        let mut faulty = false;
        for at in 1..instants.len() {
            faulty |= self.log_bound(shares.as_ref(), instants, at - 1, at, &mut bounds);
        }
        if !faulty {
            for at in 0..instants.len() {
                if at < now_at {
                    self.log_bound(None, instants, at, now_at, &mut bounds);
                }
                if at > fit_at && at != now_at {
                    self.log_bound(None, instants, fit_at, at, &mut bounds);
                }
            }
        }
        (bounds, faulty)
    }

    /// What sound figures say against the zeros of their boxes.
    fn counted(
        &self,
        told: &Told,
        sound: &[Sound],
        instants: &[Instant],
        (fit_at, fitting): (usize, (i64, When)),
        now: &Mark,
    ) -> Counted {
        let mut place = vec![0; told.counter.seen.len()];
        for (at, instant) in instants.iter().enumerate() {
            if let Is::Figure(k) = instant.is {
                place[k] = at;
            }
        }
        let mut counted = Counted::default();
        let mut since_fitting = false;
        let mut before: Option<usize> = None;
        let mut earlier: Option<(usize, f64)> = None;
        for &Sound { k, scale, swap } in sound {
            let carried = before.is_some_and(|j| carries(told, j, k));
            if !carried {
                counted.boxes += 1;
                since_fitting = false;
            }
            let box_zero = instants.len() + counted.boxes - 1;
            if before.is_some_and(|j| starts_at(told, j, k, fitting.0)) {
                let zeroed = self.watch.mark(fitting.1);
                let apart = self.watch.growth(self.role, &instants[fit_at].mark, &zeroed);
                let reach_h = apart.logged.high + apart.unseen_h + TIME_OFF_H;
                counted.bounds.push(Bound { from: fit_at, to: box_zero, low: -TIME_OFF_H, high: reach_h });
                since_fitting = true;
            }
            before = Some(k);
            let figure = shown(&told.counter, k, scale, swap);
            let slack_h = TIME_OFF_H + told.counter.step_h;
            // Where no line checks a counter it may run fast or slow: what it moved since the figure before is known by
            // its ratio only.
            let unchecked = !self.watch.has(self.role);
            let last = earlier.filter(|_| unchecked && carried);
            let (from, earlier_h) = last.map_or((box_zero, 0.0), |(j, hours)| (place[j], hours));
            let moved_h = figure.hours - earlier_h;
            let (low, high) = (moved_h - slack_h, moved_h + figure.width_h + slack_h);
            let ratio = if unchecked { priors::RATIO_MAX } else { 1.0 };
            let (low, high) = (low / if low > 0.0 { ratio } else { 1.0 }, high * ratio);
            earlier = Some((k, figure.hours));
            counted.bounds.push(Bound { from, to: place[k], low, high });
            if since_fitting {
                let since = self.watch.growth(self.role, &told.counter.seen[k].mark, now);
                let moved_h = since.logged.best + self.watch.rate(self.role) * since.unseen_h;
                counted.best = Some(figure.hours + figure.width_h / 2.0 + moved_h);
            }
        }
        counted
    }

    fn growth(&self, from: When, to: When, role: Role) -> Growth {
        self.watch.growth(role, &self.watch.mark(from), &self.watch.mark(to))
    }

    /// Bounds the movement between two instants by the log. Whether a fault of the line widens it.
    fn log_bound(
        &self,
        shares: Option<&Faults>,
        instants: &[Instant],
        a: usize,
        b: usize,
        bounds: &mut Vec<Bound>,
    ) -> bool {
        let (before, after) = (&instants[a].mark, &instants[b].mark);
        let (from, to) = (before.at, after.at);
        let moves = Moves::between(self.watch, self.role, &[], before, after);
        let (mut low, mut high) = moves.range(Law::Own, Fault::None, true);
        if from.hi_ms > to.lo_ms {
            // Which of the two came first is not sure.
            let at = |ms: i64| self.watch.mark(exactly(ms));
            let back = Moves::between(self.watch, self.role, &[], &at(to.lo_ms), &at(from.hi_ms));
            low = -back.range(Law::Own, Fault::None, true).1;
        }
        let (mut under, mut over) = shares.map_or((0.0, 0.0), |shares| shares.shares(from, to));
        let inside = |(_, begins, ends): &&(Kind, i64, i64)| *begins < to.hi_ms && from.lo_ms < *ends;
        for (kind, ..) in self.faults.iter().filter(inside) {
            if *kind == Kind::LineStuck { over = 1.0 } else { under = 1.0 }
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

fn exactly(at_ms: i64) -> When {
    When { lo_ms: at_ms, hi_ms: at_ms }
}
