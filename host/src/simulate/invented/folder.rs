//! The invented ship's folder: what her officer would have written, and a note that says that nobody did.

use super::{DAY_MS, END_MS, Invented, START_MS, Written};
use crate::ship::facts::Deferral;
use crate::time::{self, Moment};
use crate::{Error, Result};
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// The note by which a folder is known as the demo's own.
const NOTE_NAME: &str = "INVENTED.txt";

const NOTE: &str = "\
Everything in this folder is invented by `halfglass demo`: the ship MV Calder Sound, her radars, her voyages, every
figure and every limit. It shows how a ship folder looks. Running the demo here again replaces the files below.

  ship.toml           her radars, the parts in them, the limits that count for them
  fittings.csv        which part was put in when
  readings.csv        what the radars' own counters showed, copied once a month
  conditions.csv      tube current and performance monitor, measured once a month
  windows.csv         the stays ahead
  halfglass.db        the facts: dumps and what was written down, append-only
  dumps/              what was pulled from the two loggers, month by month
  lines-x-band.csv    the timeline on which the X-band logger's firmware ran: try it with `halfglass simulate`
  lines-s-band.csv    the same for the S-band logger
  report.html         what `halfglass report` makes of it; handover.html and card.html likewise

What really happened aboard, and `halfglass reconcile` has to find out from the files above:

";

/// The files that a demo leaves beside its dumps.
const FILES: [&str; 12] = [
    NOTE_NAME,
    "ship.toml",
    "fittings.csv",
    "readings.csv",
    "conditions.csv",
    "windows.csv",
    "report.html",
    "handover.html",
    "card.html",
    "halfglass.db",
    "lines-x-band.csv",
    "lines-s-band.csv",
];

/// Makes the folder, or empties it of an earlier demo.
///
/// # Errors
/// Something else is in there, or it cannot be written.
pub fn prepare(dir: &Path) -> Result<()> {
    let failed = |error: &std::io::Error| Error::file("make", dir, error);
    fs::create_dir_all(dir).map_err(|error| failed(&error))?;
    let entries = fs::read_dir(dir).map_err(|error| failed(&error))?.count();
    if entries > 0 && !dir.join(NOTE_NAME).is_file() {
        return Err(Error::input(
            format!("{} is there already, and not from an earlier demo; nothing was changed", dir.display()),
            "Name another folder: halfglass demo --dir DIR",
        ));
    }
    // What the demo itself wrote, and nothing else. The note goes last: without it the rest would be a stranger's.

    for entry in fs::read_dir(dir.join("dumps")).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|kind| kind == "hgd" || kind == "part") {
            fs::remove_file(&path).map_err(|error| Error::file("remove", &path, &error))?;
        }
    }
    for name in FILES.iter().rev() {
        let path = dir.join(name);
        if path.exists() {
            fs::remove_file(&path).map_err(|error| Error::file("remove", &path, &error))?;
        }
    }
    write(&dir.join(NOTE_NAME), NOTE)
}

/// Writes ship.toml, the CSV files and the timelines.
///
/// # Errors
/// A file cannot be written.
pub fn fill(dir: &Path, invented: &Invented) -> Result<()> {
    write(&dir.join(NOTE_NAME), &format!("{NOTE}{}", truth(invented)))?;
    write(&dir.join("ship.toml"), &ship_toml(invented))?;
    write(&dir.join("fittings.csv"), &fittings(invented))?;
    write(&dir.join("readings.csv"), &readings(invented))?;
    write(&dir.join("conditions.csv"), &conditions(invented))?;
    write(&dir.join("windows.csv"), WINDOWS)?;
    for story in &invented.stories {
        write(&lines_path(dir, story.name), &story.lines.to_csv())?;
    }
    Ok(())
}

/// What no file of the officer's says.
fn truth(invented: &Invented) -> String {
    let slips = &invented.slips;
    let month = |at: usize| super::months_ms().nth(at).map_or_else(String::new, time::date);
    format!(
        "\
  {}  S-band: two figures of that day's readings are entered in each other's place
  {}  X-band: two digits of the transmit reading changed places
  {}  X-band: the transceiver was exchanged; the counter of the new one stood at {} h, the tube moved over
  {}  X-band: from here on for three weeks the logger's motor line was off its terminal
  {}  S-band: a technician set the transmit counter to zero in the service menu; the tube stayed
  {}  S-band: somebody worked aloft for three hours and wrote nothing down
  {}  S-band: the scanner motor was renewed; the office wrote {} into fittings.csv
  {}  S-band: from here on the tube drops out once a day
",
        month(slips.swapped_month),
        month(slips.digits_month),
        time::date(slips.box_exchanged.0),
        super::BOX_H,
        time::date(slips.motor_dead.0),
        time::date(slips.zeroed_ms),
        time::date(slips.unrecorded.0),
        time::date(slips.motor_renewed.0),
        time::date(slips.motor_recorded_ms),
        time::date(slips.drop_outs_from_ms),
    )
}

fn lines_path(dir: &Path, radar: &str) -> PathBuf {
    dir.join(format!("lines-{}.csv", radar.to_lowercase()))
}

fn write(path: &Path, text: &str) -> Result<()> {
    fs::write(path, text).map_err(|error| Error::file("write", path, &error))
}

fn ship_toml(invented: &Invented) -> String {
    let [x_band, s_band] = &invented.stories;
    format!(
        r#"# An invented ship: no figure in here is from a manual. On a real ship every limit comes from the set's own manual.

[ship]
name = "MV Calder Sound"

[[radar]]
name = "X-band"
logger = "{:016x}"
fed_from_radar = false            # this logger hangs on the emergency supply
lines = {{ supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }}
counter_step_h = 1.0
warm_up_s = {warm_up_s}

[[radar]]
name = "S-band"
logger = "{:016x}"
fed_from_radar = true             # this one goes dark with its radar
lines = {{ supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }}
counter_step_h = 1.0
warm_up_s = {warm_up_s}

[[part]]
radar = "X-band"
name = "magnetron"
ages_by = "transmit"
limit_h = 5700
warn_h = 1100                     # two months of her use: a spare takes 45 days, and then a stay must come
lead_time_days = 45
work_hours = 3
needs_aloft = true

[[part]]
radar = "X-band"
name = "scanner motor"
ages_by = "motor"
limit_h = 24000
warn_h = 500
lead_time_days = 60
work_hours = 6
needs_aloft = true

[[part]]
radar = "S-band"
name = "magnetron"
ages_by = "transmit"
limit_h = 4600
warn_h = 300
lead_time_days = 45
work_hours = 4
needs_aloft = true

[[part]]
radar = "S-band"
name = "scanner motor"
ages_by = "motor"
limit_h = 24000
warn_h = 500
lead_time_days = 60
work_hours = 6
needs_aloft = true

[[spare]]
radar = "S-band"
part = "magnetron"
serial = "MS-0419"
made = "2024-11"
received = 2025-05-17
place = "radar spares locker, bridge deck"

[[logger]]
id = "{:016x}"
erases_rated = 10000              # from the data sheet of its flash

[[logger]]
id = "{:016x}"
erases_rated = 10000
"#,
        x_band.device_id,
        s_band.device_id,
        x_band.device_id,
        s_band.device_id,
        warm_up_s = super::radars::WARM_UP_S,
    )
}

fn fittings(invented: &Invented) -> String {
    let (motor_h, motor_at) = (super::radars::MOTOR_H, time::rfc3339(invented.slips.motor_recorded_ms));
    let commissioned = time::rfc3339(START_MS + super::HOUR_MS);
    let renewed = time::rfc3339(invented.renewed_ms);
    let before = invented.stories.iter().find_map(|story| story.before_renewal_h).unwrap_or(0);
    format!(
        "\
at,radar,part,serial,counter_zeroed,hours_at_fit,counter_before,counter_after,removed_serial,removed_because
{commissioned},X-band,magnetron,MX-0231,yes,0,,0,,
{commissioned},X-band,scanner motor,GX-77,no,9840,,,,
{commissioned},S-band,magnetron,MS-0388,yes,0,,0,,
{commissioned},S-band,scanner motor,GS-31,no,{motor_h},{motor_h},,,
{renewed},X-band,magnetron,MX-0264,yes,0,{before},0,MX-0231,limit
{motor_at},S-band,scanner motor,GS-58,yes,0,,,GS-31,damaged
"
    )
}

/// The renewal that was put off: the S-band magnetron's, whose limit was reached in the last days.
#[must_use]
pub fn deferral() -> Deferral {
    Deferral {
        at: Moment::exact(END_MS - 4 * DAY_MS),
        radar: "S-band".to_owned(),
        part: "magnetron".to_owned(),
        reason: "nobody could go aloft in the last stay".to_owned(),
        until_h: Some(4_900.0),
        until: None,
        approved_by: "the superintendent".to_owned(),
    }
}

/// The stays ahead of the last pull.
const WINDOWS: &str = "\
from,to,place,aloft,transmit,deliver,daylight,chance
2026-03-06T05:00Z,2026-03-07T16:00Z,Kattenhoek,no,no,yes,11,0.95
2026-03-14T06:00Z,2026-03-16T20:00Z,Port Merrow,yes,yes,yes,12,0.9
2026-03-27T04:00Z,2026-03-28T18:00Z,Santa Rita roads,yes,yes,no,12,0.85
2026-04-18T07:00Z,2026-04-20T15:00Z,Norderhafen,yes,yes,yes,14,0.9
2026-05-23T06:00Z,2026-05-25T12:00Z,Port Merrow,yes,yes,yes,15,0.8
2026-08-29T06:00Z,2026-09-09T18:00Z,Calder yard,yes,yes,yes,13,0.95
";

/// Once a month, at the same settings: a tube loses current as it ages, and a new one begins afresh.
fn conditions(invented: &Invented) -> String {
    let mut text = String::from("at,radar,quantity,value,unit,pulse,range_nm,by\n");
    for (month, at_ms) in super::months_ms().enumerate() {
        let at = time::rfc3339(at_ms + 25 * 60_000);
        // Reading a needle is good to about a twentieth; the same wobble in every demo, so that it can be told about.
        let wobble = [0.0, 0.05, -0.05, 0.02, -0.02][month % 5];
        let age = |since_ms: i64| (at_ms - since_ms) as f64 / super::DAY_MS as f64 / 30.44;
        let x_age = if at_ms < invented.renewed_ms { 12.0 + age(START_MS) } else { age(invented.renewed_ms) };
        let s_age = age(START_MS);
        let rows = [
            ("X-band", "tube current", 8.2 - 0.04 * x_age + wobble, "mA", "long", 24),
            ("S-band", "tube current", 9.6 - 0.27 * s_age + wobble, "mA", "long", 24),
            ("S-band", "performance monitor", 11.0 - 0.16 * s_age + wobble * 4.0, "nm", "long", 24),
        ];
        for (radar, quantity, value, unit, pulse, range_nm) in rows {
            // Writing into a string cannot fail.
            let _ = writeln!(text, "{at},{radar},{quantity},{value:.2},{unit},{pulse},{range_nm},");
        }
    }
    text
}

fn readings(invented: &Invented) -> String {
    let of = |story: &'static str, written: &Written| (*written, story);
    let mut rows: Vec<(Written, &str)> = Vec::new();
    for story in &invented.stories {
        rows.extend(story.readings.iter().map(|written| of(story.name, written)));
    }
    rows.sort_by_key(|(written, _)| written.at_ms);
    let mut text = String::from("at,radar,quantity,hours\n");
    for (Written { at_ms, quantity, hours }, radar) in rows {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "{},{radar},{quantity},{hours}", time::rfc3339(at_ms));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ship::Settings;
    use crate::ship::facts::{self, Condition, Fitting, Known, Reading, Window};
    use crate::time::Clock;

    #[test]
    fn what_is_written_is_what_the_commands_read() {
        let dir = tempfile::tempdir().unwrap();
        prepare(dir.path()).unwrap();
        let invented = Invented::new(3);
        fill(dir.path(), &invented).unwrap();
        let text = fs::read_to_string(dir.path().join("ship.toml")).unwrap();
        let settings = Settings::parse(&text, "ship.toml").unwrap();
        assert_eq!(settings.radars[0].logger, invented.stories[0].device_id);
        let known = Known { settings: &settings, clock: &Clock::default() };
        let fittings: Vec<Fitting> = facts::read_file(&dir.path().join("fittings.csv"), &known).unwrap();
        assert_eq!(fittings.len(), 6);
        let readings: Vec<Reading> = facts::read_file(&dir.path().join("readings.csv"), &known).unwrap();
        assert_eq!(readings.len(), 54);
        let conditions: Vec<Condition> =
            facts::read_file(&dir.path().join("conditions.csv"), &known).unwrap();
        assert_eq!(conditions.len(), 3 * 17, "three a month");
        let windows: Vec<Window> = facts::read_file(&dir.path().join("windows.csv"), &known).unwrap();
        assert_eq!(windows.len(), 6);
        for name in FILES {
            let later = name == "halfglass.db" || name.ends_with(".html");
            assert!(dir.path().join(name).exists() || later, "{name}");
        }
    }

    #[test]
    fn a_stranger_s_folder_is_left_alone_and_an_earlier_demo_is_replaced() {
        let dir = tempfile::tempdir().unwrap();
        let own = dir.path().join("notes.txt");
        fs::write(&own, "mine").unwrap();
        assert!(prepare(dir.path()).unwrap_err().what().contains("nothing was changed"));
        fs::remove_file(&own).unwrap();
        prepare(dir.path()).unwrap();
        fs::write(&own, "mine").unwrap();
        let dumps = dir.path().join("dumps");
        fs::create_dir(&dumps).unwrap();
        fs::write(dumps.join("a-0-1.hgd"), "old").unwrap();
        prepare(dir.path()).unwrap();
        assert!(own.exists() && !dumps.join("a-0-1.hgd").exists());
    }
}
