//! `halfglass month-end` through the built program.

use halfglass_protocol::config::Config;
use halfglass_tests::command::{DEVICE, Place, SHIP};
use halfglass_tests::even_log::{dump, records};

/// 10 h a day of transmitting from the start of 2026 on.
fn ship() -> Place {
    let place = Place::with_ship(SHIP);
    place.write(
        "log.hgd",
        dump(DEVICE, &records(200, Config::as_in_guide(), [24, 12, 10, 10, 0, 0, 0, 0], &[])),
    );
    place.write(
        "fittings.csv",
        "at,radar,part,serial,counter_zeroed,hours_at_fit\n2026-01-01T00:00Z,S-band,magnetron,B-1,yes,0\n",
    );
    place.write(
        "readings.csv",
        "at,radar,quantity,hours\n2026-02-01T00:00Z,S-band,transmit,310\n2026-03-01T00:00Z,S-band,transmit,590\n\
         2026-04-01T00:00Z,S-band,transmit,900\n2026-05-01T00:00Z,S-band,transmit,1200\n",
    );
    place.ship(&["import", "dump", "log.hgd"]).fine();
    place.ship(&["import", "fittings", "fittings.csv"]).fine();
    place.ship(&["import", "readings", "readings.csv"]).fine();
    place
}

/// By hand: 1,510 h on 1 June.
#[test]
fn a_figure_that_fits_is_kept_and_the_planner_s_figures_follow() {
    let place = ship();
    let ran = place.ship(&["month-end", "--at", "2026-06-01T00:00Z", "--reading", "S-band/transmit=1510"]);
    ran.fine().says(&["1 reading kept.", "To enter in the planner", "Since renewal", "magnetron"]);
    place.ship(&["show"]).fine().says(&["1510"]);
    // The same again is nothing new.
    let again = place.ship(&["month-end", "--at", "2026-06-01T00:00Z", "--reading", "S-band/transmit=1510"]);
    again.fine().says(&["0 readings kept."]);
}

#[test]
fn two_digits_in_each_other_s_place_are_seen_at_once() {
    let place = ship();
    let wrong = ["month-end", "--at", "2026-06-01T00:00Z", "--reading", "S-band/transmit=5110"];
    let ran = place.ship(&wrong);
    assert_eq!(ran.code, 1, "{}", ran.out);
    ran.says(&["S-band, transmit: 5110", "1510, not 5110", "Nothing was kept"]);
    assert!(!place.ship(&["show"]).fine().out.contains("5110"));
    place.ship(&[&wrong[..], &["--keep"]].concat()).fine().says(&["1 reading kept.", "1510, not 5110"]);
}

#[test]
fn what_cannot_be_read_is_refused_with_an_example() {
    let place = ship();
    for (reading, says) in [
        ("S-band/transmit", "there is no `=HOURS`"),
        ("transmit=5", "there is no `RADAR/QUANTITY`"),
        ("S-band/isolated=5", "no radar counts that"),
        ("S-band/transmit=1,510", "is not a number of hours"),
        ("W-band/transmit=1510", "no radar `W-band`"),
    ] {
        place.ship(&["month-end", "--reading", reading]).fails(2, &[says]);
    }
    place.ship(&["month-end"]).fails(2, &["no terminal", "--reading S-band/transmit=HOURS"]);
}

/// The whole routine for two radars as an officer types it: three counters, the middle one with two digits in each other's
/// place, seen while the display is still in sight. The demo's radars showed 1897, 2873 and 1301 a minute before. What it
/// takes is printed; what the guide says of it is from there.
#[cfg(target_os = "linux")]
#[test]
fn two_radars_with_one_slip_of_the_hand() {
    use halfglass_tests::terminal::{command, run};
    let place = Place::empty();
    place.run(&["demo"]).fine();
    let mut month_end =
        command(&["--ship", "halfglass-demo", "month-end", "--at", "2026-03-01T08:13Z", "--by", "ETO"]);
    month_end.current_dir(place.path(""));
    let typed = "1897\n2783\n2873\n1301\n";
    let began = std::time::Instant::now();
    // A narrow terminal, so that wrapping shows.
    let shown = run(month_end, 60, typed);
    let took_s = began.elapsed().as_secs_f64();
    let said = shown.plain();
    assert_eq!(shown.code, 0, "{said}");
    let asked = said.matches(" hours: ").count();
    let questioned = said.matches("Look again. Figure").count();
    println!(
        "{asked} figures asked for, {questioned} questioned, {} keys typed, {took_s:.1} s of the program's own\n{said}",
        typed.len()
    );
    assert_eq!((asked, questioned), (3, 1), "{said}");
    // What is typed ahead was echoed at once, so what follows a question stands on its line here.
    let asks = |line: &&str| [" hours: ", "Look again"].iter().any(|words| line.contains(words));
    let widest = said.lines().filter(|line| !asks(line)).map(|line| line.chars().count()).max();
    assert!(widest <= Some(60), "{widest:?}\n{said}");
    assert!(said.contains("This looks like 2873, not 2783") && said.contains("3 readings kept."), "{said}");
    assert!(said.contains("To enter in the planner") && said.contains("MS-0388"), "{said}");
    let kept = place.run(&["--ship", "halfglass-demo", "show"]).fine().out.clone();
    let row = |radar: &str, quantity: &str, hours: &str| {
        let has = |line: &str| [radar, quantity, hours].iter().all(|word| line.contains(word));
        kept.lines().any(|line| line.contains("2026-03-01 08:13") && has(line))
    };
    assert!(row("X-band", "transmit", "1897") && row("S-band", "transmit", "2873"), "{kept}");
    assert!(row("S-band", "motor", "1301") && !kept.contains("2783"), "{kept}");
    // Room for a slow computer that does much else beside; five minutes are the officer's.
    assert!(took_s < 60.0, "{took_s}");
}
