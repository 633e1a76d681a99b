use super::*;

fn finding(kind: Kind, facts: &[FactId], to_ms: i64) -> Finding {
    Finding {
        kind,
        part: None,
        line: Some(Role::Transmit),
        from_ms: 1_772_352_000_000,
        to_ms,
        probability: 0.9,
        evidence: Vec::new(),
        instead: None,
        is_question: false,
        advice: String::new(),
        facts: facts.to_vec(),
    }
}

const DAY_MS: i64 = 86_400_000;
/// 2026-03-02T08:00:00Z.
const TO_MS: i64 = 1_772_438_400_000;

#[test]
fn a_key_stays_and_a_digest_follows_the_evidence() {
    let beside = Beside { isolations: [(5_000, (0xabcd, 1_200))].into(), ..Beside::default() };
    let of = |finding: &Finding| identity("X-band 1", finding, &beside);
    let two = [FactId::Reading(12), FactId::Reading(9)];
    let (key, digest) = of(&finding(Kind::Misread, &two, TO_MS));
    assert_eq!(key, "X-band-1/misread/transmit/reading-9");
    // The same facts in another order, dated otherwise.
    let again = [FactId::Reading(9), FactId::Reading(12), FactId::Reading(9)];
    assert_eq!(of(&finding(Kind::Misread, &again, TO_MS + 90 * DAY_MS)), (key.clone(), digest.clone()));
    // Another fact.
    let more = [FactId::Reading(9), FactId::Reading(12), FactId::Reading(13)];
    let (same, other) = of(&finding(Kind::Misread, &more, TO_MS));
    assert_eq!(same, key);
    assert_ne!(other, digest);
    // An isolation is known by the logger's uptime, which no clock moves.
    let (key, _) = of(&finding(Kind::WorkUnrecorded, &[FactId::Isolation(5_000)], TO_MS));
    assert_eq!(key, "X-band-1/work-unrecorded/transmit/isolation-abcd-2");
}

#[test]
fn what_goes_on_is_news_by_the_month_and_what_always_holds_is_not() {
    let of = |finding: &Finding| identity("S", finding, &Beside::default());
    let dead = |days: i64| of(&finding(Kind::LineDead, &[], TO_MS + days * DAY_MS));
    assert_eq!(dead(0), dead(20));
    assert_eq!(dead(0).0, dead(40).0);
    assert_ne!(dead(0).1, dead(40).1);
    let law = |facts: &[FactId]| of(&finding(Kind::CountsOtherLine, facts, TO_MS));
    assert_eq!(law(&[FactId::Reading(1)]), law(&[FactId::Reading(1), FactId::Reading(2)]));
}

fn answer(key: &str, digest: &str) -> Kept<Answer> {
    let fact = Answer {
        at: crate::time::Moment::exact(TO_MS),
        finding: key.to_owned(),
        evidence: digest.to_owned(),
        text: "looked up".to_owned(),
        by: None,
    };
    Kept { id: 1, fact }
}

#[test]
fn an_answer_closes_until_there_is_new_evidence() {
    let found = finding(Kind::Misread, &[FactId::Reading(9)], TO_MS);
    let (key, digest) = identity("S", &found, &Beside::default());
    let state = |answers: &[Kept<Answer>]| {
        let account = Account { radar: "S".to_owned(), findings: vec![found.clone()], ..Account::default() };
        let facts = reconcile::Radar::default();
        radar(account, &Beside::default(), &facts, answers).items[0].state.clone()
    };
    let (text, at) = ("looked up".to_owned(), crate::time::Moment::exact(TO_MS));
    assert_eq!(state(&[]), State::Open);
    assert_eq!(state(&[answer("S/misread/transmit/reading-8", &digest)]), State::Open);
    assert_eq!(state(&[answer(&key, "00000000")]), State::Reopened { text: text.clone(), at });
    assert_eq!(state(&[answer(&key, "00000000"), answer(&key, &digest)]), State::Answered { text, at });
}

#[test]
fn ship_toml_against_the_logger_is_a_wiring_finding_once() {
    let disagreement = crate::cmd::door::wiring::Disagreement {
        role: Role::Transmit,
        sentence: "ship.toml has transmit on input 2, but ...".to_owned(),
    };
    let beside = Beside { wiring: vec![disagreement], ..Beside::default() };
    let kinds = |findings: Vec<Finding>| {
        let account = Account { radar: "S".to_owned(), findings, ..Account::default() };
        let items = radar(account, &beside, &reconcile::Radar::default(), &[]).items;
        items.iter().map(|item| (item.finding.kind, item.finding.evidence.len())).collect::<Vec<_>>()
    };
    assert_eq!(kinds(vec![]), [(Kind::Wiring, 1)]);
    assert_eq!(kinds(vec![finding(Kind::Wiring, &[], TO_MS)]), [(Kind::Wiring, 1)], "one cause, one finding");
}
