//! Plans by the plainest means: every assignment of works to windows is tried, and each is weighed from the rules as they
//! stand in words. Shares no code with the planner but the shapes of question and answer.

use halfglass::plan::{Chance, Problem, Spare, Value, Window, Work};

/// An hour in milliseconds.
pub const HOUR: i64 = 3_600_000;
/// A day in milliseconds.
pub const DAY: i64 = 24 * HOUR;

/// A question, with the points of each work's due date, which the planner keeps to itself.
pub struct Case {
    /// The question.
    pub problem: Problem,
    /// Of each work: by this instant the limit has fallen with this probability.
    pub dues: Vec<Vec<(i64, f64)>>,
}

/// A year of stays of half a day to four days, and parts due in it or behind it.
#[must_use]
pub fn year(dice: &mut fastrand::Rng, radars: usize, parts: usize, windows: usize) -> Case {
    let windows = (0..windows).map(|at| {
        let from_ms = dice.i64(0..365 * 24) * HOUR;
        let to_ms = from_ms + dice.i64(12..96) * HOUR;
        Window {
            from_ms,
            to_ms,
            sure_from_ms: from_ms + dice.i64(0..6) * HOUR,
            sure_to_ms: to_ms,
            place: format!("port {at}"),
            aloft: dice.u8(0..10) < 7,
            transmit: Some(dice.u8(0..10) < 7),
            deliver: Some(dice.bool()),
            daylight_h: Some(f64::from(dice.u8(7..18))),
            noons_ms: None,
            chance: Some(f64::from(dice.u8(70..101)) / 100.0),
        }
    });
    let windows = windows.collect();
    let (mut works, mut dues) = (Vec::new(), Vec::new());
    for radar in 0..radars {
        for part in 0..parts {
            let (middle, width) = (dice.i64(0..500) * DAY, dice.i64(1..30) * DAY);
            let points: Vec<(i64, f64)> = (1..=100)
                .map(|percent| (middle + (percent - 50) * width / 50, percent as f64 / 100.0))
                .collect();
            works.push(Work {
                radar: format!("radar {radar}"),
                part: format!("part {part}"),
                work_h: Some(f64::from(dice.u8(2..7))),
                needs_aloft: dice.u8(0..4) > 0,
                lead_time_days: Some(dice.u32(20..90)),
                spare: dice.bool().then(|| Spare { serial: "S".to_owned(), from_ms: 0 }),
                due: Chance::new(points.clone()),
                use_h_per_day: Some(f64::from(dice.u8(8..20))),
                ..Work::default()
            });
            dues.push(points);
        }
    }
    Case { problem: Problem { as_of_ms: 0, windows, works }, dues }
}

/// The best value over all assignments; how many there are, and how many of them the windows hold.
#[must_use]
pub fn best(case: &Case) -> (Value, u64, u64) {
    let count = case.problem.works.len();
    let mut assignment: Vec<Option<usize>> = vec![None; count];
    let (mut best, mut tried, mut held) = (None, 0, 0);
    loop {
        tried += 1;
        if let Some(value) = value(case, &assignment) {
            held += 1;
            best = Some(best.map_or(value, |best: Value| best.min(value)));
        }
        // The next one, as an odometer counts.
        let mut at = 0;
        loop {
            if at == count {
                return (best.expect("leaving everything is always possible"), tried, held);
            }
            let windows = case.problem.windows.len();
            match assignment[at] {
                None if windows > 0 => assignment[at] = Some(0),
                Some(window) if window + 1 < windows => assignment[at] = Some(window + 1),
                _ => {
                    assignment[at] = None;
                    at += 1;
                    continue;
                }
            }
            break;
        }
    }
}

/// What an assignment is worth; `None` if a window does not hold what it is given.
#[must_use]
pub fn value(case: &Case, assignment: &[Option<usize>]) -> Option<Value> {
    let Problem { windows, works, as_of_ms } = &case.problem;
    let (mut chance_percent, mut days_over, mut given_up_tenths) = (0, 0, 0);
    for (at, place) in assignment.iter().enumerate() {
        let mut open: Vec<(i64, usize)> = (0..windows.len())
            .filter_map(|window| Some((begins(windows, window, &works[at], *as_of_ms)?, window)))
            .collect();
        open.sort_unstable();
        let from = match place {
            None => open.len(),
            Some(window) => open.iter().position(|(_, other)| other == window)?,
        };
        // The day on which a work is done, if each call happens or does not, weighed.
        let horizon = horizon(windows, &open, *as_of_ms);
        let due = &case.dues[at];
        let mut not_yet = 1.0;
        let (mut chance, mut days) = (0.0, 0.0);
        for (begin, window) in &open[from..] {
            let happens = windows[*window].chance.unwrap_or(1.0);
            chance += not_yet * happens * passed(due, *begin);
            days += not_yet * happens * over(due, *begin);
            not_yet *= 1.0 - happens;
        }
        chance += not_yet * if open.is_empty() { passed(due, i64::MAX / 2) } else { passed(due, horizon) };
        days += not_yet * over(due, horizon);
        chance_percent += (chance * 100.0).round() as i64;
        days_over += days.round() as i64;
        if place.is_some() {
            let use_h = works[at].use_h_per_day.unwrap_or(24.0);
            given_up_tenths += (left(due, open[from].0) * use_h * 10.0).round() as i64;
        }
    }
    let (mut both, mut isolations) = (0, 0);
    for window in 0..windows.len() {
        let mut radars: Vec<(&str, Vec<usize>)> = Vec::new();
        for (at, _) in assignment.iter().enumerate().filter(|(_, place)| **place == Some(window)) {
            match radars.iter_mut().find(|(radar, _)| *radar == works[at].radar) {
                Some((_, parts)) => parts.push(at),
                None => radars.push((&works[at].radar, vec![at])),
            }
        }
        if radars.is_empty() {
            continue;
        }
        isolations += radars.len() as i64;
        both += radars.len() as i64 - 1;
        if !has_room(case, window, &radars) {
            return None;
        }
    }
    Some(Value { chance_percent, both, days_over, isolations, given_up_tenths })
}

/// When a work can begin in a window, if that holds it.
fn begins(windows: &[Window], at: usize, work: &Work, now: i64) -> Option<i64> {
    let window = &windows[at];
    let permitted = window.transmit == Some(true)
        && window.chance != Some(0.0)
        && (window.aloft || !work.needs_aloft)
        && window.to_ms > now;
    let spare = match &work.spare {
        Some(Spare { from_ms, .. }) if *from_ms < window.sure_to_ms => *from_ms,
        _ => {
            let comes = now + i64::from(work.lead_time_days?) * DAY;
            let brings = |other: usize| {
                let there = &windows[other];
                let before = there.sure_to_ms <= window.sure_from_ms && there.chance.unwrap_or(1.0) == 1.0;
                there.deliver == Some(true) && comes < there.sure_to_ms && (other == at || before)
            };
            (0..windows.len())
                .filter(|other| brings(*other))
                .map(|other| windows[other].sure_from_ms.max(comes))
                .min()?
        }
    };
    let begin = window.sure_from_ms.max(now).max(spare);
    let takes = ms(work.work_h?);
    if !permitted || begin + takes > window.sure_to_ms {
        return None;
    }
    if work.needs_aloft {
        days_of_light(window, begin)?.into_iter().find(|light| *light >= takes)?;
    }
    Some(begin)
}

/// Whether several works have room, whichever way they are put.
fn has_room(case: &Case, at: usize, radars: &[(&str, Vec<usize>)]) -> bool {
    let Problem { windows, works, as_of_ms } = &case.problem;
    let begin = |part: &usize| begins(windows, at, &works[*part], *as_of_ms).expect("looked at before");
    let takes = |part: &usize| ms(works[*part].work_h.unwrap());
    let aloft = |part: &&usize| works[**part].needs_aloft;
    let in_turn = permutations(radars.len()).into_iter().any(|order| {
        let mut clock = i64::MIN;
        for radar in order {
            let parts = &radars[radar].1;
            clock = clock.max(parts.iter().map(begin).max().unwrap()) + parts.iter().map(takes).sum::<i64>();
        }
        clock <= windows[at].sure_to_ms
    });
    let up: Vec<i64> = radars
        .iter()
        .map(|(_, parts)| parts.iter().filter(aloft).map(takes).sum())
        .filter(|takes| *takes > 0)
        .collect();
    if up.is_empty() {
        return in_turn;
    }
    let latest = radars.iter().filter(|(_, parts)| parts.iter().any(|part| aloft(&part)));
    let latest = latest.flat_map(|(_, parts)| parts.iter().map(begin)).max().unwrap();
    let Some(light) = days_of_light(&windows[at], latest) else { return false };
    in_turn && spread(&up, &light)
}

/// Whether each piece finds a day, all ways tried.
fn spread(pieces: &[i64], days: &[i64]) -> bool {
    let Some((piece, rest)) = pieces.split_first() else { return true };
    (0..days.len()).any(|day| {
        let mut left = days.to_vec();
        left[day] -= piece;
        left[day] >= 0 && spread(rest, &left)
    })
}

fn permutations(count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for shorter in permutations(count - 1) {
        for at in 0..=shorter.len() {
            let mut longer = shorter.clone();
            longer.insert(at, count - 1);
            all.push(longer);
        }
    }
    all
}

fn days_of_light(window: &Window, from: i64) -> Option<Vec<i64>> {
    let light = ms(window.daylight_h?);
    let to = window.sure_to_ms;
    if light >= DAY {
        return Some(vec![to - from]);
    }
    Some(match &window.noons_ms {
        Some(noons) => noons
            .iter()
            .map(|noon| ((noon - light / 2 + light).min(to) - (noon - light / 2).max(from)).max(0))
            .collect(),
        None => {
            let mut days = Vec::new();
            let mut day = from;
            while day < to {
                days.push(light.min(to - day).min(DAY));
                day += DAY;
            }
            days
        }
    })
}

fn horizon(windows: &[Window], open: &[(i64, usize)], now: i64) -> i64 {
    let ahead = windows.iter().filter(|window| window.to_ms.max(window.sure_to_ms) > now);
    let end = ahead.map(|window| window.sure_to_ms).max().unwrap_or(now).max(now);
    if open.is_empty() {
        return end;
    }
    let stops: Vec<i64> = [now].into_iter().chain(open.iter().map(|(at, _)| *at)).chain([end]).collect();
    end + stops.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap().max(0)
}

fn passed(due: &[(i64, f64)], at: i64) -> f64 {
    let mut before: Option<(i64, f64)> = None;
    for (point, chance) in due {
        if *point >= at {
            return before.map_or(0.0, |(from, low)| {
                low + (chance - low) * (at - from) as f64 / (point - from) as f64
            });
        }
        before = Some((*point, *chance));
    }
    before.map_or(0.0, |(_, chance)| chance)
}

fn pieces(due: &[(i64, f64)]) -> Vec<(i64, f64)> {
    let mut low = 0.0;
    due.iter().map(|(at, chance)| (*at, chance - std::mem::replace(&mut low, *chance))).collect()
}

fn over(due: &[(i64, f64)], at: i64) -> f64 {
    pieces(due).iter().map(|(point, share)| share * (at - point).max(0) as f64 / DAY as f64).sum()
}

fn left(due: &[(i64, f64)], at: i64) -> f64 {
    let ever = due.last().map_or(0.0, |(_, chance)| *chance);
    let days: f64 =
        pieces(due).iter().map(|(point, share)| share * (point - at).max(0) as f64 / DAY as f64).sum();
    if ever > 0.0 { days / ever } else { 0.0 }
}

fn ms(hours: f64) -> i64 {
    (hours * HOUR as f64).round() as i64
}
