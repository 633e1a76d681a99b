//! A small backtest: of ships invented without a look at the model, about as many true due instants as promised lie inside the
//! band, and the dates beat the rules of thumb. The large one is `--bin backtest`; its outcome stands in docs/due.md.

use halfglass_tests::trade::Trade;
use halfglass_tests::trade::backtest::{Case, Modes, cases};
use halfglass_tests::trade::score::{row, wilson};

const LIVES: usize = 480;
/// Neither the model's tuning nor the outcome that is told used these lives.
const SEED: u64 = 4_711;

#[test]
fn the_band_holds_about_what_it_promises_in_each_trade() {
    let cases = cases(LIVES, SEED, Modes::Legs);
    for trade in Trade::ALL {
        let own: Vec<&Case> =
            cases.iter().filter(|case| case.trade == trade && case.band_days.is_some()).collect();
        let inside = |case: &&&Case| {
            let [p10, _, p90] = case.band_days.unwrap();
            (p10..=p90).contains(&f64::from(case.horizon_days))
        };
        let hits = own.iter().filter(inside).count();
        let (low, high) = wilson(hits, own.len());
        println!("{}: {hits} of {}, {low:.3} to {high:.3}", trade.name(), own.len());
        // Of what so few lives leave open, something must lie where the large backtest found each trade.
        assert!(high > 0.75 && low < 0.95, "{}: {hits} of {}", trade.name(), own.len());
    }
}

#[test]
fn dates_are_nearer_than_by_rules_of_thumb() {
    let cases = cases(LIVES, SEED, Modes::Legs);
    for trade in Trade::ALL {
        for days in [30, 90, 180] {
            let own: Vec<&Case> =
                cases.iter().filter(|case| case.trade == trade && case.horizon_days == days).collect();
            let row = row(trade, days, &own).unwrap();
            let [ours, average, month] = row.rules.map(|rule| rule.pinball_days);
            assert!(ours < month, "{} {days}: {ours:.2} against {month:.2} by the last month", trade.name());
            // The average since fitting is a good rule while trade goes on as ever; we use it too.
            assert!(
                ours < 1.25 * average,
                "{} {days}: {ours:.2} against {average:.2} by average",
                trade.name()
            );
        }
    }
}

/// A ship laid up with a date of return: her limit is not foreseen before she sails.
#[test]
fn no_date_lies_in_a_lay_up() {
    let of = |case: &&Case| case.laid_up && case.band_days.is_some();
    let cases = cases(LIVES, SEED, Modes::Legs);
    let own: Vec<&Case> = cases.iter().filter(of).collect();
    assert!(own.len() > 30, "{}", own.len());
    // A log that ends on the day on which she was laid up cannot show it yet.
    let told = |case: &&&Case| case.said.notes.iter().any(|note| note.contains("first leg at sea"));
    assert!(
        own.iter().filter(told).count() + 2 >= own.len(),
        "{} of {}",
        own.iter().filter(told).count(),
        own.len()
    );
    let without: Vec<&Case> = cases.iter().filter(|case| case.laid_up && case.band_days.is_none()).collect();
    assert!(!without.is_empty() && without.iter().all(|case| case.said.why_not.is_some()));
}

/// Plans are worth more where a speed input has told what she runs at sea and where she lies: in each trade that has any, by the loss
/// 30 days ahead, where plans matter most; and where there are none, dates are the same.
#[test]
fn a_speed_input_is_worth_something_where_nobody_records_the_legs_sailed() {
    let (plans, speed) = (cases(LIVES, SEED, Modes::Plans), cases(LIVES, SEED, Modes::Speed));
    for trade in Trade::ALL {
        let loss = |cases: &[Case]| -> f64 {
            let own = |case: &&Case| case.trade == trade && case.horizon_days == 30 && case.legs;
            let row = row(trade, 30, &cases.iter().filter(own).collect::<Vec<_>>());
            row.map_or(0.0, |row| row.rules[0].pinball_days)
        };
        let (without, with) = (loss(&plans), loss(&speed));
        println!("{}: {without:.2} days without, {with:.2} with", trade.name());
        assert!(if trade == Trade::Ferry { without == 0.0 } else { with < without }, "{}", trade.name());
    }
    for (without, with) in plans.iter().zip(&speed).filter(|(case, _)| !case.legs) {
        assert_eq!(without.said, with.said);
    }
}
