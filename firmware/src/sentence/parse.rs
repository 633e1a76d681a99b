//! One sentence, from `$` to the two digits of its check sum.
//!
//! ```text
//!  $GPZDA,201530.00,04,07,2002,00,00*60
//!   talker (2), formatter (3), fields, * and the exclusive or of all between $ and *, in two upper-case digits
//!
//!  ZDA  hhmmss.ss, day, month, year (4 digits), two fields of the local zone
//!  RMC  hhmmss.ss, A or V, 4 of position, speed in knots, course, ddmmyy, 2 of variation [, mode [, state]]
//!  VTG  course, T, course, M, speed, N (knots), speed, K (km/h) [, mode]
//! ```

/// What a sentence says; a sentence that says nothing of interest is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Said {
    /// The ship's time (ZDA, RMC).
    pub utc: Option<Utc>,
    /// Speed over ground in tenths of a knot (RMC, VTG).
    pub speed_tenth_knots: Option<u16>,
}

/// A time as a sentence gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Utc {
    /// Milliseconds since 1970, UTC; further digits are cut off.
    pub ms: u64,
    /// What its digits resolve, in milliseconds: 1000 for whole seconds, 10 for hundredths.
    pub step_ms: u16,
}

/// Reads a sentence without its CR LF. `None`: it is garbled, not sound (no position fix, estimated, simulated), of another
/// kind, or says nothing. A time within a leap second (second 60) is left out: it has no place of its own in milliseconds since
/// 1970. Years of two digits are of the hundred years from `first_year` on.
#[must_use]
pub fn parse(sentence: &[u8], first_year: u16) -> Option<Said> {
    let content = sentence.strip_prefix(b"$")?;
    let (content, tail) = content.split_last_chunk::<3>()?;
    let [b'*', high, low] = *tail else { return None };
    let sum = content.iter().fold(0, |sum, byte| sum ^ byte);
    if sum != digit16(high)? << 4 | digit16(low)? || content.contains(&b'*') {
        return None;
    }
    let (address, fields) = content.split_first_chunk::<5>()?;
    let fields = Fields(fields.strip_prefix(b",")?);
    let [t1, t2, formatter @ ..] = address;
    // A `P` marks a maker's own sentence, whose fields mean what that maker likes.
    if *t1 == b'P' || ![t1, t2].into_iter().all(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit()) {
        return None;
    }
    let said = match formatter {
        b"ZDA" => zda(fields)?,
        b"RMC" => rmc(fields, first_year)?,
        b"VTG" => vtg(fields)?,
        _ => return None,
    };
    (said.utc.is_some() || said.speed_tenth_knots.is_some()).then_some(said)
}

fn zda(fields: Fields<'_>) -> Option<Said> {
    fields.count(6..=6)?;
    let time = time(fields.at(0)?)?;
    let (day, month) = (digits(fields.at(1)?, 2)?, digits(fields.at(2)?, 2)?);
    let utc = time.on(digits(fields.at(3)?, 4)?, month, day)?;
    Some(Said { utc: Some(utc), speed_tenth_knots: None })
}

fn rmc(fields: Fields<'_>, first_year: u16) -> Option<Said> {
    fields.count(11..=13)?;
    if fields.at(1)? != b"A" || !is_measured(fields.at(11)) {
        return None;
    }
    let speed_tenth_knots = tenths(fields.at(6)?);
    let utc = || {
        let time = time(fields.at(0)?)?;
        let date = fields.at(8)?;
        let (day, month) = (digits(date.get(..2)?, 2)?, digits(date.get(2..4)?, 2)?);
        let two_digits = digits(date.get(4..)?, 2)?;
        let first_year = u32::from(first_year);
        let year = first_year + (two_digits + 100 - first_year % 100) % 100;
        time.on(year, month, day)
    };
    Some(Said { utc: utc(), speed_tenth_knots })
}

fn vtg(fields: Fields<'_>) -> Option<Said> {
    fields.count(8..=9)?;
    if fields.at(5)? != b"N" || !is_measured(fields.at(8)) {
        return None;
    }
    Some(Said { utc: None, speed_tenth_knots: tenths(fields.at(4)?) })
}

/// Whether a mode says that the talker measured it: autonomous, differential, precise, real-time kinematic. Older talkers
/// have no such field; estimated, manual, simulated and not valid are not measured.
fn is_measured(mode: Option<&[u8]>) -> bool {
    mode.is_none_or(|mode| matches!(mode, b"" | b"A" | b"D" | b"F" | b"P" | b"R"))
}

/// Fields with commas between.
#[derive(Clone, Copy)]
struct Fields<'a>(&'a [u8]);

impl<'a> Fields<'a> {
    fn at(self, number: usize) -> Option<&'a [u8]> {
        self.0.split(|byte| *byte == b',').nth(number)
    }

    /// There are so many.
    fn count(self, range: core::ops::RangeInclusive<usize>) -> Option<()> {
        range.contains(&self.0.split(|byte| *byte == b',').count()).then_some(())
    }
}

/// A time of day.
struct Time {
    ms: u32,
    step_ms: u16,
}

/// `hhmmss`, with a decimal point and one to four digits or without. No leap second.
fn time(field: &[u8]) -> Option<Time> {
    let (whole, fraction) = field.split_first_chunk::<6>()?;
    let [h1, h2, m1, m2, s1, s2] = *whole;
    let (hour, minute, second) = (digits(&[h1, h2], 2)?, digits(&[m1, m2], 2)?, digits(&[s1, s2], 2)?);
    if hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    let (mut ms, mut step_ms) = (0, 1_000);
    if let Some((point, fraction)) = fraction.split_first() {
        if *point != b'.' || !(1..=4).contains(&fraction.len()) {
            return None;
        }
        for byte in fraction {
            let digit = digits(&[*byte], 1)?;
            step_ms /= 10;
            ms += digit * u32::from(step_ms);
        }
    }
    Some(Time { ms: ((hour * 60 + minute) * 60 + second) * 1_000 + ms, step_ms: step_ms.max(1) })
}

impl Time {
    /// This time on a day; `None` if there is no such day from 1970 on.
    fn on(&self, year: u32, month: u32, day: u32) -> Option<Utc> {
        let is_leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            4 | 6 | 9 | 11 => 30,
            2 if is_leap => 29,
            2 => 28,
            _ => return None,
        };
        if !(1970..=9999).contains(&year) || !(1..=days).contains(&day) {
            return None;
        }
        // Days since 1 March of year 0: with the leap day last in its year, months are 30.6 days long to the day.
        let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
        let days = 365 * year + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + day - 1;
        let days = u64::from(days.checked_sub(DAYS_TO_1970)?);
        Some(Utc { ms: days * 86_400_000 + u64::from(self.ms), step_ms: self.step_ms })
    }
}

/// From 1 March of year 0 to 1 January 1970.
const DAYS_TO_1970: u32 = 719_468;

/// A number of exactly so many decimal digits.
fn digits(field: &[u8], len: usize) -> Option<u32> {
    if field.len() != len {
        return None;
    }
    field.iter().try_fold(0u32, |number, byte| {
        let digit = byte.wrapping_sub(b'0');
        (digit < 10).then(|| number.wrapping_mul(10).wrapping_add(u32::from(digit)))
    })
}

/// A number with or without a decimal point, in tenths; further digits are cut off. Below 1000.
fn tenths(field: &[u8]) -> Option<u16> {
    let mut parts = field.split(|byte| *byte == b'.');
    let (whole, fraction, more) = (parts.next()?, parts.next(), parts.next());
    if more.is_some() || !(1..=3).contains(&whole.len()) {
        return None;
    }
    let whole = digits(whole, whole.len())?;
    let tenth = match fraction {
        None => 0,
        Some(fraction) => {
            digits(fraction, fraction.len())?;
            fraction.first().map_or(0, |byte| u32::from(byte.wrapping_sub(b'0')))
        }
    };
    u16::try_from(whole * 10 + tenth).ok()
}

/// A hexadecimal digit, upper case as the standard has it.
fn digit16(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        _ => None,
    }
}
