//! Times as people write them, and as they are shown. Inside, an instant is milliseconds since 1970 in UTC, and
//! a time that is not known to the instant is a [`Moment`].

mod clock;
mod moment;

pub use clock::{Clock, parse_offset, written_offset};
pub use moment::Moment;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};

/// How a time is written, for messages.
const EXAMPLE: &str = "for instance 2026-03-01T08:00+00:00";

/// What a text says about a time.
enum Written {
    /// RFC 3339 with an offset: milliseconds since 1970 in UTC.
    Instant(i64),
    /// Date and time of day by some clock.
    Local(DateTime),
    /// A date by some clock.
    Day(Date),
}

/// What is written, or a sentence to put behind the place where it stood.
fn read(text: &str) -> Result<Written, String> {
    if text.is_empty() {
        return Err(format!("there is no time here: write one with its offset from UTC, {EXAMPLE}"));
    }
    // What stands before the offset, if there is one, must be a date and a time of day, both written out.
    if let Ok(instant) = text.parse::<Timestamp>() {
        return Ok(Written::Instant(instant.as_millisecond()));
    }
    if text.len() <= 10
        && let Ok(day) = text.parse::<Date>()
    {
        return Ok(Written::Day(day));
    }
    let local = text.parse::<DateTime>().map(Written::Local);
    local.map_err(|_| format!("`{text}` is not a time: write date, time and offset from UTC, {EXAMPLE}"))
}

/// Why a time without an offset is refused.
fn no_offset(text: &str, written: &Written) -> String {
    match written {
        Written::Day(_) => format!(
            "`{text}` has no time of day and no offset from UTC: write the time and the offset, {EXAMPLE}"
        ),
        _ => format!(
            "the time `{text}` has no offset from UTC, so it could mean many instants: write the offset, {EXAMPLE}"
        ),
    }
}

/// Reads RFC 3339 with an offset.
///
/// # Errors
/// What is wrong with it and what to write instead, as a sentence to put behind the place where it stood.
pub fn parse_ms(text: &str) -> Result<i64, String> {
    match read(text.trim())? {
        Written::Instant(ms) => Ok(ms),
        written => Err(no_offset(text.trim(), &written)),
    }
}

/// RFC 3339 in UTC, to the second: `2026-03-01T08:00:00Z`.
#[must_use]
pub fn rfc3339(utc_ms: i64) -> String {
    show(utc_ms, "%Y-%m-%dT%H:%M:%SZ")
}

/// For tables: `2026-03-01 08:00`, in UTC.
#[must_use]
pub fn minute(utc_ms: i64) -> String {
    show(utc_ms, "%Y-%m-%d %H:%M")
}

/// For tables: `2026-03-01`, in UTC.
#[must_use]
pub fn date(utc_ms: i64) -> String {
    show(utc_ms, "%Y-%m-%d")
}

/// For file names: `20260301T080000Z`.
#[must_use]
pub fn compact(utc_ms: i64) -> String {
    show(utc_ms, "%Y%m%dT%H%M%SZ")
}

fn show(utc_ms: i64, format: &str) -> String {
    match Timestamp::from_millisecond(utc_ms) {
        Ok(instant) => instant.strftime(format).to_string(),
        Err(_) if utc_ms < 0 => "before the year -9999".to_owned(),
        Err(_) => "after the year 9999".to_owned(),
    }
}

/// The instant so many calendar months later, in UTC; the 31st becomes a shorter month's last day.
/// `None` beyond the year 9999.
#[must_use]
pub fn months_later(utc_ms: i64, months: u32) -> Option<i64> {
    let instant = Timestamp::from_millisecond(utc_ms).ok()?.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    let later = instant.checked_add(jiff::Span::new().try_months(i64::from(months)).ok()?).ok()?;
    Some(later.timestamp().as_millisecond())
}

/// The system's clock.
#[must_use]
pub fn now_ms() -> i64 {
    Timestamp::now().as_millisecond()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rfc_3339_examples() {
        // RFC 3339 section 5.8; the instants worked out by `date -u -d ... +%s`.
        assert_eq!(parse_ms("1985-04-12T23:20:50.52Z"), Ok(482_196_050_520));
        assert_eq!(parse_ms("1996-12-19T16:39:57-08:00"), Ok(851_042_397_000));
        assert_eq!(parse_ms("1937-01-01T12:00:27.87+00:20"), Ok(-1_041_337_172_130));
        // A leap second is the instant after it here: no counter resolves it.
        assert!(parse_ms("1990-12-31T23:59:60Z").is_ok());
        assert_eq!(parse_ms("2026-03-01T08:00+00:00"), Ok(1_772_352_000_000));
    }

    #[test]
    fn a_time_without_an_offset_is_refused_with_advice() {
        for (text, word) in [
            ("2026-03-01T08:00", "no offset"),
            ("2026-03-01 08:00:00", "no offset"),
            ("2026-03-01", "no time of day"),
            ("yesterday", "not a time"),
            ("", "no time here"),
            ("2026-13-01T08:00Z", "not a time"),
        ] {
            let message = parse_ms(text).unwrap_err();
            assert!(message.contains(word), "{text}: {message}");
            assert!(message.contains("2026-03-01T08:00+00:00"), "{text}: {message}");
        }
    }

    #[test]
    fn months_follow_the_calendar() {
        let at = |text| parse_ms(text).unwrap();
        assert_eq!(months_later(at("2024-01-31T00:00Z"), 1), Some(at("2024-02-29T00:00Z")));
        assert_eq!(months_later(at("2021-06-15T12:00Z"), 60), Some(at("2026-06-15T12:00Z")));
    }
}
