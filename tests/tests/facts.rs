//! What people write, through the built program: every kind by file and by hand, wholly or not at all, twice as once.

use halfglass_tests::command::{Place, SHIP};

/// A kind: its word for `import`, its key in `show --json`, a sound file, and a row that is wrong.
struct Kind {
    import: &'static str,
    shown: &'static str,
    file: &'static str,
    wrong: &'static str,
    says: &'static str,
}

const KINDS: [Kind; 10] = [
    Kind {
        import: "zones",
        shown: "zones",
        file: "from,offset\n2026-02-01T00:00Z,+02:00\n2026-03-20T00:00Z,+01:00\n",
        wrong: "2026-04-01T00:00,+01:00\n",
        says: "line 4, column 1 (from)",
    },
    Kind {
        import: "readings",
        shown: "readings",
        file: "at,radar,quantity,hours\n2026-03-01T08:00,S-band,transmit,3121\n2026-03-02,S-band,heater,4000\n",
        wrong: "2026-03-03T08:00,S-band,transmit,many\n",
        says: "line 4, column 4 (hours)",
    },
    Kind {
        import: "fittings",
        shown: "fittings",
        file: "at,radar,part,serial,counter_zeroed,by\n2026-03-01T08:00,S-band,magnetron,B-1,yes,\"Okoro, J\"\n",
        wrong: "2026-03-01T08:00,S-band,magnetron,,yes,\n",
        says: "line 3, column 4 (serial)",
    },
    Kind {
        import: "conditions",
        shown: "conditions",
        file: "at,radar,quantity,value,unit,pulse\n2026-03-01,S-band,tube current,7.5,mA,long\n",
        wrong: "2026-03-01,S-band,tube current,7.5,,long\n",
        says: "line 3, column 5 (unit)",
    },
    Kind {
        import: "legs",
        shown: "legs",
        file: "from,to,mode\n2026-03-01T18:00,2026-03-09T06:00,sea\n2026-03-09T06:00,2026-03-11,port\n",
        wrong: "2026-03-11,2026-03-12,drifting\n",
        says: "line 4, column 3 (mode)",
    },
    Kind {
        import: "windows",
        shown: "windows",
        file: "from,to,place,aloft,transmit,chance\n2026-03-09,2026-03-11,Kiel,yes,no,0.9\n",
        wrong: "2026-03-19,2026-03-11,Kiel,yes,no,0.9\n",
        says: "line 3, column 2 (to)",
    },
    Kind {
        import: "works",
        shown: "works",
        file: "radar,what,at,from,to\nS-band,paint,2026-03-09,,\nS-band,grease,,2026-03-09T09:00,2026-03-09T10:00\n",
        wrong: "S-band,paint,,,\n",
        says: "line 4, column 3 (at)",
    },
    Kind {
        import: "answers",
        shown: "answers",
        file: "at,finding,evidence,text\n2026-03-10,misread:S-band,4f1c,\"copied \"\"2713\"\"\nwrongly\"\n",
        wrong: "2026-03-10,,4f1c,copied wrongly\n",
        says: "line 4, column 2 (finding)",
    },
    Kind {
        import: "deferrals",
        shown: "deferrals",
        file: "at,radar,part,reason,until_h,approved_by\n2026-03-10,S-band,magnetron,customs,3800,superintendent\n",
        wrong: "2026-03-10,S-band,magnetron,customs,,superintendent\n",
        says: "line 3, column 5 (until_h)",
    },
    Kind {
        import: "loggers",
        shown: "logger_exchanges",
        file: "at,radar,logger,reason\n2026-03-10,S-band,51d07a2c9be8f346,torn off\n",
        wrong: "2026-03-10,S-band,51d07a2c9be8f34,torn off\n",
        says: "line 3, column 3 (logger)",
    },
];

/// A ship whose clock stood at +02:00, and at +01:00 from 20 March on.
fn with_zones() -> Place {
    let place = Place::with_ship(SHIP);
    place.write("zones.csv", KINDS[0].file);
    place.ship(&["import", "zones", "zones.csv"]).fine().says(&["2 zones in the file, 2 new"]);
    place
}

#[test]
fn a_file_of_each_kind_comes_in_wholly_or_not_at_all_and_once() {
    let place = with_zones();
    let mut expected = place.rows();
    for kind in &KINDS {
        let count = || place.ship(&["show", "--json"]).fine().json()[kind.shown].as_array().unwrap().len();
        let before = count();
        place.write("wrong.csv", format!("{}{}", kind.file, kind.wrong));
        let refused = place.ship(&["import", kind.import, "wrong.csv"]);
        refused.fails(2, &["wrong.csv, ", kind.says, "nothing was imported"]);
        assert_eq!(place.rows(), expected, "{}: nothing of the file is there", kind.import);
        assert_eq!(count(), before, "{}", kind.import);

        place.write("right.csv", kind.file);
        place.ship(&["import", kind.import, "right.csv"]).fine();
        let after = count();
        assert!(after > before || kind.import == "zones", "{}", kind.import);
        expected += i64::try_from(after - before).unwrap();
        assert_eq!(place.rows(), expected, "{}", kind.import);
        let shown = place.ship(&["show"]).fine().out.clone();
        place.ship(&["import", kind.import, "right.csv"]).fine().says(&[" 0 new"]);
        assert_eq!(place.rows(), expected, "{}: twice is once", kind.import);
        assert_eq!(place.ship(&["show"]).fine().out, shown, "{}", kind.import);
    }
}

#[test]
fn the_example_in_each_help_is_a_command_that_works() {
    let place = Place::with_ship(SHIP);
    let kinds =
        ["reading", "fitting", "work", "deferral", "answer", "condition", "logger", "zone", "leg", "window"];
    for (at, kind) in (1..).zip(kinds) {
        let help = place.run(&["add", kind, "--help"]).fine().out.clone();
        let (_, example) = help.split_once("Example:").unwrap_or_else(|| panic!("{help}"));
        let args = words(example);
        assert_eq!(
            (args[0].as_str(), args[1].as_str(), args[2].as_str()),
            ("halfglass", "add", kind),
            "{help}"
        );
        place.ship(&args[1..]).fine().says(&["kept; its number is 1"]);
        place.ship(&args[1..]).fine().says(&["was here already"]);
        assert_eq!(place.rows(), at);
        place.run(&["import", &plural(kind), "--help"]).fine().says(&["Columns, in any order:"]);
    }
}

fn plural(kind: &str) -> String {
    format!("{kind}s")
}

/// A command line's words, as a shell takes them apart: single quotes hold words together.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (at, piece) in line.split('\'').enumerate() {
        let piece = piece.split_whitespace();
        if at % 2 == 1 {
            words.push(piece.collect::<Vec<_>>().join(" "));
        } else {
            words.extend(piece.map(str::to_owned));
        }
    }
    words
}

#[test]
fn local_times_are_understood_once_the_ship_s_clock_is_known() {
    let place = Place::with_ship(SHIP);
    let reading = |at: &str, hours: &str| {
        ["add", "reading", "--at", at, "--radar", "S-band", "--quantity", "transmit", "--hours", hours]
            .map(str::to_owned)
    };
    for at in ["2026-03-01T08:00", "2026-03-01"] {
        let refused = place.ship(&reading(at, "1"));
        refused.fails(2, &["--at: ", at, "write the", "halfglass import zones FILE", "Nothing was added"]);
    }
    assert_eq!(place.rows(), 0);
    place.write("zones.csv", KINDS[0].file);
    place.ship(&["import", "zones", "zones.csv"]).fine();
    place.ship(&reading("2026-03-01T08:00", "1")).fine();
    let day = place.ship(&reading("2026-03-02", "2"));
    day.fine().says(&["kept as 2026-03-01 22:00 to 2026-03-02 22:00 UTC"]);
    // 20 March at 00:00Z the clock went from 02:00 back to 01:00: 01:30 was shown at 23:30Z and at 00:30Z.
    let twice = place.ship(&reading("2026-03-20T01:30", "3"));
    twice.fine().says(&["kept as 2026-03-19 23:30 to 2026-03-20 00:30 UTC"]);
    place.ship(&reading("2026-01-31", "4")).fails(2, &["before the first offset", "halfglass add zone"]);

    let readings = || place.ship(&["show", "--json"]).fine().json()["readings"].clone();
    let before = readings();
    assert_eq!(before[0]["at"], "2026-03-01T06:00:00Z");
    assert_eq!(
        (&before[1]["at"], &before[1]["at_low"]),
        (&"2026-03-02T10:00:00Z".into(), &"2026-03-01T22:00:00Z".into())
    );
    assert_eq!(before[2]["at_high"], "2026-03-20T00:30:00Z");
    // What was meant is kept: another offset for that time changes none of it, and none is there twice.
    let zone = ["add", "zone", "--from", "2026-02-01T00:00Z", "--offset", "-03:00"];
    place.ship(&zone).fails(2, &["zone 1 says", "+02:00", "--corrects 1"]);
    place.ship(&[&zone[..], &["--corrects", "1"]].concat()).fine();
    assert_eq!(readings(), before);
    place.ship(&reading("2026-03-01T08:00", "1")).fine().says(&["number is 4"]);
    assert_eq!(readings()[1]["at"], "2026-03-01T11:00:00Z");
}

#[test]
fn a_correction_of_any_kind_takes_the_older_one_s_place() {
    let place = with_zones();
    for kind in KINDS.iter().filter(|kind| kind.import != "zones") {
        place.write("right.csv", kind.file);
        place.ship(&["import", kind.import, "right.csv"]).fine();
    }
    let corrections = [
        ("works", "add work --radar S-band --what inspection --at 2026-03-09"),
        ("windows", "add window --from 2026-03-09 --to 2026-03-11 --place Kiel --aloft yes --chance 0"),
        (
            "deferrals",
            "add deferral --at 2026-03-10 --radar S-band --part magnetron --reason customs --until 2026-04-30 --approved-by superintendent",
        ),
        (
            "conditions",
            "add condition --at 2026-03-01 --radar S-band --quantity tuning --value -3.5 --unit dB",
        ),
    ];
    for (shown, command) in corrections {
        let list = || place.ship(&["show", "--json"]).fine().json()[shown].as_array().unwrap().clone();
        let before = list();
        let mut args: Vec<&str> = command.split(' ').collect();
        args.extend(["--corrects", "1"]);
        place.ship(&args).fine().says(&["kept"]);
        let after = list();
        assert_eq!(after.len(), before.len(), "{shown}");
        assert!(after.iter().all(|fact| fact["number"] != 1), "{shown}: {after:?}");
        args.pop();
        args.push("99");
        // Known by now, so it is no correction of anything; another one names what is not there.
        place.ship(&args).fine().says(&["was here already"]);
        args.extend(["--by", "Okoro"]);
        if matches!(shown, "works" | "conditions") {
            place.ship(&args).fails(2, &["there is no ", " 99 to correct", "Nothing was changed"]);
        }
    }
    place.ship(&["show"]).fine().says(&[
        "inspection",
        "Logger exchanges",
        "Reason",
        "torn off",
        "Until (UTC)",
    ]);
}
