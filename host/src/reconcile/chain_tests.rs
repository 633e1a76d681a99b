//! The dynamic programme against plain enumeration, and a case worked by hand.

use super::*;
use crate::reconcile::counter::Seen;
use crate::reconcile::facts::{Log, Point, When};
use crate::reconcile::finding::FactId;
use crate::reconcile::log::Watch;
use crate::reconcile::moves::Law;
use crate::reconcile::slips::Origins;
use halfglass_protocol::config::Role;

const DAY_MS: i64 = 86_400_000;

fn at(day: i64) -> When {
    When { lo_ms: day * DAY_MS, hi_ms: day * DAY_MS }
}

/// A log with a point a day, `per_day_h` of transmitting on each.
fn steady_log(days: i64, per_day_h: f64, heater: bool) -> Log {
    let point = |day: i64| Point {
        at: at(day),
        on_h: [0.0, day as f64 * 20.0, day as f64 * per_day_h, 0.0, 0.0],
        dark_h: 0.0,
        lost_h: 0.0,
        drop_outs: 0,
        short_warm_ups: 0,
    };
    Log {
        wired: [false, heater, true, false, false],
        points: (0..=days).map(point).collect(),
        ..Log::default()
    }
}

fn counter<'a>(watch: &'a Watch<'a>, figures: &[(i64, f64)]) -> Counter<'a> {
    let seen = |(id, (day, hours)): (usize, &(i64, f64))| Seen {
        at: at(*day),
        mark: watch.mark(at(*day)),
        hours: *hours,
        origins: Origins::of(*hours as u64),
        fact: FactId::Reading(id as i64),
        side: 0,
        swaps: Vec::new(),
        other_radar_h: None,
    };
    let mut laws = vec![(Law::Own, 0.97f64.ln())];
    if watch.has(Role::Heater) {
        laws.push((Law::Line(Role::Heater), 0.02f64.ln()));
    }
    Counter {
        watch,
        role: Role::Transmit,
        step_h: 1.0,
        fed: false,
        laws,
        seen: figures.iter().enumerate().map(seen).collect(),
        fits: Vec::new(),
        exchange_bias: vec![0.0; figures.len()],
        dark_bias: vec![0.0; figures.len()],
    }
}

/// Ten hours a day for thirty days, twice; then the counter shows 50. On paper, with `y` the 30 days in years:
///
/// - zeroed: 0.10 y, and then any of 0 to 300 h, widened by a step and 0.1 h on either side: 0.10 y / 301.2
/// - exchanged: 0.05 y / (1 + 0.05 y), to zero in 0.4 and to any of 20,000 in 0.6: 0.05 y (0.4 / 301.2 + 0.6 / 20000) / 1.0041
/// - set aside as any figure at all: 0.001 / 100,000, under four ten-thousandths of the first
///
/// So zeroed is likely 3.320e-4 : (3.320e-4 + 6.763e-5 + 1.2e-7 / 0.99) = 0.8305. Faults of the line and units, which
/// the paper leaves out, change that by less than 0.01.
#[test]
fn a_case_worked_by_hand() {
    let log = steady_log(60, 10.0, false);
    let watch = Watch::new(&log);
    let counter = counter(&watch, &[(0, 1_000.0), (30, 1_300.0), (60, 50.0)]);
    let found = histories(&counter).unwrap();
    let share = |event: Event| -> f64 {
        let is = |edge: &&Edge| edge.to.0 == 2 && edge.event == event;
        found.edges.iter().filter(is).map(|edge| edge.share).sum()
    };
    assert!((share(Event::Zeroed) - 0.8305).abs() < 0.01, "{}", share(Event::Zeroed));
    assert!((share(Event::Exchanged) - 0.1692).abs() < 0.01, "{}", share(Event::Exchanged));
}

/// A history: figures, their states and what happened before them; and the logarithm of its weight.
type History = (f64, Vec<(usize, State, Event)>);

/// Every history, one by one: no joining, and no dropping but of single ways beyond e^20 against the likeliest that
/// leaves the same state. What is dropped changes no share by more than 1 in 100,000.
fn enumerate(counter: &Counter) -> Vec<History> {
    fn go(
        counter: &Counter,
        j: usize,
        state: State,
        log_total: f64,
        path: &[(usize, State, Event)],
        all: &mut Vec<History>,
    ) {
        let n = counter.seen.len();
        let stretches = Stretches::new(counter);
        let alive = Alive { j, states: &[state], log_totals: &[log_total], on_h: &[None] };
        let mut ends = Ways::default();
        if n - j <= ASIDE_MAX + 1 {
            finish(&stretches, &alive, &mut ends);
        }
        all.extend(ends.kept.into_iter().map(|way| (way.log_total, path.to_vec())));
        for i in j + 1..n.min(j + ASIDE_MAX + 2) {
            let mut ways = Ways::default();
            extend(&stretches, &alive, i, &mut ways);
            for way in ways.kept {
                let mut longer = path.to_vec();
                longer.push((i, way.state, way.edge.event));
                go(counter, i, way.state, way.log_total, &longer, all);
            }
        }
    }
    let mut all = Vec::new();
    for i in 0..=ASIDE_MAX.min(counter.seen.len() - 1) {
        let mut ways = Ways::default();
        begin(&Stretches::new(counter), i, &mut ways);
        for way in ways.kept {
            go(counter, i, way.state, way.log_total, &[(i, way.state, way.edge.event)], &mut all);
        }
    }
    all
}

#[test]
fn the_dynamic_programme_is_the_sum_over_all_histories() {
    let mut random = fastrand::Rng::with_seed(1);
    for case in 0..60 {
        let heater = case % 2 == 0;
        let log = steady_log(120, random.f64() * 18.0, heater);
        let watch = Watch::new(&log);
        let figures: Vec<(i64, f64)> = (0..3)
            .map(|k| {
                let day = k * 30 + random.i64(0..20);
                let odd = [0.0, 0.0, 300.0, -700.0, 9_000.0][random.usize(0..5)];
                (day, (1_000.0 + day as f64 * log.points[1].on_h[2] + odd).floor().max(0.0))
            })
            .collect();
        let counter = counter(&watch, &figures);
        let found = histories(&counter).unwrap();
        let all = enumerate(&counter);
        let log_evidence = log_sum(all.iter().map(|(log, _)| *log));
        assert!(
            (found.log_evidence - log_evidence).abs() < 1e-5,
            "case {case}: {} {log_evidence}, {figures:?}",
            found.log_evidence
        );
        // The shares of every event at every figure.
        for i in 1..figures.len() {
            for event in [Event::AsRecorded, Event::Zeroed, Event::Exchanged] {
                let by_hand =
                    all.iter().filter(|(_, path)| path[1..].iter().any(|(k, _, e)| (*k, *e) == (i, event)));
                let by_hand: f64 = by_hand.map(|(log, _)| (log - log_evidence).exp()).sum();
                let is = |edge: &&Edge| edge.to.0 == i && edge.event == event && edge.from.is_some();
                let by_programme: f64 = found.edges.iter().filter(is).map(|edge| edge.share).sum();
                assert!(
                    (by_hand - by_programme).abs() < 1e-5,
                    "case {case}, figure {i}, {event:?}, {by_hand} {by_programme}, {figures:?}"
                );
            }
        }
        // The likeliest path.
        let most = all.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
        let best: f64 = found.best.iter().map(|at| found.edges[*at].log_weight).sum();
        assert!((best - most).abs() < 1e-5, "case {case}: {best} {most}");
    }
}
