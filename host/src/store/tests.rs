use super::*;
use crate::ship::facts::Reading;
use crate::time::Moment;
use halfglass_protocol::dump::{Header, Writer};
use halfglass_protocol::record::{Record, Span, Totals};

fn dump(from: u32, records: &[Vec<u8>]) -> Vec<u8> {
    let to = from + u32::try_from(records.len()).unwrap();
    let header = Header { device_id: 0xab, firmware_version: [0, 1, 0], lines: 8, from, to };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&header, |piece| bytes.extend_from_slice(piece));
    for record in records {
        writer.record(record);
    }
    writer.finish();
    bytes
}

fn encoded(record: &Record) -> Vec<u8> {
    let mut buffer = [0; 160];
    record.encode(&mut buffer).unwrap().to_vec()
}

fn base(uptime_tenths: u64) -> Vec<u8> {
    encoded(&Record::Base(Totals { uptime_tenths, ..Totals::default() }))
}

fn span(uptime_tenths: u32) -> Vec<u8> {
    encoded(&Record::Span(Span { uptime_tenths, ..Span::default() }))
}

fn fresh() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("halfglass.db")).unwrap();
    (folder, store)
}

fn counts(store: &Store) -> (i64, i64) {
    let count = |table: &str| {
        let sql = format!("SELECT count(*) FROM {table}");
        store.db.query_row(&sql, [], |row| row.get(0)).unwrap()
    };
    (count("dumps"), count("records"))
}

#[test]
fn importing_twice_changes_nothing_and_an_overlap_is_taken_once() {
    let (_folder, mut store) = fresh();
    let first = dump(0, &[base(0), span(10), vec![]]);
    let imported = store.import_dump(&first, "a.hgd").unwrap();
    assert_eq!((imported.records_new, imported.known), (2, false));
    assert!(store.import_dump(&first, "a.hgd").unwrap().known);
    assert_eq!(counts(&store), (1, 2));
    // Record 2 was lost in the first dump and is here in the second: no contradiction.
    let second = dump(1, &[span(10), span(30), span(40)]);
    assert_eq!(store.import_dump(&second, "b.hgd").unwrap().records_new, 2);
    assert_eq!(counts(&store), (2, 4));
    assert_eq!(store.records_end(0xab).unwrap(), 4);
    assert_eq!(
        store.records(0xab).unwrap().iter().map(|(index, _)| *index).collect::<Vec<_>>(),
        [0, 1, 2, 3]
    );
}

#[test]
fn a_contradiction_is_loud_and_imports_nothing() {
    let (_folder, mut store) = fresh();
    store.import_dump(&dump(0, &[base(0), span(10)]), "a.hgd").unwrap();
    // Three new records stand before and behind the one that contradicts.
    let error = store.import_dump(&dump(0, &[base(0), span(11), span(5)]), "b.hgd").unwrap_err().to_string();
    assert!(error.contains("record 1 of logger 00000000000000ab"), "{error}");
    assert!(error.contains("nothing was imported"), "{error}");
    assert_eq!(counts(&store), (1, 2));
}

#[test]
fn facts_cannot_be_edited() {
    let (_folder, mut store) = fresh();
    store.import_dump(&dump(0, &[base(0)]), "a.hgd").unwrap();
    store.add(&reading(1.0), None).unwrap();
    store.keep_sighting(0xab, &crate::wear::Sighting::of(5, &Default::default())).unwrap();
    for sql in [
        "UPDATE logger_health SET faults = 1",
        "DELETE FROM logger_health",
        "UPDATE records SET bytes = x'00'",
        "DELETE FROM records",
        "UPDATE dumps SET name = 'x'",
        "DELETE FROM dumps",
        "UPDATE readings SET content = ''",
        "DELETE FROM readings",
        "INSERT OR REPLACE INTO readings (id, at_ms, content) SELECT id, at_ms, 'x' FROM readings",
    ] {
        let outcome = store.db.execute(sql, []);
        if sql.starts_with("INSERT") {
            // REPLACE deletes without firing triggers unless they are recursive: see `Store::open`.
            assert!(outcome.is_err(), "{sql}");
            continue;
        }
        assert!(outcome.unwrap_err().to_string().contains("append-only"), "{sql}");
    }
    assert_eq!(store.standing::<Reading>().unwrap().len(), 1);
}

fn reading(hours: f64) -> Reading {
    Reading {
        at: Moment::exact(5),
        radar: "S".into(),
        quantity: "transmit".into(),
        hours,
        source: None,
        by: None,
    }
}

#[test]
fn a_correction_supersedes_once() {
    let (_folder, mut store) = fresh();
    assert_eq!(store.add_all(&[reading(1.0), reading(2.0), reading(1.0)]).unwrap(), 2);
    assert_eq!(store.add(&reading(1.0), None).unwrap(), (1, false));
    assert_eq!(store.add(&reading(3.0), Some(1)).unwrap(), (3, true));
    let standing: Vec<f64> =
        store.standing::<Reading>().unwrap().iter().map(|kept| kept.fact.hours).collect();
    assert_eq!(standing, [2.0, 3.0]);
    assert!(store.add(&reading(4.0), Some(1)).unwrap_err().to_string().contains("already"));
    assert!(store.add(&reading(4.0), Some(9)).unwrap_err().to_string().contains("no reading 9"));
}

#[test]
fn a_newer_or_foreign_database_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("halfglass.db");
    drop(Store::open(&path).unwrap());
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 7).unwrap();
    let before = std::fs::read(&path).unwrap();
    let error = Store::open(&path).unwrap_err().to_string();
    assert!(error.contains("newer Halfglass") && error.contains("format is 7"), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), before);

    let path = folder.path().join("foreign.db");
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE songs (title TEXT)").unwrap();
    assert!(Store::open(&path).unwrap_err().to_string().contains("some other program"));

    let path = folder.path().join("text.db");
    std::fs::write(&path, "this is no database at all, but long enough to look like a file").unwrap();
    assert!(Store::open(&path).unwrap_err().to_string().contains("not a SQLite database"));
}
