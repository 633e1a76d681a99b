//! From a counter's histories to findings: what the likeliest history holds that no record does, and how likely each.

use super::chain::{Edge, shown};
use super::counters::Told;
use super::events::{Event, Scale};
use super::facts::{When, place};
use super::finding::{FactId, Instead, Kind};
use super::moves::{Fault, Law};
use super::say;
use crate::timeline::hours_between;
use halfglass_protocol::config::Role;

/// A finding in the making.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    /// What it is.
    pub(super) kind: Kind,
    /// In which radar.
    pub(super) radar: usize,
    /// About which line or counter.
    pub(super) line: Option<Role>,
    /// Not before.
    pub(super) from_ms: i64,
    /// Not after.
    pub(super) to_ms: i64,
    /// How likely.
    pub(super) probability: f64,
    /// The figures that say so.
    pub(super) evidence: Vec<String>,
    /// The next-best explanation.
    pub(super) instead: Option<Instead>,
    /// It rests on a last reading alone.
    pub(super) provisional: bool,
    /// The fitting that it is about.
    pub(super) fitting: Option<i64>,
    /// On what it rests.
    pub(super) facts: Vec<FactId>,
    /// The line that the counter follows instead of its own.
    pub(super) follows: Option<Role>,
    /// When the counter stood at zero, if it went on from there.
    pub(super) from_zero_ms: Option<(i64, i64)>,
    /// For swapped figures: the other counter and figure.
    pub(super) partner: Option<(usize, usize)>,
}

impl Draft {
    /// One without evidence yet.
    pub(super) fn new(kind: Kind, radar: usize, line: Option<Role>, from_ms: i64, to_ms: i64) -> Draft {
        Draft {
            kind,
            radar,
            line,
            from_ms,
            to_ms,
            probability: 0.0,
            evidence: Vec::new(),
            instead: None,
            provisional: false,
            fitting: None,
            facts: Vec::new(),
            follows: None,
            from_zero_ms: None,
            partner: None,
        }
    }
}

/// What an edge stands for: nothing, or its foremost irregularity.
fn label(told: &Told, edge: &Edge) -> Option<Kind> {
    let (from, to) = told.histories.states_of(edge);
    let by_event = match edge.event {
        Event::AsRecorded => None,
        Event::Zeroed => Some(Kind::ZeroedWithoutFitting),
        Event::Exchanged => Some(Kind::CounterExchanged),
        Event::NotZeroed(_) => Some(Kind::FittedWithoutZeroing),
        Event::Contradicted(_) => Some(Kind::RecordContradicted),
        Event::MisdatedHere(_) | Event::MisdatedAway(_) => Some(Kind::FittingMisdated),
        Event::RanInDark => Some(Kind::DarkGap),
    };
    let by_fault = match told.histories.fault_on(edge) {
        Fault::Under => Some(Kind::LineIntermittent),
        Fault::Over => Some(Kind::LineStuck),
        Fault::None => None,
    };
    let scaled = [from, to].into_iter().flatten().any(|state| state.scale != Scale::Hours);
    let by_scale = if scaled { Some(Kind::CounterUnits) } else { None };
    let swapped = [from, to].into_iter().flatten().any(|state| state.swap.is_some());
    let by_swap = if swapped { Some(Kind::ReadingsSwapped) } else { None };
    let by_aside = edge.aside.iter().find(|(_, why)| !why.is_sound()).map(|(_, why)| aside_kind(why));
    let by_law = from.or(to).and_then(|state| law_kind(told.counter.role, told.counter.laws[state.law].0));
    by_event.or(by_fault).or(by_swap).or(by_aside).or(by_scale).or(by_law)
}

/// What it means that a counter follows a law. No set counts the heater by the motor: there the logger's inputs are
/// exchanged.
fn law_kind(counter: Role, law: Law) -> Option<Kind> {
    match law {
        Law::Own => None,
        Law::Line(Role::Motor) => Some(Kind::Wiring),
        Law::Line(Role::Transmit) if counter == Role::Heater => Some(Kind::Wiring),
        Law::Line(_) => Some(Kind::CountsOtherLine),
        Law::Ratio(_) | Law::AnyRatio => Some(Kind::CounterRate),
    }
}

fn aside_kind(why: &super::chain::Aside) -> Kind {
    let ranked = [
        (why.slip, Kind::Misread),
        (why.off, Kind::Misread),
        (why.impossible, Kind::ImpossibleReading),
        (why.other, Kind::ReadingsSwapped),
        (why.other_day, Kind::FittingMisdated),
    ];
    ranked.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).map_or(Kind::Misread, |(_, kind)| kind)
}

/// How likely each explanation is in the stretch before figure `gap`.
fn shares(told: &Told, gap: usize) -> Vec<(Option<Kind>, f64)> {
    let mut shares: Vec<(Option<Kind>, f64)> = Vec::new();
    for edge in told.histories.covering(gap) {
        let kind = label(told, edge);
        match shares.iter_mut().find(|(is, _)| *is == kind) {
            Some((_, sum)) => *sum += edge.share,
            None => shares.push((kind, edge.share)),
        }
    }
    shares
}

/// The probability of a kind before a figure, and the likeliest other explanation.
fn judged(told: &Told, gap: usize, kind: Kind) -> (f64, Option<Instead>) {
    let all = shares(told, gap);
    let own = all.iter().filter(|(is, _)| *is == Some(kind)).map(|(_, share)| share).sum::<f64>();
    let other = all.iter().filter(|(is, _)| *is != Some(kind)).max_by(|a, b| a.1.total_cmp(&b.1));
    let instead = other
        .filter(|(_, share)| *share >= 0.005)
        .map(|(kind, probability)| Instead { kind: *kind, probability: probability.min(1.0) });
    (own.min(1.0), instead)
}

/// The same for an event somewhere from figure `j` to figure `i`: histories that count on from a figure between have it
/// before or behind that figure.
fn judged_anywhere(told: &Told, j: usize, i: usize, kind: Kind) -> (f64, Option<Instead>) {
    let gaps = (j + 1..=i).map(|gap| judged(told, gap, kind));
    gaps.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, None))
}

/// All findings of one counter.
pub(super) fn drafts(told: &Told) -> Vec<Draft> {
    let mut found = Vec::new();
    events(told, &mut found);
    set_aside(told, &mut found);
    faults(told, &mut found);
    units(told, &mut found);
    laws(told, &mut found);
    found
}

fn draft(told: &Told, kind: Kind, from: When, to: When) -> Draft {
    Draft::new(kind, told.radar, Some(told.counter.role), from.lo_ms, to.hi_ms)
}

fn path<'a>(told: &'a Told) -> impl Iterator<Item = &'a Edge> {
    told.histories.best.iter().filter_map(|at| told.histories.edges.get(*at))
}

/// What happened between figures.
fn events(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    for edge in path(told).filter(|edge| edge.to.0 < end && edge.event != Event::AsRecorded) {
        let Some((from, _)) = edge.from else { continue };
        // A figure that was passed over as sound still stood on the course before the event. What concerns a fitting lies
        // where the fitting does.
        let free = matches!(edge.event, Event::Zeroed | Event::Exchanged | Event::RanInDark);
        let passed = edge.aside.iter().rev().find(|(_, why)| free && why.is_sound()).map(|(k, _)| *k);
        let j = passed.unwrap_or(from);
        let i = edge.to.0;
        let kind = match edge.event {
            Event::AsRecorded => continue,
            Event::Zeroed => Kind::ZeroedWithoutFitting,
            Event::Exchanged => Kind::CounterExchanged,
            Event::NotZeroed(_) => Kind::FittedWithoutZeroing,
            Event::Contradicted(_) => Kind::RecordContradicted,
            Event::MisdatedHere(_) | Event::MisdatedAway(_) => Kind::FittingMisdated,
            Event::RanInDark => Kind::DarkGap,
        };
        let mut draft = draft(told, kind, counter.seen[j].at, counter.seen[i].at);
        (draft.probability, draft.instead) = judged_anywhere(told, from, i, kind);
        if edge.event == Event::RanInDark {
            // Where the log cannot place a figure, it may have run in the dark before it or behind it.
            let (first, last, probability) = dark_between(told, from, i);
            (draft.from_ms, draft.to_ms) = (counter.seen[first].at.lo_ms, counter.seen[last].at.hi_ms);
            draft.probability = probability.max(draft.probability);
        }
        draft.fitting = match edge.event {
            Event::NotZeroed(at)
            | Event::Contradicted(at)
            | Event::MisdatedHere(at)
            | Event::MisdatedAway(at) => counter.fits.get(at).map(|fit| fit.id),
            _ => None,
        };
        draft.provisional = i + 1 == end && kind != Kind::DarkGap;
        draft.facts = vec![counter.seen[j].fact, counter.seen[i].fact];
        draft.facts.extend(draft.fitting.map(FactId::Fitting));
        let (from, to) = told.histories.states_of(edge);
        if let (Some(from), Some(to)) = (from, to) {
            let before = if passed.is_some() {
                shown(counter, j, Scale::Hours, None)
            } else {
                shown(counter, j, from.scale, from.swap)
            };
            let after = shown(counter, i, to.scale, to.swap);
            let moves = counter.moves(j, i);
            let law = counter.laws[from.law].0;
            let expected = moves.range(law, Fault::None, !counter.fed);
            draft.evidence.push(say::moved(counter, (j, before.hours), (i, after.hours), expected));
            let zeroed = matches!(kind, Kind::ZeroedWithoutFitting | Kind::CounterExchanged)
                && law == Law::Own
                && after.hours <= moves.range(law, Fault::None, true).1 + 0.5;
            draft.from_zero_ms =
                if zeroed { zeroed_between(told, j, i, after.hours, after.width_h) } else { None };
            if kind == Kind::ZeroedWithoutFitting
                && let Some((from_ms, to_ms)) = draft.from_zero_ms
            {
                draft.from_ms = from_ms.max(draft.from_ms);
                draft.to_ms = to_ms.min(draft.to_ms);
                draft.evidence.push(say::zeroed_between(draft.from_ms, draft.to_ms));
            }
            if kind == Kind::DarkGap {
                draft.evidence.push(say::dark(moves.dark_h()));
            }
        }
        found.push(draft);
    }
}

/// Less than this is not worth a wider window.
const MAYBE: f64 = 0.05;

/// From which figure to which a radar may have run in the dark, around the stretch from `j` to `i`, and how likely it did.
fn dark_between(told: &Told, j: usize, i: usize) -> (usize, usize, f64) {
    let in_dark = |gap: usize| {
        let ways = told.histories.covering(gap).filter(|edge| edge.event == Event::RanInDark);
        ways.map(|edge| edge.share).sum::<f64>()
    };
    let (mut first, mut last) = (j, i);
    while first > 0 && in_dark(first) > MAYBE {
        first -= 1;
    }
    while last + 1 < told.counter.seen.len() && in_dark(last + 1) > MAYBE {
        last += 1;
    }
    let ways = told.histories.leading_to(first + 1..=last);
    let sum: f64 = ways.iter().filter(|edge| edge.event == Event::RanInDark).map(|edge| edge.share).sum();
    (first, last, sum.min(1.0))
}

/// Between which instants a counter must have been zeroed to show `after_h` at figure `i`.
fn zeroed_between(told: &Told, j: usize, i: usize, after_h: f64, width_h: f64) -> Option<(i64, i64)> {
    let counter = &told.counter;
    let (from_ms, to_ms) = (counter.seen[j].at.lo_ms, counter.seen[i].at.hi_ms);
    let moved = |at_ms: i64| {
        let at = When { lo_ms: at_ms, hi_ms: at_ms };
        counter.watch.growth(counter.role, &counter.watch.mark(at), &counter.seen[i].mark)
    };
    // The later it was, the less it has moved since: halve until the bounds stand.
    let search = |reached: &dyn Fn(i64) -> bool| {
        let (mut low, mut high) = (from_ms, to_ms);
        while high - low > 60_000 {
            let middle = low + (high - low) / 2;
            if reached(middle) { low = middle } else { high = middle }
        }
        low
    };
    let earliest = search(&|at| {
        let growth = moved(at);
        growth.logged.low > after_h + width_h + 0.5
    });
    let latest = search(&|at| {
        let growth = moved(at);
        growth.logged.high + growth.dark_h + growth.unseen_h > after_h - 0.5
    });
    (latest >= earliest).then_some((earliest, latest + 60_000))
}

/// Figures that are set aside or stand in another's place.
fn set_aside(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    for edge in path(told) {
        for (k, why) in edge.aside.iter().filter(|(_, why)| !why.is_sound()) {
            let kind = aside_kind(why);
            let at = counter.seen[*k].at;
            let mut draft = draft(told, kind, at, at);
            let (probability, instead) = judged_aside(told, *k, kind);
            (draft.probability, draft.instead) = (probability, instead);
            draft.provisional = k + 1 == end || counter.seen.len() < 3;
            draft.facts = vec![counter.seen[*k].fact];
            if let FactId::Fitting(id) = counter.seen[*k].fact {
                draft.fitting = Some(id);
            }
            draft.evidence = say::aside(told, edge, *k, kind);
            found.push(draft);
        }
        let (_, Some(state)) = told.histories.states_of(edge) else { continue };
        if let Some(swap) = state.swap.and_then(|at| counter.seen[edge.to.0].swaps.get(at)) {
            let k = edge.to.0;
            let at = counter.seen[k].at;
            let mut draft = draft(told, Kind::ReadingsSwapped, at, at);
            let swapped =
                |edge: &&Edge| told.histories.states_of(edge).1.is_some_and(|state| state.swap.is_some());
            draft.probability = told
                .histories
                .leading_to(k..=k)
                .iter()
                .filter(swapped)
                .map(|edge| edge.share)
                .sum::<f64>()
                .min(1.0);
            draft.instead = judged(told, k, Kind::ReadingsSwapped).1;
            draft.provisional = k + 1 == end;
            draft.facts = vec![counter.seen[k].fact];
            draft.partner = Some((swap.counter, swap.seen));
            draft.evidence.push(say::swapped(counter, k, swap.hours));
            found.push(draft);
        }
    }
}

/// How likely figure `k` is set aside for a reason of this kind, and the likeliest other explanation.
fn judged_aside(told: &Told, k: usize, kind: Kind) -> (f64, Option<Instead>) {
    let mut own = 0.0;
    for edge in told.histories.covering(k) {
        for (_, why) in edge.aside.iter().filter(|(at, _)| *at == k) {
            let sum = why.sum().max(f64::MIN_POSITIVE);
            let part = match kind {
                Kind::Misread => why.slip + why.off,
                Kind::ImpossibleReading => why.impossible,
                Kind::FittingMisdated => why.other_day,
                _ => why.other,
            };
            own += edge.share * part / sum;
        }
    }
    let sides = [shares(told, k), shares(told, k + 1)].concat();
    let other = sides
        .iter()
        .filter(|(is, _)| *is != Some(kind))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, share)| *share >= 0.005);
    let left = (1.0 - own).max(0.0);
    let instead = other.map(|(kind, share)| Instead { kind: *kind, probability: share.min(left) });
    (own.min(1.0), instead.filter(|instead| instead.probability >= 0.005))
}

/// Faults of the logger's line: neighbouring stretches with one fault are one finding.
fn faults(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    let mut open: Option<(Fault, usize, usize, f64, Option<Instead>)> = None;
    let mut close = |open: &mut Option<(Fault, usize, usize, f64, Option<Instead>)>| {
        let Some((fault, j, i, probability, instead)) = open.take() else { return };
        let moves = counter.moves(j, i);
        let kind = match fault {
            Fault::Over => Kind::LineStuck,
            _ => under_kind(told, j, i),
        };
        let mut draft = draft(told, kind, counter.seen[j].at, counter.seen[i].at);
        // The fault is of the line that the counter follows.
        let law = path(told)
            .find(|edge| edge.to.0 == i)
            .and_then(|edge| told.histories.states_of(edge).1)
            .map_or(Law::Own, |state| counter.laws[state.law].0);
        if let Law::Line(role) = law {
            draft.line = Some(role);
        }
        if let Some((from_ms, to_ms)) = fault_span(told, kind, j, i) {
            draft.from_ms = from_ms.max(draft.from_ms);
            draft.to_ms = to_ms.min(draft.to_ms);
        }
        draft.probability = probability;
        draft.instead = instead;
        draft.provisional = i + 1 >= end && j + 1 >= i;
        draft.facts = vec![counter.seen[j].fact, counter.seen[i].fact];
        let expected = moves.range(Law::Own, Fault::None, !counter.fed);
        draft.evidence.push(say::moved(
            counter,
            (j, counter.seen[j].hours),
            (i, counter.seen[i].hours),
            expected,
        ));
        draft.evidence.push(say::fault(counter.role, kind, &moves));
        found.push(draft);
    };
    for edge in path(told) {
        let fault = told.histories.fault_on(edge);
        let (Some((j, _)), i) = (edge.from, edge.to.0.min(end - 1)) else { continue };
        if fault == Fault::None || edge.to.0 == end {
            close(&mut open);
            continue;
        }
        let kind = if fault == Fault::Over { Kind::LineStuck } else { Kind::LineIntermittent };
        let (probability, instead) = judged(told, i, kind);
        match &mut open {
            Some((is, _, last, likely, other)) if *is == fault && *last == j => {
                *last = i;
                if probability > *likely {
                    (*likely, *other) = (probability, instead);
                }
            }
            _ => {
                close(&mut open);
                open = Some((fault, j, i, probability, instead));
            }
        }
    }
    close(&mut open);
}

/// Whether a line that saw too little was dead: flat for as long as the missing hours need.
fn under_kind(told: &Told, j: usize, i: usize) -> Kind {
    let counter = &told.counter;
    let (a, b) = (counter.seen[j].at, counter.seen[i].at);
    let moves = counter.moves(j, i);
    let missing_h = counter.seen[i].hours - counter.seen[j].hours - moves.best_h();
    let (flat_h, of, _) = longest_flat(told, a, b);
    // By their usual shares of time: the other line may be on for fewer hours than this one. A fault's first and last day
    // are parts of days, and a week is short.
    let usual = |role: Role| counter.watch.rate(role).max(0.01);
    let flat = of.map_or(flat_h, |of| flat_h / usual(of));
    let share = flat / (missing_h / usual(counter.role)).max(f64::MIN_POSITIVE);
    // A line stands still in port too: a dead one for longer than that.
    let (before, after) =
        (When { lo_ms: i64::MIN, hi_ms: i64::MIN }, When { lo_ms: i64::MAX, hi_ms: i64::MAX });
    let elsewhere_h = longest_flat(told, before, a).0.max(longest_flat(told, b, after).0);
    let is_dead = share >= 0.5 && flat_h > elsewhere_h || share >= 0.8 && flat_h > 0.6 * elsewhere_h;
    if is_dead { Kind::LineDead } else { Kind::LineIntermittent }
}

/// When a line stood still: for how long, as the other line counts it, which that is, and from when to when.
type Flat = (f64, Option<Role>, Option<(i64, i64)>);

/// The longest stretch in which the line stood still while another that it hangs on was on: hours of that, and when.
fn longest_flat(told: &Told, a: When, b: When) -> Flat {
    let counter = &told.counter;
    let Some(own) = place(counter.role) else { return (0.0, None, None) };
    // A line that is never on without this one shows best that this one was dead.
    let other = match counter.role {
        Role::Transmit => [Role::Heater, Role::Supply],
        Role::Supply => [Role::Heater, Role::Transmit],
        _ => [Role::Transmit, Role::Supply],
    };
    let other = other.into_iter().find(|role| *role != counter.role && counter.watch.has(*role));
    let of = other;
    let other = other.and_then(place);
    let mut best = (0.0, of, None);
    let mut run = (0.0, a.lo_ms);
    for (before, after) in counter.watch.pairs(a, b) {
        if after.on_h[own] - before.on_h[own] > 0.02 {
            run = (0.0, after.at.lo_ms);
            continue;
        }
        run.0 += other.map_or_else(
            || hours_between(before.at.best_ms(), after.at.best_ms()),
            |other| after.on_h[other] - before.on_h[other],
        );
        if run.0 > best.0 {
            best = (run.0, of, Some((run.1, after.at.hi_ms)));
        }
    }
    best
}

/// When a fault was, as closely as the log says.
fn fault_span(told: &Told, kind: Kind, j: usize, i: usize) -> Option<(i64, i64)> {
    let (a, b) = (told.counter.seen[j].at, told.counter.seen[i].at);
    if kind == Kind::LineDead { longest_flat(told, a, b).2 } else { None }
}

/// Figures written in another unit.
fn units(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let mut run: Vec<(usize, Scale)> = Vec::new();
    let mut close = |run: &mut Vec<(usize, Scale)>| {
        let (Some(&(first, scale)), Some(&(last, _))) = (run.first(), run.last()) else { return };
        let mut draft = draft(told, Kind::CounterUnits, counter.seen[first].at, counter.seen[last].at);
        let likely = |k: usize| -> f64 {
            let scaled = |edge: &&Edge| {
                told.histories.states_of(edge).1.is_some_and(|state| state.scale != Scale::Hours)
            };
            told.histories.leading_to(k..=k).iter().filter(scaled).map(|edge| edge.share).sum()
        };
        draft.probability = run.iter().map(|(k, _)| likely(*k)).fold(0.0, f64::max).min(1.0);
        draft.instead = judged(told, first, Kind::CounterUnits).1;
        draft.provisional = run.len() == 1 && first + 1 == counter.seen.len();
        draft.facts = run.iter().map(|(k, _)| counter.seen[*k].fact).collect();
        draft.evidence.push(say::units(counter, first, scale));
        found.push(draft);
        run.clear();
    };
    for edge in path(told) {
        match told.histories.states_of(edge).1 {
            Some(state) if state.scale != Scale::Hours => run.push((edge.to.0, state.scale)),
            _ => close(&mut run),
        }
    }
    close(&mut run);
}

/// Counters that follow another line or run at a ratio.
fn laws(told: &Told, found: &mut Vec<Draft>) {
    let counter = &told.counter;
    let end = counter.seen.len();
    let on_path: Vec<(usize, usize)> = path(told)
        .filter(|edge| edge.to.0 < end)
        .filter_map(|edge| told.histories.states_of(edge).1.map(|state| (edge.to.0, state.law)))
        .collect();
    for at in 1..counter.laws.len() {
        let Some(kind) = law_kind(counter.role, counter.laws[at].0) else { continue };
        let figures: Vec<usize> = on_path.iter().filter(|(_, law)| *law == at).map(|(k, _)| *k).collect();
        let (Some(&first), Some(&last)) = (figures.first(), figures.last()) else { continue };
        let share = |k: usize, law: usize| -> f64 {
            let by = |edge: &&Edge| told.histories.states_of(edge).1.is_some_and(|state| state.law == law);
            told.histories.leading_to(k..=k).iter().filter(by).map(|edge| edge.share).sum()
        };
        let middle = figures[figures.len() / 2];
        let mut draft = draft(told, kind, counter.seen[first].at, counter.seen[last].at);
        if let Law::Line(role) = counter.laws[at].0 {
            draft.follows = Some(role);
        }
        let all = share(middle, at);
        let total: f64 = (0..counter.laws.len()).map(|law| share(middle, law)).sum();
        draft.probability = if total > 0.0 { (all / total).min(1.0) } else { 0.0 };
        let other = (0..counter.laws.len())
            .filter(|law| *law != at)
            .map(|law| (law, share(middle, law) / total.max(f64::MIN_POSITIVE)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        draft.instead = other.filter(|(_, share)| *share >= 0.005).map(|(law, probability)| Instead {
            kind: law_kind(counter.role, counter.laws[law].0),
            probability,
        });
        draft.provisional = figures.len() < 3;
        draft.facts = figures.iter().map(|k| counter.seen[*k].fact).collect();
        draft.evidence.push(say::law(counter, counter.laws[at].0, first, last));
        found.push(draft);
    }
}
