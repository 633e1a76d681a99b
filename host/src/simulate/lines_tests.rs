use super::*;

fn parse(text: &str) -> Result<Lines> {
    Lines::parse(text.as_bytes(), "lines.csv")
}

#[test]
fn what_is_read_is_written_back() {
    let text = "at,line,on\n2026-03-01T08:00:00Z,heater,1\n2026-03-01T08:00:00.250Z,power,0\n\
                2026-03-01T09:00:00Z,power,1\n2026-03-01T10:00:00Z,pull,\n2026-03-01T10:00:00Z,heater,0\n\
                2026-03-01T10:00:00Z,speed,12.4\n2026-03-01T10:00:00Z,speed,\n";
    let lines = parse(text).unwrap();
    assert_eq!(lines.to_csv(), text);
    assert_eq!(lines.rows[0].what, What::Line { input: 1, on: true });
    assert_eq!(lines.end_ms() - lines.start_ms(), 2 * 3_600_000);
    // An offset is part of the time, columns may stand in any order, a byte order mark does not matter.
    let other = "\u{feff}on,line,at\n1,heater,2026-03-01T10:00:00+02:00\n0,heater,2026-03-01T09:00:00Z\n";
    assert_eq!(parse(other).unwrap().start_ms(), lines.start_ms());
}

#[test]
fn every_mistake_is_named_with_its_line_and_what_to_do() {
    let head = "at,line,on\n2026-03-01T08:00Z,heater,1\n";
    for (rows, place, word) in [
        ("2026-03-01T07:59Z,motor,1\n", "line 3", "time goes backwards"),
        ("2026-03-01T09:00+02:00,motor,1\n", "line 3", "offsets count"),
        ("2026-03-01T09:00,motor,1\n", "line 3", "no offset"),
        (
            "2026-03-01T09:00Z,scanner,1\n",
            "line 3",
            "supply, heater, transmit, motor, isolated, power, pull, speed",
        ),
        ("2026-03-01T09:00Z,unused,1\n", "line 3", "no line `unused`"),
        ("2026-03-01T09:00Z,motor,yes\n", "line 3", "neither 0 nor 1"),
        ("2026-03-01T09:00Z,motor,\n", "line 3", "neither 0 nor 1"),
        ("2026-03-01T09:00Z,pull,1\n", "line 3", "at,pull,"),
        ("2026-03-01T09:00Z,speed,fast\n", "line 3", "from 0 to 99.9"),
        ("2026-03-01T09:00Z,speed,-3\n", "line 3", "at,speed,12.5"),
        ("2026-03-01T09:00Z,speed,3.25\n", "line 3", "one decimal"),
        ("2026-03-01T09:00Z,speed,100\n", "line 3", "from 0 to 99.9"),
        ("2026-03-01T09:00Z,heater,1\n", "line 3", "on already, since line 2"),
        ("2026-03-01T09:00Z,motor,0\n", "line 3", "lines start off"),
        ("2026-03-01T09:00Z,power,1\n", "line 3", "power starts on"),
        ("2026-03-01T09:00Z,power,0\n2026-03-01T09:01Z,power,0\n", "line 4", "off already, since line 3"),
        ("2026-03-01T09:00Z,pull\n", "line 3", "2 fields"),
        ("", "lines.csv", "spans no time"),
    ] {
        let message = parse(&format!("{head}{rows}")).unwrap_err().to_string();
        assert!(message.contains(place) && message.contains(word), "{rows}: {message}");
        assert!(message.contains("nothing was simulated"), "{rows}: {message}");
    }
    for (text, word) in [
        ("", "is empty"),
        (" \n", "is empty"),
        ("at,line,on\n", "no rows"),
        ("at,line\n", "no column `on`"),
        ("at,line,on,by\n", "`by`"),
        ("at,line,on,on\n", "two columns"),
    ] {
        let message = parse(text).unwrap_err().to_string();
        assert!(message.contains(word), "{text:?}: {message}");
    }
    let message = Lines::parse(b"at,line,on\n\xff,heater,1\n", "x.csv").unwrap_err().to_string();
    assert!(message.contains("UTF-8") && message.contains("line 2"), "{message}");
    let message = Lines::read(Path::new("/nowhere/lines.csv")).unwrap_err().to_string();
    assert!(message.contains("cannot read /nowhere/lines.csv"), "{message}");
}
