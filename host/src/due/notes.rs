//! Sentences for people: what widened a figure, what is missing and what to do about it.

use super::hours::Growth;
use super::wiring::Disagreement;
use super::{Fitted, LimitedBy, Question};
use crate::time;
use crate::timeline::Timeline;
use crate::timeline::dating::{Dating, When};

pub(super) fn no_fitting(asked: &Question) -> String {
    format!(
        "Missing: when this {0} was put in. Record it: halfglass add fitting --radar \"{1}\" --part \"{0}\" \
         --at TIME --serial SERIAL --counter-zeroed yes|no --hours-at-fit HOURS.",
        asked.part, asked.radar
    )
}

pub(super) fn no_limit() -> String {
    "Missing: a limit. Write limit_h, limit_months or limit_starts from the set's manual into ship.toml."
        .to_owned()
}

pub(super) fn no_log(asked: &Question) -> String {
    format!("Missing: the log of logger {:016x}. Pull it: halfglass pull.", asked.logger)
}

pub(super) fn no_log_by_then(asked: &Question, as_of_ms: i64) -> String {
    format!(
        "Missing: a log up to {} UTC; the log of logger {:016x} begins later.",
        time::minute(as_of_ms),
        asked.logger
    )
}

pub(super) fn no_anchor(asked: &Question) -> String {
    format!(
        "Missing: the date. The clock of logger {:016x} was never set against another: pull it with a computer \
         whose clock is right.",
        asked.logger
    )
}

pub(super) fn fitted_before_log(fit: &Fitted, first: &When) -> String {
    format!(
        "Missing: how many hours it had run when the logger began. It was put in on {}, the log begins on {}: record \
         the fitting with hours_at_fit, at a time that the log covers.",
        time::date(fit.at_ms),
        time::date(first.best_ms())
    )
}

pub(super) fn wiring(disagreement: &Disagreement, own: bool) -> String {
    let consequence = if own {
        "So it is not known which line ages this part, and no hours are given"
    } else {
        "This part is not aged by that line"
    };
    format!(
        "WIRING: {}. {consequence}. Look at the terminals, then put right whichever of the two is wrong.",
        disagreement.sentence
    )
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

pub(super) fn widening(
    asked: &Question,
    fit: &Fitted,
    growth: &Growth,
    timeline: &Timeline,
    dating: &Dating,
    as_of_ms: i64,
) -> Vec<String> {
    let mut notes = Vec::new();
    let mut add = |hours: f64, sentence: String| {
        if hours >= WORTH_TELLING_H {
            notes.push(sentence);
        }
    };
    let days_ago = growth.tail_h / 24.0;
    add(
        // A record is due every 24 h: a younger one is no reason to pull again.
        if growth.tail_h < 24.0 { 0.0 } else { growth.tail_h },
        format!(
            "The last record is of {} UTC, {} ago: since then nothing or up to {:.0} h. Pull again.",
            time::minute(growth.last.best_ms()),
            if days_ago >= 1.5 { format!("{days_ago:.0} days") } else { "1 day".to_owned() },
            growth.tail_h
        ),
    );
    add(
        growth.before_h,
        format!(
            "Put in on {} UTC, before the log begins on {} UTC: in between nothing or up to {:.0} h.",
            time::minute(fit.at_ms),
            time::minute(growth.first.best_ms()),
            growth.before_h
        ),
    );
    add(
        growth.bracket_h,
        format!(
            "The moment of fitting falls inside one record: up to {:.1} h may belong to the part before.",
            growth.bracket_h
        ),
    );
    if asked.fed_from_radar {
        add(
            growth.dark_h,
            format!(
                "The logger was without power for up to {:.0} h; it is fed from the radar, so that counts as off.",
                growth.dark_h
            ),
        );
    } else {
        add(
            growth.dark_h,
            format!(
                "The logger was without power for up to {:.0} h, in which the radar may have run.",
                growth.dark_h
            ),
        );
    }
    add(
        growth.lost_h,
        format!("{} power cuts may have taken up to {:.1} h from the count.", growth.cuts, growth.lost_h),
    );
    add(
        growth.unreadable_h,
        format!("Flash words that could not be read held up to {:.1} h.", growth.unreadable_h),
    );
    if fit.hours_at_fit.is_none() {
        notes.push("Taken as new when put in: no hours_at_fit is recorded.".to_owned());
    }
    if !timeline.contradictions.is_empty() {
        notes.push(format!(
            "The logger's totals fell at record {}: its memory is damaged or was changed. Keep it, and do not trust \
             these hours alone.",
            timeline.contradictions.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
        ));
    }
    for (a, b, apart_ms) in dating.contradictions() {
        let at = |utc_ms: u64| time::minute(i64::try_from(utc_ms).unwrap_or(i64::MAX));
        if i64::try_from(b.utc_ms.min(a.utc_ms)).unwrap_or(i64::MAX) <= as_of_ms {
            notes.push(format!(
                "Clock: the settings of {} and {} UTC contradict each other by {:.0} s or more; one computer's clock \
                 was wrong. The hours cover both.",
                at(a.utc_ms),
                at(b.utc_ms),
                apart_ms as f64 / 1000.0
            ));
        }
    }
    notes
}
