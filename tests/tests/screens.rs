//! What a reader sees: answers at terminals of several widths, with and without colours, and in a pipe.
//!
//! `NO_COLOR`: <https://no-color.org>, "when present and not an empty string (regardless of its value)"; what the command line
//! says goes before it. `CLICOLOR_FORCE`: <https://bixense.com/clicolors>.

#![cfg(target_os = "linux")]

use halfglass_tests::command::Place;
use halfglass_tests::terminal::{Shown, command, plain, run};
use std::process::Command;

const AS_OF: &str = "2026-03-01T08:12:00Z";
const WIDTHS: [u16; 3] = [60, 80, 132];

struct Demo {
    place: Place,
    /// A dump of the S-band's logger.
    dump: String,
}

impl Demo {
    fn new() -> Demo {
        let place = Place::empty();
        place.run(&["demo"]).fine();
        let dumps = place.files("halfglass-demo/dumps");
        let dump = format!("halfglass-demo/dumps/{}", dumps.last().unwrap());
        Demo { place, dump }
    }

    /// Each answer that has a table.
    fn answers(&self) -> Vec<Vec<&str>> {
        let at = |name| vec!["--ship", "halfglass-demo", name, "--as-of", AS_OF];
        let show = vec!["--ship", "halfglass-demo", "show"];
        vec![at("due"), at("plan"), at("reconcile"), show, vec!["show", &self.dump]]
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = command(arguments);
        command.current_dir(self.place.path(""));
        command
    }

    fn at(&self, columns: u16, arguments: &[&str], settings: &[(&str, &str)]) -> Shown {
        let mut command = self.command(arguments);
        command.envs(settings.iter().copied());
        let shown = run(command, columns, "");
        assert_eq!(shown.code, 0, "{}", shown.raw);
        shown
    }

    fn piped(&self, arguments: &[&str], settings: &[(&str, &str)]) -> String {
        let mut command = self.command(arguments);
        command.envs(settings.iter().copied());
        self.place.run_command(&mut command).fine().out.clone()
    }
}

/// A command that is there to be copied is not wrapped.
fn is_to_copy(line: &str) -> bool {
    line.starts_with("     close     halfglass ")
}

/// What is left of a date that was broken at the end of a line: `2026-04-` and `01`, or `2026-04` and `-01`.
fn is_broken_date(word: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    word.strip_suffix('-').is_some_and(|begin| digits(&begin.replace('-', "")))
        || word.strip_prefix('-').is_some_and(|end| digits(end.trim_end_matches([',', '.', ':', ';'])))
}

#[test]
fn every_answer_at_every_width() {
    let demo = Demo::new();
    no_line_is_wider_than_the_terminal_and_no_date_is_broken(&demo);
    colours_are_for_terminals_and_whoever_wants_them_and_never_carry_the_meaning(&demo);
    in_a_pipe_a_row_is_a_line_for_grep_and_awk(&demo);
}

fn no_line_is_wider_than_the_terminal_and_no_date_is_broken(demo: &Demo) {
    for answer in demo.answers() {
        for columns in WIDTHS {
            let said = demo.at(columns, &answer, &[]).plain();
            let widest = said.lines().filter(|line| !is_to_copy(line)).map(|line| line.chars().count()).max();
            println!("{answer:?} at {columns}: {} lines, the widest {widest:?}", said.lines().count());
            assert!(widest <= Some(columns.into()), "{answer:?} at {columns}:\n{said}");
            let broken: Vec<&str> = said.split_whitespace().filter(|word| is_broken_date(word)).collect();
            assert!(broken.is_empty(), "{answer:?} at {columns}: {broken:?}\n{said}");
        }
    }
    let due = demo.answers().swap_remove(0);
    let wide = demo.at(160, &due, &[]).plain();
    let row = |line: &&str| {
        ["soon", "X-band", "magnetron", "MX-0264", "5700 h"].iter().all(|word| line.contains(word))
    };
    assert!(wide.lines().any(|line| row(&line)), "where there is room a part is one line:\n{wide}");
    let narrow = demo.at(80, &due, &[]).plain();
    for word in ["soon", "X-band", "magnetron", "MX-0264", "2026-04-20 to 2026-04-26", "1022 h, limit 5700 h"]
    {
        assert!(narrow.contains(word), "{word}\n{narrow}");
    }
}

fn colours_are_for_terminals_and_whoever_wants_them_and_never_carry_the_meaning(demo: &Demo) {
    for answer in &demo.answers()[..3] {
        let coloured = demo.at(80, answer, &[]);
        assert!(coloured.has_escapes(), "{answer:?}");
        assert!(demo.at(80, answer, &[("NO_COLOR", "")]).has_escapes(), "an empty NO_COLOR is none");
        for settings in [("NO_COLOR", "1"), ("NO_COLOR", "anything"), ("CLICOLOR", "0"), ("TERM", "dumb")] {
            let without = demo.at(80, answer, &[settings]);
            assert!(!without.has_escapes(), "{answer:?} {settings:?}");
            assert_eq!(without.raw, coloured.plain(), "{settings:?}: every word stays");
        }
        let never = [&["--color", "never"], &answer[..]].concat();
        assert_eq!(demo.at(80, &never, &[]).raw, coloured.plain());
        let always = [&["--color", "always"], &answer[..]].concat();
        assert_eq!(
            demo.at(80, &always, &[("NO_COLOR", "1")]).raw,
            coloured.raw,
            "the command line goes first"
        );

        let piped = demo.piped(answer, &[]);
        assert!(!piped.contains('\u{1b}'), "{answer:?}");
        assert_eq!(demo.piped(answer, &[("COLUMNS", "40")]), piped, "a pipe has no width");
        let forced = demo.piped(answer, &[("CLICOLOR_FORCE", "1")]);
        assert!(forced.contains('\u{1b}') && plain(&forced) == piped, "{answer:?}");
        assert!(
            !demo.piped(&[&answer[..], &["--json"]].concat(), &[("CLICOLOR_FORCE", "1")]).contains('\u{1b}')
        );
    }
    let due = demo.at(80, &demo.answers()[0], &[("NO_COLOR", "1")]).raw;
    assert!(due.contains(" soon ") && due.contains(" ok ") && due.contains("LOOK:"), "{due}");
}

/// A row is a line, its columns stand apart by two spaces or more, and nothing is drawn round it.
fn in_a_pipe_a_row_is_a_line_for_grep_and_awk(demo: &Demo) {
    for answer in demo.answers() {
        let said = demo.piped(&answer, &[]);
        let drawn = said.chars().find(|c| ('\u{2500}'..='\u{259f}').contains(c));
        assert_eq!(drawn, None, "{answer:?}");
    }
    let due = demo.piped(&demo.answers()[0], &[]);
    let rows: Vec<Vec<&str>> = due
        .lines()
        .filter(|line| [" soon ", " ok ", " deferred "].iter().any(|state| line.starts_with(state)))
        .map(|line| line.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect())
        .collect();
    assert_eq!(rows.len(), 4, "{due}");
    assert!(rows.iter().all(|row| row.len() == 9), "{rows:?}");
    assert_eq!(rows[0][..4], ["soon", "X-band", "magnetron", "MX-0264"]);
    let plan = demo.piped(&demo.answers()[1], &[]);
    let row = plan.lines().find(|line| line.starts_with(" S-band  magnetron")).unwrap();
    assert!(
        row.contains("Port Merrow, 2026-03-14 06:00 to 2026-03-16 20:00") && row.contains("MS-0419"),
        "{row}"
    );
}
