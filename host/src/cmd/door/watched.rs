//! What the loggers saw of one radar, one logger after another, as one log whose totals go on.
//!
//! ```text
//!  logger A   |---session 1---|  dark  |--session 2--|
//!  logger B                                              unwatched  |---session 9---|
//!  the log    o---o---o---o---o        o---o---o----o               o---o---o---o---o     totals go on from A's last
//! ```

use super::spans::{self, Lasted};
use crate::reconcile::{Log, Point, ROLES, When, place};
use crate::time::Moment;
use crate::timeline::Logger;
use crate::timeline::dating::Dating;
use crate::timeline::{DRIFT, MS_PER_HOUR, TENTHS_PER_HOUR, Timeline};
use halfglass_protocol::config::Role;
use halfglass_protocol::record::{Damage, Totals};
use std::collections::BTreeMap;

/// A logger, and for how long it watched the radar; open ends where no exchange is recorded.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch<'a> {
    pub(super) device_id: u64,
    pub(super) logger: &'a Logger,
    pub(super) from: Option<Moment>,
    pub(super) to: Option<Moment>,
}

/// A radar's log.
#[derive(Debug, Default)]
pub(super) struct Watched {
    pub(super) log: Log,
    /// How often each role's line went on so far, for each point of the log.
    pub(super) starts: Vec<Starts>,
    /// See [`super::Beside::isolations`].
    pub(super) isolations: BTreeMap<i64, (u64, u64)>,
    /// At most so many hours passed between one logger's last record and the next one's first.
    pub(super) unwatched_h: f64,
}

/// How often lines went on, in the order of [`ROLES`]; and how many of those were lines found on when the logger came up.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Starts {
    pub(super) all: [f64; 5],
    pub(super) found_on: [f64; 5],
}

/// Tenths of a second that one unreadable word of the logger's flash can have held (13 bits).
const WORD_TENTHS_MAX: f64 = 8_191.0;
/// The longest heartbeat that a logger can have, in seconds: for one whose configuration is not known.
const HEARTBEAT_MAX_S: u16 = 60;

/// Joins what each logger saw up to an instant. `lines`: which input has which role, by ship.toml.
pub(super) fn log(stretches: &[Stretch<'_>], lines: &[(Role, u8)], as_of_ms: i64) -> Watched {
    let mut all = Watched::default();
    for (role, _) in lines {
        if let Some(at) = place(*role) {
            all.log.wired[at] = true;
        }
    }
    for stretch in stretches {
        let mut points = points(stretch, lines, as_of_ms);
        let inside = |at_ms: i64| stretch.holds(at_ms);
        points.retain(|(point, _)| inside(point.at.best_ms()));
        let last = all.log.points.last().copied().zip(all.starts.last().copied());
        if let (Some(last), Some((first, _))) = (last, points.first().copied()) {
            // Clocks of two loggers can overlap by what their dates leave open.
            let end = last.0.at;
            points.retain(|(point, _)| point.at.lo_ms >= end.lo_ms && point.at.hi_ms >= end.hi_ms);
            let gap_h = hours(end.lo_ms, points.first().map_or(first.at.hi_ms, |(point, _)| point.at.hi_ms));
            all.unwatched_h = all.unwatched_h.max(gap_h);
            go_on(&mut points, &last, gap_h);
        } else if let Some((first, _)) = points.first_mut() {
            (first.dark_h, first.lost_h) = (0.0, 0.0);
        }
        let (points, starts): (Vec<Point>, Vec<Starts>) = points.into_iter().unzip();
        all.log.points.extend(points);
        all.starts.extend(starts);
        let lasted = |role: Role, joined: bool| -> Vec<Lasted> {
            let input = lines.iter().find(|(is, _)| *is == role).map(|(_, input)| *input);
            let lasted = input.map(|input| spans::lasted(stretch.logger, input, joined, as_of_ms));
            let mut lasted = lasted.unwrap_or_default();
            lasted.retain(|lasted| inside(lasted.span.from.best_ms()));
            lasted
        };
        all.log.supply_on.extend(lasted(Role::Supply, false).iter().map(|lasted| lasted.span));
        for Lasted { span, from_tenths, .. } in lasted(Role::Isolated, true) {
            all.log.isolated.push(span);
            all.isolations.insert(span.from.best_ms(), (stretch.device_id, from_tenths));
        }
    }
    all
}

impl Stretch<'_> {
    /// Whether the logger can have watched the radar then.
    pub(super) fn holds(&self, at_ms: i64) -> bool {
        self.from.is_none_or(|from| at_ms >= from.lo_ms()) && self.to.is_none_or(|to| at_ms <= to.hi_ms())
    }
}

/// Moves the totals of a logger on from where the one before it ended.
fn go_on(points: &mut [(Point, Starts)], (last, last_starts): &(Point, Starts), gap_h: f64) {
    let Some((first, first_starts)) = points.first().copied() else { return };
    for (at, (point, starts)) in points.iter_mut().enumerate() {
        for role in 0..ROLES.len() {
            point.on_h[role] += last.on_h[role] - first.on_h[role];
            starts.all[role] += last_starts.all[role] - first_starts.all[role];
            starts.found_on[role] += last_starts.found_on[role] - first_starts.found_on[role];
        }
        point.drop_outs = last.drop_outs + point.drop_outs.saturating_sub(first.drop_outs);
        point.short_warm_ups =
            last.short_warm_ups + point.short_warm_ups.saturating_sub(first.short_warm_ups);
        if at == 0 {
            (point.dark_h, point.lost_h) = (gap_h, 0.0);
        }
    }
}

/// The totals of one logger. What cannot be placed from below (sessions before the clock was first set) is left out.
fn points(stretch: &Stretch<'_>, lines: &[(Role, u8)], as_of_ms: i64) -> Vec<(Point, Starts)> {
    let Logger { timeline, dating } = stretch.logger;
    let lost_tenths = lost_tenths(timeline);
    let mut dark_h = dark_h(timeline, dating);
    let mut points = Vec::new();
    // Lost in what is left out in front counts for nobody; behind it, it counts for the next point that is kept.
    let mut lost_h = 0.0;
    for (at, point) in timeline.points.iter().enumerate() {
        let when = dating.when(point.totals.session, point.totals.uptime_tenths);
        if when.best_ms() > as_of_ms {
            break;
        }
        lost_h += lost_tenths[at] / TENTHS_PER_HOUR;
        if when.is_open_below() {
            continue;
        }
        let radar = radar_of(timeline, point.index, lines);
        let starts = starts(timeline, point, lines);
        let point = Point {
            at: when,
            on_h: on_h(&point.totals, lines),
            dark_h: std::mem::take(&mut dark_h[at]),
            lost_h: std::mem::take(&mut lost_h),
            drop_outs: point.totals.drop_outs.get(radar).copied().unwrap_or(0),
            short_warm_ups: point.totals.short_warm_ups.get(radar).copied().unwrap_or(0),
        };
        points.push((point, starts));
    }
    points
}

fn starts(timeline: &Timeline, point: &crate::timeline::Point, lines: &[(Role, u8)]) -> Starts {
    let mut starts = Starts::default();
    let begun = timeline.sessions.partition_point(|start| start.index <= point.index);
    for (role, input) in lines {
        let Some(at) = place(*role) else { continue };
        starts.all[at] = point.totals.starts.get(usize::from(*input)).map_or(0.0, |all| f64::from(*all));
        let bit = 1u8.checked_shl(u32::from(*input)).unwrap_or(0);
        let found = timeline.sessions[..begun].iter().filter(|start| start.session.found_on & bit != 0);
        starts.found_on[at] = found.count() as f64;
    }
    starts
}

fn on_h(totals: &Totals, lines: &[(Role, u8)]) -> [f64; 5] {
    let mut on_h = [0.0; 5];
    for (role, input) in lines {
        if let Some(at) = place(*role) {
            let tenths = totals.on_tenths.get(usize::from(*input)).copied().unwrap_or(0);
            on_h[at] = tenths as f64 / TENTHS_PER_HOUR;
        }
    }
    on_h
}

/// By which number the logger counts this radar's drop-outs: that of its transmit line.
fn radar_of(timeline: &Timeline, index: u32, lines: &[(Role, u8)]) -> usize {
    let input = |role: Role| lines.iter().find(|(is, _)| *is == role).map(|(_, input)| usize::from(*input));
    let input = input(Role::Transmit).or_else(|| ROLES.into_iter().find_map(input));
    let config = timeline.configs_since(index).next();
    let line = config.zip(input).and_then(|(config, input)| config.lines.get(input));
    line.map_or(0, |line| usize::from(line.radar))
}

/// For each point: how much any line can have lost since the point before, in tenths.
fn lost_tenths(timeline: &Timeline) -> Vec<f64> {
    let mut lost = vec![0.0; timeline.points.len()];
    let at_or_behind = |index: u32| timeline.points.partition_point(|point| point.index < index);
    for start in timeline.sessions.iter().filter(|start| start.session.session > 1) {
        let config = timeline.configs_since(start.index).next();
        let heartbeat_s = config.map_or(HEARTBEAT_MAX_S, |config| config.heartbeat_s);
        if let Some(lost) = lost.get_mut(at_or_behind(start.index)) {
            // A session too short to write anything was shorter than one heartbeat.
            *lost += f64::from(start.session.lost_max_tenths)
                + f64::from(start.skipped) * f64::from(heartbeat_s) * 10.0;
        }
    }
    for (_, before, damage) in &timeline.damage {
        let Damage::WordsLost { words } = damage else { continue };
        // Found at a start: what was lost lies before that start.
        let is_start = |at: usize| {
            let index = timeline.points.get(at).map(|point| point.index);
            timeline.sessions.iter().any(|start| Some(start.index) == index)
        };
        let at = before.checked_sub(1).filter(|at| is_start(*at)).unwrap_or(*before);
        if let Some(lost) = lost.get_mut(at) {
            *lost += f64::from(*words) * WORD_TENTHS_MAX;
        }
    }
    lost
}

/// For each point: for how long at most the logger was without power since the point before, in hours.
///
/// Where sessions float, single gaps are not known but their sum is: between two anchors it is what passed less what was
/// powered. So the sum is shared out: each gap gets what it surely was, and of what is left the more, the more it can
/// have been. The sum holds from anchor to anchor, and readings are mostly taken when a logger is pulled.
fn dark_h(timeline: &Timeline, dating: &Dating) -> Vec<f64> {
    let points = &timeline.points;
    let when: Vec<When> =
        points.iter().map(|point| dating.when(point.totals.session, point.totals.uptime_tenths)).collect();
    let mut dark = vec![0.0; points.len()];
    // Gaps by their second point: at least, at most.
    let mut gaps: Vec<(usize, f64, f64)> = Vec::new();
    for at in 1..points.len() {
        let (a, b) = (&points[at - 1].totals, &points[at].totals);
        if a.session == b.session || when[at - 1].is_open_below() {
            continue;
        }
        let powered_h = b.uptime_tenths.saturating_sub(a.uptime_tenths) as f64 / TENTHS_PER_HOUR;
        let least_h = hours(when[at - 1].hi_ms, when[at].lo_ms) - powered_h * (1.0 + DRIFT);
        let most_h = hours(when[at - 1].lo_ms, when[at].hi_ms) - powered_h * (1.0 - DRIFT);
        gaps.push((at, least_h.max(0.0), most_h.max(least_h).max(0.0)));
    }
    let mut done = 0;
    for (from, to, sum_h) in between_anchors(dating) {
        let inside = |at: usize| {
            let (a, b) = (&points[at - 1].totals, &points[at].totals);
            a.session >= from && b.session <= to
        };
        let own: Vec<(usize, f64, f64)> = gaps[done..]
            .iter()
            .skip_while(|gap| !inside(gap.0))
            .take_while(|gap| inside(gap.0))
            .copied()
            .collect();
        let Some(last) = own.last() else { continue };
        done = gaps.iter().position(|gap| gap.0 == last.0).map_or(done, |at| at + 1);
        let least_h: f64 = own.iter().map(|gap| gap.1).sum();
        let room_h: f64 = own.iter().map(|gap| gap.2 - gap.1).sum();
        let share = if room_h > 0.0 { ((sum_h - least_h) / room_h).clamp(0.0, 1.0) } else { 0.0 };
        for (at, least_h, most_h) in own {
            dark[at] = least_h + (most_h - least_h) * share;
        }
    }
    // Behind the last anchor nothing bounds a sum.
    for (at, _, most_h) in gaps.split_off(done.min(gaps.len())) {
        dark[at] = most_h;
    }
    dark
}

/// Neighbouring anchors of different sessions: the two sessions, and how much of the time between was dark at most.
fn between_anchors(dating: &Dating) -> Vec<(u32, u32, f64)> {
    let pairs = dating.anchors().windows(2).filter_map(|pair| pair.first().zip(pair.get(1)));
    pairs
        .filter(|(a, b)| a.session < b.session)
        .map(|(a, b)| {
            let at_ms = |utc_ms: u64| i64::try_from(utc_ms).unwrap_or(i64::MAX / 4);
            let (from_ms, to_ms) = (
                at_ms(a.utc_ms) - i64::from(a.uncertainty_ms),
                at_ms(b.utc_ms) + i64::from(b.uncertainty_ms),
            );
            let powered_h = b.uptime_tenths.saturating_sub(a.uptime_tenths) as f64 / TENTHS_PER_HOUR;
            (a.session, b.session, (hours(from_ms, to_ms) - powered_h * (1.0 - DRIFT)).max(0.0))
        })
        .collect()
}

fn hours(from_ms: i64, to_ms: i64) -> f64 {
    to_ms.saturating_sub(from_ms).max(0) as f64 / MS_PER_HOUR
}

#[cfg(test)]
#[path = "watched_tests.rs"]
mod tests;
