//! Dates foreseen for parts whose limit's date is known, beside two rules of thumb.

use super::plan::{self, Leg};
use super::{Life, Trade, log_within, speed, within};
use fastrand::Rng;
use halfglass::due::forecast::{Ask, Forecast, Limit, forecast};
use halfglass::due::usage::{self, Day};
use halfglass::due::{Interval, sailed};

/// So many days before the limit the date is asked for.
pub const HORIZONS_DAYS: [u32; 3] = [30, 90, 180];

const HOUR_MS: f64 = 3_600_000.0;

/// What is known of the modes so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Modes {
    /// A ship with a legs file has in it what she sailed and what is planned; the others have neither.
    #[default]
    Legs,
    /// A legs file has in it what is planned, and nothing else.
    Plans,
    /// The same, and each ship's logger has a speed input.
    Speed,
}

/// The date foreseen for one part, as of one day; days from then on, so that the truth is the horizon.
#[derive(Clone, Debug)]
pub struct Case {
    /// What the ship does.
    pub trade: Trade,
    /// The truth: the limit falls so many days ahead.
    pub horizon_days: u32,
    /// Days of history.
    pub history_days: usize,
    /// It was limited by starts.
    pub by_starts: bool,
    /// She was laid up at the time.
    pub laid_up: bool,
    /// The ship had a legs file.
    pub legs: bool,
    /// p10, p50 and p90 in days; none if no date was given.
    pub band_days: Option<[f64; 3]>,
    /// By the calendar average since fitting, in days.
    pub by_average_days: f64,
    /// By the last month's rate, in days.
    pub by_month_days: f64,
    /// What was said about it.
    pub said: Forecast,
}

/// A ship that can be asked about.
struct Asked {
    life: Life,
    by_starts: bool,
    fitted: f64,
    due: f64,
    /// The limit in what has run since the life began.
    limit: f64,
    /// How far her plans reach, in hours; none without a legs file.
    plans_h: Option<f64>,
}

/// All cases of so many lives, a quarter of them in each trade; each life is independent of the others.
#[must_use]
pub fn cases(lives: usize, seed: u64, modes: Modes) -> Vec<Case> {
    let one = |number: usize| {
        let trade = Trade::ALL[number % Trade::ALL.len()];
        // Seeds far from each other, for each life its own.
        let mut rng = Rng::with_seed(seed.wrapping_mul(1_000_003).wrapping_add(number as u64));
        life_cases(trade, modes, &mut rng)
    };
    (0..lives).flat_map(one).collect()
}

fn life_cases(trade: Trade, modes: Modes, rng: &mut Rng) -> Vec<Case> {
    let asked = loop {
        if let Some(asked) = draw(trade, rng) {
            break asked;
        }
    };
    HORIZONS_DAYS.iter().map(|days| case(&asked, *days, modes, rng)).collect()
}

/// Draws a life and a limit in it. `None`: its line ran too little for one.
fn draw(trade: Trade, rng: &mut Rng) -> Option<Asked> {
    let life = Life::draw(trade, rng);
    let by_starts = rng.f64() < 0.2;
    let (from, to) = life.limits;
    // Any figure that a limit in a manual can have, as likely as any other.
    let (limit, due) = if by_starts {
        let (from, to) = (life.starts(from), life.starts(to));
        let limit = within(rng, from, to).ceil();
        (limit, life.reached_starts(limit as usize)?)
    } else {
        let limit = within(rng, life.on_h(from), life.on_h(to));
        (limit, life.reached_on_h(limit)?)
    };
    if due < from || due > to {
        return None;
    }
    let plans_h = match trade {
        Trade::Liner if rng.f64() < 0.5 => Some(within(rng, 20.0, 80.0) * 24.0),
        Trade::Tramp if rng.f64() < 0.4 => Some(within(rng, 8.0, 40.0) * 24.0),
        Trade::LaidUp => Some(within(rng, 20.0, 60.0) * 24.0),
        _ => None,
    };
    // Between seven months and the whole life before.
    let fitted = within(rng, 0.0, due - 210.0 * 24.0);
    Some(Asked { life, by_starts, fitted, due, limit, plans_h })
}

fn case(asked: &Asked, horizon_days: u32, modes: Modes, rng: &mut Rng) -> Case {
    let Asked { life, by_starts, .. } = asked;
    let as_of = asked.due - f64::from(horizon_days) * 24.0;
    let history = log_within(rng, if life.trade == Trade::LaidUp { 90.0 } else { 20.0 }, 396.0);
    let since = (as_of - history * 24.0).max(0.0);
    let days = days(life, since, as_of);
    let amount = |at: f64| if *by_starts { life.starts(at) } else { life.on_h(at) };
    let run = amount(as_of) - amount(asked.fitted);
    let limit = asked.limit - amount(asked.fitted);
    // What readings and dark time leave open: little.
    let open = if *by_starts { 0.0 } else { within(rng, 0.0, 3.0) };
    let best = run + within(rng, -0.5, 0.5) * open;
    let now = Interval { low: (run - open).min(best), best, high: (run + open).max(best) };
    let at_present = life.stays.iter().find(|stay| stay.to > as_of);
    let laid_up = at_present.is_some_and(|stay| stay.mode == super::Mode::LaidUp);
    let legs = asked.plans_h.map(|plans_h| {
        // A date of return is known, however far off.
        let sails = at_present.filter(|_| laid_up).map_or(0.0, |stay| stay.to - as_of);
        plan::legs(&life.stays, since, as_of, plans_h + sails, rng)
    });
    let mut legs: Vec<usage::Leg> = legs.iter().flatten().map(leg).collect();
    let has_legs = !legs.is_empty();
    let as_of_ms = ms(as_of);
    if modes != Modes::Legs {
        legs.retain(|leg| leg.to_ms > as_of_ms);
    }
    if modes == Modes::Speed {
        let told = speed::told(life, since, as_of).into_iter();
        let told = told.map(|(from, to, mode)| usage::Leg { from_ms: ms(from), to_ms: ms(to), mode });
        legs = sailed::with_speed(&legs, &sailed::row(told.collect(), as_of_ms));
    }
    let amount_limit = Some(Limit {
        now,
        limit,
        since_fitting: Some((best, (as_of - asked.fitted) / 24.0)),
        passed_ms: None,
    });
    let (hours, starts) = if *by_starts { (None, amount_limit) } else { (amount_limit, None) };
    let said = forecast(&Ask { days: &days, legs: &legs, hours, starts, expiry: None, as_of_ms, seed: 1 });
    let in_days = |at: Option<i64>| at.map(|at| (at - as_of_ms) as f64 / HOUR_MS / 24.0);
    let band_days = in_days(said.p50_ms)
        .map(|p50| [in_days(said.p10_ms).unwrap_or(p50), p50, in_days(said.p90_ms).unwrap_or(f64::INFINITY)]);
    let left = limit - best;
    let month = days.get(days.len().saturating_sub(30)..).unwrap_or(&[]);
    let used: f64 = month.iter().map(|day| if *by_starts { day.starts } else { day.on_h }).sum();
    Case {
        trade: life.trade,
        horizon_days,
        history_days: days.len(),
        by_starts: *by_starts,
        laid_up,
        legs: has_legs,
        band_days,
        by_average_days: left / (run / ((as_of - asked.fitted) / 24.0)),
        by_month_days: left / (used / month.len() as f64),
        said,
    }
}

/// Totals of whole days, as a log has them.
fn days(life: &Life, since: f64, as_of: f64) -> Vec<Day> {
    let first = (since / 24.0).ceil() as i64;
    let last = (as_of / 24.0).floor() as i64;
    let day = |number: i64| {
        let (from, to) = (number as f64 * 24.0, (number + 1) as f64 * 24.0);
        Day {
            start_ms: ms(from),
            on_h: life.on_h(to) - life.on_h(from),
            starts: life.starts(to) - life.starts(from),
        }
    };
    (first..last).map(day).collect()
}

fn leg(leg: &Leg) -> usage::Leg {
    usage::Leg { from_ms: ms(leg.from), to_ms: ms(leg.to), mode: leg.mode }
}

fn ms(hours: f64) -> i64 {
    (hours * HOUR_MS).round() as i64
}
