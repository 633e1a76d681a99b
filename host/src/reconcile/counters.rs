//! From a ship's facts to her counters, and what counters say of each other.
//!
//! A box exchange moves all counters of a radar, and two figures that changed places concern two counters. Each counter
//! is worked out alone first; what it says of such a shared cause then counts as evidence for the others, and those
//! concerned are worked out again. With one shared cause in a stretch that is exact; with several it is close.

use super::chain::{self, Histories};
use super::counter::{Counter, Fit, Seen, Swap};
use super::events::Event;
use super::facts::{Facts, Radar, When};
use super::finding::FactId;
use super::log::Watch;
use super::moves::{Fault, Law, Moves};
use super::order::Order;
use super::priors;
use super::slips::Origins;
use halfglass_protocol::config::Role;

/// A counter with its histories and its place on the ship.
#[derive(Debug)]
pub(super) struct Told<'a> {
    /// The radar in which the counter is.
    pub(super) radar: usize,
    /// It is of a transceiver that no radar of the ship is called by.
    pub(super) stranger: Option<String>,
    /// The counter.
    pub(super) counter: Counter<'a>,
    /// What can have happened.
    pub(super) histories: Histories,
}

/// Figures of two counters this close are of one occasion, in milliseconds.
const ONE_DAY_MS: i64 = 86_400_000;
/// An outright sound figure is at least this likely.
const SOUND: f64 = 0.9;

/// Works out all counters of a ship.
pub(super) fn told<'a>(facts: &Facts, watches: &'a [Watch<'a>]) -> Vec<Told<'a>> {
    let mut counters = gather(facts, watches);
    let mut told: Vec<Told> = Vec::new();
    for (radar, stranger, mut counter) in counters.drain(..) {
        add_ratio(&mut counter);
        if let Some(histories) = chain::histories(&counter) {
            told.push(Told { radar, stranger, counter, histories });
        }
    }
    let swapped = find_swaps(&mut told);
    let exchanged = share(&mut told, Event::Exchanged);
    let dark = share(&mut told, Event::RanInDark);
    for (at, one) in told.iter_mut().enumerate() {
        if (swapped[at] || exchanged[at] || dark[at])
            && let Some(histories) = chain::histories(&one.counter)
        {
            one.histories = histories;
        }
    }
    told
}

type Gathered<'a> = Vec<(usize, Option<String>, Counter<'a>)>;

/// Sorts readings and fittings to the counters that they belong to.
fn gather<'a>(facts: &Facts, watches: &'a [Watch<'a>]) -> Gathered<'a> {
    let mut counters: Gathered<'a> = Vec::new();
    for (display, radar) in facts.radars.iter().enumerate() {
        for reading in radar.readings.iter().filter(|reading| reading.at.lo_ms <= facts.as_of_ms) {
            // A display can show another transceiver: the figure is of that one's counter.
            let source = reading.source.as_deref().filter(|source| *source != radar.name);
            let named = source.and_then(|source| facts.radars.iter().position(|radar| radar.name == source));
            let owner = named.unwrap_or(display);
            let stranger = if named.is_none() { source.map(str::to_owned) } else { None };
            let at = find_or_add(&mut counters, facts, watches, owner, stranger, reading.quantity);
            counters[at].2.seen.push(Seen {
                at: reading.at,
                mark: watches[owner].mark(reading.at),
                hours: reading.hours,
                origins: origins(&facts.radars[owner], reading.hours),
                fact: FactId::Reading(reading.id),
                side: 0,
                swaps: Vec::new(),
                other_radar_h: None,
            });
        }
    }
    for (owner, radar) in facts.radars.iter().enumerate() {
        for fitting in radar.fittings.iter().filter(|fitting| fitting.at.lo_ms <= facts.as_of_ms) {
            let Some(part) = radar.parts.iter().find(|part| part.name == fitting.part) else { continue };
            let at = find_or_add(&mut counters, facts, watches, owner, None, part.ages_by);
            let when = fitting.zeroed_at.unwrap_or(fitting.at);
            let counter = &mut counters[at].2;
            for (side, hours) in [(-1, fitting.counter_before_h), (1, fitting.counter_after_h)] {
                counter.seen.extend(hours.map(|hours| Seen {
                    at: when,
                    mark: watches[owner].mark(when),
                    hours,
                    origins: origins(radar, hours),
                    fact: FactId::Fitting(fitting.id),
                    side,
                    swaps: Vec::new(),
                    other_radar_h: None,
                }));
            }
            counter.fits.push(Fit {
                id: fitting.id,
                zeroed: fitting.counter_zeroed,
                at: when,
                own: (None, None),
            });
        }
    }
    for (_, _, counter) in &mut counters {
        counter.fits.sort_by_key(|fit| fit.at.best_ms());
        order(counter);
        find_own_figures(counter);
        counter.exchange_bias = vec![0.0; counter.seen.len()];
        counter.dark_bias = vec![0.0; counter.seen.len()];
    }
    counters
}

/// A reading and a fitting's own figure this close in time may have come in either order, in milliseconds.
const SAME_TIME_MS: i64 = 1_800_000;
/// A reading this close to a fitting's own figure was taken on the same side of the zeroing, in hours.
const SAME_SIDE_H: f64 = 30.0;
/// No counter moves further in a day, in hours.
const DAY_H: f64 = 24.0;

/// Where in its time a figure of which only the day is known stands: in the middle, but not before a figure of that day
/// that shows less, and not behind one that shows more.
fn place_ms(at: When, hours: f64, sharp: &[(When, f64)]) -> i64 {
    let middle_ms = at.best_ms();
    let within = |(other, other_h): &&(When, f64)| {
        let moved_h = (other_h - hours).abs();
        at.lo_ms <= other.lo_ms && other.hi_ms <= at.hi_ms && 0.0 < moved_h && moved_h <= DAY_H
    };
    let less = sharp.iter().filter(within).filter(|(_, other_h)| *other_h < hours);
    let more = sharp.iter().filter(within).filter(|(_, other_h)| *other_h > hours);
    let after_ms = less.map(|(other, _)| other.best_ms()).max();
    let before_ms = more.map(|(other, _)| other.best_ms()).min();
    match (after_ms, before_ms) {
        (Some(after_ms), _) if after_ms >= middle_ms => after_ms + 1,
        (_, Some(before_ms)) if before_ms <= middle_ms => before_ms - 1,
        _ => middle_ms,
    }
}

/// Puts figures in order of time; a reading at the time of a fitting goes to that side whose figure it is like.
fn order(counter: &mut Counter) {
    let is_sharp = |at: When| at.hi_ms - at.lo_ms <= SAME_TIME_MS;
    let readings = counter.seen.iter().filter(|seen| seen.side == 0 && is_sharp(seen.at));
    let sharp: Vec<(When, f64)> = readings.map(|seen| (seen.at, seen.hours)).collect();
    let sides: Vec<Seen> = counter.seen.iter().filter(|seen| seen.side != 0).cloned().collect();
    counter.seen.sort_by_key(|seen| {
        let at_ms = if seen.side != 0 || is_sharp(seen.at) {
            seen.at.best_ms()
        } else {
            place_ms(seen.at, seen.hours, &sharp)
        };
        // A time of which only the day is known may be any time of it.
        let near = |side: &&Seen| {
            side.at.lo_ms < seen.at.hi_ms + SAME_TIME_MS && seen.at.lo_ms < side.at.hi_ms + SAME_TIME_MS
        };
        let apart = |side: &Seen| (side.hours - seen.hours).abs();
        let nearest = sides.iter().filter(near).min_by(|a, b| apart(a).total_cmp(&apart(b)));
        match nearest {
            Some(side) if seen.side == 0 => {
                let same = if apart(side) < SAME_SIDE_H { 1 } else { -1 };
                (side.at.best_ms(), 2 * same * side.side, at_ms)
            }
            _ => (at_ms, seen.side, 0),
        }
    });
}

/// Notes where each fitting's own figures stand, once they are in order.
fn find_own_figures(counter: &mut Counter) {
    for fit in &mut counter.fits {
        let own = |side: i8| {
            let is = |seen: &Seen| seen.side == side && seen.fact == FactId::Fitting(fit.id);
            counter.seen.iter().position(is)
        };
        fit.own = (own(-1), own(1));
    }
}

/// What a radar's counters resolve; whole hours if nobody said.
fn step_h(radar: &Radar) -> f64 {
    if radar.step_h > 0.0 { radar.step_h } else { 1.0 }
}

/// From which figures of a radar's counter a slip can have made this one.
fn origins(radar: &Radar, hours: f64) -> Origins {
    Origins::of((hours / step_h(radar)).round().max(0.0) as u64)
}

fn find_or_add<'a>(
    counters: &mut Gathered<'a>,
    facts: &Facts,
    watches: &'a [Watch<'a>],
    owner: usize,
    stranger: Option<String>,
    role: Role,
) -> usize {
    let same = |(radar, name, counter): &(usize, Option<String>, Counter)| {
        *radar == owner && *name == stranger && counter.role == role
    };
    counters.iter().position(same).unwrap_or_else(|| {
        let radar: &Radar = &facts.radars[owner];
        let watch = &watches[owner];
        let counter = Counter {
            watch,
            role,
            step_h: step_h(radar),
            fed: radar.fed_from_radar,
            laws: laws(watch, role),
            seen: Vec::new(),
            fits: Vec::new(),
            exchange_bias: Vec::new(),
            dark_bias: Vec::new(),
        };
        counters.push((owner, stranger, counter));
        counters.len() - 1
    })
}

/// The laws that a counter may follow, before a ratio is thought of.
fn laws(watch: &Watch, role: Role) -> Vec<(Law, f64)> {
    let others: &[Role] = match role {
        Role::Transmit => &[Role::Heater, Role::Supply, Role::Motor],
        Role::Motor => &[Role::Heater, Role::Supply, Role::Transmit],
        Role::Heater => &[Role::Supply, Role::Transmit, Role::Motor],
        Role::Supply => &[Role::Heater],
        _ => &[],
    };
    let mut laws = vec![(Law::Own, (1.0 - priors::OTHER_LINE - priors::RATE).ln())];
    if watch.has(role) {
        // A counter can follow the supply or the heater also where no line watches that: then only the time that passed
        // bounds it.
        let could = |other: &Role| watch.has(*other) || matches!(*other, Role::Supply | Role::Heater);
        let could: Vec<Role> = others.iter().copied().filter(could).collect();
        let log_each = (priors::OTHER_LINE / could.len().max(1) as f64).ln();
        laws.extend(could.into_iter().map(|other| (Law::Line(other), log_each)));
    }
    laws
}

/// A stretch must be this long, by the logger, to say something of a ratio, in hours.
const RATIO_STRETCH_H: f64 = 30.0;

/// Adds the ratio that the figures suggest, if they suggest one.
fn add_ratio(counter: &mut Counter) {
    if !counter.watch.has(counter.role) {
        counter.laws.push((Law::AnyRatio, priors::RATE.ln()));
        return;
    }
    let mut ratios: Vec<(f64, f64, f64)> = Vec::new();
    for pair in counter.seen.windows(2) {
        let [a, b] = pair else { continue };
        let moves = Moves::between(counter.watch, counter.role, &[], &a.mark, &b.mark);
        let (logged_h, moved_h) = (moves.best_h(), b.hours - a.hours);
        let open_h = moves.logged_width_h();
        if logged_h > RATIO_STRETCH_H && moved_h > 0.0 && open_h < 0.2 * logged_h {
            ratios.push((moved_h / logged_h, logged_h, logged_h / (open_h + 2.0 * counter.step_h)));
        }
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(median, ..)) = ratios.get(ratios.len() / 2).filter(|_| ratios.len() >= 3) else { return };
    // What lies near the median, each by how closely its own stretch tells it.
    let near: Vec<_> = ratios.iter().filter(|(ratio, ..)| (ratio / median - 1.0).abs() < 0.05).collect();
    let weight: f64 = near.iter().map(|(_, h, _)| h).sum();
    let closeness: f64 = near.iter().map(|(.., close)| close * close).sum();
    let ratio = near.iter().map(|(ratio, _, close)| ratio * close * close).sum::<f64>() / closeness;
    if (ratio - 1.0).abs() > 0.01 && (0.5..2.0).contains(&ratio) {
        // The ratio was taken from the figures: what is left of its chance is that of hitting it as closely as they can.
        let closeness = (4.0 / weight).clamp(1e-4, 0.2);
        counter.laws.push((Law::Ratio(ratio), (priors::RATE * closeness / 0.4).ln()));
    }
}

/// How sure a figure is sound and nothing but what is recorded happened on either side.
pub(super) fn calm(histories: &Histories, at: usize) -> f64 {
    let quiet = |edge: &&chain::Edge| {
        edge.event == Event::AsRecorded && edge.aside.iter().all(|(_, why)| why.is_sound())
    };
    histories.leading_to(at..=at).iter().filter(quiet).map(|edge| edge.share).sum()
}

/// Looks for figures that stand in each other's place: both must look wrong as they stand.
fn find_swaps(told: &mut [Told]) -> Vec<bool> {
    let mut concerned = vec![false; told.len()];
    let mut odd: Vec<(usize, usize, When, f64)> = Vec::new();
    for (at, one) in told.iter().enumerate().filter(|(_, one)| one.stranger.is_none()) {
        for (seen_at, seen) in one.counter.seen.iter().enumerate().filter(|(_, seen)| seen.side == 0) {
            let next_calm =
                if seen_at + 1 < one.counter.seen.len() { calm(&one.histories, seen_at + 1) } else { 1.0 };
            if calm(&one.histories, seen_at).min(next_calm) < SOUND {
                odd.push((at, seen_at, seen.at, seen.hours));
            }
        }
    }
    let mut add: Vec<(usize, usize, Swap)> = Vec::new();
    let mut other: Vec<(usize, usize, (f64, f64))> = Vec::new();
    for &(a, seen_a, when_a, hours_a) in &odd {
        for (b, one) in told.iter().enumerate().filter(|(b, one)| *b != a && one.stranger.is_none()) {
            let same_radar = told[a].radar == one.radar;
            let same_role = told[a].counter.role == one.counter.role;
            if same_radar == same_role {
                continue;
            }
            if same_role && let Some(stood) = stood_near(&one.counter, when_a, hours_a) {
                other.push((a, seen_a, stood));
            }
            for (seen_b, seen) in one.counter.seen.iter().enumerate() {
                let together = (seen.at.best_ms() - when_a.best_ms()).abs() <= ONE_DAY_MS;
                if !together || seen.side != 0 {
                    continue;
                }
                if odd.iter().any(|(is, at, ..)| *is == b && *at == seen_b) && hours_a != seen.hours {
                    let log_prior = priors::SWAPPED.sqrt().ln();
                    add.push((a, seen_a, Swap { counter: b, seen: seen_b, hours: seen.hours, log_prior }));
                }
            }
        }
    }
    for (at, seen, stood) in other {
        told[at].counter.seen[seen].other_radar_h = Some(stood);
        concerned[at] = true;
    }
    for (at, seen, swap) in add {
        told[at].counter.seen[seen].swaps.push(swap);
        concerned[at] = true;
    }
    concerned
}

/// Where a counter stood at an instant, by its figure before or behind and the log, if that can have been `hours`.
fn stood_near(counter: &Counter, at: When, hours: f64) -> Option<(f64, f64)> {
    let mark = counter.watch.mark(at);
    let behind = counter.seen.partition_point(|seen| seen.at.best_ms() <= at.best_ms());
    let (before, after) = (behind.checked_sub(1), Some(behind));
    let stood = |figure: Option<usize>, is_before: bool| {
        let seen = counter.seen.get(figure?)?;
        let (from, to) = if is_before { (&seen.mark, &mark) } else { (&mark, &seen.mark) };
        let moves = Moves::between(counter.watch, counter.role, &[], from, to);
        let (low, high) = moves.range(Law::Own, Fault::None, !counter.fed);
        let (low, high) = if is_before { (low, high) } else { (-high, -low) };
        Some((seen.hours + low - counter.step_h, seen.hours + high + counter.step_h))
    };
    let both = [stood(before, true), stood(after, false)].into_iter().flatten();
    let fits = both.filter(|(low, high)| *low <= hours && hours <= *high && high - low < STOOD_OPEN_H);
    fits.min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
}

/// Where another counter stood must be known this closely to be recognised in a figure, in hours.
const STOOD_OPEN_H: f64 = 30.0;

/// Beyond this, a logarithm of odds, one counter's word on an exchange counts no more.
const WORD_MAX: f64 = 12.0;

/// Lets each counter of a radar say to the others how likely what concerns all of them is in each of their stretches:
/// an exchange, or that the radar ran in dark time.
fn share(told: &mut [Told], event: Event) -> Vec<bool> {
    let mut concerned = vec![false; told.len()];
    let words: Vec<Vec<f64>> = told.iter().map(|one| words(one, event)).collect();
    let factors: Vec<Vec<f64>> =
        words.iter().map(|words| words.iter().map(|word| word.exp()).collect()).collect();
    let instant = |seen: &Seen| (seen.at.best_ms(), seen.at.best_ms());
    let orders: Vec<Order> =
        told.iter().map(|one| Order::new(one.counter.seen.iter().map(instant))).collect();
    for at in 0..told.len() {
        let seen: Vec<When> = told[at].counter.seen.iter().map(|seen| seen.at).collect();
        let mut bias = vec![0.0; seen.len()];
        let partners = (0..told.len()).filter(|other| {
            *other != at
                && told[*other].radar == told[at].radar
                && told[*other].stranger.is_none()
                && told[at].stranger.is_none()
        });
        for other in partners {
            let theirs = &told[other].counter.seen;
            for k in 1..seen.len() {
                let (from_ms, to_ms) = (seen[k - 1].best_ms(), seen[k].best_ms());
                if to_ms <= from_ms {
                    continue;
                }
                let mut mean = 0.0;
                let mut covered = 0.0;
                // Stretches that end and begin in the time: one more, for it begins at the figure before.
                let near = orders[other].near(from_ms, to_ms);
                for l in near.start.max(1)..(near.end + 1).min(theirs.len()) {
                    let inside_ms =
                        theirs[l].at.best_ms().min(to_ms) - theirs[l - 1].at.best_ms().max(from_ms);
                    let share = inside_ms.max(0) as f64 / (to_ms - from_ms) as f64;
                    mean += share * factors[other][l];
                    covered += share;
                }
                // Where the other says nothing, it says nothing.
                let word = (mean + (1.0 - covered).max(0.0)).ln();
                bias[k] += word.clamp(-WORD_MAX, WORD_MAX);
            }
        }
        // To work it out again pays only where something looks like an exchange or a zeroing.
        let shifts = |edge: &chain::Edge| {
            !matches!(edge.event, Event::AsRecorded) && edge.share > 0.005
                || (edge.aside.iter().any(|(_, why)| !why.is_sound()) && edge.share > 0.1)
        };
        let faulty =
            |edge: &chain::Edge| edge.share > 0.005 && told[at].histories.fault_on(edge) != Fault::None;
        let edges = &told[at].histories.edges;
        let odd_here = edges.iter().any(|edge| shifts(edge) || faulty(edge));
        if odd_here && bias.iter().any(|bias| bias.abs() > 0.01) {
            let counter = &mut told[at].counter;
            if event == Event::RanInDark {
                counter.dark_bias = bias;
            } else {
                counter.exchange_bias = bias;
            }
            concerned[at] = true;
        }
    }
    concerned
}

/// What a counter says of an event before each of its figures: the logarithm of how much its figures change the odds.
fn words(one: &Told, event: Event) -> Vec<f64> {
    let seen = &one.counter.seen;
    let mut words = vec![0.0; seen.len()];
    if event == Event::RanInDark && !one.counter.fed {
        return words;
    }
    let mut chances = vec![0.0; seen.len()];
    for edge in one.histories.edges.iter().filter(|edge| edge.event == event) {
        let from = edge.from.map_or(0, |(j, _)| j);
        for chance in chances.get_mut(from + 1..=edge.to.0).unwrap_or_default() {
            *chance += edge.share / (edge.to.0 - from) as f64;
        }
    }
    for k in 1..seen.len() {
        let moves =
            Moves::between(one.counter.watch, one.counter.role, &[], &seen[k - 1].mark, &seen[k].mark);
        let per_year = match event {
            Event::RanInDark if moves.dark_h() > 1.0 => priors::RAN_IN_DARK_PER_YEAR,
            Event::RanInDark => continue,
            _ if moves.may_exchange => priors::EXCHANGED_PER_YEAR,
            _ => priors::EXCHANGED_PER_YEAR * priors::EXCHANGED_UNDER_POWER,
        };
        let prior = (per_year * moves.years).clamp(1e-9, 0.5);
        let odds = |chance: f64| (chance / (1.0 - chance)).ln();
        words[k] = (odds(chances[k].clamp(1e-9, 1.0 - 1e-9)) - odds(prior)).clamp(-WORD_MAX, WORD_MAX);
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a day whose middle is 12; figures at 7 and 15 o'clock.
    #[test]
    fn a_figure_of_which_only_the_day_is_known_goes_where_it_fits() {
        const HOUR_MS: i64 = 3_600_000;
        let at = |hour: i64| When { lo_ms: hour * HOUR_MS, hi_ms: hour * HOUR_MS };
        let day = When { lo_ms: 0, hi_ms: 24 * HOUR_MS };
        let sharp = [(at(7), 110.0), (at(15), 118.0)];
        assert!(place_ms(day, 108.0, &sharp) < 7 * HOUR_MS);
        assert_eq!(place_ms(day, 113.0, &sharp), 12 * HOUR_MS);
        assert!(place_ms(day, 120.0, &sharp) > 15 * HOUR_MS);
        assert_eq!(place_ms(day, 5_000.0, &sharp), 12 * HOUR_MS, "nothing moves that far in a day");
        assert_eq!(place_ms(day, 108.0, &[(at(30), 110.0)]), 12 * HOUR_MS, "another day says nothing");
    }
}
