//! The pages as a browser shows and prints them: the demo's, and those of a ship whose names are made to break them.

use halfglass_tests::command::{Place, halfglass};
use halfglass_tests::pages::{Browser, FOLDER, Page, Paper, Scheme, hostile_ship, print};
use std::path::Path;
use std::time::Instant;

/// CSS pixels of a computer's window, of a telephone's, and of A4 paper between its margins (96 to the inch).
const WINDOW: u32 = 1_060;
const TELEPHONE: u32 = 390;

/// A page within its margins, in CSS pixels: 297 mm less twice 14 mm and a little.
const PAPER_HEIGHT: f64 = 1_010.0;

/// A4 in points (ISO 216: 210 mm by 297 mm; 72 points to the inch of 25.4 mm).
const A4: (f64, f64) = (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0);

#[track_caller]
fn none(what: &str, complaints: &[String]) {
    assert!(complaints.is_empty(), "{what}:\n  {}", complaints.join("\n  "));
}

/// Everything that is asked of every page.
fn sound(browser: &mut Browser, file: &Path, figures: usize) {
    let what = |check: &str| format!("{check} of {}", file.display());
    for scheme in [Scheme::Light, Scheme::Dark] {
        let mut page = browser.open(file, scheme, WINDOW);
        page.eval("document.querySelectorAll('details').forEach((of) => { of.open = true; })");
        none(&what(&format!("contrast, {scheme:?},")), &page.complaints("contrast()"));
        if scheme == Scheme::Light {
            none(&what("figures"), &page.complaints(&format!("figures({figures})")));
            none(&what("structure"), &page.complaints("structure()"));
            none(&what("names for the keyboard"), &page.complaints("named()"));
            none(&what("what runs or loads"), &page.complaints("inert()"));
            none(&what("width"), &page.complaints("wide(false)"));
        }
        let (asked, said) = page.asked_and_said();
        none(&what("requests"), &asked);
        none(&what("console"), &said);
    }
    let mut page = browser.open(file, Scheme::Light, TELEPHONE);
    none(&what("width on a telephone"), &page.complaints("wide(false)"));
    drop(page);
    keyboard(&mut browser.open(file, Scheme::Light, WINDOW));
}

/// The tabulator goes through everything, in the order of the page, and what it is on can be seen.
fn keyboard(page: &mut Page<'_>) {
    let count = page.complaints("reachable().map(name)").len();
    for expected in 0..count.min(60) {
        page.tab();
        let at =
            page.complaints("[String(position()), getComputedStyle(document.activeElement).outlineStyle]");
        assert_eq!(at, [expected.to_string(), "solid".to_owned()], "of {count}");
    }
}

/// On paper: A4, nothing outside the margins, no row cut.
fn on_paper(browser: &mut Browser, file: &Path) -> Vec<Paper> {
    let paper = print(file);
    for page in &paper {
        assert!((page.size.0 - A4.0).abs() < 1.0 && (page.size.1 - A4.1).abs() < 1.0, "{:?}", page.size);
        for (edges, word) in &page.words {
            let inside =
                edges[0] > 28.0 && edges[2] < A4.0 - 28.0 && edges[1] > 20.0 && edges[3] < A4.1 - 20.0;
            assert!(inside, "`{word}` is at the edge of the paper: {edges:?}");
        }
    }
    // 182 mm between the margins, at 96 to the inch.
    let mut page = browser.open(file, Scheme::Light, 688);
    page.media("print", Scheme::Dark);
    none("width on paper", &page.complaints("wide(true)"));
    none("contrast on paper", &page.complaints("contrast()"));
    let mut looked_at = 0;
    for piece in page.complaints("pieces()") {
        let piece: serde_json::Value = serde_json::from_str(&piece).unwrap();
        assert_eq!(piece["kept"], true, "may be cut: {piece}");
        let cells: Vec<&str> =
            piece["cells"].as_array().unwrap().iter().filter_map(|cell| cell.as_str()).collect();
        let plain = cells.iter().all(|cell| cell.is_ascii());
        if piece["high"].as_f64().unwrap() > PAPER_HEIGHT || cells.is_empty() || !plain {
            continue;
        }
        looked_at += 1;
        let whole = paper.iter().any(|page| cells.iter().all(|cell| page.run.contains(cell)));
        assert!(
            whole,
            "on no page in one piece: {cells:?}\n{:#?}",
            paper.iter().map(|p| &p.run).collect::<Vec<_>>()
        );
    }
    assert!(looked_at >= 6, "only {looked_at} rows were looked at");
    paper
}

#[test]
fn the_demo_s_pages_are_sound_on_screen_and_on_paper() {
    let place = Place::empty();
    place.run(&["demo"]).fine().says(&["report.html", "handover.html", "card.html"]);
    let dir = place.path("halfglass-demo");
    let as_of = "--as-of=2026-03-01T08:12:00Z";
    let own = ["--ship", "halfglass-demo", "card", "x-band", "scanner motor", as_of, "--out", "motor.html"];
    place.run(&own).fine().says(&["motor.html", "before anyone goes aloft"]);

    let began = Instant::now();
    let mut browser = Browser::start();
    // A figure each radar, one each kind of measurement.
    for (file, figures) in [("report.html", 5), ("handover.html", 0), ("card.html", 0)] {
        sound(&mut browser, &dir.join(file), figures);
    }
    sound(&mut browser, &place.path("motor.html"), 0);
    println!("on screen: {:.1} s", began.elapsed().as_secs_f64());
    assert!(on_paper(&mut browser, &dir.join("report.html")).len() <= 7);
    assert_eq!(on_paper(&mut browser, &dir.join("handover.html")).len(), 1, "one page");
    assert!(on_paper(&mut browser, &dir.join("card.html")).len() <= 4);
    println!("and on paper: {:.1} s", began.elapsed().as_secs_f64());

    // What the table says, the figure says too.
    let mut page = browser.open(&dir.join("report.html"), Scheme::Light, WINDOW);
    let desc = page.eval("document.querySelector('#radar-1-desc').textContent");
    let desc = desc.as_str().unwrap();
    let due = place.run(&["--ship", "halfglass-demo", "due", "--json", as_of]).fine().json();
    let tube = due["parts"].as_array().unwrap().iter().find(|part| part["serial"] == "MS-0388").unwrap();
    assert!(desc.contains(&tube["due"]["p50"].as_str().unwrap()[..10]), "{desc}\n{tube}");
    assert!(desc.contains(&format!("{:.0} h", tube["hours"]["best"].as_f64().unwrap())), "{desc}\n{tube}");

    // How worn each logger's flash is: what `show` says for programs, and the rating that ship.toml has.
    let text = page.eval("document.querySelector('#health').closest('section').textContent");
    let text = text.as_str().unwrap();
    let shown = place.run(&["--ship", "halfglass-demo", "show", "--json"]).fine().json();
    let loggers = shown["loggers"].as_array().unwrap();
    assert_eq!(loggers.len(), 2);
    for logger in loggers {
        let wear = &logger["wear"];
        assert!(text.contains(logger["logger"].as_str().unwrap()), "{logger}");
        assert!(
            text.contains(&format!("totals {} erases a page", wear["totals"]["erases_of_a_page_max"])),
            "{text}"
        );
        assert!(text.contains(&format!("% of {} erases used", wear["erases_rated"])), "{text}");
    }
}

#[test]
fn a_hostile_ship_breaks_nothing_and_runs_nothing() {
    let (place, as_of) = hostile_ship();
    let as_of = format!("--as-of={as_of}");
    let began = Instant::now();
    place.ship(&["report", "--out", "report.html", &as_of]).fine();
    let took_s = began.elapsed().as_secs_f64();
    let size = std::fs::metadata(place.path("report.html")).unwrap().len();
    println!("12 radars, 10 years: {took_s:.2} s, {} KiB", size / 1024);
    assert!(size <= 2 * 1024 * 1024, "{size}");
    // The budget is for the optimised program; how long the other takes says nothing.
    let optimised = halfglass().parent().is_some_and(|profile| profile.ends_with("release"));
    assert!(!optimised || took_s <= 1.0, "{took_s}");
    place.ship(&["handover", "--out", "handover.html", &as_of]).fine();

    // Without --out, a name that any system takes.
    let toml = std::fs::read_to_string(place.path(FOLDER).join("ship.toml")).unwrap();
    assert!(toml.contains("<script>"));
    let script = "<script>window.hit=1</script>";
    let part: String = format!("magnetron {}", script.chars().rev().collect::<String>());
    place.ship(&["card", script, &part, &as_of]).fine().says(&["card-script-window-hit-1-script-magnetron-"]);
    let card = place.files(FOLDER).into_iter().find(|name| name.starts_with("card-")).unwrap();
    place.ship(&["card", script, "no such part"]).fails(2, &["no such part", "nothing was written"]);

    let mut browser = Browser::start();
    let (report, handover) = (place.path("report.html"), place.path("handover.html"));
    for file in [&report, &handover, &place.path(FOLDER).join(card)] {
        let mut page = browser.open(file, Scheme::Light, WINDOW);
        none("what runs or loads", &page.complaints("inert()"));
        none("structure", &page.complaints("structure()"));
        none("width", &page.complaints("wide(false)"));
        let (asked, said) = page.asked_and_said();
        none("requests", &asked);
        none("console", &said);
        let text = page.eval("document.body.textContent");
        assert!(text.as_str().unwrap().contains(script), "a name is shown as it was written");
        drop(page);
        let mut page = browser.open(file, Scheme::Light, TELEPHONE);
        none("width on a telephone", &page.complaints("wide(false)"));
        drop(page);
        on_paper(&mut browser, file);
    }
    let mut page = browser.open(&report, Scheme::Light, WINDOW);
    none("figures", &page.complaints("figures(24)"));
}

#[test]
fn pages_of_a_ship_of_which_nothing_is_known_say_what_to_do() {
    let place = Place::with_ship("[ship]\nname = \"MV Calder Sound\"\n");
    for (command, says) in [("report", "names no part yet"), ("handover", "names no part yet")] {
        place.ship(&[command, "--out", "-"]).fine().says(&["<!doctype html>", says, "does not authorise"]);
    }
    place.ship(&["card", "S-band", "magnetron"]).fails(2, &["no part `magnetron`"]);
    assert_eq!(place.files("ship"), ["halfglass.db", "ship.toml"]);
    let place = Place::with_ship(halfglass_tests::command::SHIP);
    place.ship(&["report", "--out", "-"]).fine().says(&["There is nothing to draw yet", "Missing"]);
    place.ship(&["card", "S-band", "magnetron"]).fine().says(&["card-s-band-magnetron-"]);
    place.ship(&["report"]).fine().says(&["report-"]);
    place.ship(&["report", "--out", "no/such/folder.html"]).fails(2, &["no/such/folder.html"]);
}
