use super::*;

/// The example of the design, whole.
const GOOD: &str = r#"[ship]
name = "MV Calder Sound"

[[radar]]
name = "S-band"
logger = "3f9c11d2a07be458"
fed_from_radar = true
lines = { supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }
counter_step_h = 1.0
warm_up_s = 180

[[part]]
radar = "S-band"
name = "magnetron"
planner_id = "RAD-S-010"
ages_by = "transmit"
limit_h = 3600
limit_months = 60
warn_h = 300
lead_time_days = 45
work_hours = 4
needs_aloft = true

[[spare]]
radar = "S-band"
part = "magnetron"
serial = "B-2207"
"#;

#[test]
fn the_example_is_read() {
    let settings = Settings::parse(GOOD, "ship.toml").unwrap();
    assert_eq!(settings.ship, "MV Calder Sound");
    let radar = settings.radar("S-band").unwrap();
    assert_eq!(radar.logger, 0x3f9c_11d2_a07b_e458);
    assert_eq!(radar.input_of(Role::Transmit), Some(2));
    assert_eq!(settings.parts[0].limit_h, Some(3600.0));
    assert_eq!(settings.spares[0].serial, "B-2207");
}

#[test]
fn a_new_folder_has_a_ship_toml_that_can_be_read() {
    let settings = Settings::parse(crate::ship::TEMPLATE, "ship.toml").unwrap();
    assert!(settings.radars.is_empty() && settings.parts.is_empty() && settings.spares.is_empty());
}

/// Every key that the template shows is one that is known: uncommented, with figures put in, it is read.
#[test]
fn the_template_uncommented_can_be_read() {
    let mut text = String::new();
    for line in crate::ship::TEMPLATE.lines() {
        let code = line
            .strip_prefix("# ")
            .filter(|rest| rest.starts_with('[') || rest.split(' ').nth(1) == Some("="));
        let code = code
            .unwrap_or(line)
            .replace("limit_h = ", "limit_h = 1")
            .replace("limit_months = ", "limit_months = 1")
            .replace("limit_starts = ", "limit_starts = 1")
            .replace("erases_rated = ", "erases_rated = 1");
        text.push_str(&code.replace("serial = \"\"", "serial = \"A\""));
        text.push('\n');
    }
    let settings = Settings::parse(&text, "ship.toml").unwrap();
    assert_eq!((settings.radars.len(), settings.parts.len(), settings.spares.len()), (1, 1, 1));
    assert_eq!(settings.loggers.len(), 1);
    assert_eq!(settings.erases_rated(settings.radars[0].logger), Some(1));
}

/// Each mistake, made by replacing one piece of the example; the line and words that the message must hold.
#[test]
fn every_mistake_is_named_with_its_line() {
    let cases: &[(&str, &str, &str, &[&str])] = &[
        ("motor = 3", "moter = 3", "line 8", &["`moter`", "supply, heater, transmit, motor, isolated"]),
        ("motor = 3", "unused = 3", "line 8", &["`unused`", "no role"]),
        ("motor = 3", "motor = 8", "line 8", &["input 8", "0 to 7"]),
        ("motor = 3", "motor = 2", "line 8", &["input 2", "two lines"]),
        ("motor = 3", "motor = \"3\"", "line 8", &["expected a whole number"]),
        ("3f9c11d2a07be458", "3f9c", "line 6", &["`3f9c`", "16 hexadecimal digits"]),
        ("logger = \"3f9c11d2a07be458\"\n", "", "line 4", &["missing field `logger`"]),
        ("warm_up_s = 180", "warmup = 180", "line 10", &["unknown field `warmup`", "warm_up_s"]),
        (
            "[[part]]",
            "[[radar]]\nname = \"S-band\"\nlogger = \"3f9c11d2a07be459\"\nlines = {heater=1}\n[[part]]",
            "line 13",
            &["second radar", "`S-band`"],
        ),
        ("radar = \"S-band\"\nname", "radar = \"X-band\"\nname", "line 13", &["`X-band`", "`S-band`"]),
        (
            "ages_by = \"transmit\"",
            "ages_by = \"isolated\"",
            "line 16",
            &["`isolated`", "supply, heater, transmit, motor"],
        ),
        ("motor = 3, ", "", "", &[]),
        ("limit_h = 3600", "limit_h = -1", "line 17", &["limit_h is -1", "above 0"]),
        ("limit_months = 60", "limit_months = 0", "line 18", &["limit_months is 0"]),
        ("part = \"magnetron\"", "part = \"motor\"", "line 26", &["`motor`", "`magnetron of S-band`"]),
        ("name = \"MV Calder Sound\"", "name = \"\"", "line 2", &["no name"]),
        ("[ship]", "[ship", "line 1", &[]),
    ];
    for (old, new, line, words) in cases {
        assert!(GOOD.contains(old), "{old}");
        let outcome = Settings::parse(&GOOD.replacen(old, new, 1), "calder/ship.toml");
        if line.is_empty() {
            outcome.unwrap();
            continue;
        }
        let message = outcome.unwrap_err().to_string();
        assert!(message.starts_with(&format!("calder/ship.toml, {line}: ")), "{new}: {message}");
        for word in *words {
            assert!(message.contains(word), "{new}: {word}: {message}");
        }
    }
}

/// The last block of the example with more in it, which begins on line 28; what is said of it.
fn spare(more: &str) -> Result<Spare> {
    Settings::parse(&format!("{GOOD}{more}\n"), "ship.toml").map(|settings| settings.spares[0].clone())
}

#[test]
fn a_spare_s_dates_are_as_well_known_as_they_are_written() {
    let read =
        spare("made = 2023\nreceived = \"2024-02\"\nlast_run = 2024-03-09\nwarranty_until = \"2026-02-28\"");
    let read = read.unwrap();
    let days =
        |first: &str, last: &str| Some(Days { first: first.parse().unwrap(), last: last.parse().unwrap() });
    assert_eq!(read.made, days("2023-01-01", "2023-12-31"));
    assert_eq!(read.received, days("2024-02-01", "2024-02-29"), "a leap year");
    assert_eq!(read.last_run, days("2024-03-09", "2024-03-09"));
    assert_eq!(read.warranty_until, days("2026-02-28", "2026-02-28"));
    assert_eq!((spare("made = \"\"\nplace = \" \"").unwrap().made, read.place), (None, None));
    for (more, line, word) in [
        ("made = \"spring\"", "line 28", "made: `spring` is no date"),
        ("made = \"2024-13\"", "line 28", "2024-05"),
        ("made = 24", "line 28", "`24` is no date"),
        ("place = \"locker\"\nreceived = 2026-02-30", "line 29", ""),
        ("received = 2023\nmade = 2024-01-01", "line 28", "before it was made"),
        ("made = true", "line 28", "`true` is no date"),
        ("made = 2024-05-17T08:00:00Z", "line 28", "is no date"),
    ] {
        let message = spare(more).unwrap_err().to_string();
        assert!(
            message.starts_with(&format!("ship.toml, {line}: ")) && message.contains(word),
            "{more}: {message}"
        );
    }
    let twice = "[[spare]]\nradar = \"S-band\"\npart = \"magnetron\"\nserial = \"B-2207\"";
    let message = spare(twice).unwrap_err().to_string();
    assert!(message.starts_with("ship.toml, line 31: a second spare magnetron"), "{message}");
}

#[test]
fn what_a_failure_costs() {
    let part = |more: &str| {
        let text =
            GOOD.replace("needs_aloft = true", &format!("needs_aloft = true\nfailure_cost_ratio = {more}"));
        Settings::parse(&text, "ship.toml").map(|settings| settings.parts[0].failure_cost_ratio)
    };
    assert_eq!(part("5").unwrap(), Some(5.0));
    for ratio in ["1", "0.5", "inf"] {
        let message = part(ratio).unwrap_err().to_string();
        assert!(message.starts_with("ship.toml, line 23: failure_cost_ratio"), "{message}");
    }
}

#[test]
fn two_radars_may_share_a_logger_but_not_an_input() {
    let second = |input| {
        format!(
            "{GOOD}\n[[radar]]\nname = \"X-band\"\nlogger = \"3f9c11d2a07be458\"\nlines = {{ transmit = {input} }}\n"
        )
    };
    assert!(Settings::parse(&second(5), "ship.toml").is_ok());
    assert!(Settings::parse(&second(2), "ship.toml").unwrap_err().to_string().contains("two lines"));
}
