//! What stands beside the dates, all the way from facts in a ship folder to the program's answer: what removals tell, spares,
//! conditions, deferrals. Expected figures are published ones, or what other people's libraries make of the same figures.

use halfglass_protocol::config::Config;
use halfglass_tests::command::{DEVICE, Place, SHIP};
use halfglass_tests::{even_log, schema};
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::Stdio;

/// 100 days of 10 h are behind.
const AS_OF: &str = "2026-04-11T00:00Z";

/// The rows of a data file, without its heading.
fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/lives").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    let number = |cell: &str| cell.parse().unwrap_or_else(|fault| panic!("{name}: {cell}: {fault}"));
    text.lines().skip(1).map(|line| line.split(',').map(number).collect()).collect()
}

/// A life as people write it down: hours at fitting, hours that the counter then ran to, why it was taken out.
#[derive(Clone, Copy)]
struct Written {
    at_fit_h: f64,
    ran_h: f64,
    because: &'static str,
}

fn ran(ran_h: f64, because: &'static str) -> Written {
    Written { at_fit_h: 0.0, ran_h, because }
}

/// fittings.csv of parts one after the other, by the radar's counter, an hour apart from 2000 on; the last one is in since the
/// start of 2026, when the logger began. One more row than lives.
fn fittings(lives: &[Written]) -> String {
    let mut text =
        "at,radar,part,serial,counter_zeroed,hours_at_fit,counter_before,counter_after,removed_because\n"
            .to_owned();
    let begin_s: i64 = 946_684_800;
    for at in 0..=lives.len() {
        let time =
            jiff::Timestamp::from_second(begin_s + 3_600 * i64::try_from(at).unwrap()).unwrap().to_string();
        let time = if at == lives.len() { "2026-01-01T00:00:00Z".to_owned() } else { time };
        let (before, because) = match at.checked_sub(1).map(|last| lives[last]) {
            Some(last) => (last.ran_h.to_string(), last.because),
            None => (String::new(), ""),
        };
        let at_fit_h = lives.get(at).map_or(0.0, |life| life.at_fit_h);
        text.push_str(&format!("{time},S-band,magnetron,N-{at},yes,{at_fit_h},{before},0,{because}\n"));
    }
    text
}

/// A ship with these lives behind her, and a logger that saw so many hours on each of 100 days. `more`: further lines of the part
/// and of ship.toml.
fn ship(lives: &[Written], on_h: Option<u32>, more: &str) -> Place {
    let place = Place::with_ship(&format!("{SHIP}{more}"));
    if let Some(on_h) = on_h {
        let on_h = [on_h, on_h, on_h, on_h, 0, 0, 0, 0];
        let records = even_log::records(100, Config::as_in_guide(), on_h, &[]);
        place.write("log.hgd", even_log::dump(DEVICE, &records));
        place.ship(&["import", "dump", "log.hgd"]).fine();
    }
    place.write("fittings.csv", fittings(lives));
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    place
}

/// An answer, held against the schema that the program itself prints.
fn asked(place: &Place, args: &[&str]) -> Value {
    let answer = place.ship(&[args, &["--as-of", AS_OF, "--json"]].concat()).fine().json();
    let described = place.run(&["schema", args[0]]).fine().json();
    schema::check(&described, &answer).unwrap_or_else(|fault| panic!("{fault}\n{answer:#}"));
    answer
}

fn life(place: &Place) -> Value {
    asked(place, &["due"])["parts"][0]["life"].clone()
}

/// What other people's libraries say: `tests/oracles/facts.py`.
fn said(question: &Value) -> Value {
    let mut command = xtask::oracles::script("facts.py")
        .unwrap_or_else(|fault| panic!("nothing to compare with: {fault:#}"));
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(question.to_string().as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{command:?} ended with {}", output.status);
    serde_json::from_slice(&output.stdout).unwrap()
}

#[track_caller]
fn near(got: &Value, expected: f64, relative: f64) {
    let figure = got.as_f64().unwrap_or_else(|| panic!("{got} for {expected}"));
    assert!((figure - expected).abs() <= relative * expected.abs(), "{figure} for {expected}");
}

fn nist() -> Vec<Written> {
    let life = |row: Vec<f64>| ran(row[0], if row[1] == 1.0 { "failed" } else { "limit" });
    rows("nist_apr413_weibull.csv").into_iter().map(life).collect()
}

/// Source: NIST/SEMATECH e-Handbook 8.4.1.3 (606.5280 and 1.7208); more digits: scipy 1.17.1, lifelines 0.30.3, reliability 0.9.0 and
/// surpyval 0.25, which agree; limits on the logarithmic scale: reliability 0.9.0.
#[test]
fn nist_s_weibull_example_written_down_as_fittings() {
    let place = ship(&nist(), None, "");
    let life = life(&place);
    assert_eq!((&life["failures"], &life["taken_out"]["limit"]), (&10.into(), &10.into()), "{life:#}");
    assert_eq!(
        (&life["running"], &life["without_hours"]),
        (&0.into(), &1.into()),
        "no log: the one that is in"
    );
    near(&life["scale_h"]["best"], 606.52756, 1e-6);
    near(&life["shape"]["best"], 1.72079726, 1e-6);
    for (figure, low, high) in [
        ("scale_h", 405.089, 908.135),
        ("shape", 0.97127, 3.04875),
        ("b10_h", 83.8751, 320.755),
        ("median_h", 340.207, 706.248),
    ] {
        near(&life[figure]["low"], low, 1e-4);
        near(&life[figure]["high"], high, 1e-4);
    }
    near(&life["b10_h"]["best"], 164.0224, 1e-6);
    assert_eq!(
        (&life["cost_ratio"], &life["cheapest"]),
        (&Value::Null, &Value::Null),
        "nobody said what one costs"
    );
    place.ship(&["due", "--as-of", AS_OF]).fine().says(&[
        "Of 20 taken out so far, 10 failed.",
        "one in ten fails by 164 h (83.9 to 321)",
        "without failure_cost_ratio in ship.toml",
        "Left out of this: 1 without known hours",
    ]);
}

/// Source: relife's documentation, 'Basics', shape 3.46597396 and rate 0.0122785; recomputed: relife 3.0.0. Its years are taken as
/// hours, and its 1,650 lives as removals from 110 radars that have the same part.
#[test]
fn relife_s_transformers_that_were_old_when_first_seen() {
    const EACH: usize = 15;
    let written: Vec<Written> = rows("power_transformer.csv")
        .into_iter()
        .map(|row| Written {
            at_fit_h: row[2],
            ran_h: row[0] - row[2],
            because: if row[1] == 1.0 { "failed" } else { "moved" },
        })
        .collect();
    let mut toml = "[ship]\nname = \"MV Calder Sound\"\n".to_owned();
    let mut csv = String::new();
    for (at, lives) in written.chunks(EACH).enumerate() {
        let name = format!("radar {at}");
        toml.push_str(&format!(
            "[[radar]]\nname = \"{name}\"\nlogger = \"{at:016x}\"\nlines = {{ transmit = 2 }}\n\
             [[part]]\nradar = \"{name}\"\nname = \"magnetron\"\ntype = \"M-9\"\nages_by = \"transmit\"\n"
        ));
        let fittings = fittings(lives).replace("S-band", &name);
        csv.push_str(if at == 0 { &fittings } else { fittings.split_once('\n').unwrap().1 });
    }
    let place = Place::with_ship(&toml);
    place.write("fittings.csv", csv);
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    let life = life(&place);
    assert_eq!(life["radars"].as_array().unwrap().len(), 110);
    assert_eq!((&life["failures"], &life["taken_out"]["moved"]), (&318.into(), &1_332.into()));
    near(&life["shape"]["best"], 3.46597396, 1e-5);
    near(&life["scale_h"]["best"], 1.0 / 0.0122785, 1e-5);
}

/// Beside lifelines, scipy and relife: the part that is in, at 1,000 h by its logger, is one more life; it is to live until a stay 20
/// days ahead at 10 h a day.
#[test]
fn what_removals_tell_of_the_part_that_is_in() {
    let lives: Vec<Written> =
        nist().into_iter().map(|life| Written { ran_h: life.ran_h * 10.0, ..life }).collect();
    let place = ship(&lives, Some(10), "failure_cost_ratio = 5\n");
    place.write("windows.csv", "from,to,place,aloft\n2026-05-01T00:00Z,2026-05-02T00:00Z,Kiel,yes\n");
    place.ship(&["import", "windows", "windows.csv"]).fine();
    let answer = asked(&place, &["due"]);
    let (life, hours) = (&answer["parts"][0]["life"], &answer["parts"][0]["hours"]["best"]);
    near(hours, 1_000.0, 1e-3);
    let rows: Vec<Value> = lives
        .iter()
        .map(|life| json!([life.ran_h, life.because == "failed"]))
        .chain([json!([hours, false])])
        .collect();
    let said = &said(&json!({
        "lives": rows, "confidence": 0.95, "cost_ratio": 5.0, "limit": 3_600.0, "age": hours, "more": 200.0
    }))["lives"];
    for (figure, theirs) in [
        ("scale_h", "scale"),
        ("shape", "shape"),
        ("b10_h", "b10"),
        ("median_h", "median"),
        ("reaches_limit", "reaches"),
    ] {
        near(&life[figure]["best"], said[theirs].as_f64().unwrap(), 1e-5);
    }
    for (figure, theirs) in [("scale_h", "scale_limits"), ("shape", "shape_limits")] {
        near(&life[figure]["low"], said[theirs][0].as_f64().unwrap(), 1e-4);
        near(&life[figure]["high"], said[theirs][1].as_f64().unwrap(), 1e-4);
    }
    assert_eq!(
        (&life["lives_on"]["place"], &life["lives_on"]["until"]),
        (&"Kiel".into(), &"2026-05-01T00:00:00Z".into())
    );
    near(&life["lives_on"]["chance"], said["lives_on"].as_f64().unwrap(), 1e-4);
    near(&life["cheapest"]["age_h"], said["cheapest"].as_f64().unwrap(), 1e-4);
    assert_eq!(life["running"], 1);
    place.ship(&["due", "--as-of", AS_OF]).fine().says(&[
        "reach the maker's limit of 3600 h, which is what counts",
        "This one lives until the next stay (Kiel, 2026-05-01) with",
        "The maker's limit is what counts.",
    ]);
}

/// Rules, by hand: fewer than five failures tell nothing; weak counts when that is chosen; unknown is left out and counted.
#[test]
fn four_failures_and_a_weak_one() {
    let mut lives = vec![ran(5_200.0, "failed"); 3];
    lives.extend([
        ran(6_100.0, "failed"),
        ran(5_900.0, "weak"),
        ran(7_000.0, "unknown"),
        ran(800.0, "damaged"),
    ]);
    let place = ship(&lives, None, "failure_cost_ratio = 5\n");
    let few = life(&place);
    assert_eq!((&few["failures"], &few["failures_needed"]), (&4.into(), &5.into()));
    assert_eq!((&few["scale_h"], &few["cheapest"]), (&Value::Null, &Value::Null));
    assert!(few["why_not"].as_str().unwrap().contains("4 failures are known and 5 are needed"), "{few:#}");
    assert_eq!(
        few["taken_out"],
        json!({"limit": 0, "failed": 4, "weak": 1, "damaged": 1, "moved": 0, "unknown": 1})
    );
    place.ship(&["due", "--as-of", AS_OF]).fine().says(&[
        "Of 7 taken out so far, 4 (with known hours) failed: nothing is told of how long they live from fewer than 5 failures.",
        "1 taken out for a reason that nobody wrote",
    ]);
    let chosen = asked(&place, &["due", "--weak-failed"])["parts"][0]["life"].clone();
    assert_eq!((&chosen["failures"], &chosen["weak_counts_as_failed"]), (&5.into(), &true.into()));
    assert!(chosen["scale_h"]["best"].is_number(), "{chosen:#}");
    place.ship(&["due", "--as-of", AS_OF, "--weak-failed"]).fine().says(&["weak ones counted as failed"]);
}

/// Source: NIST/SEMATECH e-Handbook 8.4.5.2, ten failures in 1,500 h, as removals at its place: growth 0.516494 by its script;
/// Laplace and MIL-HDBK-189 recomputed by their formulas.
#[test]
fn nist_s_trend_example_written_down_as_fittings() {
    let at_h: Vec<f64> = rows("nist_apr452_powerlaw.csv").into_iter().map(|row| row[0]).collect();
    let mut before_h = 0.0;
    let mut lives: Vec<Written> =
        at_h.iter().map(|at_h| ran(at_h - std::mem::replace(&mut before_h, *at_h), "failed")).collect();
    lives.push(ran(1_500.0 - before_h, "limit"));
    let trend = &life(&ship(&lives, None, ""))["trends"][0];
    assert_eq!((&trend["radar"], &trend["failures"]), (&"S-band".into(), &10.into()));
    near(&trend["laplace"], -1.326949, 1e-6);
    near(&trend["mil_hdbk_189"], 37.22808, 1e-6);
    near(&trend["power"], 1.0 - 0.516494, 1e-5);
}

/// 2 failures in 20,000 h by the counters and the logger, 10 h a day: 1 failure in 1,000 days. Source of the stock:
/// `scipy.stats.poisson.ppf`, version 1.17.1, for these means and shares; the same by the pinned version, and limits of the rate by
/// chi-square (Garwood).
#[test]
fn spares_for_early_failures_as_they_were_counted() {
    let lives = [ran(9_000.0, "failed"), ran(10_000.0, "failed")];
    let place = ship(&lives, Some(10), "");
    // A limit so far off that no renewal falls into any of these stretches.
    place.write("ship/ship.toml", SHIP.replace("limit_h = 3600", "limit_h = 900000"));
    let table: [(f64, [u64; 4]); 5] = [
        (0.5, [1, 1, 2, 3]),
        (1.0, [2, 2, 3, 4]),
        (2.0, [3, 4, 5, 6]),
        (3.0, [4, 5, 6, 8]),
        (5.0, [7, 8, 9, 11]),
    ];
    let (mut asked_rows, mut got) = (Vec::new(), Vec::new());
    for (mean, row) in table {
        let days = format!("{}", mean * 1_000.0);
        for (sure, early) in [0.8, 0.9, 0.95, 0.99].into_iter().zip(row) {
            let plan = asked(&place, &["plan", "--spares-days", &days, "--spares-sure", &sure.to_string()]);
            let stock = plan["stock"][0].clone();
            assert_eq!(stock["early_failures"], early, "{mean} {sure}: {stock:#}");
            assert_eq!((&stock["renewals"], &stock["order"]), (&0.into(), &early.into()));
            asked_rows.push(json!({
                "failures": 2, "watched": 20_000.0, "use": 10.0, "days": mean * 1_000.0, "sure": sure, "aboard": 0
            }));
            got.push(stock);
        }
    }
    for (stock, said) in got.iter().zip(said(&json!({ "stock": asked_rows }))["stock"].as_array().unwrap()) {
        assert_eq!(stock["early_failures"], said["early"], "{stock:#}");
        assert_eq!(stock["early_failures_at_most"], said["at_most"], "{stock:#}");
        near(&stock["covered"], said["covered"].as_f64().unwrap(), 1e-3);
        near(&stock["failures_low"], said["low"].as_f64().unwrap() * 1_000.0, 1e-3);
        near(&stock["failures_high"], said["high"].as_f64().unwrap() * 1_000.0, 1e-3);
    }
    let text = place.ship(&["plan", "--as-of", AS_OF]);
    text.fine().says(&[
        "Spares for the next 365 days, to last with 95 %",
        "2 failed in 20000 h",
        "2 (up to 3)",
    ]);
}

/// Rules, by hand: 1,000 h of 3,600 are run, at 10 h a day 260 days are left; the next limit is 360 days behind that.
#[test]
fn spares_for_renewals_and_what_is_missing() {
    let place = ship(&[], Some(10), "");
    let stock = asked(&place, &["plan", "--spares-days", "630"])["stock"][0].clone();
    assert_eq!((&stock["renewals"], &stock["order"]), (&2.into(), &2.into()));
    assert_eq!((&stock["early_failures"], &stock["missing"]), (&Value::Null, &json!(["removals"])));
    // 260 days from 2026-04-11 are 2026-12-27, 45 before that 2026-11-12; one chance in ten is some weeks earlier.
    let by = stock["order_by"].as_str().unwrap();
    assert!(("2026-10-01".."2026-11-12").contains(&by), "{stock:#}");
    let none = "none was ever recorded as taken out, so no rate of early failures is known";
    place.ship(&["plan", "--as-of", AS_OF]).fine().says(&[none]);
    // Both commands and all tables say one date: 45 days before the earliest of ten futures.
    let part = asked(&place, &["due"])["parts"][0].clone();
    let instant = |value: &Value| value.as_str().unwrap().parse::<jiff::Timestamp>().unwrap();
    let early_s = instant(&part["due"]["p10"]).as_second() - instant(&part["spares"]["order_by"]).as_second();
    assert!((early_s - 45 * 86_400).abs() <= 1, "{part:#}");
    let plan = asked(&place, &["plan"]);
    assert_eq!(plan["works"][0]["order_by"], part["spares"]["order_by"]);
    let first_s = instant(&stock["order_by"]).as_second();
    assert!((first_s - instant(&part["spares"]["order_by"]).as_second()).abs() <= 1, "{stock:#}");
    let aboard = "[[spare]]\nradar = \"S-band\"\npart = \"magnetron\"\nserial = \"B-2207\"\nlast_run = \"2024\"\n\
                  warranty_until = \"2026-04\"\n";
    place.write("ship/ship.toml", format!("{SHIP}{aboard}"));
    let stock = asked(&place, &["plan"])["stock"][0].clone();
    assert_eq!(
        (&stock["aboard"], &stock["order"], &stock["order_by"]),
        (&json!(["B-2207"]), &0.into(), &Value::Null)
    );
    place.ship(&["plan", "--as-of", AS_OF]).fine().says(&[
        "Spare B-2207 last ran in 2024: see in the set's manual",
        "Spare B-2207: its warranty ends in 2026-04, before it is to be put in",
    ]);
    // Nobody said how long one takes to come.
    place.write("ship/ship.toml", SHIP.replace("lead_time_days = 45\n", ""));
    let answer = asked(&place, &["due"]);
    assert_eq!(answer["parts"][0]["spares"]["missing"], "lead_time_days");
    place
        .ship(&["plan", "--as-of", AS_OF])
        .fine()
        .says(&["lead_time_days is missing in ship.toml", "needed 2026-1"]);
    place.write("ship/ship.toml", format!("{SHIP}work_hours = 4\nneeds_aloft = true\n"));
    // With a stay to put it in, it is that stay that counts, for both.
    place.write(
        "windows.csv",
        "from,to,place,aloft,transmit,deliver,daylight\n\
         2026-10-01T00:00Z,2026-10-05T00:00Z,Kiel,yes,yes,yes,24\n",
    );
    place.ship(&["import", "windows", "windows.csv"]).fine();
    let (due, plan) = (asked(&place, &["due"]), asked(&place, &["plan"]));
    let by = &due["parts"][0]["spares"]["order_by"];
    assert_eq!((by, by), (&"2026-08-17T00:00:00Z".into(), &plan["works"][0]["order_by"]), "{plan:#}");
    assert_eq!(by, &plan["stock"][0]["order_by"], "{plan:#}");
}

/// Rules: two radars share spares and lives only where name and type say that they hold the same part.
#[test]
fn one_kind_of_part_in_two_radars() {
    let x_band = |kind: &str| {
        format!(
            "{kind}[[radar]]\nname = \"X-band\"\nlogger = \"3f9c11d2a07be459\"\nlines = {{ transmit = 2 }}\n\
             [[part]]\nradar = \"X-band\"\nname = \"magnetron\"\nages_by = \"transmit\"\n{kind}"
        )
    };
    let lives = [ran(5_000.0, "failed"), ran(6_000.0, "failed")];
    let place = ship(&lives, None, &x_band("type = \"M-9\"\n"));
    place.write("x.csv", fittings(&lives).replace("S-band", "X-band"));
    place.ship(&["import", "fittings", "x.csv"]).fine();
    let answer = asked(&place, &["due"]);
    for at in 0..2 {
        let life = &answer["parts"][at]["life"];
        assert_eq!(
            (&life["radars"], &life["failures"]),
            (&json!(["S-band", "X-band"]), &4.into()),
            "{life:#}"
        );
    }
    assert_eq!(asked(&place, &["plan"])["stock"].as_array().unwrap().len(), 1);
    place.ship(&["due", "--as-of", AS_OF]).fine().says(&["of S-band and X-band (same name and type)"]);
    place.write("ship/ship.toml", format!("{SHIP}{}", x_band("")));
    let answer = asked(&place, &["due"]);
    assert_eq!(
        (&answer["parts"][0]["life"]["failures"], &answer["parts"][1]["life"]["failures"]),
        (&2.into(), &2.into())
    );
}

/// Source: NIST's certified values for Norris (StRD): slope 1.00211681802045, its deviation 0.000429796848199937, height
/// -0.262323073774029, of 36 points. Student's t at 97.5 % with 34 degrees of freedom: 2.03224450931772 (scipy 1.17.1).
#[test]
fn nist_s_certified_line_measured_as_tube_current() {
    let place = ship(&[], None, "");
    let fitted_s = i64::try_from(even_log::START_MS / 1_000).unwrap();
    let mut csv = "at,radar,quantity,value,unit,pulse,range_nm\n".to_owned();
    for row in rows("norris.csv") {
        let at = jiff::Timestamp::from_second(fitted_s + (row[0] * 86_400.0).round() as i64).unwrap();
        csv.push_str(&format!("{at},S-band,tuning,{},%,long,24\n", row[1]));
    }
    // At other settings, and from before the fitting: neither is compared.
    csv.push_str(
        "2026-06-01T00:00Z,S-band,tuning,9000,%,short,24\n2025-12-31T00:00Z,S-band,tuning,9000,%,long,24\n",
    );
    place.write("conditions.csv", csv);
    place.ship(&["import", "conditions", "conditions.csv"]).fine();
    let answer = place.ship(&["due", "--as-of", "2029-01-01T00:00Z", "--json"]).fine().json();
    let all = answer["conditions"].as_array().unwrap();
    let line = all.iter().find(|series| series["pulse"] == "long").unwrap();
    assert_eq!((all.len(), &line["figures"], &line["trend"]), (2, &36.into(), &"rising".into()));
    near(&line["slope_per_day"], 1.00211681802045, 1e-10);
    near(&line["at_fitting"], -0.262323073774029, 1e-8);
    let reach = 0.000429796848199937 * 2.03224450931772;
    near(&line["slope_low"], 1.00211681802045 - reach, 1e-9);
    near(&line["slope_high"], 1.00211681802045 + reach, 1e-9);
    assert_eq!(line["warning"], false, "which way tuning wears is not known");
}

/// Trade opinion (a marine engineers' forum): a tube whose current at the longest pulse is half of new is consumed. By hand.
#[test]
fn a_tube_current_that_falls_warns_beside_the_hours() {
    let place = ship(&[], Some(10), "");
    let before = asked(&place, &["due"]);
    let mut csv = "at,radar,quantity,value,unit,pulse,range_nm\n".to_owned();
    for (day, value) in [("01-05", 8.0), ("02-04", 7.1), ("03-06", 5.9), ("04-05", 4.0)] {
        csv.push_str(&format!("2026-{day}T08:00Z,S-band,tube current,{value},mA,long,24\n"));
    }
    place.write("conditions.csv", csv);
    place.ship(&["import", "conditions", "conditions.csv"]).fine();
    let after = asked(&place, &["due"]);
    let series = &after["conditions"][0];
    assert_eq!(
        (&series["warning"], &series["trend"], &series["left_share"]),
        (&true.into(), &"falling".into(), &0.5.into())
    );
    assert_eq!(after["parts"], before["parts"], "never mixed into the hours, the date or the state");
    place.ship(&["due", "--as-of", AS_OF]).fine().says(&[
        "Condition, beside the hours and not reckoned into them",
        "LOOK: S-band, tube current (long pulse, 24 nm): 8 to 4 mA by 2026-04-05, 50 % of the first figure; falling",
        "opinion of marine engineers",
    ]);
}

fn defer(place: &Place, more: &[&str]) {
    let deferral =
        ["add", "deferral", "--radar", "S-band", "--part", "magnetron", "--reason", "spare at customs"];
    place.ship(&[&deferral, more, &["--approved-by", "the office"]].concat()).fine();
}

/// 1,000 h at a limit of 900 h, 10 h a day. By hand: passed on 1 April; hours until 1,100 last until 21 April.
#[test]
fn a_deferral_from_its_decision_to_its_end() {
    let place = ship(&[], Some(10), "");
    place.write("ship/ship.toml", SHIP.replace("limit_h = 3600", "limit_h = 900"));
    let part = |place: &Place| asked(place, &["due"])["parts"][0].clone();
    assert_eq!(part(&place)["state"], "overdue");
    assert_eq!(place.ship(&["due", "--check", "--as-of", AS_OF]).code, 1);
    defer(&place, &["--at", "2026-04-05T00:00Z", "--until-h", "1100"]);
    let deferred = part(&place);
    assert_eq!((&deferred["state"], &deferred["limit_h"]), (&"deferred".into(), &900.0.into()));
    near(&deferred["remaining_h"], -100.0, 1e-3);
    assert!(
        deferred["due"]["p50"].as_str().unwrap().starts_with("2026-04-01"),
        "the maker's stays: {deferred:#}"
    );
    let off = &deferred["deferral"];
    assert!(off["due"]["p50"].as_str().unwrap().starts_with("2026-04-2"), "{off:#}");
    assert_eq!((&off["stands"], &off["until_h"]), (&"yes".into(), &1_100.0.into()));
    place.ship(&["due", "--check", "--as-of", AS_OF]).fine().says(&[
        "deferred to 2026-04-2",
        "100 h over",
        "Deferred until 1100 h: spare at customs (approved by the office).",
    ]);
    // Both commands say the same.
    let work = asked(&place, &["plan"])["works"][0].clone();
    assert_eq!(
        (&work["deferral"], &work["chance_passed"]),
        (off, &1.0.into()),
        "no stay is entered: {work:#}"
    );
    // A later decision takes its place, and has ended.
    defer(&place, &["--at", "2026-04-06T00:00Z", "--until", "2026-04-10T00:00Z"]);
    let ended = part(&place);
    assert_eq!((&ended["state"], &ended["deferral"]["stands"]), (&"overdue".into(), &"ended".into()));
    place
        .ship(&["due", "--as-of", AS_OF])
        .fine()
        .says(&["The deferral until 2026-04-10 00:00 UTC has ended"]);
    // As of the day before it was decided, the first one is not over.
    let then = place.ship(&["due", "--as-of", "2026-04-05T12:00Z", "--json"]).fine().json();
    assert_eq!(then["parts"][0]["state"], "deferred");
    // A new part has no deferral.
    let fitting = [
        "add",
        "fitting",
        "--at",
        "2026-04-10T12:00Z",
        "--radar",
        "S-band",
        "--part",
        "magnetron",
        "--serial",
        "B-2207",
        "--counter-zeroed",
        "yes",
    ];
    place.ship(&fitting).fine();
    assert_eq!(part(&place)["deferral"], Value::Null);
}
