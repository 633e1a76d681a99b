//! The planner held against every assignment there is, on random small ships.

use halfglass::plan::{self, Chance, Problem, Spare, Value, Window, Work};
use halfglass_tests::planning::{Case, DAY, HOUR, best, value, year};

/// What random ships look like.
struct Kind {
    name: &'static str,
    cases: u64,
    radars: usize,
    parts_max: usize,
    windows_max: usize,
    /// Everything is scarce: few windows suit, and they are short.
    tight: bool,
}

const KINDS: [Kind; 5] = [
    Kind { name: "two radars", cases: 10_000, radars: 2, parts_max: 2, windows_max: 5, tight: false },
    Kind { name: "two radars, tight", cases: 10_000, radars: 2, parts_max: 2, windows_max: 4, tight: true },
    Kind {
        name: "one radar, many parts",
        cases: 3_000,
        radars: 1,
        parts_max: 4,
        windows_max: 5,
        tight: true,
    },
    Kind { name: "four radars", cases: 5_000, radars: 4, parts_max: 1, windows_max: 5, tight: false },
    Kind { name: "three radars, tight", cases: 600, radars: 3, parts_max: 2, windows_max: 4, tight: true },
];

fn case(seed: u64, kind: &Kind) -> Case {
    let mut dice = fastrand::Rng::with_seed(seed);
    let now = 1_000 * DAY;
    let often = if kind.tight { 0.75 } else { 0.9 };
    let count = dice.usize(0..=kind.windows_max);
    let windows = (0..count)
        .map(|at| {
            let from = now + dice.i64(-20..160) * DAY / 2 + dice.i64(0..24) * HOUR;
            let long = if kind.tight { dice.i64(4..30) } else { dice.i64(6..90) } * HOUR;
            let blur = if dice.u8(0..4) == 0 { dice.i64(1..12) * HOUR } else { 0 };
            let noons =
                (dice.bool()).then(|| (-1..6).map(|day| (from / DAY + day) * DAY + 11 * HOUR).collect());
            let maybe = |dice: &mut fastrand::Rng, yes: f64| (dice.u8(0..9) > 0).then(|| dice.f64() < yes);
            Window {
                from_ms: from,
                to_ms: from + long,
                sure_from_ms: from + blur,
                sure_to_ms: from + long - blur / 2,
                place: format!("W{at}"),
                aloft: dice.f64() < often,
                transmit: maybe(&mut dice, often),
                deliver: maybe(&mut dice, 0.5),
                daylight_h: (dice.u8(0..9) > 0).then(|| *dice.choice(&[5.0, 8.0, 10.5, 16.0, 24.0]).unwrap()),
                noons_ms: noons,
                // Sums of eighths are exact in binary, so that both ways round alike.
                chance: (dice.bool()).then(|| f64::from(dice.u8(0..9)) / 8.0),
            }
        })
        .collect();
    let (mut works, mut dues) = (Vec::new(), Vec::new());
    for radar in 0..kind.radars {
        for part in 0..dice.usize(1..=kind.parts_max) {
            let due = due(&mut dice, now);
            works.push(Work {
                radar: format!("radar {radar}"),
                part: format!("part {part}"),
                work_h: (dice.u8(0..12) > 0).then(|| f64::from(dice.u8(4..20)) / 2.0),
                needs_aloft: dice.bool(),
                lead_time_days: (dice.u8(0..5) > 0).then(|| dice.u32(0..60)),
                spare: (dice.u8(0..3) > 0)
                    .then(|| Spare { serial: "S".to_owned(), from_ms: now + dice.i64(-30..30) * DAY }),
                due: Chance::new(due.clone()),
                use_h_per_day: (dice.u8(0..4) > 0).then(|| f64::from(dice.u8(2..24))),
                ..Work::default()
            });
            dues.push(due);
        }
    }
    Case { problem: Problem { as_of_ms: now, windows, works }, dues }
}

/// A date, a band, a long band of which part never comes, a limit that has passed, or nothing.
fn due(dice: &mut fastrand::Rng, now: i64) -> Vec<(i64, f64)> {
    let about = now + dice.i64(-5..90) * DAY + dice.i64(0..24) * HOUR;
    match dice.u8(0..6) {
        0 => vec![(about, 1.0)],
        1 => vec![(now - dice.i64(1..40) * DAY, 1.0)],
        2 => (1..=6).map(|step| (about + step * dice.i64(1..9) * DAY / 9, step as f64 / 8.0)).collect(),
        3 if dice.u8(0..4) == 0 => Vec::new(),
        _ => (1..=8).map(|step| (about + step * 3 * DAY, step as f64 / 8.0)).collect(),
    }
}

/// The assignment that an answer names, by the windows' names.
fn named(case: &Case, answer: &plan::Answer) -> Vec<Option<usize>> {
    let place = |planned: &plan::Planned| {
        let stay = planned.window.as_ref()?;
        case.problem.windows.iter().position(|window| window.place == stay.place)
    };
    answer.works.iter().map(place).collect()
}

#[test]
fn no_assignment_is_better_than_the_plan() {
    let (mut cases, mut tried_all, mut chance, mut both, mut days, mut joined, mut planned, mut full) =
        (0, 0, 0, 0, 0, 0, 0, 0);
    for kind in &KINDS {
        for seed in 0..kind.cases {
            let mut case = case(seed, kind);
            for due in &mut case.dues {
                due.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
                let mut high: f64 = 0.0;
                due.iter_mut().for_each(|(_, chance)| {
                    high = high.max(*chance);
                    *chance = high;
                });
            }
            let answer = plan::plan(&case.problem);
            let (least, tried, held) = best(&case);
            let story =
                || format!("{}, seed {seed}: {:#?}\n{:#?}\n{answer:#?}", kind.name, case.problem, case.dues);
            assert_eq!(answer.value, least, "{}", story());
            assert!(answer.exact, "{}", story());
            let assignment = named(&case, &answer);
            assert_eq!(value(&case, &assignment), Some(least), "{}", story());
            cases += 1;
            tried_all += tried;
            let Value { chance_percent, both: together, days_over, isolations, .. } = least;
            let done = assignment.iter().flatten().count() as i64;
            chance += u32::from(chance_percent > 0);
            both += u32::from(together > 0);
            days += u32::from(days_over > 0);
            joined += u32::from(isolations < done);
            planned += u32::from(done > 0);
            full += u32::from(held < tried);
        }
    }
    println!(
        "{cases} ships, {tried_all} assignments; value the same in all. With something planned: {planned}; a limit at \
         risk: {chance}; both radars together: {both}; a limit passed: {days}; works joined: {joined}; assignments \
         without room: {full}"
    );
    // Cases in which a figure is always 0 would not test it.
    for count in [chance, both, days, joined, planned, full] {
        assert!(count * 50 > cases, "{count} of {cases}");
    }
}

#[test]
fn where_there_are_too_many_ways_the_answer_says_so_and_still_stands() {
    // Fifty radars that all have to share one ship's forty stays: no ship is like that.
    let case = year(&mut fastrand::Rng::with_seed(1), 50, 2, 40);
    let answer = plan::plan(&case.problem);
    assert!(!answer.exact && answer.least < answer.value, "{:?} {:?}", answer.least, answer.value);
    assert_eq!(
        value(&case, &named(&case, &answer)),
        Some(answer.value),
        "the windows hold it, and it is worth that"
    );
    assert_eq!(plan::plan(&case.problem), answer, "twice the same");
}
