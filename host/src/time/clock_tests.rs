use super::*;
use crate::time::parse_ms;

fn ms(text: &str) -> i64 {
    parse_ms(text).unwrap()
}

fn exact(text: &str) -> Moment {
    Moment::exact(ms(text))
}

fn between(lo: &str, hi: &str) -> Moment {
    Moment::between(ms(lo), ms(hi))
}

/// A clock from what zones.csv would say.
fn clock(rows: &[(&str, &str)]) -> Clock {
    let rows = rows.iter().map(|(from, offset)| (ms(from), parse_offset(offset).unwrap()));
    Clock::new(&rows.collect::<Vec<_>>())
}

/// What jiff says of a civil time in a zone: its earliest and its latest meaning.
fn by_the_library(zone: &TimeZone, local: &str) -> Moment {
    let ambiguous = zone.to_ambiguous_timestamp(local.parse().unwrap());
    let at = |meaning: jiff::Timestamp| meaning.as_millisecond();
    Moment::between(at(ambiguous.earlier().unwrap()), at(ambiguous.later().unwrap()))
}

#[test]
fn a_zone_s_rules_are_followed_through_both_its_steps() {
    // The oracle is jiff's reading of Central European Time's rules as a POSIX string: from the last Sunday of March
    // to that of October the clock is an hour ahead, from 01:00Z to 01:00Z.
    let zone = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap();
    let ship = clock(&[
        ("2025-11-01T00:00Z", "+01:00"),
        ("2026-03-29T01:00Z", "+02:00"),
        ("2026-10-25T01:00Z", "+01:00"),
    ]);
    let mut uncertain = 0;
    for day in
        ["2026-01-15", "2026-03-28", "2026-03-29", "2026-03-30", "2026-10-24", "2026-10-25", "2026-10-26"]
    {
        for minute in 0..24 * 60 {
            let local = format!("{day}T{:02}:{:02}", minute / 60, minute % 60);
            let read = ship.moment(&local).unwrap();
            assert_eq!(read, by_the_library(&zone, &local), "{local}");
            uncertain += usize::from(!read.is_exact());
        }
        let date: jiff::civil::Date = day.parse().unwrap();
        let midnight =
            |date: jiff::civil::Date| zone.to_timestamp(date.at(0, 0, 0, 0)).unwrap().as_millisecond();
        let (start, end) = (midnight(date), midnight(date.tomorrow().unwrap()));
        assert_eq!(ship.moment(day).unwrap(), Moment::between(start, end), "{day}");
    }
    assert_eq!(uncertain, 60 + 60, "one hour that was skipped, one that was lived twice");
}

#[test]
fn an_hour_lived_twice_and_an_hour_skipped() {
    // By hand. 02:30 on the night of retarding is 00:30Z by the first offset and 01:30Z by the second.
    let retarded = clock(&[("2026-03-01T00:00Z", "+02:00"), ("2026-10-25T01:00Z", "+01:00")]);
    assert_eq!(
        retarded.moment("2026-10-25T02:30").unwrap(),
        between("2026-10-25T00:30Z", "2026-10-25T01:30Z")
    );
    assert_eq!(retarded.moment("2026-10-25T01:59:59").unwrap(), exact("2026-10-24T23:59:59Z"));
    assert_eq!(retarded.moment("2026-10-25T03:00").unwrap(), exact("2026-10-25T02:00Z"));
    // 02:30 on the night of advancing: 01:30Z by the offset before, 00:30Z by the one after, the step at 01:00Z inside.
    let advanced = clock(&[("2026-03-01T00:00Z", "+01:00"), ("2026-03-29T01:00Z", "+02:00")]);
    assert_eq!(
        advanced.moment("2026-03-29T02:30").unwrap(),
        between("2026-03-29T00:30Z", "2026-03-29T01:30Z")
    );
    assert_eq!(advanced.moment("2026-03-29T03:00").unwrap(), exact("2026-03-29T01:00Z"));
}

#[test]
fn a_clock_set_at_sea_by_half_hours_at_any_hour() {
    let ship = clock(&[
        ("2026-03-01T00:00Z", "+05:30"),
        ("2026-03-04T14:30Z", "+05:00"),
        ("2026-03-06T15:00Z", "+04:30"),
    ]);
    // At 20:00 the clock went back to 19:30: half an hour lived twice.
    assert_eq!(ship.moment("2026-03-04T19:45").unwrap(), between("2026-03-04T14:15Z", "2026-03-04T14:45Z"));
    assert_eq!(ship.moment("2026-03-04").unwrap(), between("2026-03-03T18:30Z", "2026-03-04T19:00Z"));
    assert_eq!(ship.moment("2026-03-05").unwrap(), between("2026-03-04T19:00Z", "2026-03-05T19:00Z"));
    assert_eq!(ship.moment("2026-03-05 08:00").unwrap(), exact("2026-03-05T03:00Z"));
    assert_eq!(
        ship.moment("2026-03-07T08:00").unwrap(),
        exact("2026-03-07T03:30Z"),
        "the last offset goes on"
    );
    // What carries its own offset is not touched.
    assert_eq!(ship.moment("2026-03-05T08:00+01:00").unwrap(), exact("2026-03-05T07:00Z"));
}

#[test]
fn the_date_line() {
    // Eastward, at midnight: 5 March is lived twice.
    let east = clock(&[("2026-03-01T00:00Z", "+12:00"), ("2026-03-05T12:00Z", "-12:00")]);
    assert_eq!(east.moment("2026-03-05").unwrap(), between("2026-03-04T12:00Z", "2026-03-06T12:00Z"));
    assert_eq!(east.moment("2026-03-05T08:00").unwrap(), between("2026-03-04T20:00Z", "2026-03-05T20:00Z"));
    assert_eq!(east.moment("2026-03-06").unwrap(), between("2026-03-06T12:00Z", "2026-03-07T12:00Z"));
    assert_eq!(east.moment("2026-03-04").unwrap(), between("2026-03-03T12:00Z", "2026-03-04T12:00Z"));
    // Westward, at midnight: 5 March is not lived. Who writes it meant the day before or the day after the step.
    let west = clock(&[("2026-03-01T00:00Z", "-12:00"), ("2026-03-05T12:00Z", "+12:00")]);
    assert_eq!(west.moment("2026-03-04").unwrap(), between("2026-03-04T12:00Z", "2026-03-05T12:00Z"));
    assert_eq!(west.moment("2026-03-05").unwrap(), between("2026-03-04T12:00Z", "2026-03-06T12:00Z"));
    assert_eq!(west.moment("2026-03-05T08:00").unwrap(), between("2026-03-04T20:00Z", "2026-03-05T20:00Z"));
    assert_eq!(west.moment("2026-03-06").unwrap(), between("2026-03-05T12:00Z", "2026-03-06T12:00Z"));
    // Westward in the middle of a day, from +11 by way of a day skipped: 5 March is part lived.
    let noon = clock(&[("2026-03-01T00:00Z", "-11:00"), ("2026-03-04T23:00Z", "+13:00")]);
    assert_eq!(noon.moment("2026-03-04").unwrap(), between("2026-03-04T11:00Z", "2026-03-04T23:00Z"));
    assert_eq!(noon.moment("2026-03-05").unwrap(), between("2026-03-04T23:00Z", "2026-03-05T11:00Z"));
}

#[test]
fn two_offsets_from_one_instant_widen() {
    let torn = clock(&[("2026-03-01T00:00Z", "+01:00"), ("2026-03-01T00:00Z", "+03:00")]);
    assert_eq!(torn.moment("2026-03-02T12:00").unwrap(), between("2026-03-02T09:00Z", "2026-03-02T11:00Z"));
}

#[test]
fn something_between_two_times() {
    let ship = clock(&[("2026-03-01T00:00Z", "+02:00")]);
    let read = ship.moment("2026-03-02/2026-03-04T06:00").unwrap();
    assert_eq!(read, between("2026-03-01T22:00Z", "2026-03-04T04:00Z"));
    assert_eq!(ship.moment(&read.written()).unwrap(), read, "what is written is read");
    let point = exact("2026-03-02T08:00:00.250Z");
    assert_eq!(Clock::default().moment(&point.written()).unwrap(), point);
    assert!(ship.moment("2026-03-04/2026-03-02").unwrap_err().contains("ends before it begins"));
}

#[test]
fn what_cannot_be_known_is_refused_with_advice() {
    let ship = clock(&[("2026-03-01T00:00Z", "+02:00")]);
    // The clock is known from 02:00 local time on: the first two hours of that date are not.
    for text in ["2026-02-28", "2026-03-01", "2026-03-01T01:59", "1970-01-01T00:00"] {
        let message = ship.moment(text).unwrap_err();
        assert!(
            message.contains("2026-03-01T00:00:00Z") && message.contains("halfglass add zone"),
            "{message}"
        );
    }
    assert_eq!(ship.moment("2026-03-01T02:00").unwrap(), exact("2026-03-01T00:00Z"));
    for (text, word) in [("2026-03-01T08:00", "no offset"), ("2026-03-01", "no time of day")] {
        let message = Clock::default().moment(text).unwrap_err();
        assert!(message.contains(word) && message.contains("halfglass import zones FILE"), "{message}");
    }
    for clock in [Clock::default(), ship] {
        for text in ["yesterday", "2026-13-01", "2026-03-01T25:00", "/", "2026-03-02/", "0", "9999-12-31x"] {
            assert!(clock.moment(text).is_err(), "{text}");
        }
    }
}

#[test]
fn offsets_are_read_and_written() {
    for (text, seconds) in
        [("+02:00", 7_200), ("-03:30", -12_600), ("+14:00", 50_400), ("-12:00", -43_200), ("Z", 0)]
    {
        assert_eq!(parse_offset(text), Ok(seconds));
        assert_eq!(parse_offset(&written_offset(seconds)), Ok(seconds));
    }
    assert_eq!((written_offset(7_200), written_offset(0)), ("+02:00".to_owned(), "+00:00".to_owned()));
    for text in
        ["", "2", "02:00", "+15:00", "-12:01", "Europe/Oslo", "+2h", "EST5EDT,M3.2.0,M11.1.0", "+02:00Z"]
    {
        assert!(parse_offset(text).is_err(), "{text}");
    }
}
