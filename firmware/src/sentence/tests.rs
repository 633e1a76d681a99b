use super::trust::ShipTime;
use super::*;
use proptest::prelude::*;
use std::format;
use std::string::String;
use std::vec::Vec;

/// A sentence with its check sum, by the rule itself: the exclusive or of all between `$` and `*`.
fn sealed(content: &str) -> String {
    let sum = content.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${content}*{sum:02X}")
}

fn said(sentence: &str) -> Option<Said> {
    parse(sentence.as_bytes(), FIRST_YEAR)
}

/// Milliseconds since 1970 of a time counted year by year and month by month.
fn ms(year: u64, month: u64, day: u64, time_ms: u64) -> u64 {
    let is_leap =
        |year: u64| year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let length = |year: u64, month: u64| match month {
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u64::from(is_leap(year)),
        _ => 31,
    };
    let years: u64 = (1970..year).map(|year| 365 + u64::from(is_leap(year))).sum();
    let months: u64 = (1..month).map(|month| length(year, month)).sum();
    (years + months + day - 1) * 86_400_000 + time_ms
}

const T123519: u64 = ((12 * 60 + 35) * 60 + 19) * 1_000;

/// Worked sentences from outside this project; their check sums stand in them. GPGLL: NMEA 0183's worked example (seen in a
/// receiver's handbook); GPGGA, GPRMC and GPZDA: the examples that most handbooks repeat (from memory; the check sums confirm
/// them). The second ZDA is gpsd's (in its description of NMEA sentences).
#[test]
fn worked_sentences() {
    let rmc = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A";
    let first_year = 1990;
    let read = parse(rmc.as_bytes(), first_year).unwrap();
    assert_eq!(read.utc, Some(Utc { ms: ms(1994, 3, 23, T123519), step_ms: 1_000 }));
    assert_eq!(read.speed_tenth_knots, Some(224));

    let zda = said("$GPZDA,201530.00,04,07,2002,00,00*60").unwrap();
    let at = ((20 * 60 + 15) * 60 + 30) * 1_000;
    assert_eq!(zda.utc, Some(Utc { ms: ms(2002, 7, 4, at), step_ms: 10 }));
    assert_eq!(zda.speed_tenth_knots, None);
    let zda = said("$GPZDA,160012.71,11,03,2004,-1,00*7D").unwrap();
    assert_eq!(zda.utc.unwrap().ms, ms(2004, 3, 11, 16 * 3_600_000 + 12_710));

    // Sound, and of no interest here.
    assert_eq!(said("$GPGLL,5300.97914,N,00259.98174,E,125926,A*28"), None);
    assert_eq!(said("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"), None);
    // The same content as in VTG's description: 5.5 knots.
    assert_eq!(said("$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48").unwrap().speed_tenth_knots, Some(55));
}

#[test]
fn what_is_not_sound_says_nothing() {
    let good = "GPZDA,201530.00,04,07,2026,00,00";
    assert!(said(&sealed(good)).is_some());
    let sealed_bad = [
        // Fields missing, empty, too many, too long or short.
        "GPZDA,201530.00,04,07,2026,00",
        "GPZDA,201530.00,04,07,2026,00,00,1",
        "GPZDA,,,,,,",
        "GPZDA,201530.00,04,07,,00,00",
        "GPZDA,201530.00,,07,2026,00,00",
        "GPZDA,2015.00,04,07,2026,00,00",
        "GPZDA,20153000,04,07,2026,00,00",
        "GPZDA,201530.,04,07,2026,00,00",
        "GPZDA,201530.00000,04,07,2026,00,00",
        "GPZDA,201530.00,4,07,2026,00,00",
        "GPZDA,201530.00,04,07,26,00,00",
        // Numbers that only a lenient reader would take.
        "GPZDA,+01530.00,04,07,2026,00,00",
        "GPZDA,2015nan,04,07,2026,00,00",
        "GPZDA,20151e1,04,07,2026,00,00",
        "GPZDA,201530.00, 4,07,2026,00,00",
        // No such time, no such day.
        "GPZDA,241530.00,04,07,2026,00,00",
        "GPZDA,206030.00,04,07,2026,00,00",
        "GPZDA,201561.00,04,07,2026,00,00",
        "GPZDA,201530.00,31,06,2026,00,00",
        "GPZDA,201530.00,29,02,2026,00,00",
        "GPZDA,201530.00,00,07,2026,00,00",
        "GPZDA,201530.00,04,13,2026,00,00",
        "GPZDA,201530.00,04,07,1969,00,00",
        // A leap second has no place of its own.
        "GPZDA,235960.00,31,12,2026,00,00",
        // A maker's own sentence, lower case, a talker of one letter.
        "PGZDA,201530.00,04,07,2026,00,00",
        "gpZDA,201530.00,04,07,2026,00,00",
        "GPzda,201530.00,04,07,2026,00,00",
        "GZDA,201530.00,04,07,2026,00,00",
        // Status V, modes that measure nothing, no status.
        "GPRMC,123519,V,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W",
        "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W,N",
        "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W,S",
        "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W,E,S",
        "GPRMC,123519,,4807.038,N,01131.000,E,022.4,084.4,230326,003.1,W",
        "GPRMC,123519,A",
        "GPVTG,054.7,T,034.4,M,005.5,K,010.2,K",
        "GPVTG,054.7,T,034.4,M,,N,,K,N",
        "GPVTG,054.7,T,034.4,M,5.5.5,N,010.2,K",
    ];
    for content in sealed_bad {
        assert_eq!(said(&sealed(content)), None, "{content}");
    }
    // Cut anywhere, one character changed anywhere, a check sum in lower case or with a letter that is no digit.
    let whole = sealed(good);
    for len in 0..whole.len() {
        assert_eq!(said(&whole[..len]), None, "{}", &whole[..len]);
    }
    for at in 0..whole.len() {
        for flip in 1..=255u8 {
            let mut bytes = whole.clone().into_bytes();
            bytes[at] ^= flip;
            assert_eq!(parse(&bytes, FIRST_YEAR), None, "{at} {flip}");
        }
    }
    let lower = sealed("GPZDA,201530.00,06,07,2026,00,00");
    assert!(lower.ends_with("*64"));
    for (content, bad) in [("GPZDA,201531.00,04,11,2026,00,07", "5e"), (good, "6G"), (good, " 6")] {
        assert_eq!(said(&format!("${content}*{bad}")), None, "{bad}");
    }
}

/// A leap day, the hundred years of RMC's two digits, and a sentence of a position that is valid without a date.
#[test]
fn days_and_years() {
    let leap = said(&sealed("GPZDA,000000.00,29,02,2028,00,00")).unwrap();
    assert_eq!(leap.utc.unwrap().ms, ms(2028, 2, 29, 0));
    for (two_digits, year) in [("26", 2026), ("99", 2099), ("00", 2100), ("25", 2125)] {
        let rmc = said(&sealed(&format!("GPRMC,000000,A,,,,,,,0101{two_digits},,,A,V"))).unwrap();
        assert_eq!(rmc.utc.unwrap().ms, ms(year, 1, 1, 0), "{two_digits}");
        assert_eq!(rmc.speed_tenth_knots, None);
    }
    // A date that is no date leaves the speed.
    let rmc = said(&sealed("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,310226,003.1,W")).unwrap();
    assert_eq!(rmc, Said { utc: None, speed_tenth_knots: Some(224) });
}

/// What a listener makes of bytes that come one a millisecond.
fn listened(bytes: &[u8]) -> Vec<Said> {
    let mut listener = Listener::new();
    (0..).zip(bytes).filter_map(|(ms, byte)| listener.push(*byte, ms)).collect()
}

#[test]
fn garbage_between_sentences_costs_at_most_the_sentence_that_it_hits() {
    let zda = sealed("GPZDA,201530.00,04,07,2026,00,00");
    let heard = said(&zda).unwrap();
    let noise = format!(
        "ZDA,garbage\r\n{zda}\r\n\u{1}\u{2}${zda}\r\n!AIVDM,1,1,,A,14eG,0*7D\r\n{zda}\n\r\n{}\r\n{zda}\r",
        &zda[..20]
    );
    assert_eq!(listened(noise.as_bytes()), [heard; 4]);
    // A byte of noise within.
    for at in 1..zda.len() {
        let mut bytes = zda.clone().into_bytes();
        bytes.insert(at, 0xFF);
        bytes.extend(b"\r\n");
        assert_eq!(listened(&bytes), [], "{at}");
    }
    // The longest sentence is 82 characters with its end; a longer one is none, whatever its check sum.
    let content = |zeros: usize| format!("GPVTG,1,T,1,M,5.{},N,1,K", "0".repeat(zeros));
    let fits = sealed(&content(SENTENCE_MAX - 2 - sealed(&content(0)).len()));
    assert_eq!(fits.len() + 2, SENTENCE_MAX);
    assert_eq!(listened(format!("{fits}\r\n").as_bytes()).len(), 1);
    let longer = sealed(&content(SENTENCE_MAX - 1 - sealed(&content(0)).len()));
    assert_eq!(listened(format!("{longer}\r\n{zda}\r\n").as_bytes()), [heard]);
}

/// By hand: 4 July 2026 20:15:30, sentences a second apart; believed after ten seconds, and then the middle of what it can be:
/// said in hundredths up to 1.01 s late, so 505 ms later, give or take 505 ms.
#[test]
fn a_time_is_believed_after_ten_seconds_of_agreement() {
    let utc = |second: u64| Utc { ms: ms(2026, 7, 4, 72_930_000) + second * 1_000, step_ms: 10 };
    let mut trust = trust::Trust::new();
    for second in 0..10 {
        assert_eq!(trust.take(utc(second), 5_000 + second * 1_000), None, "{second}");
    }
    let believed = ShipTime { at_ms: 15_000, utc_ms: utc(10).ms + 505, uncertainty_ms: 505 };
    assert_eq!(trust.take(utc(10), 15_000), Some(believed));
    // An hour off: not believed, and what comes behind it must agree anew.
    assert_eq!(trust.take(utc(3_611), 16_000), None);
    assert_eq!(trust.take(utc(12), 17_000), None);
    assert_eq!(trust.take(utc(13), 18_000), None);
    assert_eq!(trust.take(utc(21), 26_000), None);
    assert!(trust.take(utc(22), 27_000).is_some());
    // A minute of silence: anew.
    assert_eq!(trust.take(utc(83), 88_001), None);
}

#[test]
fn a_clock_that_stands_and_a_year_that_cannot_be_are_never_believed() {
    let stands = Utc { ms: ms(2026, 7, 4, 0), step_ms: 1_000 };
    let mut trust = trust::Trust::new();
    assert!((0..600).all(|second| trust.take(stands, second * 1_000).is_none()));
    // A receiver whose count of weeks has come round: 1,024 weeks back from 2026 are in 2006. And the handbook's 1994, which
    // its two digits make 2094.
    for year in [2006, 2025, 2056, 2094] {
        let mut trust = trust::Trust::new();
        let utc = |second: u64| Utc { ms: ms(year, 7, 4, 0) + second * 1_000, step_ms: 1_000 };
        assert!((0..600).all(|second| trust.take(utc(second), second * 1_000).is_none()), "{year}");
    }
    let mut trust = trust::Trust::new();
    let utc = |second: u64| Utc { ms: ms(2026, 1, 1, 0) + second * 1_000, step_ms: 1_000 };
    assert!((0..600).any(|second| trust.take(utc(second), second * 1_000).is_some()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// Any bytes: no panic, and nothing is said without a sound check sum.
    #[test]
    fn any_bytes_do_no_harm(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        for said in listened(&bytes) {
            prop_assert!(said.utc.is_some() || said.speed_tenth_knots.is_some());
        }
        let _ = parse(&bytes, FIRST_YEAR);
    }

    /// Bytes that look like sentences: the same.
    #[test]
    fn anything_like_a_sentence_does_no_harm(text in "(\\$(GP|II|P)?(ZDA|RMC|VTG),[0-9A-Z,.+-]{0,70}\\*[0-9A-F]{2}\r\n){0,4}") {
        listened(text.as_bytes());
    }

    /// With a sound check sum, whatever the fields: what is said is a time that there is.
    #[test]
    fn sealed_fields_of_any_kind(text in "(GP)(ZDA|RMC|VTG),[0-9AVN,.+-]{0,60}") {
        if let Some(Said { utc: Some(utc), .. }) = said(&sealed(&text)) {
            prop_assert!(utc.ms < ms(10_000, 1, 1, 0), "{utc:?}");
        }
    }

    /// A sentence that was garbled so that its check sum fails never says a time, right or wrong.
    #[test]
    fn a_garbled_sentence_says_nothing(
        time_ms in 0u64..86_400_000, year in 2026u64..2050, month in 1u64..13, day in 1u64..29,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let (s, hundredths) = (time_ms / 1_000, time_ms % 1_000 / 10);
        let (h, m, s) = (s / 3_600, s / 60 % 60, s % 60);
        let text = sealed(&format!("GPZDA,{h:02}{m:02}{s:02}.{hundredths:02},{day:02},{month:02},{year},00,00"));
        let right = Utc { ms: ms(year, month, day, time_ms / 10 * 10), step_ms: 10 };
        prop_assert_eq!(said(&text).unwrap().utc, Some(right));
        let mut bytes = text.clone().into_bytes();
        for (at, change) in &changes {
            let at = at.index(bytes.len());
            bytes[at] ^= change;
        }
        let sum_fails = || {
            let star = bytes.len() - 3;
            let sum = bytes[1..star].iter().fold(0, |sum, byte| sum ^ byte);
            bytes[star] != b'*' || format!("{sum:02X}").as_bytes() != &bytes[star + 1..]
        };
        if bytes != text.as_bytes() && sum_fails() {
            prop_assert_eq!(parse(&bytes, FIRST_YEAR), None);
        }
    }
}
