//! Sentences for people: what widened a figure, what is missing and what to do about it.

use super::history::History;
use super::{Fitted, LimitedBy, Question};
use crate::time;
use crate::timeline::hours_between;

pub(super) fn no_fitting(asked: &Question) -> String {
    format!(
        "Missing: when this {0} was put in. Record it: halfglass add fitting --radar \"{1}\" --part \"{0}\" \
         --at TIME --serial SERIAL --counter-zeroed yes|no --hours-at-fit HOURS.",
        asked.part, asked.radar
    )
}

pub(super) fn no_limit(asked: &Question) -> Option<String> {
    let any = asked.limit_h.is_some() || asked.limit_months.is_some() || asked.limit_starts.is_some();
    (!any).then(|| {
        "Missing: a limit. Write limit_h, limit_months or limit_starts from the set's manual into ship.toml."
            .to_owned()
    })
}

pub(super) fn expiry(expiry_ms: i64, as_of_ms: i64, limited_by: Option<LimitedBy>) -> Option<String> {
    if expiry_ms <= as_of_ms {
        return Some(format!("Its months were over on {}.", time::date(expiry_ms)));
    }
    (limited_by != Some(LimitedBy::Months))
        .then(|| format!("By months alone it is due on {}.", time::date(expiry_ms)))
}

/// Figures below this, in hours, are not worth a sentence.
const WORTH_TELLING_H: f64 = 0.5;

/// Why the hours are as wide as they are.
pub(super) fn widening(asked: &Question, fit: &Fitted, as_of_ms: i64) -> Vec<String> {
    let mut notes = Vec::new();
    let (Some(hours), Some((first, last))) = (asked.hours, asked.course.ends()) else { return notes };
    let mut add = |hours: f64, sentence: String| {
        if hours >= WORTH_TELLING_H {
            notes.push(sentence);
        }
    };
    let width_h = hours.high - hours.low;
    let fitted_ms = fit.at.best_ms();
    let tail_h = asked.course.tail_h(fitted_ms, as_of_ms);
    let days_ago = tail_h / 24.0;
    add(
        // A record is due every 24 h: a younger one is no reason to pull again.
        if tail_h < 24.0 { 0.0 } else { tail_h },
        format!(
            "The last record is of {} UTC, {} ago: since then nothing or up to {tail_h:.0} h. Pull again.",
            time::minute(last.at.best_ms()),
            if days_ago >= 1.5 { format!("{days_ago:.0} days") } else { "1 day".to_owned() },
        ),
    );
    // What readings or the fitting itself have settled is no reason for width.
    let open = |hours: f64| if width_h < WORTH_TELLING_H { 0.0 } else { hours };
    let before_h = hours_between(fit.at.lo_ms, first.at.best_ms());
    // A logger put in together with the part begins with it, but for its clock.
    if before_h > 1.0 {
        let settled = if width_h < before_h { "; readings narrow that" } else { "" };
        let missing = if fit.hours_at_fit.is_none() && width_h >= before_h {
            " Missing: how many hours it had run when the log began. Record the fitting with hours_at_fit, at a time \
             that the log covers."
        } else {
            ""
        };
        add(
            open(before_h),
            format!(
                "Put in on {} UTC, before the log begins on {} UTC: in between nothing or up to {before_h:.0} h{settled}.{missing}",
                time::minute(fitted_ms),
                time::minute(first.at.best_ms()),
            ),
        );
    }
    let off_h = hours_between(fit.within.lo_ms, fit.at.lo_ms);
    if off_h > 1.0 {
        add(
            open(off_h),
            format!(
                "Neither an isolation of the scanner nor the counter confirms the day of fitting: it may be off by up to \
                 {:.0} days.",
                off_h / 24.0
            ),
        );
    } else {
        let bracket_h = asked.course.bracket_h(fit.at);
        add(
            open(bracket_h),
            if fit.at.lo_ms == fit.at.hi_ms {
                format!(
                    "The moment of fitting falls inside one record: up to {bracket_h:.1} h may belong to the part before."
                )
            } else {
                format!(
                    "The moment of fitting is not known to the minute: up to {bracket_h:.1} h may belong to the part before."
                )
            },
        );
    }
    let (dark_h, lost_h) = asked.course.unseen_since(fit.at);
    let dark_means = if asked.course.fed_from_radar {
        "; it is fed from the radar, so that counts as off"
    } else if width_h < dark_h {
        ", in which the radar may have run; readings narrow that"
    } else {
        ", in which the radar may have run"
    };
    add(open(dark_h), format!("The logger was without power for up to {dark_h:.0} h{dark_means}."));
    add(
        open(lost_h),
        format!(
            "Power cuts and words that could not be read may have taken up to {lost_h:.1} h from the count."
        ),
    );
    if fit.hours_at_fit.is_none() {
        notes.push("Taken as new when put in: no hours_at_fit is recorded.".to_owned());
    } else if asked.limit_starts.is_some() && fit.hours_at_fit.is_some_and(|hours| hours > 0.0) {
        notes.push("Starts before it was put in are not recorded: they are counted from then on.".to_owned());
    }
    notes
}

/// A history shorter than this is told to be short, in days.
const SHORT_DAYS: usize = 60;

/// What there is to say about the usage that a date rests on.
pub(super) fn usage(history: &History, lies: bool) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(change) = history.change.as_ref().filter(|change| change.is_told()) {
        let (before, since) = (change.before_h, change.since_h);
        notes.push(if change.gradual {
            format!(
                "Its use has been {} little by little: {before:.1} h a day before {}, {since:.1} h since. The date rests \
                 mostly on the time since.",
                if since > before { "growing" } else { "falling" },
                time::date(change.since_ms)
            )
        } else {
            format!(
                "Its use changed about {}: {since:.1} h a day since, {before:.1} h before. The date rests mostly on the time \
                 since ({:.0} %).",
                time::date(change.since_ms),
                change.probability * 100.0
            )
        });
    }
    if lies {
        let since =
            history.laid_up_since_ms.map_or("of late".to_owned(), |ms| format!("since {}", time::date(ms)));
        notes.push(format!(
            "Not used {since}: she is taken to lie until the first leg at sea that is planned."
        ));
    } else if history.laid_up_days > 0 {
        notes.push(format!(
            "On {} days of the log she was laid up; the date rests on the others.",
            history.laid_up_days
        ));
    }
    if history.days < SHORT_DAYS {
        notes.push(format!(
            "Only {} days of use are known: the date is the more open for that.",
            history.days
        ));
    }
    notes
}

pub(super) fn laid_up(since_ms: i64) -> String {
    format!(
        "it has not been used since {}, and no leg at sea that is planned says when she sails again (halfglass import legs \
         FILE)",
        time::date(since_ms)
    )
}
