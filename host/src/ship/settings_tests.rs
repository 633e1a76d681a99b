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
            .replace("limit_months = ", "limit_months = 1");
        text.push_str(&code.replace("serial = \"\"", "serial = \"A\""));
        text.push('\n');
    }
    let settings = Settings::parse(&text, "ship.toml").unwrap();
    assert_eq!((settings.radars.len(), settings.parts.len(), settings.spares.len()), (1, 1, 1));
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
