//! The demo as a newcomer runs it: the built program, in a folder of its own, and what it leaves there.

use halfglass_tests::command::Place;

/// How long the transmit line of a timeline was on between two instants, in hours: plain differences.
fn transmitted_h(lines_csv: &str, from: &str, to: &str) -> f64 {
    let ms = |text: &str| text.parse::<jiff::Timestamp>().unwrap().as_millisecond();
    let (from_ms, to_ms) = (ms(from), ms(to));
    let (mut total_ms, mut on_ms) = (0, None);
    let mut count = |on_ms: i64, off_ms: i64| total_ms += (off_ms.min(to_ms) - on_ms.max(from_ms)).max(0);
    for row in lines_csv.lines().skip(1) {
        let fields: Vec<&str> = row.split(',').collect();
        match (fields[1], fields[2], on_ms) {
            ("transmit", "1", _) => on_ms = Some(ms(fields[0])),
            ("transmit", "0", Some(since_ms)) => {
                count(since_ms, ms(fields[0]));
                on_ms = None;
            }
            _ => {}
        }
    }
    if let Some(since_ms) = on_ms {
        count(since_ms, to_ms);
    }
    total_ms as f64 / 3_600_000.0
}

#[test]
fn from_an_empty_folder_to_a_due_table() {
    let place = Place::empty();
    let began = std::time::Instant::now();
    let demo = place.run(&["demo"]);
    println!("the demo took {:.1} s\n{}", began.elapsed().as_secs_f64(), demo.out);
    let dir = "halfglass-demo";
    demo.fine().says(&[
        "INVENTED ship",
        "X-band  magnetron",
        "S-band  magnetron",
        "advises, it does not authorise",
        "halfglass-demo/INVENTED.txt",
    ]);
    if cfg!(target_os = "linux") {
        demo.says(&[" on /dev/pts/"]);
    }
    // What the README shows of it is what it says, paragraph by paragraph.
    let readme = std::fs::read_to_string(xtask::root().join("README.md")).unwrap();
    let mut shown = 0;
    for block in readme.split("```text\n").skip(1).filter_map(|rest| rest.split("```").next()) {
        // The picture of the parts is no output.
        if block.starts_with("MV ") || block.starts_with("  2. ") {
            shown += 1;
            for paragraph in block.trim_end().split("\n\n") {
                assert!(
                    demo.out.contains(paragraph),
                    "the README shows what the demo does not say:\n{paragraph}"
                );
            }
        }
    }
    assert_eq!(shown, 2, "README.md shows the due table and the findings");
    let files = [
        "INVENTED.txt",
        "card.html",
        "conditions.csv",
        "dumps",
        "fittings.csv",
        "halfglass.db",
        "handover.html",
        "lines-s-band.csv",
        "lines-x-band.csv",
        "readings.csv",
        "report.html",
        "ship.toml",
        "windows.csv",
    ];
    assert_eq!(place.files(dir), files);
    assert!(
        place.files(&format!("{dir}/dumps")).len() > 36,
        "two loggers, eighteen monthly pulls and today's"
    );

    // The commands that it names are run as they stand.
    let (said, closing) = demo.out.split_once("commands to try next").unwrap();
    let next: Vec<Vec<&str>> = closing
        .lines()
        .filter_map(|line| line.trim().split_once("halfglass --ship "))
        .map(|(_, rest)| ["--ship"].into_iter().chain(rest.split_whitespace()).collect())
        .collect();
    let [show, before, json, reconciled] = next.as_slice() else { panic!("four commands: {next:?}") };
    place.run(show).fine();
    place.run(before).fine().says(&["MX-0231"]);
    let answer = place.run(json).fine().json();
    let as_of = answer["as_of"].as_str().unwrap();
    let part = |radar: &str, name: &str| {
        let parts = answer["parts"].as_array().unwrap();
        parts.iter().find(|part| part["radar"] == radar && part["part"] == name).unwrap().clone()
    };

    // Each magnetron's hours hold the truth of the timeline, counted from its own fitting.
    let fittings = std::fs::read_to_string(place.path("halfglass-demo/fittings.csv")).unwrap();
    for (radar, serial, lines) in
        [("X-band", "MX-0264", "lines-x-band.csv"), ("S-band", "MS-0388", "lines-s-band.csv")]
    {
        let row = fittings.lines().find(|row| row.contains(serial)).unwrap();
        let fitted_at = row.split(',').next().unwrap();
        let lines = std::fs::read_to_string(place.path(dir).join(lines)).unwrap();
        let truth_h = transmitted_h(&lines, fitted_at, as_of);
        let magnetron = part(radar, "magnetron");
        assert_eq!(magnetron["serial"], serial);
        let hours = |key: &str| magnetron["hours"][key].as_f64().unwrap();
        assert!(
            hours("low") <= truth_h && truth_h <= hours("high"),
            "{radar}: the truth is {truth_h} h, the answer {}",
            magnetron["hours"]
        );
        assert!((hours("best") - truth_h).abs() < 2.0, "{radar}: {truth_h} h, {}", magnetron["hours"]);
        assert!(magnetron["due"]["p50"].is_string(), "{magnetron}");
        let counts_all_h = transmitted_h(&lines, "2024-09-01T00:00:00Z", as_of);
        assert_eq!(radar == "X-band", truth_h < 0.6 * counts_all_h, "the X-band tube was renewed on the way");
    }
    let states = ["S-band", "X-band"].map(|radar| part(radar, "magnetron")["state"].clone());
    assert_eq!(states, ["deferred", "soon"], "there is something to see");
    // One tube runs down and its drop-outs rise; of the other a slight fall shows, which is no warning.
    let conditions = answer["conditions"].as_array().unwrap();
    let warned: Vec<_> = conditions.iter().filter(|one| one["warning"] == true).collect();
    assert!(warned.len() == 1 && warned[0]["quantity"] == "tube current", "{conditions:#?}");
    assert!(warned[0]["radar"] == "S-band" && warned[0]["half_at"].is_string(), "{conditions:#?}");
    assert!(conditions.iter().all(|one| one["trend"] == "falling"), "{conditions:#?}");
    let deferral = &part("S-band", "magnetron")["deferral"];
    assert_eq!(
        (&deferral["stands"], &deferral["approved_by"]),
        (&"yes".into(), &"the superintendent".into())
    );
    let plan = place.run(&["--ship", dir, "plan", "--as-of", as_of, "--json"]).fine().json();
    for work in plan["works"].as_array().unwrap().iter().filter(|work| work["part"] == "magnetron") {
        assert_eq!(work["decision"], "planned", "{work:#}");
        assert!(said.contains(work["window"]["place"].as_str().unwrap()), "{said}");
    }

    let note = std::fs::read_to_string(place.path("halfglass-demo/INVENTED.txt")).unwrap();
    planted_and_found(said, &note, &place.run(reconciled).fine().json());
}

/// What is planted, by a word of INVENTED.txt's account of it, and as what it must be found on which radar.
const PLANTED: [(&str, &str, &str); 7] = [
    ("each other's place", "S-band", "readings-swapped"),
    ("two digits", "X-band", "misread"),
    ("transceiver was exchanged", "X-band", "counter-exchanged"),
    ("off its terminal", "X-band", "line-dead"),
    ("service menu", "S-band", "zeroed-without-fitting"),
    ("wrote nothing down", "S-band", "work-unrecorded"),
    ("into fittings.csv", "S-band", "fitting-misdated"),
];

/// Each disagreement is found once, on its radar, at its time, and told to people and programs alike; and nothing else is.
fn planted_and_found(said: &str, note: &str, answer: &serde_json::Value) {
    let mut found: Vec<(&str, &serde_json::Value)> = Vec::new();
    for radar in answer["radars"].as_array().unwrap() {
        let all = radar["findings"].as_array().unwrap().iter();
        found.extend(all.map(|finding| (radar["radar"].as_str().unwrap(), finding)));
    }
    for (word, radar, kind) in PLANTED {
        let line = note.lines().find(|line| line.contains(word)).unwrap_or_else(|| panic!("{word}: {note}"));
        assert!(line.contains(radar), "{line}");
        let day = line.split_whitespace().next().unwrap();
        let own: Vec<_> = found.iter().filter(|(is, one)| *is == radar && one["kind"] == kind).collect();
        let [(_, finding)] = own.as_slice() else { panic!("{kind} of {radar}: {answer:#}") };
        let bound = |key: &str| &finding[key].as_str().unwrap()[..10];
        assert!(bound("from") <= day && day <= bound("to"), "{line}\n{finding:#}");
        assert!(said.contains(&format!("[{kind}]")), "{said}");
        assert!(said.contains(finding["key"].as_str().unwrap()), "{said}");
    }
    assert_eq!(found.len(), PLANTED.len(), "{answer:#}");
    let rate = &answer["radars"][1]["rates"]["drop_outs"];
    assert!(rate["chance_of_rise"].as_f64().unwrap() < 0.01, "the S-band tube drops out of late: {rate}");
}

#[test]
fn a_folder_that_is_not_a_demo_is_left_alone() {
    let place = Place::with_ship("# somebody's own\n");
    let refused = place.run(&["demo", "--dir", "ship"]);
    refused.fails(2, &["not from an earlier demo", "nothing was changed", "--dir"]);
    assert_eq!(place.files("ship"), ["ship.toml"]);
    assert_eq!(std::fs::read_to_string(place.path("ship/ship.toml")).unwrap(), "# somebody's own\n");
}
