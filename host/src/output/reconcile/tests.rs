use super::*;
use crate::output::screen::Screen;
use crate::reconcile::{Instead, Interval, Kind, When};
use halfglass_protocol::config::Role;

/// As a pipe gets it.
fn plain(report: &Report) -> String {
    anstream::adapter::strip_str(&text(report, Screen::PIPE)).to_string()
}

const AS_OF_MS: i64 = 1_772_352_000_000;

fn item(kind: Kind, is_question: bool, state: State) -> Item {
    let finding = Finding {
        kind,
        part: Some("magnetron".into()),
        line: Some(Role::Transmit),
        from_ms: AS_OF_MS - 86_400_000,
        to_ms: AS_OF_MS,
        probability: 0.912_345,
        evidence: vec!["The counter showed 1\u{1b}[2J.".into()],
        instead: Some(Instead { kind: None, probability: 0.06 }),
        is_question,
        advice: "Look the figure up.".into(),
        facts: Vec::new(),
    };
    Item { finding, key: "S/misread/transmit/reading-7".into(), digest: "00c0ffee".into(), state }
}

fn report(items: Vec<Item>) -> Report {
    let at = When { lo_ms: 0, hi_ms: 0 };
    let parts = vec![PartHours {
        part: "magnetron".into(),
        serial: Some("B-1".into()),
        fitted: Some(at),
        fitted_within: Some(at),
        hours: Some(Interval { low: 10.000_4, best: 10.5, high: 11.000_4 }),
        why_not: None,
    }];
    let radar = Radar {
        name: "S-band".into(),
        parts,
        items,
        drop_outs: Some(Rate { per_100_h: 0.5, recent_per_100_h: 2.0, chance_of_rise: 0.001 }),
        short_warm_ups: None,
        notes: vec![],
        has_log: true,
        has_papers: true,
    };
    Report { ship: "Calder".into(), folder: "my ship".into(), as_of_ms: AS_OF_MS, radars: vec![radar] }
}

fn answered() -> State {
    State::Answered { text: "the 7 was a 1".into(), at: Moment::exact(AS_OF_MS) }
}

#[test]
fn a_finding_says_what_when_how_sure_why_and_what_to_do() {
    let text = plain(&report(vec![item(Kind::Misread, false, State::Open)]));
    for words in [
        "S-band: 1 finding.",
        "  1. A reading of the transmit counter was misread or mistyped. [misread]",
        "2026-02-28 08:00 to 2026-03-01 08:00 UTC",
        "likely (91 %)",
        "The counter showed 1",
        "nothing is wrong (6 %)",
        "Look the figure up.",
        "halfglass --ship \"my ship\" add answer --at 2026-03-01T08:00:00Z --finding S/misread/transmit/reading-7 \
         --evidence 00c0ffee --text \"...\"",
        "2.00 over the last 500: they have become more frequent",
    ] {
        assert!(text.contains(words), "`{words}` is missing in\n{text}");
    }
    assert!(!text.contains('\u{1b}'), "no control characters: {text:?}");
}

#[test]
fn questions_ask_answers_close_and_agreement_is_said() {
    let question = plain(&report(vec![item(Kind::Misread, true, State::Open)]));
    assert!(question.contains("S-band: 1 question."), "{question}");
    assert!(question.contains("Was a reading of the transmit counter misread or mistyped?"), "{question}");
    let closed = plain(&report(vec![item(Kind::Misread, false, answered())]));
    assert!(closed.contains("S-band: all sources agree."), "{closed}");
    assert!(closed.contains("Answered on 2026-03-01") && closed.contains("the 7 was a 1"), "{closed}");
    assert!(!closed.contains("  1. "), "{closed}");
    let State::Answered { text: answer, at } = answered() else { unreachable!() };
    let again = plain(&report(vec![item(Kind::Misread, false, State::Reopened { text: answer, at })]));
    assert!(again.contains("There is new evidence since."), "{again}");
}

#[test]
fn only_open_findings_that_are_more_than_questions_want_attention() {
    let wants = |is_question, state| item(Kind::Misread, is_question, state).wants_attention();
    assert!(wants(false, State::Open));
    assert!(!wants(true, State::Open) && !wants(false, answered()));
}

#[test]
fn the_json_is_as_promised() {
    let items = vec![item(Kind::Misread, false, State::Open), item(Kind::LineDead, false, answered())];
    let value: serde_json::Value = serde_json::from_str(&json(&report(items))).unwrap();
    let expected = serde_json::json!({
        "version": 1,
        "as_of": "2026-03-01T08:00:00Z",
        "radars": [{
            "radar": "S-band",
            "parts": [{
                "part": "magnetron", "serial": "B-1", "fitted_at": "1970-01-01T00:00:00Z",
                "hours": {"low": 10.0, "best": 10.5, "high": 11.001}, "unknown_because": null
            }],
            "findings": [{
                "kind": "misread", "part": "magnetron", "line": "transmit",
                "from": "2026-02-28T08:00:00Z", "to": "2026-03-01T08:00:00Z", "probability": 0.912,
                "evidence": ["The counter showed 1\u{1b}[2J."],
                "instead": {"kind": null, "probability": 0.06}, "advice": "Look the figure up.",
                "question": false, "reopened": false,
                "key": "S/misread/transmit/reading-7", "digest": "00c0ffee"
            }],
            "answered": [{
                "kind": "line-dead", "key": "S/misread/transmit/reading-7", "answer": "the 7 was a 1",
                "at": "2026-03-01T08:00:00Z"
            }],
            "rates": {
                "drop_outs": {"per_100_h": 0.5, "recent_per_100_h": 2.0, "chance_of_rise": 0.001},
                "short_warm_ups": null
            },
            "notes": []
        }]
    });
    assert_eq!(value, expected);
}

#[test]
fn every_kind_has_words_of_its_own() {
    let all: Vec<Finding> = Kind::ALL.iter().map(|kind| item(*kind, false, State::Open).finding).collect();
    let mut titles: Vec<String> = all.iter().map(words::title).collect();
    let mut questions: Vec<String> = all.iter().map(words::question).collect();
    assert!(questions.iter().all(|question| question.ends_with('?')), "{questions:?}");
    titles.sort();
    titles.dedup();
    questions.sort();
    questions.dedup();
    assert_eq!((titles.len(), questions.len()), (Kind::ALL.len(), Kind::ALL.len()));
}
