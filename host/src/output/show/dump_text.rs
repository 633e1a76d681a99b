//! A dump in tables.

use super::{Contents, cause, damage_words, days, lines_of, section, source, way_words};
use crate::output::screen::Screen;
use crate::output::table::{Sheet, hours};
use crate::time;
use crate::timeline::dating::{Dating, When};
use crate::timeline::way;
use crate::timeline::{TENTHS_PER_HOUR, Timeline};

/// The dump in tables.
#[must_use]
pub fn dump_text(contents: &Contents<'_>, screen: Screen) -> String {
    let Contents { header, lost, not_known, timeline, dating } = contents;
    let [major, minor, patch] = header.firmware_version;
    let mut text = format!(
        "Logger {:016x}, firmware {major}.{minor}.{patch}, {} inputs\n",
        header.device_id, header.lines
    );
    text.push_str(&screen.paragraph(&format!(
        "Records {} to {}: {}, {lost} of them lost",
        header.from,
        header.to.saturating_sub(1),
        header.to - header.from,
    )));
    if *not_known > 0 {
        text.push_str(&screen.paragraph(&crate::output::not_known(*not_known)));
    }
    let lines = lines_of(timeline);
    if let Some(last) = timeline.points.last() {
        let first = timeline.points.first().unwrap_or(last);
        let rows: Vec<Vec<String>> = lines
            .iter()
            .map(|(input, name)| {
                let grown = last.totals.on_tenths[*input].saturating_sub(first.totals.on_tenths[*input]);
                vec![
                    format!("{input}"),
                    name.clone(),
                    hours(last.totals.on_tenths[*input] as f64 / TENTHS_PER_HOUR),
                    hours(grown as f64 / TENTHS_PER_HOUR),
                    last.totals.starts[*input].to_string(),
                ]
            })
            .collect();
        let heading = ["Input", "Line", "Lifetime h", "In this dump h", "Starts"];
        let powered = format!(
            "Totals at the end; the logger was powered for {} h in its life",
            hours(last.totals.uptime_tenths as f64 / TENTHS_PER_HOUR)
        );
        let sheet = Sheet::new(&heading, &heading[2..], rows);
        text.push_str(&format!("\n{}{}\n", screen.paragraph(&powered), sheet.on(screen)));
    }
    text.push_str(&sessions_text(timeline, dating, screen));
    text.push_str(&anchors_text(timeline, screen));
    text.push_str(&way_text(timeline, dating, screen));
    text.push_str(&days_text(timeline, dating, &lines, screen));
    text.push_str(&trouble_text(timeline, screen));
    text.trim_end().to_owned()
}

fn sessions_text(timeline: &Timeline, dating: &Dating, screen: Screen) -> String {
    let rows: Vec<Vec<String>> = timeline
        .sessions
        .iter()
        .map(|start| {
            let session = &start.session;
            let when = dating.when(session.session, session.uptime_tenths);
            vec![
                session.session.to_string(),
                shown(dating, when),
                cause(session.cause).to_owned(),
                format!("{:.1}", f64::from(session.lost_max_tenths) / 10.0),
                if session.usb_only { "USB only".to_owned() } else { "supply".to_owned() },
            ]
        })
        .collect();
    let heading = ["Session", "Began (UTC)", "Why", "Lost before, at most s", "Fed by"];
    section("Sessions", &Sheet::new(&heading, &heading[3..4], rows), screen)
}

fn anchors_text(timeline: &Timeline, screen: Screen) -> String {
    let rows: Vec<Vec<String>> = timeline
        .anchors
        .iter()
        .map(|anchor| {
            vec![
                time::minute(i64::try_from(anchor.utc_ms).unwrap_or(i64::MAX)),
                source(anchor.source).to_owned(),
                anchor.session.to_string(),
                format!("{:.1}", f64::from(anchor.uncertainty_ms) / 1000.0),
            ]
        })
        .collect();
    let heading = ["UTC", "By", "Session", "Right to s"];
    section("Clock settings", &Sheet::new(&heading, &heading[2..], rows), screen)
}

/// Nothing is said of it where no speed was ever heard.
fn way_text(timeline: &Timeline, dating: &Dating, screen: Screen) -> String {
    if timeline.ways.is_empty() {
        return String::new();
    }
    let stretches = way::stretches(timeline, dating);
    let rows: Vec<Vec<String>> = stretches
        .iter()
        .map(|stretch| {
            vec![
                shown(dating, stretch.from),
                shown(dating, stretch.to),
                way_words(stretch.making_way).to_owned(),
                hours(stretch.tenths as f64 / TENTHS_PER_HOUR),
            ]
        })
        .collect();
    let heading = ["From (UTC)", "To (UTC)", "By her speed over ground she", "h"];
    section("The ship's way", &Sheet::new(&heading, &heading[3..], rows), screen)
}

fn days_text(timeline: &Timeline, dating: &Dating, lines: &[(usize, String)], screen: Screen) -> String {
    let days = days(timeline, dating, lines);
    if days.is_empty() {
        return match timeline.points.is_empty() || dating.is_anchored() {
            true => String::new(),
            false => "\nDays: not known, the logger's clock was never set.\n".to_owned(),
        };
    }
    let mut heading = vec!["Day (UTC)", "Powered h"];
    heading.extend(lines.iter().map(|(_, name)| name.as_str()));
    let rows: Vec<Vec<String>> = days
        .iter()
        .map(|(day_ms, values)| {
            let mut row = vec![time::date(*day_ms)];
            row.extend(values.iter().map(|h| format!("{h:.1}")));
            row
        })
        .collect();
    section("Hours per day", &Sheet::new(&heading, &heading[1..], rows), screen)
}

fn trouble_text(timeline: &Timeline, screen: Screen) -> String {
    let mut lines = Vec::new();
    for (from, to) in &timeline.gaps {
        lines.push(format!("Records {from} to {} are missing; the next base gave their hours back.", to - 1));
    }
    for index in &timeline.contradictions {
        lines.push(format!(
            "Record {index} says less than the records before it: the logger's memory is damaged."
        ));
    }
    for (index, _, damage) in &timeline.damage {
        lines.push(format!("Record {index}: {}.", damage_words(*damage)));
    }
    if !timeline.coalesced.is_empty() {
        lines.push(format!(
            "Edges came so fast that they were merged per heartbeat (begun {} times): on-times and starts are right, \
             drop-outs may be missing.",
            timeline.coalesced.len()
        ));
    }
    if timeline.runs_skipped > 0 {
        lines.push(format!(
            "{} runs were not kept one by one; their hours are counted.",
            timeline.runs_skipped
        ));
    }
    if lines.is_empty() {
        return "\nDamage and gaps: none\n".to_owned();
    }
    format!("\nDamage and gaps\n{}", screen.notes(&lines))
}

fn shown(dating: &Dating, when: When) -> String {
    if !dating.is_anchored() {
        return "not known".to_owned();
    }
    let apart_min = (when.hi_ms - when.lo_ms) / 60_000;
    match (when.is_open_below(), apart_min) {
        (true, _) => format!("before {}", time::minute(when.hi_ms)),
        (false, 0..=5) => time::minute(when.best_ms()),
        _ => format!("{} to {}", time::minute(when.lo_ms), time::minute(when.hi_ms)),
    }
}
