use super::*;
use crate::ship::facts::{
    Answer, Condition, Deferral, Fitting, Leg, LoggerExchange, Mode, Reading, Window, Work, Zone,
};
use crate::time::Moment;
use rusqlite::Connection;
use std::result::Result;

fn fresh() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("halfglass.db")).unwrap();
    (folder, store)
}

fn reading(at: Moment, hours: f64) -> Reading {
    Reading { at, radar: "S".into(), quantity: "transmit".into(), hours, source: None, by: None }
}

fn exchange(at_ms: i64, radar: &str, logger: u64) -> LoggerExchange {
    let (radar, reason) = (radar.to_owned(), "broken".to_owned());
    LoggerExchange { at: Moment::exact(at_ms), radar, logger, serial: None, reason, by: None }
}

/// A database as version 0.1.0 left it: the rows are its own, from an import of two readings and two fittings.
#[test]
fn a_database_of_the_first_format_is_brought_up_and_the_same_facts_are_not_new() {
    const READINGS: [&str; 2] = [
        r#"{"at_ms":1772352000000,"radar":"S-band","quantity":"transmit","hours":3121.5,"source":null,"by":"Okoro, J"}"#,
        r#"{"at_ms":1775030400000,"radar":"S-band","quantity":"heater","hours":4000.0,"source":"X-band","by":null}"#,
    ];
    const FITTINGS: [&str; 2] = [
        r#"{"at_ms":1772352000000,"radar":"S-band","part":"magnetron","serial":"B-1","counter_zeroed":true,"zeroed_at_ms":1772355600000,"counter_before":null,"counter_after":null,"hours_at_fit":0.0,"removed_serial":null,"removed_because":"limit","by":null}"#,
        r#"{"at_ms":1772438400000,"radar":"S-band","part":"magnetron","serial":"B-2","counter_zeroed":false,"zeroed_at_ms":null,"counter_before":null,"counter_after":null,"hours_at_fit":null,"removed_serial":null,"removed_because":null,"by":null}"#,
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("halfglass.db");
    let old = Connection::open(&path).unwrap();
    old.execute_batch(include_str!("migrations/001_facts.sql")).unwrap();
    old.pragma_update(None, "user_version", 1).unwrap();
    for (table, rows) in [("readings", READINGS), ("fittings", FITTINGS)] {
        for row in rows {
            let add =
                format!("INSERT INTO {table} (at_ms, content) VALUES (json_extract(?1, '$.at_ms'), ?1)");
            old.execute(&add, [row]).unwrap();
        }
    }
    drop(old);

    let mut store = Store::open(&path).unwrap();
    let readings: Vec<Reading> = store.standing().unwrap().into_iter().map(|kept| kept.fact).collect();
    let fittings: Vec<Fitting> = store.standing().unwrap().into_iter().map(|kept| kept.fact).collect();
    assert_eq!(readings[0].at, Moment::exact(1_772_352_000_000));
    assert_eq!(fittings[0].zeroed_at, Some(Moment::exact(1_772_355_600_000)));
    assert_eq!((readings[1].at_ms(), fittings[1].at_ms()), (1_775_030_400_000, 1_772_438_400_000));
    assert_eq!((store.add_all(&readings).unwrap(), store.add_all(&fittings).unwrap()), (0, 0));
    assert!(store.standing::<Zone>().unwrap().is_empty());
    drop(store);
    // Once brought up it stays so.
    assert_eq!(Store::open(&path).unwrap().standing::<Reading>().unwrap().len(), 2);
}

#[test]
fn no_kind_can_be_edited() {
    let (_folder, store) = fresh();
    let sql = "SELECT name FROM sqlite_schema WHERE type = 'table' AND sql LIKE '%supersedes%'";
    let mut find = store.db.prepare(sql).unwrap();
    let tables: Vec<String> = find.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    assert_eq!(tables.len(), 10);
    for table in tables {
        let run = |sql: &str| store.db.execute(&sql.replace("TABLE", &table), []);
        run("INSERT INTO TABLE (at_ms, content) VALUES (1, 'x')").unwrap();
        for sql in ["UPDATE TABLE SET content = ''", "UPDATE TABLE SET supersedes = 1", "DELETE FROM TABLE"] {
            assert!(run(sql).unwrap_err().to_string().contains("append-only"), "{table}: {sql}");
        }
        assert!(
            run("INSERT INTO TABLE (at_ms, content) VALUES (2, 'x')").is_err(),
            "{table}: the same twice"
        );
        run("INSERT INTO TABLE (at_ms, content, supersedes) VALUES (2, 'y', 1)").unwrap();
        for add in ["(3, 'z', 1)", "(3, 'z', 9)"] {
            let sql = format!("INSERT INTO TABLE (at_ms, content, supersedes) VALUES {add}");
            assert!(run(&sql).is_err(), "{table}: corrected twice, or what is not there");
        }
    }
}

#[test]
fn two_figures_at_one_instant_are_both_kept() {
    let (_folder, mut store) = fresh();
    let at = Moment::exact(5);
    assert_eq!(store.add_all(&[reading(at, 2_713.0), reading(at, 2_173.0)]).unwrap(), 2);
    assert_eq!(store.facts(5).unwrap().readings.len(), 2);
}

#[test]
fn a_correction_may_lead_back_to_what_was_set_aside() {
    let (_folder, mut store) = fresh();
    let (right, wrong) = (reading(Moment::exact(5), 1.0), reading(Moment::exact(5), 2.0));
    assert_eq!(store.add(&right, None).unwrap(), (1, true));
    assert_eq!(store.add(&wrong, Some(1)).unwrap(), (2, true));
    // Without --corrects it is what it was: known, and set aside.
    assert_eq!(store.add(&right, None).unwrap(), (1, false));
    assert_eq!(store.add(&right, Some(2)).unwrap(), (3, true));
    assert_eq!(store.add(&right, Some(2)).unwrap(), (3, false));
    assert_eq!(store.standing::<Reading>().unwrap(), [Kept { id: 3, fact: right.clone() }]);
    // Neither file of before brings anything back.
    assert_eq!(store.add_all(&[right, wrong]).unwrap(), 0);
    assert_eq!(store.standing::<Reading>().unwrap().len(), 1);
}

#[test]
fn one_offset_at_a_time() {
    let (_folder, mut store) = fresh();
    let zone = |from_ms, offset_s| Zone { from_ms, offset_s };
    assert_eq!(store.add_all(&[zone(0, 3_600), zone(1_000, 7_200)]).unwrap(), 2);
    let refused = store.add_all(&[zone(2_000, 3_600), zone(1_000, 10_800)]).unwrap_err().to_string();
    for word in ["zone 2 says `1970-01-01T00:00:01Z,+02:00`", "`1970-01-01T00:00:01Z,+03:00`", "--corrects 2"]
    {
        assert!(refused.contains(word), "{refused}");
    }
    assert_eq!(store.standing::<Zone>().unwrap().len(), 2, "nothing was imported");
    assert!(store.add(&zone(1_000, 10_800), Some(1)).is_err(), "zone 2 still says otherwise");
    assert_eq!(store.add(&zone(1_000, 10_800), Some(2)).unwrap(), (3, true));
    assert_eq!(store.clock().unwrap().moment("1970-01-01T03:00:05").unwrap(), Moment::exact(5_000));
    // The file that was wrong changes nothing any more.
    assert_eq!(store.add_all(&[zone(1_000, 7_200)]).unwrap(), 0);
    assert_eq!(store.clock().unwrap().moment("1970-01-01T03:00:05").unwrap(), Moment::exact(5_000));
}

#[test]
fn every_kind_is_seen_as_of_its_date_and_plans_always() {
    let (_folder, mut store) = fresh();
    let at = Moment::exact(1_000);
    let words = || "words".to_owned();
    store.add(&reading(at, 1.0), None).unwrap();
    store.add(&Fitting::put_in(at, &words(), &words(), &words()), None).unwrap();
    store.add(&Work { from: at, to: at, radar: words(), part: None, what: words(), by: None }, None).unwrap();
    let answer = Answer { at, finding: words(), evidence: words(), text: words(), by: None };
    store.add(&answer, None).unwrap();
    let deferral = Deferral {
        at,
        radar: words(),
        part: words(),
        reason: words(),
        until_h: Some(1.0),
        until: None,
        approved_by: words(),
    };
    store.add(&deferral, None).unwrap();
    let condition = Condition {
        at,
        radar: words(),
        quantity: words(),
        value: 1.0,
        unit: words(),
        pulse: None,
        range_nm: None,
        by: None,
    };
    store.add(&condition, None).unwrap();
    store.add(&exchange(1_000, "S", 7), None).unwrap();
    let to = Moment::exact(2_000);
    store.add(&Leg { from: at, to, mode: Mode::Sea }, None).unwrap();
    let window = Window {
        from: at,
        to,
        place: words(),
        aloft: true,
        transmit: None,
        deliver: None,
        daylight_h: None,
        chance: None,
    };
    store.add(&window, None).unwrap();

    let count = |as_of_ms| {
        let facts = store.facts(as_of_ms).unwrap();
        let events = [
            facts.readings.len(),
            facts.fittings.len(),
            facts.works.len(),
            facts.answers.len(),
            facts.deferrals.len(),
            facts.conditions.len(),
            facts.exchanges.len(),
        ];
        (events, facts.legs.len(), facts.windows.len())
    };
    assert_eq!(count(999), ([0; 7], 1, 1));
    assert_eq!(count(1_000), ([1; 7], 1, 1));
}

#[test]
fn what_is_seen_as_of_a_date() {
    let (_folder, mut store) = fresh();
    // Dated by its day, from 0 to 24: seen from the first hour on.
    store.add(&reading(Moment::between(0, 24), 1.0), None).unwrap();
    let seen = |store: &Store, as_of_ms| store.facts(as_of_ms).unwrap().readings.len();
    assert_eq!((seen(&store, -1), seen(&store, 0)), (0, 1));
    // Its correction is dated later; from then on it is seen, and before that neither is.
    store.add(&reading(Moment::exact(50), 1.0), Some(1)).unwrap();
    assert_eq!((seen(&store, 0), seen(&store, 49), seen(&store, 50)), (0, 0, 1));
}

#[test]
fn loggers_that_watch_a_radar_one_after_the_other() {
    let (_folder, mut store) = fresh();
    let all = [exchange(30, "S", 3), exchange(10, "S", 2), exchange(20, "X", 9), exchange(40, "S", 3)];
    store.add_all(&all).unwrap();
    let watches = |as_of_ms| store.facts(as_of_ms).unwrap().watches("S", 1);
    let watch = |from: Option<i64>, logger| Watch { from: from.map(Moment::exact), logger };
    assert_eq!(watches(9), [watch(None, 1)]);
    assert_eq!(watches(99), [watch(None, 1), watch(Some(10), 2), watch(Some(30), 3)]);
}
