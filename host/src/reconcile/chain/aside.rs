//! Figures that are set aside: where they should have been by the figures on either side, and why they were not.

use super::{ASIDE_MAX, State, Stretches};
use crate::reconcile::counter::Counter;
use crate::reconcile::events::{Scale, Shown};
use crate::reconcile::moves::Fault;
use crate::reconcile::priors;
use crate::reconcile::surprise::in_range;
use std::cell::OnceCell;
use std::rc::Rc;

/// Why a figure is set aside, and how likely each reason is against the others.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::reconcile) struct Aside {
    /// A digit slipped.
    pub(in crate::reconcile) slip: f64,
    /// Off, but the clock allows it.
    pub(in crate::reconcile) off: f64,
    /// Any figure at all.
    pub(in crate::reconcile) impossible: f64,
    /// The other radar's figure.
    pub(in crate::reconcile) other: f64,
    /// A fitting's own figure, of another day than recorded.
    pub(in crate::reconcile) other_day: f64,
    /// Nothing: it is sound, but the log is so coarse around it that it says less of what follows than the figure before.
    pub(in crate::reconcile) sound: f64,
}

impl Aside {
    pub(in crate::reconcile) fn sum(&self) -> f64 {
        self.slip + self.off + self.impossible + self.other + self.other_day + self.sound
    }

    /// Whether most likely nothing is wrong with it.
    pub(in crate::reconcile) fn is_sound(&self) -> bool {
        self.sound > 0.5 * self.sum()
    }
}

/// Figures set aside.
pub(super) type Figures = Rc<[(usize, Aside)]>;

/// A figure that is set aside, if the counter went on as recorded from an earlier one.
#[derive(Clone, Copy)]
struct Foreseen {
    /// Where it should be.
    expected: (f64, f64),
    /// How much time passed.
    elapsed_h: f64,
    why: Aside,
    /// The logarithm of the chance.
    log_chance: f64,
}

/// The figures behind one that is read in one way, worked out when first asked for.
pub(super) struct Course {
    read: (usize, Scale, Fault),
    earlier: Shown,
    behind: [Option<Foreseen>; ASIDE_MAX],
}

/// Which of the courses from figure `j` on this state is on.
fn course_of(stretches: &Stretches, at: &State, earlier: Shown, j: usize) -> usize {
    let read = (at.law, at.scale, at.fault);
    let mut courses = stretches.courses[j].borrow_mut();
    let known = courses.iter().position(|course| (course.read, course.earlier) == (read, earlier));
    known.unwrap_or_else(|| {
        courses.push(Course { read, earlier, behind: [None; ASIDE_MAX] });
        courses.len() - 1
    })
}

/// Figure `k` as it is set aside on a course from figure `j`.
fn foreseen(stretches: &Stretches, course: usize, j: usize, k: usize) -> Foreseen {
    let course = &mut stretches.courses[j].borrow_mut()[course];
    let (read, earlier) = (course.read, course.earlier);
    *course.behind[k - j - 1].get_or_insert_with(|| {
        let (expected, elapsed_h) = forward_range(stretches, read, j, k, earlier);
        let why = set_aside(stretches.counter, k, expected, Some((earlier.hours, elapsed_h)), read.1);
        Foreseen { expected, elapsed_h, why, log_chance: why.sum().ln() }
    })
}

/// The logarithm of what the chances of a figure that is set aside can add up to at most.
pub(super) fn log_most(counter: &Counter, k: usize) -> f64 {
    let seen = &counter.seen[k];
    let noted = seen.side != 0;
    let sound = if is_loose(counter, k) { 1.0 } else { priors::MISNOTED };
    let all = priors::SLIP + priors::OFF_WITHIN_CLOCK + priors::IMPOSSIBLE + priors::OTHER_SOURCE + sound;
    // What rounding can do.
    (all + if noted { priors::MISDATED } else { 0.0 }).ln() + 1e-9
}

/// Whether a figure says so little of what follows that it may be passed over as sound: the log is open around it, or it
/// was read before the work that its record tells of.
fn is_loose(counter: &Counter, k: usize) -> bool {
    let seen = &counter.seen[k];
    counter.watch.looseness_h(counter.role, &seen.mark) > LOOSE_H || seen.side < 0
}

/// Figures between `j` and `i` as they are set aside, if the counter went on from `j` as recorded: once for all states
/// that read `j` alike.
pub(super) struct Between<'s, 'c, 'w> {
    stretches: &'s Stretches<'c, 'w>,
    j: usize,
    i: usize,
    known: Vec<Passed>,
}

/// Figures set aside on the way from one reading of a figure.
struct Passed {
    course: usize,
    /// The logarithm of the chance.
    log_chance: f64,
    figures: OnceCell<Figures>,
}

impl<'s, 'c, 'w> Between<'s, 'c, 'w> {
    pub(super) fn new(stretches: &'s Stretches<'c, 'w>, j: usize, i: usize) -> Self {
        Between { stretches, j, i, known: Vec::new() }
    }

    /// How likely the figures between are set aside at most: a logarithm.
    pub(super) fn log_most(&self) -> f64 {
        self.stretches.log_most[self.j + 1..self.i].iter().sum()
    }

    /// How the figures between are set aside from this state on: which, and the logarithm of the chance.
    pub(super) fn get(&mut self, at: &State, earlier: Shown) -> (usize, f64) {
        if self.i == self.j + 1 {
            return (0, 0.0);
        }
        let course = course_of(self.stretches, at, earlier, self.j);
        let known = self.known.iter().position(|passed| passed.course == course);
        let place = known.unwrap_or_else(|| {
            let mut log_chance = 0.0;
            for k in self.j + 1..self.i {
                log_chance += foreseen(self.stretches, course, self.j, k).log_chance;
            }
            self.known.push(Passed { course, log_chance, figures: OnceCell::new() });
            self.known.len() - 1
        });
        (place, self.known[place].log_chance)
    }

    /// These figures, for a way to keep.
    pub(super) fn figures(&self, place: usize) -> Figures {
        let Some(passed) = self.known.get(place) else { return Rc::clone(&self.stretches.none) };
        let each = |k| (k, foreseen(self.stretches, passed.course, self.j, k).why);
        Rc::clone(passed.figures.get_or_init(|| (self.j + 1..self.i).map(each).collect()))
    }
}

/// The same figures, if the counter also goes on to `later` at figure `i` as recorded: what they should have been is
/// known from both sides then. `None`: from before it is known closely enough, or that tells nothing more.
pub(super) fn between_both(
    stretches: &Stretches,
    (j, i): (usize, usize),
    at: &State,
    earlier: Shown,
    later: Shown,
) -> Option<(Figures, f64)> {
    if at.fault != Fault::None {
        return None;
    }
    let course = course_of(stretches, at, earlier, j);
    let mut is_closer = false;
    let mut closer = [None; ASIDE_MAX];
    for k in j + 1..i {
        let (least, most) = foreseen(stretches, course, j, k).expected;
        if most - least > OPEN_STEPS * stretches.counter.step_h && stretches.since_zeroing(k, i).is_none() {
            let (low, high) = backward_range(stretches, at.law, k, i, later);
            let both = (least.max(low), most.min(high));
            if both.0 <= both.1 {
                is_closer |= both.1 - both.0 < 0.5 * (most - least);
                closer[k - j - 1] = Some(both);
            }
        }
    }
    if !is_closer {
        return None;
    }
    let mut log_chance = 0.0;
    let each = |k: usize| {
        let known = foreseen(stretches, course, j, k);
        let before = Some((earlier.hours, known.elapsed_h));
        let closer = closer[k - j - 1];
        let why = closer.map_or(known.why, |both| set_aside(stretches.counter, k, both, before, at.scale));
        log_chance += why.sum().ln();
        (k, why)
    };
    let figures = (j + 1..i).map(each).collect();
    Some((figures, log_chance))
}

/// Where the counter should stand at figure `k` if only what is recorded happened since figure `j`, and how much time
/// passed.
fn forward_range(
    stretches: &Stretches,
    (law, _, fault): (usize, Scale, Fault),
    j: usize,
    k: usize,
    earlier: Shown,
) -> ((f64, f64), f64) {
    let (law, dark) = (stretches.counter.laws[law].0, !stretches.counter.fed);
    let elapsed_h = stretches.moves(j, k).elapsed_h;
    if let Some(since) = stretches.since_zeroing(j, k) {
        return (since.range(law, fault, dark), elapsed_h);
    }
    let (low, high) = stretches.moves(j, k).range(law, fault, dark);
    ((earlier.hours + low, earlier.hours + earlier.width_h + high), elapsed_h)
}

/// Where the counter should have stood at figure `k` if only what is recorded happened until figure `i`.
pub(super) fn backward_range(
    stretches: &Stretches,
    law: usize,
    k: usize,
    i: usize,
    later: Shown,
) -> (f64, f64) {
    if stretches.since_zeroing(k, i).is_some() {
        return (0.0, priors::COUNTER_MAX_H);
    }
    let moves = stretches.moves(k, i);
    let (low, high) = moves.range(stretches.counter.laws[law].0, Fault::None, !stretches.counter.fed);
    (later.hours - high, later.hours + later.width_h - low)
}

/// Where the log leaves a total more open than this, a figure is passed over rather than counted on from, in hours.
pub(super) const LOOSE_H: f64 = 6.0;
/// Where a figure should be is looked at from behind as well if it is more open than this many steps.
const OPEN_STEPS: f64 = 10.0;
/// By how much that can raise the chance of a figure set aside: a natural logarithm.
pub(super) const CLOSER_MOST: f64 = 8.0;
/// A renewal takes no longer, in hours.
const WORK_H: f64 = 8.0;

/// The chances of a figure that is set aside, by reason; in the unit that figures are written in.
pub(super) fn set_aside(
    counter: &Counter,
    k: usize,
    expected: (f64, f64),
    before: Option<(f64, f64)>,
    scale: Scale,
) -> Aside {
    let seen = &counter.seen[k];
    let step_h = counter.step_h;
    let per_hour = scale.written(1.0);
    let expected = (expected.0 * per_hour, expected.1 * per_hour);
    let before = before.map(|(figure_h, elapsed_h)| (figure_h * per_hour, elapsed_h * per_hour));
    let steps = |hours: f64| (hours / step_h).floor().max(0.0) as u64;
    let (first, last) = (steps(expected.0 + 1e-9), steps(expected.1));
    let within = before.is_some_and(|(figure_h, elapsed_h)| {
        (-step_h..=elapsed_h + step_h).contains(&(seen.hours - figure_h))
    });
    let elapsed_h = before.map_or(0.0, |(_, elapsed_h)| elapsed_h);
    let other = seen.other_radar_h.map_or(0.0, |(low, high)| step_h / (high - low).max(step_h));
    // What a fitting's record says was read when the work was done, which may be another day than it says.
    let reach_h = priors::MISDATED_DAYS * 24.0;
    let near = (expected.0 - reach_h..=expected.1 + reach_h).contains(&seen.hours);
    let other_day = seen.side != 0 && near;
    Aside {
        slip: priors::SLIP * seen.origins.chance_in(first, last.max(first)),
        off: if within { priors::OFF_WITHIN_CLOCK * step_h / (elapsed_h + 2.0 * step_h) } else { 0.0 },
        impossible: priors::IMPOSSIBLE * step_h / priors::IMPOSSIBLE_MAX_H,
        other: priors::OTHER_SOURCE * other,
        sound: if is_loose(counter, k) {
            // What a fitting's record says was read before the work is hours older than the record.
            let work_h = if seen.side < 0 { WORK_H } else { 0.0 };
            let (low, high) = (expected.0 - work_h, expected.1);
            in_range(seen.hours, low, high, step_h, 0.0, step_h).exp()
        } else {
            let free_h = priors::MISNOTED_H * per_hour;
            let (low, high) = (expected.0 - free_h, expected.1 + free_h);
            priors::MISNOTED * in_range(seen.hours, low, high, step_h, 0.0, step_h).exp()
        },
        other_day: if other_day { priors::MISDATED * step_h / (2.0 * reach_h) } else { 0.0 },
    }
}
