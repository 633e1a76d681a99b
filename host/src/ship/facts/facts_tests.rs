use super::*;
use crate::time::parse_offset;

const SHIP: &str = r#"
    ship = { name = "Calder" }
    [[radar]]
    name = "S-band"
    logger = "3f9c11d2a07be458"
    lines = { transmit = 2 }
    [[part]]
    radar = "S-band"
    name = "magnetron"
    ages_by = "transmit"
"#;

/// 2026-03-01T08:00Z (`date -u -d 2026-03-01T08:00Z +%s`).
const MARCH_MS: i64 = 1_772_352_000_000;

fn read<F: Fact>(text: &str, clock: &Clock) -> Result<Vec<F>> {
    let settings = Settings::parse(SHIP, "ship.toml").unwrap();
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    read_file(file.path(), &Known { settings: &settings, clock })
}

fn read_readings(text: &str) -> Result<Vec<Reading>> {
    read(text, &Clock::default())
}

fn read_fittings(text: &str) -> Result<Vec<Fitting>> {
    read(text, &Clock::default())
}

#[test]
fn sound_rows_are_read_whatever_the_columns_order() {
    let text = "by,hours,quantity,radar,at\n\"Okoro, J\",812,transmit,S-band,2026-03-01T08:00+00:00\n";
    let read = read_readings(text).unwrap();
    assert_eq!(read.len(), 1);
    assert_eq!(read[0].by.as_deref(), Some("Okoro, J"));
    assert_eq!(read[0].at, Moment::exact(MARCH_MS));
    let text = "at,radar,part,serial,counter_zeroed,hours_at_fit\n\
                2026-03-01T08:00Z,S-band,magnetron,B-1,yes,12.5\n";
    assert_eq!(read_fittings(text).unwrap()[0].hours_at_fit, Some(12.5));
}

/// The fact's kept form and its row are both read back as the same fact; and it is kept as `json`, for ever.
#[track_caller]
fn round_trip<F: Fact + std::fmt::Debug>(header: &str, row: &str, json: &str) -> F {
    let clock = Clock::new(&[(MARCH_MS - 86_400_000, parse_offset("+02:00").unwrap())]);
    let facts: Vec<F> = read(&format!("{header}\n{row}\n"), &clock).unwrap();
    let [fact] = facts.as_slice() else { panic!("{facts:?}") };
    let kept = serde_json::to_string(fact).unwrap();
    assert_eq!(kept, json);
    assert_eq!(&serde_json::from_str::<F>(&kept).unwrap(), fact);

    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(F::COLUMNS.iter().map(|column| column.name)).unwrap();
    writer.write_record(fact.row()).unwrap();
    let written = String::from_utf8(writer.into_inner().unwrap()).unwrap();
    // What was meant is written with its offset: no clock is needed to read it.
    assert_eq!(&read::<F>(&written, &Clock::default()).unwrap()[0], fact, "{written}");
    fact.clone()
}

#[test]
fn every_kind_is_kept_and_written_back_as_it_was_meant() {
    // The first two are what version 0.1.0 kept of such rows, before there were other times than exact ones.
    round_trip::<Reading>(
        "at,radar,quantity,hours,source,by",
        "2026-03-01T08:00+00:00,S-band,transmit,3121.5,,\"Okoro, J\"",
        r#"{"at_ms":1772352000000,"radar":"S-band","quantity":"transmit","hours":3121.5,"source":null,"by":"Okoro, J"}"#,
    );
    round_trip::<Fitting>(
        "at,radar,part,serial,counter_zeroed,zeroed_at,hours_at_fit,removed_because",
        "2026-03-01T08:00Z,S-band,magnetron,B-1,yes,2026-03-01T09:00Z,0,limit",
        r#"{"at_ms":1772352000000,"radar":"S-band","part":"magnetron","serial":"B-1","counter_zeroed":true,"zeroed_at_ms":1772355600000,"counter_before":null,"counter_after":null,"hours_at_fit":0.0,"removed_serial":null,"removed_because":"limit","by":null}"#,
    );
    // The bare date is 2026-03-02 by a clock at +02:00: from 22:00Z to 22:00Z.
    let day = "[1772402400000,1772488800000]";
    round_trip::<Reading>(
        "at,radar,quantity,hours",
        "2026-03-02,S-band,heater,4000",
        &format!(
            r#"{{"at_ms":{day},"radar":"S-band","quantity":"heater","hours":4000.0,"source":null,"by":null}}"#
        ),
    );
    round_trip::<Zone>(
        "from,offset",
        "2026-03-01T10:00+02:00,-03:30",
        r#"{"from_ms":1772352000000,"offset_s":-12600}"#,
    );
    round_trip::<Condition>(
        "at,radar,quantity,value,unit,pulse,range_nm",
        "2026-03-01T10:00,S-band,tube current,-7.5,mA,long,24",
        r#"{"at_ms":1772352000000,"radar":"S-band","quantity":"tube current","value":-7.5,"unit":"mA","pulse":"long","range_nm":24.0,"by":null}"#,
    );
    round_trip::<Leg>(
        "from,to,mode",
        "2026-03-01T10:00,2026-03-02,sea",
        &format!(r#"{{"from_ms":1772352000000,"to_ms":{day},"mode":"sea"}}"#),
    );
    round_trip::<Window>(
        "from,to,place,aloft,deliver,daylight,chance",
        "2026-03-01T10:00,2026-03-02,\"Kiel, Holtenau\",yes,no,11,0.9",
        &format!(
            r#"{{"from_ms":1772352000000,"to_ms":{day},"place":"Kiel, Holtenau","aloft":true,"transmit":null,"deliver":false,"daylight_h":11.0,"chance":0.9}}"#
        ),
    );
    round_trip::<Work>(
        "radar,what,from,to,by",
        "S-band,greased,2026-03-01T10:00,2026-03-02,Okoro",
        &format!(
            r#"{{"from_ms":1772352000000,"to_ms":{day},"radar":"S-band","part":null,"what":"greased","by":"Okoro"}}"#
        ),
    );
    let work: Work = round_trip(
        "radar,part,what,at",
        "S-band,magnetron,inspected,2026-03-02",
        &format!(
            r#"{{"from_ms":{day},"to_ms":{day},"radar":"S-band","part":"magnetron","what":"inspected","by":null}}"#
        ),
    );
    assert_eq!(work.from, work.to);
    round_trip::<Answer>(
        "at,finding,evidence,text",
        "2026-03-02,misread:S-band,4f1c,\"copied wrongly, \"\"2713\"\"\"",
        &format!(
            r#"{{"at_ms":{day},"finding":"misread:S-band","evidence":"4f1c","text":"copied wrongly, \"2713\"","by":null}}"#
        ),
    );
    round_trip::<Deferral>(
        "at,radar,part,reason,until_h,until,approved_by",
        "2026-03-01T10:00,S-band,magnetron,customs,3800,2026-03-02,superintendent",
        &format!(
            r#"{{"at_ms":1772352000000,"radar":"S-band","part":"magnetron","reason":"customs","until_h":3800.0,"until_ms":{day},"approved_by":"superintendent"}}"#
        ),
    );
    round_trip::<LoggerExchange>(
        "at,radar,logger,reason",
        "2026-03-02,S-band,F1d07a2c9be8f346,torn off",
        &format!(
            r#"{{"at_ms":{day},"radar":"S-band","logger":"f1d07a2c9be8f346","serial":null,"reason":"torn off","by":null}}"#
        ),
    );
}

#[test]
fn every_mistake_is_named_with_line_and_column() {
    let head = "at,radar,quantity,hours\n2026-03-01T08:00Z,S-band,transmit,1\n";
    for (row, place, word) in [
        ("2026-03-01T08:00,S-band,transmit,1", "line 3, column 1 (at)", "no offset"),
        ("2026-03-01T08:00Z,X-band,transmit,1", "line 3, column 2 (radar)", "`S-band`"),
        (
            "2026-03-01T08:00Z,S-band,isolated,1",
            "line 3, column 3 (quantity)",
            "supply, heater, transmit, motor",
        ),
        ("2026-03-01T08:00Z,S-band,transmit,12h", "line 3, column 4 (hours)", "without a unit"),
        ("2026-03-01T08:00Z,S-band,transmit,-1", "line 3, column 4 (hours)", "cannot be"),
        ("2026-03-01T08:00Z,S-band,transmit,NaN", "line 3, column 4 (hours)", "cannot be"),
        ("2026-03-01T08:00Z,S-band,transmit,", "line 3, column 4 (hours)", "no figure"),
        ("2026-03-01T08:00Z,S-band,transmit", "line 3", "this row has 3 fields"),
    ] {
        let message = read_readings(&format!("{head}{row}\n")).unwrap_err().to_string();
        assert!(message.contains(place) && message.contains(word), "{row}: {message}");
    }
    let message = read_readings("at,radar,hours\n").unwrap_err().to_string();
    assert!(message.contains("line 1") && message.contains("no column `quantity`"), "{message}");
    let message = read_readings("at,radar,quantity,hours,who\n").unwrap_err().to_string();
    assert!(message.contains("column 5 is called `who`"), "{message}");
    let head = "at,radar,part,serial,counter_zeroed,zeroed_at,removed_because\n";
    for (row, place) in [
        ("2026-03-01T08:00Z,S-band,motor,B,yes,,", "column 3 (part)"),
        ("2026-03-01T08:00Z,S-band,magnetron,,yes,,", "column 4 (serial)"),
        ("2026-03-01T08:00Z,S-band,magnetron,B,maybe,,", "column 5 (counter_zeroed)"),
        ("2026-03-01T08:00Z,S-band,magnetron,B,no,2026-03-01T08:00Z,", "column 6 (zeroed_at)"),
        ("2026-03-01T08:00Z,S-band,magnetron,B,no,,worn", "column 7 (removed_because)"),
    ] {
        let message = read_fittings(&format!("{head}{row}\n")).unwrap_err().to_string();
        assert!(message.contains(place), "{row}: {message}");
    }
}

#[track_caller]
fn mistakes<F: Fact + std::fmt::Debug>(header: &str, cases: &[(&str, &str, &str)]) {
    for (row, place, word) in cases {
        let message = read::<F>(&format!("{header}\n{row}\n"), &Clock::default()).unwrap_err().to_string();
        assert!(message.contains(place) && message.contains(word), "{row}: {message}");
        assert!(message.contains("nothing was imported"), "{row}: {message}");
    }
}

#[test]
fn mistakes_in_the_other_kinds() {
    mistakes::<Zone>(
        "from,offset",
        &[
            ("2026-03-01T08:00,+02:00", "line 2, column 1 (from)", "no offset"),
            ("2026-03-01T08:00Z,CET", "line 2, column 2 (offset)", "+02:00"),
            (
                "2026-03-01T08:00Z,+02:00\n2026-03-02T08:00Z,+01:00\n2026-03-01T09:00+01:00,+01:00",
                "line 4, column 1 (from)",
                "something else from the same instant",
            ),
        ],
    );
    mistakes::<Condition>(
        "at,radar,quantity,value,unit,range_nm",
        &[
            ("2026-03-01,S-band,tube current,7,mA,", "column 1 (at)", "halfglass import zones FILE"),
            ("2026-03-01T08:00Z,S,tube current,7,mA,", "column 2 (radar)", "`S-band`"),
            ("2026-03-01T08:00Z,S-band,,7,mA,", "column 3 (quantity)", "what was measured"),
            ("2026-03-01T08:00Z,S-band,tube current,7 mA,mA,", "column 4 (value)", "without its unit"),
            ("2026-03-01T08:00Z,S-band,tube current,inf,mA,", "column 4 (value)", "a number"),
            ("2026-03-01T08:00Z,S-band,tube current,,mA,", "column 4 (value)", "no figure"),
            ("2026-03-01T08:00Z,S-band,tube current,7,,", "column 5 (unit)", "no unit"),
            ("2026-03-01T08:00Z,S-band,tube current,7,mA,0", "column 6 (range_nm)", "above 0"),
        ],
    );
    mistakes::<Leg>(
        "from,to,mode",
        &[
            ("2026-03-01T08:00Z,2026-03-01T08:00Z,sea", "column 2 (to)", "is not after"),
            ("2026-03-01T08:00Z,2026-03-02T08:00Z,Sea", "column 3 (mode)", "sea, port, anchor"),
        ],
    );
    let ends = "2026-03-01T08:00Z,2026-03-02T08:00Z";
    mistakes::<Window>(
        "from,to,place,aloft,daylight,chance",
        &[
            (&format!("{ends},,yes,,"), "column 3 (place)", "no place"),
            (&format!("{ends},Kiel,perhaps,,"), "column 4 (aloft)", "neither `yes` nor `no`"),
            (&format!("{ends},Kiel,yes,25,"), "column 5 (daylight)", "0 to 24"),
            (&format!("{ends},Kiel,yes,,90%"), "column 6 (chance)", "0 to 1"),
        ],
    );
    mistakes::<Work>(
        "radar,what,at,from,to,part",
        &[
            ("S-band,paint,,,,", "column 3 (at)", "no time"),
            (&format!("S-band,paint,2026-03-01T08:00Z,{ends},"), "column 3 (at)", "not both"),
            ("S-band,paint,,2026-03-01T08:00Z,,", "column 5 (to)", "without an end"),
            ("S-band,paint,,,2026-03-01T08:00Z,", "column 4 (from)", "without a beginning"),
            ("S-band,,2026-03-01T08:00Z,,,", "column 2 (what)", "what was done"),
            ("S-band,paint,2026-03-01T08:00Z,,,motor", "column 6 (part)", "`magnetron`"),
        ],
    );
    mistakes::<Answer>(
        "at,finding,evidence,text",
        &[
            ("2026-03-01T08:00Z,,4f1c,seen", "column 2 (finding)", "halfglass reconcile"),
            ("2026-03-01T08:00Z,misread,,seen", "column 3 (evidence)", "halfglass reconcile"),
            ("2026-03-01T08:00Z,misread,4f1c,", "column 4 (text)", "what was found out"),
        ],
    );
    let deferred = "2026-03-01T08:00Z,S-band,magnetron";
    mistakes::<Deferral>(
        "at,radar,part,reason,until_h,until,approved_by",
        &[
            (&format!("{deferred},,3800,,superintendent"), "column 4 (reason)", "no reason"),
            (&format!("{deferred},customs,,,superintendent"), "column 5 (until_h)", "has an end"),
            (&format!("{deferred},customs,0,,superintendent"), "column 5 (until_h)", "above 0"),
            (
                &format!("{deferred},customs,,2026-02-01T08:00Z,superintendent"),
                "column 6 (until)",
                "is not after",
            ),
            (&format!("{deferred},customs,3800,,"), "column 7 (approved_by)", "who gave leave"),
        ],
    );
    mistakes::<LoggerExchange>(
        "at,radar,logger,reason",
        &[
            ("2026-03-01T08:00Z,S-band,51d0,torn", "column 3 (logger)", "16 hexadecimal digits"),
            ("2026-03-01T08:00Z,S-band,51d07a2c9be8f346,", "column 4 (reason)", "why"),
        ],
    );
}
