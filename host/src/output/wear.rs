//! How far a logger's flash is worn, in words.

use crate::wear::{Ring, Used, Wear};

/// From this share of the rated erases on, the next logger is due. Common practice, no source.
const SHARE_MAX: f64 = 0.8;
/// So are fewer years than this. A spare logger is fitted in any yard stay before then.
const YEARS_MIN: f64 = 3.0;
/// More years than this are not counted: other things end first.
const YEARS_MAX: f64 = 100.0;

/// `totals 142 erases a page, 38 a year; history 3, 1 a year`.
#[must_use]
pub fn erases(wear: &Wear) -> String {
    let ring = |name: &str, unit: &str, ring: Ring| {
        let erases = ring.erases;
        let a_year = ring.erases_per_year.map(|a_year| format!(", {:.0} a year", a_year.ceil()));
        let retired = match ring.retired {
            0 => String::new(),
            retired => format!(", {retired} of {} pages given up", ring.pages),
        };
        format!("{name} {erases}{unit}{}{retired}", a_year.unwrap_or_default())
    };
    let times = if wear.totals.erases == 1 { " erase a page" } else { " erases a page" };
    format!("{}; {}", ring("totals", times, wear.totals), ring("history", "", wear.history))
}

/// `6 % of 10000 erases used, 42 years left at this rate`.
#[must_use]
pub fn used(wear: &Wear, erases_rated: u32) -> String {
    let Used { share, years_left } = wear.used(erases_rated);
    let left = match years_left {
        Some(years) if years > YEARS_MAX => format!(", over {YEARS_MAX} years left at this rate"),
        Some(years) if years >= 1.0 => format!(", {} years left at this rate", years.floor()),
        Some(_) => ", under a year left at this rate".to_owned(),
        None => String::new(),
    };
    format!("{} % of {erases_rated} erases used{left}", (share * 100.0).ceil())
}

/// What to do about it, if anything.
#[must_use]
pub fn remedy(wear: &Wear, erases_rated: Option<u32>) -> Option<String> {
    let worn_out = erases_rated.filter(|rated| {
        let used = wear.used(*rated);
        used.share >= SHARE_MAX || used.years_left.is_some_and(|years| years < YEARS_MIN)
    });
    if let Some(rated) = worn_out {
        let used = used(wear, rated);
        return Some(format!(
            "Its flash is nearly worn out: {used}. Have another logger ready; when it has taken this one's place, \
             `halfglass add logger` says so, and no hour is lost."
        ));
    }
    wear.faster.map(|times| {
        format!(
            "Its flash wears {times:.1} times as fast as before. Look with `halfglass watch` for a line that chatters, and \
             in `halfglass show` for a logger that starts again and again."
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wear(erases: u32, erases_per_year: Option<f64>) -> Wear {
        let totals = Ring { erases, erases_per_year, retired: 0, pages: 64 };
        let history = Ring { erases: erases / 100, erases_per_year: None, retired: 2, pages: 62 };
        Wear { at_ms: 0, totals, history, faster: None }
    }

    #[test]
    fn wear_in_words() {
        assert_eq!(
            erases(&wear(607, Some(221.5))),
            "totals 607 erases a page, 222 a year; history 6, 2 of 62 pages given up"
        );
        assert_eq!(
            used(&wear(607, Some(221.5)), 10_000),
            "7 % of 10000 erases used, 42 years left at this rate"
        );
        assert_eq!(used(&wear(607, None), 100_000), "1 % of 100000 erases used");
        assert_eq!(
            used(&wear(7, Some(0.1)), 10_000),
            "1 % of 10000 erases used, over 100 years left at this rate"
        );
        assert_eq!(
            used(&wear(9_990, Some(222.0)), 10_000),
            "100 % of 10000 erases used, under a year left at this rate"
        );
    }

    #[test]
    fn a_logger_near_its_end_says_what_to_do_in_time() {
        assert_eq!(remedy(&wear(607, Some(222.0)), Some(10_000)), None);
        assert_eq!(remedy(&wear(60_700, Some(222.0)), None), None, "nobody entered what it stands");
        assert!(remedy(&wear(8_100, Some(222.0)), Some(10_000)).unwrap().contains("add logger"));
        assert!(remedy(&wear(3_000, Some(3_000.0)), Some(10_000)).unwrap().contains("2 years left"));
        let chatters = Wear { faster: Some(2.62), ..wear(3_000, Some(500.0)) };
        assert!(remedy(&chatters, None).unwrap().starts_with("Its flash wears 2.6 times as fast"));
    }
}
